package cells

import "fmt"

// Kind is a way for cells to be wrong.
type FaultKind string

// Kinds of single cells.
const (
	Dead      FaultKind = "dead"      // loaded on several sides, and answers to nothing
	Silent    FaultKind = "silent"    // answers to nothing, but may be one that nothing reached
	Stuck     FaultKind = "stuck"     // one value, loaded or not
	StuckBit  FaultKind = "stuck_bit" // a binary digit of its counts never changes
	Loose     FaultKind = "loose"     // jumps under load as no neighbour does
	Noisy     FaultKind = "noisy"     // jumps at rest as no other cell does
	Saturated FaultKind = "saturated" // at the end of its range under load
	Offset    FaultKind = "offset"    // reads much without load
)

// Kinds of the strip as a whole.
const (
	Crosstalk   FaultKind = "ghosting"      // cells that touch nothing read what others bear
	Coarse      FaultKind = "coarse"        // the lowest digits of the counts never change
	Drifting    FaultKind = "drifting"      // the unloaded zero moves
	NeverAtRest FaultKind = "never_at_rest" // it is not known what the cells read without load
	NeverLoaded FaultKind = "never_loaded"  // nothing can be told of the cells
)

// Kinds are all kinds in the order in which Findings come, the worst first.
var FaultKinds = [...]FaultKind{Dead, Stuck, StuckBit, Loose, Saturated, Crosstalk, NeverAtRest, Drifting, Noisy, Offset, Silent, Coarse, NeverLoaded}

// Cell is a place in the grid: row from the back, column from the little-toe
// side, both from 0, as device.Strip.RowCol has them.
type Cell struct{ Row, Col int }

// WholeStrip stands for the cell of a finding that concerns the strip.
var WholeStrip = Cell{-1, -1}

// String counts from 1, as people do.
func (c Cell) String() string {
	if c == WholeStrip {
		return "strip"
	}
	return fmt.Sprintf("row %d, column %d", c.Row+1, c.Col+1)
}

// Finding is one thing that is wrong with one cell, or with the strip.
type Fault struct {
	Kind   FaultKind
	Cell   Cell    // WholeStrip where it is no single one
	SinceS float64 // first seen, s by the strip's clock since its first frame
	// Share of what could have shown it that did, 0..1: of the loads for Dead,
	// Silent and Loose, of the frames under load for Saturated, of the load for
	// Ghosting; else 0.
	Share float64
	// LoadShare is how much of the load is misread for it, 0..1, and ShiftMM how
	// far it moves the centre of pressure, mm; 0 where that cannot be said.
	LoadShare, ShiftMM float64
	Text               string // what was seen, in a few words, without the place
}
