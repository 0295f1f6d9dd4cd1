#include "grid.h"

#include <avr/io.h>
#include <util/delay.h>

#define SETTLE_US 10 // a line and its cable, after it was driven
#define CONVERTER 1024U // conversion at the supply's voltage, one more than the largest

#define MOST ((1U << ADC_BITS) - 1)

// The driven lines are pins PD2 to PD7, then PB0 and PB1. The two ports together
// form one number in which line 0 is bit 2.
static void drive(uint16_t pins) {
	PORTD = pins & 0xFF;
	PORTB = pins >> 8;
}

void grid_start(void) {
	const uint16_t driven = ((1U << DRIVEN) - 1) << 2;
	drive(0);
	DDRD = driven & 0xFF;
	DDRB = driven >> 8;
	// ADC6 and ADC7 have no digital input to switch off.
	DIDR0 = (1U << (READ < 6 ? READ : 6)) - 1;
	// 500 kHz: 26 µs a conversion, 1.1 ms a scan. At 125 kHz the last bit would be
	// more accurate, but there would be no time for anything else.
	ADCSRA = _BV(ADEN) | _BV(ADPS2) | _BV(ADPS0);
}

#ifndef PATTERN

static uint16_t convert(uint8_t input) {
	ADMUX = _BV(REFS0) | input; // against the supply, which also drives the lines
	ADCSRA |= _BV(ADSC);
	while (ADCSRA & _BV(ADSC)) {
	}
	return ADC;
}

void grid_scan(uint16_t counts[CELLS], uint16_t seq) {
	(void)seq;
	for (uint8_t d = 0; d < DRIVEN; d++) {
		drive(4U << d); // all others are held at ground, so that there is no crosstalk
		_delay_us(SETTLE_US);
		for (uint8_t r = 0; r < READ; r++) {
			*counts++ = convert(r);
		}
	}
	drive(0);
}

#else

void grid_scan(uint16_t counts[CELLS], uint16_t seq) {
	uint16_t conversion = 7UL * seq % 200;
	for (uint8_t k = 0; k < CELLS; k++) {
		counts[k] = conversion;
		conversion = (conversion + 13) % 200;
	}
}

#endif

// A line that is read is connected to ground through a resistor, conductance g, and
// to every driven line through one cell. While line d is at the supply's voltage and
// the others are at ground, its voltage is
//
//	v_d = c_d / (g + Σ c)
//
// of the supply. So a load on one cell reduces the reading of the others on that line.
// Since Σ v = Σ c / (g + Σ c), the conductances themselves are
//
//	c_d / g = v_d / (1 − Σ v)
//
// A count is 1024 · c / g, so that a cell can conduct up to four times as much
// as the resistor before it saturates.
void grid_solve(uint16_t counts[CELLS]) {
	for (uint8_t r = 0; r < READ; r++) {
		uint16_t sum = 0;
		for (uint8_t k = r; k < CELLS; k += READ) {
			sum += counts[k];
		}
		// One division a line: a division a cell would take too long. With
		// conversions of ten bits the product stays below 2^32.
		const uint16_t rest = sum < CONVERTER ? CONVERTER - sum : 1;
		const uint32_t scale = (1UL << 22) / rest;
		for (uint8_t k = r; k < CELLS; k += READ) {
			const uint32_t count = (counts[k] * scale) >> 12;
			counts[k] = count < MOST ? count : MOST;
		}
	}
}
