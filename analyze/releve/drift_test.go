package releve

import (
	"context"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/field"
	"aplomb/analyze/measure"
	"aplomb/analyze/trace"
	"aplomb/device"
	"aplomb/device/platform"
)

// wandering returns the reading of the unloaded strip at t, N in all; loads are the
// pulses, from their onset to their end.
type wandering func(rng *rand.Rand, loads []truth) func(t float64) float64

// steady is a constant offset.
func steady(n float64) wandering {
	return func(*rand.Rand, []truth) func(float64) float64 { return func(float64) float64 { return n } }
}

// overLoads changes by up to most over each load, at 15 N/s or less, and is constant in
// between; up, down, or at random where sign is 0.
func overLoads(most, sign float64) wandering {
	return func(rng *rand.Rand, loads []truth) func(float64) float64 {
		moves, turn := make([]float64, len(loads)), sign
		at := 0.0
		for i, l := range loads {
			by := min(most, 15*(l.end-l.onset)) * (0.5 + rng.Float64()/2)
			switch {
			case sign == 0:
				turn = float64(1 - 2*rng.IntN(2))
			case math.Abs(at) > 250 || at*turn < -250:
				turn = -turn // the range of the converter is limited
			}
			if at+turn*by < -280 || at+turn*by > 280 {
				turn = -turn
			}
			moves[i] = turn * by
			at += moves[i]
		}
		return func(t float64) float64 {
			n := 0.0
			for i, l := range loads {
				if t <= l.onset {
					break
				}
				n += moves[i] * min(1, (t-l.onset)/(l.end-l.onset))
			}
			return n
		}
	}
}

// warming approaches another level exponentially, like temperature.
func warming(from, to, tau float64) wandering {
	return func(*rand.Rand, []truth) func(float64) float64 {
		return func(t float64) float64 { return to + (from-to)*math.Exp(-t/tau) }
	}
}

// swinging is periodic.
func swinging(n, period float64) wandering {
	return func(*rand.Rand, []truth) func(float64) float64 {
		return func(t float64) float64 { return n * math.Sin(2*math.Pi*t/period) }
	}
}

const (
	driftRows, driftCols, driftPitch = 5, 8, 5.0
	driftKPa                         = 0.75                                      // of a count
	driftCountN                      = driftKPa * driftPitch * driftPitch / 1000 // N
	driftBase                        = 500                                       // counts of a cell before drift
)

// strip returns a strip covered by the platform, so that no cell outside the platform
// shows the zero.
func strip() *trace.Strip {
	s := &device.Strip{
		Name: "S", Rows: driftRows, Cols: driftCols, PitchMM: [2]float64{driftPitch, driftPitch}, CellMM: [2]float64{driftPitch, driftPitch},
		ADCBits: 12, SaturatesAt: 4095, FirstCell: "back-lateral", Scan: "rows", Calibration: device.Calibration{KPaPerCount: driftKPa},
	}
	zero := make([]float64, driftRows*driftCols)
	for k := range zero {
		zero[k] = driftBase
	}
	outline := platform.Rectangle(driftCols*driftPitch, driftRows*driftPitch)
	return &trace.Strip{Grid: field.New(s, outline), Curve: s.Curve(), SaturatesAt: s.SaturatesAt, Zero: zero}
}

// frames converts samples to counts of cells: the load evenly distributed, noise of
// noiseN in all, and zeros that drift differently from cell to cell.
type frames struct {
	samples []measure.Sample
	zero    func(t float64) float64
	noiseN  float64
	rng     *rand.Rand
	uneven  []float64 // drift of a cell relative to the mean drift
	seq     int64
	next    int
}

func (f *frames) Next(frame *device.Frame) error {
	if f.next == len(f.samples) {
		return io.EOF
	}
	s := f.samples[f.next]
	f.next++
	f.seq++
	if s.Flags&measure.AfterGap != 0 {
		f.seq++
	}
	us := uint64(math.Round(s.T * 1e6))
	*frame = device.Frame{Seq: f.seq, TimeUS: us, ArrivalNS: 1_700_000_000e9 + int64(us)*1000, Counts: frame.Counts[:0]}
	cells := float64(len(f.uneven))
	zero := f.zero(s.T)
	for _, u := range f.uneven {
		n := (zero*u+float64(s.LoadN))/cells + f.noiseN/math.Sqrt(cells)*f.rng.NormFloat64()
		frame.Counts = append(frame.Counts, uint16(min(4095, max(0, math.Round(driftBase+n/driftCountN)))))
	}
	return nil
}

