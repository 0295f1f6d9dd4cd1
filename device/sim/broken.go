package sim

import (
	"fmt"
	"math"

	"aplomb/device"
)

// Broken is one cell with a fault. Rows count from the back, columns from the little-toe side,
// both from 0.
type Broken struct {
	Row, Col int
	How      Breakage
	Value    float64 // see Breakage
	FromS    float64 // start of the fault, s from the first frame
}

// Breakage is a kind of fault of a cell.
type Breakage int

const (
	Dead     Breakage = iota // pressure has no effect
	Stuck                    // it always reads Value counts
	StuckBit                 // bit Value of its counts is never set; 0 is the lowest bit
	Noisy                    // its readings have additional noise with a standard deviation of Value counts
	Loose                    // in a random share Value of its frames it reads as without load
	Drifting                 // its zero rises by Value counts a minute
)

// check reports what is impossible about a broken cell.
func (b Broken) check(strip *device.Strip) error {
	if b.Row < 0 || b.Row >= strip.Rows || b.Col < 0 || b.Col >= strip.Cols {
		return fmt.Errorf("strip %s has no cell in row %d, column %d", strip.Name, b.Row, b.Col)
	}
	return nil
}

// reading returns what the cell reads at t seconds, counts: loaded is the contribution of the
// pressure, unloaded the reading without it.
func (b *Broken) reading(c *converter, t, loaded, unloaded float64) float64 {
	switch b.How {
	case Dead:
		return unloaded
	case Stuck:
		return b.Value
	case Noisy:
		return loaded + unloaded + b.Value*c.noise.NormFloat64()
	case Loose:
		if c.noise.Float64() < b.Value {
			return unloaded
		}
	case Drifting:
		return loaded + unloaded + b.Value*(t-b.FromS)/60
	case StuckBit:
		v := uint16(min(c.saturation, max(0, math.Floor(loaded+unloaded+0.5))))
		return float64(v &^ (1 << uint(b.Value)))
	}
	return loaded + unloaded
}
