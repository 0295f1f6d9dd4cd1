package cells

import "fmt"

// FaultKind is a kind of fault of a cell or of a strip. Its value is the one in
// JSON.
type FaultKind string

// Faults of single cells.
const (
	Dead      FaultKind = "dead"      // no response although cells on several sides are loaded
	Silent    FaultKind = "silent"    // no response; whether it was loaded is not certain
	Stuck     FaultKind = "stuck"     // one constant value with and without load
	StuckBit  FaultKind = "stuck_bit" // a binary digit of its counts never changes
	Loose     FaultKind = "loose"     // jumps under load, far more than other cells
	Noisy     FaultKind = "noisy"     // far noisier at rest than other cells
	Saturated FaultKind = "saturated" // at the end of its range under load
	Offset    FaultKind = "offset"    // a large reading without load
)

// Faults of the strip as a whole.
const (
	Crosstalk   FaultKind = "ghosting"      // cells outside the platform read part of the load of other cells
	Coarse      FaultKind = "coarse"        // the lowest digits of the counts never change
	Drifting    FaultKind = "drifting"      // the zeros change between loads
	NeverAtRest FaultKind = "never_at_rest" // the zeros are not known
	NeverLoaded FaultKind = "never_loaded"  // without load the cells cannot be judged
)

// FaultKinds lists all kinds in the order of Monitor.Faults, the most serious
// first.
var FaultKinds = [...]FaultKind{Dead, Stuck, StuckBit, Loose, Saturated, Crosstalk, NeverAtRest, Drifting, Noisy, Offset, Silent, Coarse, NeverLoaded}

// Cell is the position of a cell in the grid: row from the back, column from the
// little-toe side, both from 0, as in device.Strip.RowCol.
type Cell struct{ Row, Col int }

// WholeStrip is the Cell of a fault that concerns the whole strip.
var WholeStrip = Cell{-1, -1}

// String returns row and column counted from 1, for people.
func (c Cell) String() string {
	if c == WholeStrip {
		return "strip"
	}
	return fmt.Sprintf("row %d, column %d", c.Row+1, c.Col+1)
}

// Fault is one fault of one cell or of the strip.
type Fault struct {
	Kind   FaultKind
	Cell   Cell    // WholeStrip for a fault of the strip
	SinceS float64 // when it was first seen, s by the strip's clock since its first frame
	// Share is the part of the opportunities in which the fault was seen, 0 to 1: of
	// the loads for Dead, Silent and Loose, of the frames under load for Saturated, of
	// the load for Crosstalk; 0 for other kinds.
	Share float64
	// LoadShare is the part of the load that is misread, 0 to 1, and ShiftMM the
	// resulting shift of the centre of pressure, mm; 0 where they are not known.
	LoadShare, ShiftMM float64
	Text               string // the observation in a few words, without the position
}
