package trace_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/trace"
	"aplomb/device"
)

// squared returns a strip, and its profile, whose pressure is proportional to the square
// of the counts: kPa = perSquare·counts².
func squared() (*trace.Strip, *device.Strip) {
	p := profile(device.Left)
	p.Calibration = device.Calibration{Curve: "power", KPaAtOneCount: perSquare, Exponent: 2}
	return &trace.Strip{Grid: grid, Curve: p.Curve(), SaturatesAt: 65535}, p
}

const perSquare = 1e-5

// bent converts the counts of a strip with a linear curve to those of squared.
func bent(counts float64) float64 { return math.Sqrt(max(0, counts) * kPaPerCount / perSquare) }

// read traces the frames, a second time where the log asks for that.
func read(t require.TestingT, s *trace.Strip, frames []device.Frame) (log *trace.Log, runs int) {
	for runs = 1; ; runs++ {
		logs, err := trace.Run(context.Background(), &film{frames: frames}, [2]*trace.Strip{s, nil}, nil)
		require.NoError(t, err)
		if log = logs[device.Left]; log.Revised == nil {
			return log, runs
		}
		require.Equal(t, 1, runs, "once more is enough")
		s.Revised = log.Revised
	}
}

// Load and centre of pressure of every frame follow from its pressures, with the zero
// subtracted before the curve, whether the recording begins unloaded or not.
func TestLoadAndPlaceThroughACurve(t *testing.T) {
	for name, from := range map[string]float64{"begins unloaded": 0, "begins under load": 1.5} {
		strip, _ := squared()
		frames := shoot(200, 4.5, func(at float64, k int) float64 {
			return offset(k) + bent(pulse(at, 1, 3, 0.2)*tilted(400, -1, 3, k))
		})[int(200*from):]
		log, runs := read(t, strip, frames)
		assert.Equal(t, 2, runs, name)
		assert.True(t, log.Unloaded, name)
		for _, s := range log.Samples {
			want := 400 * pulse(s.T+from, 1, 3, 0.2)
			assert.InDelta(t, want, s.LoadN, 1.5, "%s, at %.3f s", name, s.T)
			if s.LoadN >= 25 {
				assert.InDelta(t, -1, s.MedialMM, 0.02+1/float64(s.LoadN), name)
				assert.InDelta(t, 3, s.OverMM, 0.02+1/float64(s.LoadN), name)
			}
		}
		m := log.Map(1.8-from, 2.8-from, log.ZeroAt(1.1-from))
		require.NotZero(t, m.Frames, name)
		for k, p := range m.KPa {
			assert.InDelta(t, tilted(400, -1, 3, k)*kPaPerCount, p, 1.5, name)
		}
	}
}

// The pressure of a hold is the mean of its pressures, and not the pressure of its mean
// counts, which for a square law is smaller by their variance.
func TestMeanOfACurve(t *testing.T) {
	strip, _ := squared()
	i := 0
	frames := shoot(200, 3, func(at float64, k int) float64 {
		if at < 1 {
			return 0
		}
		if k == 0 {
			i++
		}
		return 5000 + 2000*float64(i%2*2-1)
	})
	log, _ := read(t, strip, frames)
	m := log.Map(1, 3, log.ZeroAt(1))
	for k, p := range m.KPa {
		assert.InDelta(t, perSquare*(5000*5000+2000*2000), p, 0.5)
		assert.InDelta(t, perSquare*7000*7000, m.PeakKPa[k], 1e-6)
	}
}

// A linear curve given as a table gives the same results as a line.
func TestALineKeptAsATable(t *testing.T) {
	frames := shoot(200, 4, func(at float64, k int) float64 {
		return offset(k) + pulse(at, 1, 3, 0.2)*tilted(400, -1, 3, k)
	})
	p := profile(device.Left)
	p.Calibration = device.Calibration{Curve: "power", KPaAtOneCount: kPaPerCount, Exponent: 1}
	table, _ := read(t, &trace.Strip{Grid: grid, Curve: p.Curve(), SaturatesAt: 65535}, frames)
	line := develop(t, frames)
	require.Len(t, table.Samples, len(line.Samples))
	for i, s := range line.Samples {
		assert.InDelta(t, s.LoadN, table.Samples[i].LoadN, 0.3, "at %.3f s", s.T)
		if s.LoadN > 30 {
			assert.InDelta(t, s.OverMM, table.Samples[i].OverMM, 0.03)
		}
	}
}

// A cell of gain 1.2 reads a fifth more than the others under the same pressure.
func TestUnevenGains(t *testing.T) {
	p := profile(device.Left)
	for k := range cells {
		p.Calibration.Gains = append(p.Calibration.Gains, 0.8+0.4*float64(k%2))
	}
	strip := &trace.Strip{Grid: grid, Curve: p.Curve(), SaturatesAt: 65535}
	log, _ := read(t, strip, shoot(200, 4, func(at float64, k int) float64 {
		return pulse(at, 1, 3, 0.2) * tilted(400, -1, 3, k) * p.Calibration.Gains[k]
	}))
	s := log.Samples[400]
	assert.InDelta(t, 400, s.LoadN, 0.1)
	assert.InDelta(t, -1, s.MedialMM, 0.01)
	assert.InDelta(t, 3, s.OverMM, 0.01)
}

// Until a strip has been unloaded its zero is that of the calibration.
func TestZeroOfTheCalibration(t *testing.T) {
	strip := onStrip()
	strip.Zero = make([]float64, cells)
	for k := range strip.Zero {
		strip.Zero[k] = offset(k)
	}
	log, _ := read(t, strip, shoot(200, 2, func(_ float64, k int) float64 { return offset(k) + even(400) }))
	assert.False(t, log.Unloaded)
	for _, s := range log.Samples {
		assert.InDelta(t, 400, s.LoadN, 1)
	}
}

// Pressure beyond the calibrated range is recorded with a resolution of a tenth of a
// second.
func TestBeyondTheCalibratedRange(t *testing.T) {
	p := profile(device.Left)
	p.Calibration.RangeKPa = []float64{0, 500} // 5000 counts
	strip := &trace.Strip{Grid: grid, Curve: p.Curve(), SaturatesAt: 65535}
	log, _ := read(t, strip, shoot(200, 4, func(at float64, k int) float64 {
		if at < 1 {
			return 30
		}
		if at >= 2 && at < 2.25 && k == 20 {
			return 5040
		}
		return 5020 // 499 kPa above zero
	}))
	m := log.Map(1, 4, log.ZeroAt(1))
	assert.GreaterOrEqual(t, m.Beyond, 50)
	assert.LessOrEqual(t, m.Beyond, 50+2*20)
	assert.Zero(t, log.Map(2.5, 4, log.ZeroAt(1)).Beyond)
}

func BenchmarkTraceThroughACurve(b *testing.B) {
	const n = 120_000
	source := newLoop(n)
	strip, _ := squared()
	strip.SizeHint = n
	b.ReportAllocs()
	for b.Loop() {
		source.i = 0
		_, err := trace.Run(context.Background(), source, [2]*trace.Strip{strip, nil}, nil)
		require.NoError(b, err)
	}
	b.ReportMetric(float64(b.N)*n/b.Elapsed().Seconds(), "frames/s")
}
