#pragma once
#include <stdint.h>

#define BAUD_TOL 3 // %: a byte is sampled at 9.5 bits at the latest, half a bit is 5 %
#include <util/setbaud.h>

// The speed that the clock of the chip divides down to, which may be below or above BAUD.
#define LINE_BAUD (F_CPU / ((USE_2X ? 8UL : 16UL) * (UBRR_VALUE + 1UL)))

// A packet is COBS(body ‖ crc) and a zero. Where body and crc together are shorter
// than 254 bytes the encoding adds one byte at the front and moves no others: the
// body is written at packet + 1 and stays there.
#define MAX_BODY 249
#define PACKET(body) (1 + (body) + 4 + 1)

// link_start sets up the serial port: BAUD, 8 data bits, no parity, 1 stop bit.
void link_start(void);

// link_seal makes a packet of the body at packet + 1, and returns its length.
uint8_t link_seal(uint8_t *packet, uint8_t body);

// link_send sends a packet in the background. It waits only while the queue, which
// holds 255 bytes, is full.
void link_send(const uint8_t *packet, uint8_t length);
