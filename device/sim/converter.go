package sim

import (
	"math"
	"math/rand/v2"

	"aplomb/device"
	"aplomb/device/crosstalk"
)

// Faults are what a strip does to the pressure on its way to the host that its
// profile does not say. The zero Faults are those of a strip that is just as its
// calibration has it, curve and gains, and still rounds and saturates.
type Faults struct {
	GainSD float64 // relative standard deviation of the gain from cell to cell, beside the profile's
	Zero   float64 // counts of an unloaded cell, mean over the cells
	ZeroSD float64 // their standard deviation from cell to cell, counts
	Drift  float64 // largest slow wandering of an unloaded cell, counts
	Noise  float64 // standard deviation of one reading, counts
	Tie    float64 // resistance that ties an idle line to ground, 1 ÷ counts, see crosstalk.New; 0 is none
	Loss   float64 // probability that a frame never arrives
	Clock  float64 // standard deviation of the rate error of a strip's clock, parts per million
}

// DefaultFaults are those of an ordinary strip on a short cable. They are our
// assumption. Idle lines are held at ground, as a profile that says nothing of
// ghosting has it: how well others are tied is a matter of their wiring, so any
// size would be made up, and solving the network adds 1 to 2 µs to the 5 or 6
// that a frame of 5 × 8 cells takes.
func DefaultFaults() Faults {
	return Faults{GainSD: device.DefaultGainSD, Zero: 24, ZeroSD: 6, Drift: 4, Noise: 1.5, Clock: 40}
}

// converter turns the pressures on the cells of one strip into counts.
type converter struct {
	faults     Faults
	strip      *device.Strip
	curve      *device.Curve
	noise      *rand.Rand
	saturation float64
	cells      []cell
	grid       *crosstalk.Grid
	values     []float64
	byRow      []float64 // the same, row by row
}

// cell is what is particular to one cell, in the order of the scan.
type cell struct {
	row, col     int
	broken       *Broken // nil where it is not
	gain, zero   float64 // relative to what the curve says of the cell; counts
	drift, phase float64 // angular frequency of the zero's drift, 1/s; its phase
}

// newConverter draws the cells of a strip from one stream and their noise from another.
func newConverter(strip *device.Strip, f Faults, broken []Broken, cells, noise *rand.Rand) *converter {
	c := &converter{
		faults: f, strip: strip, curve: strip.Curve(), noise: noise, saturation: float64(strip.SaturatesAt),
		cells: make([]cell, strip.Cells()), grid: crosstalk.New(strip.Rows, strip.Cols, f.Tie),
		values: make([]float64, strip.Cells()), byRow: make([]float64, strip.Cells()),
	}
	for k := range c.cells {
		row, col := strip.RowCol(k)
		c.cells[k] = cell{
			row: row, col: col,
			gain:  max(0, 1+f.GainSD*cells.NormFloat64()),
			zero:  max(0, f.Zero+f.ZeroSD*cells.NormFloat64()),
			drift: 2 * math.Pi / uniform(cells, 60, 600),
			phase: 2 * math.Pi * cells.Float64(),
		}
		for i := range broken {
			if broken[i].Row == row && broken[i].Col == col {
				c.cells[k].broken = &broken[i]
			}
		}
	}
	return c
}

// read sets counts from the pressures on the cells, kPa, at t seconds.
func (c *converter) read(kPa []float64, t float64, counts []uint16) {
	for k, cell := range c.cells {
		c.values[k] = cell.gain * c.curve.Counts(k, kPa[k])
	}
	if c.faults.Tie > 0 {
		c.addCrosstalk()
	}
	for k := range c.cells {
		cell := &c.cells[k]
		still := cell.zero
		if c.faults.Drift > 0 {
			still += c.faults.Drift * math.Sin(cell.drift*t+cell.phase)
		}
		if c.faults.Noise > 0 {
			still += c.faults.Noise * c.noise.NormFloat64()
		}
		v := c.values[k] + still
		if b := cell.broken; b != nil && t >= b.FromS {
			v = b.reading(c, t, c.values[k], still)
		}
		counts[k] = uint16(min(c.saturation, max(0, math.Floor(v+0.5))))
	}
}

// detours solves the network of the strip's lines: a reading is taken for a
// conductance, as it is in most pressure-sensitive sheets.
func (c *converter) addCrosstalk() {
	for k, cell := range c.cells {
		c.byRow[cell.row*c.strip.Cols+cell.col] = c.values[k]
	}
	c.grid.Readings(c.byRow, c.byRow)
	for k, cell := range c.cells {
		c.values[k] = c.byRow[cell.row*c.strip.Cols+cell.col]
	}
}
