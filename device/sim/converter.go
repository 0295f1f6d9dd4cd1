package sim

import (
	"math"
	"math/rand/v2"

	"aplomb/device"
	"aplomb/device/crosstalk"
)

// Faults are the differences between a strip and its profile, and losses on the way to the
// host. The strip of the zero Faults follows the curve and the gains of its calibration
// exactly; it still rounds and saturates.
type Faults struct {
	GainSD float64 // relative standard deviation of the gain from cell to cell, in addition to the profile's gains
	Zero   float64 // counts of a cell without load, mean over the cells
	ZeroSD float64 // their standard deviation from cell to cell, counts
	Drift  float64 // amplitude of the slow drift of a cell's zero, counts
	Noise  float64 // standard deviation of one reading, counts
	Tie    float64 // resistance from an idle line to ground, 1 ÷ counts, see crosstalk.New; 0 is none
	Loss   float64 // probability that a frame never arrives
	Clock  float64 // standard deviation of the rate error of a strip's clock, parts per million
}

// DefaultFaults returns the Faults of an ordinary strip on a short cable. They are our
// assumption. Idle lines are held at ground, so that there is no crosstalk, as for a profile
// that does not mention it: how idle lines are connected differs from strip to strip.
// Computing crosstalk adds 1 to 2 µs to the 5 to 6 µs of a frame of 5 × 8 cells.
func DefaultFaults() Faults {
	return Faults{GainSD: device.DefaultGainSD, Zero: 24, ZeroSD: 6, Drift: 4, Noise: 1.5, Clock: 40}
}

// converter converts the pressures on the cells of one strip to counts.
type converter struct {
	faults     Faults
	strip      *device.Strip
	curve      *device.Curve
	noise      *rand.Rand
	saturation float64
	cells      []cell
	grid       *crosstalk.Grid
	values     []float64
	byRow      []float64 // values, row by row
}

// cell holds the properties of one cell.
type cell struct {
	row, col     int
	broken       *Broken // nil for a cell without fault
	gain, zero   float64 // relative to the calibration; counts
	drift, phase float64 // angular frequency of the zero's drift, 1/s; its phase
}

// newConverter takes the properties of the cells from one random stream and their noise from
// another.
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

// addCrosstalk replaces the values by the readings with crosstalk. It treats a value as a
// conductance, which it is in most pressure-sensitive sheets.
func (c *converter) addCrosstalk() {
	for k, cell := range c.cells {
		c.byRow[cell.row*c.strip.Cols+cell.col] = c.values[k]
	}
	c.grid.Readings(c.byRow, c.byRow)
	for k, cell := range c.cells {
		c.values[k] = c.byRow[cell.row*c.strip.Cols+cell.col]
	}
}
