#pragma once
#include <stdint.h>

// The clock ticks once for every frame. A tick starts a scan, which is over before
// the next tick.

// clock_start makes the clock tick every period_us, and enables interrupts.
void clock_start(uint16_t period_us);

// clock_wait waits for the next tick, or returns at once where there was one since
// it was last called. It returns the time of the last tick in µs, which wraps at
// 2^32, every 71.6 minutes.
uint32_t clock_wait(void);

// clock_since returns the time since the last tick, µs.
uint16_t clock_since(void);
