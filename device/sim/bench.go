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

// Bench is a strip that lies flat on a bench, under no shoe, with a pad pressed
// on to it: what a strip is calibrated with. The strip is as its calibration has
// it, curve and gains, but for its faults. A Bench is a device.Source without end.
type Bench struct {
	strip *device.Strip // its mounting left out
	start time.Time
	rate  float64
	conv  *converter
	cells []platform.Polygon // the active area of each, in the order of the scan
	kPa   []float64
	seq   int64
}

// NewBench lays a strip on a bench; from one seed comes one strip.
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

// Put takes off what lies on the strip and puts a load on, N, spread evenly over
// a pad of that width and depth, mm, its middle at a place, mm from that of the
// strip. What of the pad hangs over the cells bears its part all the same.
func (b *Bench) Put(loadN float64, at platform.Point, sizeMM [2]float64) {
	pad := platform.Rectangle(sizeMM[0], sizeMM[1]).Shift(at)
	pressure := 1000 * loadN / (sizeMM[0] * sizeMM[1])
	for k, cell := range b.cells {
		b.kPa[k] = pressure * cell.Clip(pad).Area() / cell.Area()
	}
}

// Now is when the next frame is read, s after the first.
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

// Hello returns what the strip announces, false for the other foot.
func (b *Bench) Hello(foot device.Foot) (wire.Hello, bool) {
	if foot != b.strip.Foot {
		return wire.Hello{}, false
	}
	return wire.HelloOf(b.strip, b.rate), true
}
