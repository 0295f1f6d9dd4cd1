#include "link.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <string.h>
#include <util/atomic.h>

// The queue of bytes for the port, a ring buffer whose indices wrap at its length.
static uint8_t queue[256];
static volatile uint8_t head; // where the next byte goes in
static volatile uint8_t tail; // where the next one comes out

// The port can take a byte.
ISR(USART_UDRE_vect) {
	UDR0 = queue[tail++];
	if (tail == head) {
		UCSR0B &= ~_BV(UDRIE0);
	}
}

void link_start(void) {
	UBRR0 = UBRR_VALUE;
	UCSR0A = USE_2X ? _BV(U2X0) : 0;
	UCSR0C = _BV(UCSZ01) | _BV(UCSZ00);
	UCSR0B = _BV(TXEN0);
}

void link_send(const uint8_t *packet, uint8_t length) {
	for (; length > 0; length--) {
		while ((uint8_t)(head + 1) == tail) {
		}
		queue[head] = *packet++;
		ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { // or an interrupt could switch the port off in between
			head++;
			UCSR0B |= _BV(UDRIE0);
		}
	}
}

// The CRC-32 of IEEE 802.3, four bits at a time. A table for whole bytes would take
// half of the memory; without a table it would be three times as slow.
static uint32_t crc32(const uint8_t *p, uint8_t n) {
	static const uint32_t table[16] = {
		0x00000000, 0x1DB71064, 0x3B6E20C8, 0x26D930AC, 0x76DC4190, 0x6B6B51F4, 0x4DB26158, 0x5005713C,
		0xEDB88320, 0xF00F9344, 0xD6D6A3E8, 0xCB61B38C, 0x9B64C2B0, 0x86D3D2D4, 0xA00AE278, 0xBDBDF21C,
	};
	uint32_t crc = 0xFFFFFFFF;
	for (; n > 0; n--) {
		crc ^= *p++;
		crc = crc >> 4 ^ table[crc & 15];
		crc = crc >> 4 ^ table[crc & 15];
	}
	return ~crc;
}

uint8_t link_seal(uint8_t *packet, uint8_t body) {
	uint8_t *end = packet + 1 + body;
	const uint32_t crc = crc32(packet + 1, body);
	memcpy(end, &crc, sizeof crc); // little-endian, as the processor is
	end += sizeof crc;
	// Every zero is replaced by the distance to the next one. The byte in front is the
	// distance to the first zero.
	uint8_t *code = packet;
	for (uint8_t *p = packet + 1; p < end; p++) {
		if (*p == 0) {
			*code = p - code;
			code = p;
		}
	}
	*code = end - code;
	*end++ = 0;
	return end - packet;
}