// through returns the samples that trace makes of frames, and the number of passes over
// them.
func through(t *testing.T, f frames, seed uint64) (samples []measure.Sample, runs int) {
	s := strip()
	for runs = 1; ; runs++ {
		again := f
		again.rng = rand.New(rand.NewPCG(seed, 9))
		logs, err := trace.Run(context.Background(), &again, [2]*trace.Strip{s, nil}, nil)
		require.NoError(t, err)
		if logs[0].Revised == nil {
			return logs[0].Samples, runs
		}
		require.Equal(t, 1, runs)
		s.Revised = logs[0].Revised
	}
}

// TestDetectionWithDrift is TestDetectionTable through the whole of package trace, on
// strips with drifting zeros, and prints its table beside it:
//
//	APLOMB_LONG=1 go test -run Detection -v -timeout 30m ./analyze/releve
func TestDetectionWithDrift(t *testing.T) {
	each := 20
	if os.Getenv("APLOMB_LONG") != "" {
		each = 500
	}
	light, heavy := [2]float64{240, 420}, [2]float64{600, 950}
	rows := []struct {
		name string
		condition
		noiseN float64
		zero   wandering
	}{
		{"no drift", condition{rate: 100, weight: light}, 0.3, steady(0)},
		{"offset 80 N", condition{rate: 100, weight: light}, 0.3, steady(80)},
		{"offset 150 N", condition{rate: 100, weight: heavy}, 0.3, steady(150)},
		{"offset 300 N", condition{rate: 100, weight: light}, 0.3, steady(300)},
		{"offset 300 N, 50 Hz, noisy", condition{rate: 50, weight: light}, 1, steady(300)},
		{"offset -200 N", condition{rate: 100, weight: light}, 0.3, steady(-200)},
		{"up to 20 N a load", condition{rate: 100, weight: light}, 0.3, overLoads(20, 0)},
		{"up to 60 N a load", condition{rate: 100, weight: heavy}, 0.3, overLoads(60, 0)},
		{"the same, light", condition{rate: 100, weight: light}, 0.3, overLoads(60, 0)},
		{"the same, 50 Hz, noisy", condition{rate: 50, weight: light}, 1, overLoads(60, 0)},
		{"the same, 500 Hz", condition{rate: 500, weight: light}, 0.3, overLoads(60, 0)},
		{"the same, frames lost", condition{rate: 200, weight: heavy, gaps: 0.05, longestMS: 60}, 0.3, overLoads(60, 0)},
		{"the same, line fails", condition{rate: 200, weight: light, gaps: 0.03, longestMS: 1500}, 0.3, overLoads(60, 0)},
		{"climbs by 60 N a load", condition{rate: 100, weight: light}, 0.3, overLoads(60, 1)},
		{"falls by 60 N a load", condition{rate: 100, weight: light}, 0.3, overLoads(60, -1)},
		{"warms, 0 to 250 N in 40 s", condition{rate: 100, weight: light}, 0.3, warming(0, 250, 40)},
		{"cools, 300 to 0 N in 40 s", condition{rate: 100, weight: light}, 0.3, warming(300, 0, 40)},
		{"cools, 300 to 0 N in 2 min", condition{rate: 100, weight: heavy}, 0.3, warming(300, 0, 120)},
		{"swings by 100 N in 60 s", condition{rate: 100, weight: light}, 0.3, swinging(100, 60)},
	}
	var table strings.Builder
	heading(&table)
	var all score
	for i, c := range rows {
		rng := rand.New(rand.NewPCG(77, uint64(i)))
		var here score
		recordings, twice := 0, 0
		for here.pulses < each {
			samples, truths := c.foot(rng, 20)
			f := frames{samples: samples, zero: c.zero(rng, truths), noiseN: c.noiseN, uneven: make([]float64, driftRows*driftCols)}
			for k := range f.uneven {
				f.uneven[k] = 0.5 + float64((k*17)%40)/39
			}
			through, runs := through(t, f, rng.Uint64())
			recordings++
			twice += runs - 1
			for _, s := range compare(Find(through), truths) {
				here.join(s)
			}
		}
		here.row(&table, c.name)
		assert.Zero(t, here.missed, "missed: %s", c.name)
		assert.Zero(t, here.invented, "invented: %s", c.name)
		all.join(here)
	}
	all.row(&table, "all")
	t.Log(table.String())
	all.bounds(t)
}
