#include "clock.h"

#include <avr/interrupt.h>
#include <avr/io.h>

_Static_assert(F_CPU == 16000000UL, "timer 1 counts half microseconds, F_CPU / 8");

static uint16_t period;        // µs
static volatile uint8_t ticks; // a single byte, which is read without being interrupted

ISR(TIMER1_COMPA_vect) { ticks++; }

void clock_start(uint16_t period_us) {
	period = period_us;
	OCR1A = 2 * period_us - 1;
	TCCR1B = _BV(WGM12) | _BV(CS11); // start again from 0 after OCR1A
	TIMSK1 = _BV(OCIE1A);
	sei();
}

uint32_t clock_wait(void) {
	static uint8_t seen;
	static uint32_t now;
	while (ticks == seen) {
	}
	const uint8_t passed = ticks - seen;
	seen += passed;
	now += (uint32_t)passed * period;
	return now;
}

uint16_t clock_since(void) {
	const uint16_t since = TCNT1 / 2;
	// The chip restarts the count in time. An emulated one may be late.
	return since < period ? since : period - 1;
}
