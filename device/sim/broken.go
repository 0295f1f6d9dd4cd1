package sim

import (
	"fmt"
	"math"

	"aplomb/device"
)

// Broken is one cell that does not do as the others do. Rows count from the
// back, columns from the little-toe side, both from 0.
type Broken struct {
	Row, Col int
	How      Breakage
	Value    float64 // see Breakage
	FromS    float64 // since when, s from the first frame
}

// Breakage is a way for a cell to break.
type Breakage int

const (
	Dead     Breakage = iota // pressure does nothing to it
	Stuck                    // it reads Value counts, whatever happens
	StuckBit                 // bit Value of its counts, the lowest being 0, is never set
	Noisy                    // its readings scatter by Value counts more (standard deviation)
	Loose                    // now and then, in a share Value of its frames, it reads as if unloaded
	Drifting                 // its zero rises by Value counts a minute
)

// check says what cannot be about a broken cell.
func (b Broken) check(strip *device.Strip) error {
	if b.Row < 0 || b.Row >= strip.Rows || b.Col < 0 || b.Col >= strip.Cols {
		return fmt.Errorf("strip %s has no cell in row %d, column %d", strip.Name, b.Row, b.Col)
	}
	return nil
}

// act is what the cell reads at t seconds, counts: carried is what pressure
// adds, and still what it would read without.
func (b *Broken) reading(c *converter, t, carried, still float64) float64 {
	switch b.How {
	case Dead:
		return still
	case Stuck:
		return b.Value
	case Noisy:
		return carried + still + b.Value*c.noise.NormFloat64()
	case Loose:
		if c.noise.Float64() < b.Value {
			return still
		}
	case Drifting:
		return carried + still + b.Value*(t-b.FromS)/60
	case StuckBit:
		v := uint16(min(c.saturation, max(0, math.Floor(carried+still+0.5))))
		return float64(v &^ (1 << uint(b.Value)))
	}
	return carried + still
}
