//go:build !race

package analyze_test

import (
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze"
	"aplomb/analyze/measure"
	"aplomb/analyze/sway"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/device/recording"
	"aplomb/device/sim"
)

// bumpOf returns the pressures, kPa in scan order, of a smooth bump of 6 mm standard
// deviation and 400 N whose centre is at a point, mm.
func bumpOf(s *device.Strip, at platform.Point) []float64 {
	const sd, force = 6.0, 400.0
	kPa := make([]float64, s.Cells())
	for k := range kPa {
		c := s.Centre(s.RowCol(k))
		share := 1.0
		for i := range c {
			half := s.PitchMM[i] / 2
			share *= (math.Erf((c[i]+half-at[i])/sd/math.Sqrt2) - math.Erf((c[i]-half-at[i])/sd/math.Sqrt2)) / 2
		}
		kPa[k] = force * share / s.CellArea() * 1000
	}
	return kPa
}

// drifting returns frames of one relevé of a bump that moves uniformly from one point to
// another between the start and the end of its load, with the given sway about that path,
// mm. The strip is large, so that no load is lost beside it.
func drifting(from, to platform.Point, length float64, sway func(t float64) platform.Point) (device.Metadata, []device.Frame) {
	side := on(device.Left)
	side.Strip.Rows, side.Strip.Cols = 12, 14
	side.Shoe = rectangle("A", 60, 50)
	m := meta(side)
	var frames []device.Frame
	for i := range int((length + 2*up + 2*pause) * rate) {
		t := float64(i)/rate - pause
		level := max(0, min(1, t/up, (length+2*up-t)/up))
		done := max(0, min(1, t/(length+2*up)))
		off := sway(t)
		counts := make([]uint16, side.Strip.Cells())
		if level > 0 {
			for k, p := range bumpOf(side.Strip, platform.Point{from[0] + done*(to[0]-from[0]) + off[0], from[1] + done*(to[1]-from[1]) + off[1]}) {
				counts[k] = uint16(math.Round(level * p / side.Strip.Calibration.KPaPerCount))
			}
		}
		frames = append(frames, device.Frame{
			Foot: device.Left, Seq: int64(i), TimeUS: uint64(i) * 1e6 / rate, ArrivalNS: m.Started.UnixNano() + int64(i)*1e9/rate, Counts: counts,
		})
	}
	return m, frames
}

func still(float64) platform.Point { return platform.Point{} }

// A load that drifts uniformly changes by two thirds of its drift within the hold, and so
// does the position of the peak, which cells of 5 mm resolve to 0.2 mm.
func TestDriftWithinAHold(t *testing.T) {
	for _, c := range []struct{ from, to platform.Point }{
		{platform.Point{0, 0}, platform.Point{0, 0}},
		{platform.Point{1, -3}, platform.Point{1, 1}},
		{platform.Point{4, 2}, platform.Point{-3, -4}},
	} {
		m, frames := drifting(c.from, c.to, 3, still)
		one := analyzed(t, m, frames).Releves[0]
		require.NotNil(t, one.Settling)
		within := 2. / 3 * one.HoldS / (3 + 2*up)
		medial, over := within*(c.to[0]-c.from[0]), within*(c.to[1]-c.from[1])
		assert.InDelta(t, over, one.Settling.Over.Value, 0.05)
		assert.InDelta(t, over, one.Settling.PeakOver.Value, 0.2)
		assert.InDelta(t, medial, one.Settling.PeakMedial.Value, 0.2)
		for name, c := range map[string]measure.Change{"over": one.Settling.Over, "peak over": one.Settling.PeakOver, "peak medial": one.Settling.PeakMedial} {
			assert.InDelta(t, c.Value, (c.CI95[0]+c.CI95[1])/2, 1e-9, name)
		}
	}
}

// The interval of a drift of 4 mm with sway of 0.3 mm excludes 0 and contains the drift.
func TestDriftAmongSway(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	var sines [2][20]struct{ omega, phase float64 }
	for i := range sines {
		for k := range sines[i] {
			sines[i][k].omega = 2 * math.Pi * 0.1 * math.Pow(100, (float64(k)+rng.Float64())/20)
			sines[i][k].phase = 2 * math.Pi * rng.Float64()
		}
	}
	pink := func(t float64) (at platform.Point) {
		for i := range sines {
			for _, s := range sines[i] {
				at[i] += 0.3 * math.Sqrt(2./20) * math.Sin(s.omega*t+s.phase)
			}
		}
		return at
	}
	m, frames := drifting(platform.Point{0, -2}, platform.Point{0, 2}, 4, pink)
	one := analyzed(t, m, frames).Releves[0]
	want := 4 * 2. / 3 * one.HoldS / (4 + 2*up)
	s := one.Settling
	assert.Less(t, s.Over.CI95[0], want)
	assert.Greater(t, s.Over.CI95[1], want)
	assert.Positive(t, s.Over.CI95[0])
}

