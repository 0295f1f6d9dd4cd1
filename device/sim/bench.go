package sim

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/device/wire"
)

// Bench simulates a strip flat on a bench, without a shoe, with a pad pressed on to it, as for
// a calibration. The strip follows the curve and the gains of its calibration except for its
// faults. A Bench is a device.Source without end.
type Bench struct {
	strip *device.Strip // with its Mount zero
	start time.Time
	rate  float64
	conv  *converter
	cells []platform.Polygon // active area of each cell, in the order of the scan
	kPa   []float64
	seq   int64
}

// NewBench returns a Bench with a strip. The same seed gives the same strip.
func NewBench(strip *device.Strip, f Faults, seed uint64, start time.Time, rateHz float64) (*Bench, error) {
	if !(rateHz >= 1 && rateHz <= 5000) {
		return nil, fmt.Errorf("simulated bench: %v frames a second: 1 to 5000", rateHz)
	}
	flat := *strip
	flat.Mount = device.Mount{}
	own, now := stream(seed, "strip", strip.Name), stream(seed, "bench", strip.Name)
	b := &Bench{
		strip: &flat, start: start, rate: rateHz,
		conv: newConverter(&flat, f, nil, own, rand.New(rand.NewPCG(now.Uint64(), 0))),
		kPa:  make([]float64, strip.Cells()),
	}
	for k := range b.kPa {
		row, col := flat.RowCol(k)
		b.cells = append(b.cells, platform.Rectangle(flat.CellMM[0], flat.CellMM[1]).Shift(flat.Centre(row, col)))
	}
	return b, nil
}

// Put replaces the load on the strip by one of loadN, N, spread evenly over a pad of the given
// width and depth, mm, whose middle lies at a point given from the middle of the strip, mm. The
// part of the pad beyond the cells carries its share of the load.
func (b *Bench) Put(loadN float64, at platform.Point, sizeMM [2]float64) {
	pad := platform.Rectangle(sizeMM[0], sizeMM[1]).Shift(at)
	pressure := 1000 * loadN / (sizeMM[0] * sizeMM[1])
	for k, cell := range b.cells {
		b.kPa[k] = pressure * cell.Clip(pad).Area() / cell.Area()
	}
}

// Now returns the time of the next frame, s after the first.
func (b *Bench) Now() float64 { return float64(b.seq) / b.rate }

// Next sets f to the next frame.
func (b *Bench) Next(f *device.Frame) error {
	if cap(f.Counts) < len(b.kPa) {
		f.Counts = make([]uint16, len(b.kPa))
	}
	f.Counts = f.Counts[:len(b.kPa)]
	t := b.Now()
	b.conv.read(b.kPa, t, f.Counts)
	f.Foot, f.Seq, f.TimeUS = b.strip.Foot, b.seq, uint64(math.Round(1e6*t))
	f.ArrivalNS = b.start.UnixNano() + int64(1e9*t)
	b.seq++
	return nil
}

// Hello returns the Hello of the strip, false for the other foot.
func (b *Bench) Hello(foot device.Foot) (wire.Hello, bool) {
	if foot != b.strip.Foot {
		return wire.Hello{}, false
	}
	return wire.HelloOf(b.strip, b.rate), true
}
