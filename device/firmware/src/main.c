// The firmware of a strip. It reads a grid of resistive cells RATE_HZ times a second
// and sends each scan as a frame of strip link 1. README.md beside the Makefile has
// the format, the wiring and the cautions.

#include "clock.h"
#include "grid.h"
#include "link.h"

#include <stdio.h>
#include <string.h>

#if defined FOOT_left
#define FOOT 0
#define FOOT_NAME "left"
#elif defined FOOT_right
#define FOOT 1
#define FOOT_NAME "right"
#else
#error "FOOT: left or right"
#endif

struct frame {
	uint8_t kind; // 2
	uint8_t foot;
	uint16_t seq;
	uint32_t t_us; // the middle of the scan
	uint16_t counts[CELLS];
};
_Static_assert(sizeof(struct frame) == 8 + 2 * CELLS, "the compiler adds no padding");
_Static_assert(sizeof(struct frame) <= MAX_BODY, "a grid as large as that needs COBS in full");

// Twice a second, so that a listener who starts later gets one within a second.
#define HELLO_HZ 2
#define HELLO_BYTES 128 // at most

// The scan and its arithmetic allow 200 frames a second. On a slow line the limit is
// lower, at ten bits a byte.
#define LINE_BYTES ((LINE_BAUD < BAUD ? LINE_BAUD : BAUD) / 10)
#define LINE_HZ ((LINE_BYTES - HELLO_HZ * PACKET(HELLO_BYTES)) / PACKET(sizeof(struct frame)))
#define RATE_HZ ((uint16_t)(LINE_HZ < 200 ? LINE_HZ : 200))
_Static_assert(BAUD >= 38400, "a period of the clock is 32 ms at most, 31 frames a second");

static uint8_t hello[PACKET(HELLO_BYTES)];
static uint8_t packet[PACKET(sizeof(struct frame))];

static uint8_t make_hello(void) {
	char *body = (char *)hello + 1;
	const int n = snprintf(body, HELLO_BYTES,
		"\x01{\"link\":1,\"strip\":\"" STRIP "\",\"foot\":\"" FOOT_NAME "\","
		"\"rows\":%u,\"cols\":%u,\"rate_hz\":%u,\"adc_bits\":%u}",
		ROWS, COLS, RATE_HZ, ADC_BITS);
	return link_seal(hello, n);
}
_Static_assert(sizeof STRIP <= 40, "STRIP: at most 39 bytes, or the hello is cut short");

int main(void) {
	struct frame f = {.kind = 2, .foot = FOOT};

	grid_start();
	link_start();
	const uint8_t hello_length = make_hello();
	clock_start(1000000UL / RATE_HZ);

	for (;; f.seq++) {
		const uint32_t tick = clock_wait();
		const uint16_t begin = clock_since();
		grid_scan(f.counts, f.seq);
		f.t_us = tick + (begin + clock_since()) / 2;
		grid_solve(f.counts);

		if (f.seq % (RATE_HZ / HELLO_HZ) == 0) {
			link_send(hello, hello_length);
		}
		memcpy(packet + 1, &f, sizeof f);
		link_send(packet, link_seal(packet, sizeof f));
	}
}
