#pragma once
#include <stdint.h>

#define ROWS 5 // from the back of the platform to the front
#define COLS 8 // from the little-toe side to the big-toe side
#define CELLS (ROWS * COLS)

#define ADC_BITS 12 // of a count; see grid.c for how ten bits become twelve

// The lines of one direction are driven in turn while those of the other are
// read. Counts are in the order in which cells are read: the strip's profile
// says scan = "rows", or "columns" where the grid is turned.
#ifndef TURNED
#define DRIVEN ROWS
#define READ COLS
#else
#define DRIVEN COLS
#define READ ROWS
#endif

// grid_start sets up pins and converter.
void grid_start(void);

// grid_scan reads every cell once. A build with PATTERN reads no pin: it puts
// (7·seq + 13·k) mod 200 in place of the k-th conversion.
void grid_scan(uint16_t counts[CELLS], uint16_t seq);

// grid_solve converts the conversions of one scan to counts, which are proportional
// to the conductances of the cells.
void grid_solve(uint16_t counts[CELLS]);