// Holds shorter than the window have neither sway nor settling.
func TestShortHoldsHaveNoSway(t *testing.T) {
	for length, has := range map[float64]bool{1: false, 1.7: false, 3: true} {
		m, frames := drifting(platform.Point{}, platform.Point{}, length, still)
		one := analyzed(t, m, frames).Releves[0]
		require.NotNil(t, one.Hold)
		assert.Equal(t, has, one.Sway != nil, "%v s", length)
		assert.Equal(t, has, one.Settling != nil, "%v s", length)
		if has {
			assert.GreaterOrEqual(t, one.Sway.StartS, one.HoldStartS)
			assert.LessOrEqual(t, one.Sway.StartS+sway.WindowS, one.HoldStartS+one.HoldS+0.01)
		}
	}
}

// The 95 % interval of every change contains 0 in at least 93 % of the holds of simulated
// dancers who sway about one position with pink noise. This is the table of
// analyze/VALIDATION.md:
//
//	APLOMB_LONG=1 go test -run SteadyHoldsDoNotSettle -v ./analyze
func TestSteadyHoldsDoNotSettle(t *testing.T) {
	sessions := 4
	if os.Getenv("APLOMB_LONG") != "" {
		sessions = 60
	}
	const rises = 15
	ofSettling := map[string]func(*measure.Settling) measure.Change{
		"over":                     func(s *measure.Settling) measure.Change { return s.Over },
		"place of peak, over":      func(s *measure.Settling) measure.Change { return s.PeakOver },
		"place of peak, to a side": func(s *measure.Settling) measure.Change { return s.PeakMedial },
	}
	var table strings.Builder
	for _, stand := range []platform.Point{{0, -1}, {-1, -6}} {
		n, withSway, changes := 0, 0, map[string][]measure.Change{}
		for seed := range sessions {
			for _, one := range steady(t, uint64(seed), rises, stand).Releves {
				if one.Settling == nil {
					continue
				}
				n++
				if one.Sway != nil {
					withSway++
				}
				for name, of := range ofSettling {
					changes[name] = append(changes[name], of(one.Settling))
				}
			}
		}
		require.GreaterOrEqual(t, n, 9*2*rises*sessions/10)
		fmt.Fprintf(&table, "\nat %v mm: %d holds, %.0f %% with sway", stand, n, 100*float64(withSway)/float64(n))
		for name, all := range changes {
			covered, sum, squares, half := 0, 0.0, 0.0, 0.0
			for _, c := range all {
				if c.CI95[0] <= 0 && 0 <= c.CI95[1] {
					covered++
				}
				sum, squares, half = sum+c.Value, squares+c.Value*c.Value, half+(c.CI95[1]-c.CI95[0])/2
			}
			share, mean, sd := float64(covered)/float64(n), sum/float64(n), math.Sqrt(squares/float64(n))
			fmt.Fprintf(&table, "\n  %-25s 0 in the interval %5.1f %%, mean %+.3f, sd %.2f, half-width %.2f mm", name, 100*share, mean, sd, half/float64(n))
			// A share of 93 % falls below this once in a thousand runs.
			assert.Greater(t, share, 0.93-3.1*math.Sqrt(0.93*0.07/float64(n)), "%s at %v", name, stand)
			assert.InDelta(t, 0, mean, 0.02+3.5*sd/math.Sqrt(float64(n)), "%s at %v", name, stand)
		}
	}
	t.Log(table.String())
}

// steady simulates and analyzes a session of a dancer who sways by 0.5 mm about one place.
func steady(t *testing.T, seed uint64, rises int, stand platform.Point) *measure.Result {
	setup := sim.Setup{
		Seed: seed, Start: meta().Started, RateHz: 60, Mounting: "m", Faults: sim.DefaultFaults(),
		Dancer: sim.Dancer{MassKG: 55, LeftShare: 0.5, Rises: rises, SwaySD: 0.5, LoadSD: 0.02},
	}
	var sides []*device.Side
	for _, f := range device.Feet {
		s := strip(f)
		s.Calibration.KPaPerCount, s.ADCBits, s.SaturatesAt = 0.75, 12, 4095
		shoe := &device.Shoe{Code: "A", PlatformMM: [2]float64{36, 22}, OutlineExponent: 2.5}
		setup.Feet[f] = &sim.Foot{Strip: s, Shoe: shoe, Stand: sim.Stand{CoPMM: stand, ScatterSD: 0.5}}
		sides = append(sides, &device.Side{Strip: s, Shoe: shoe, Mounting: "m", Clock: "strip"})
	}
	session, err := sim.NewSession(setup)
	require.NoError(t, err)
	path := filepath.Join(t.TempDir(), fmt.Sprintf("%d.mcap", seed))
	out, err := recording.CreateDirect(path, meta(sides...))
	require.NoError(t, err)
	var frame device.Frame
	for err = session.Next(&frame); err == nil; err = session.Next(&frame) {
		require.NoError(t, out.Write(&frame))
	}
	require.True(t, errors.Is(err, io.EOF))
	require.NoError(t, out.Close())
	r, err := analyze.File(t.Context(), path, analyze.Options{AtProfile: true})
	require.NoError(t, err)
	return r
}
