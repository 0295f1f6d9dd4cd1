package seat

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"aplomb/device/platform"
	"aplomb/device/sim"
)

func diagonal(v ...float64) *mat.SymDense {
	s := mat.NewSymDense(len(v), nil)
	for i, x := range v {
		s.SetSym(i, i, x)
	}
	return s
}

// gridMM is the step of the simulated surfaces, mm. It is that of simulated recordings, twice
// the simulator's default, so that a map takes a quarter of the time. TestSessionGrid in package
// sim has what it costs.
const gridMM = 0.5

// example returns a mounting of a scenario, and the input that it gives the estimator.
func example(t require.TestingT, scenario string, seed uint64, g given, change func(*sim.MountingSetup)) (Input, *sim.Mounting) {
	s, err := sim.ScenarioNamed(scenario)
	require.NoError(t, err)
	setup := s.Setup(seed, 0, 6, 10)
	setup.GridMM = gridMM
	if change != nil {
		change(&setup)
	}
	m, err := sim.NewMounting(setup)
	require.NoError(t, err)
	return input(setup, m, g), m
}

// Maps computed from the estimator's own model give back their parameters. This verifies
// the algorithm, not the model.
func TestModelGivesItselfBack(t *testing.T) {
	strip := sim.SeatStrip()
	outline := platform.Superellipse(36, 22, 2.5)
	rng := rand.New(rand.NewPCG(1, 2))
	at := pose{0.7, -1.1, 0.015}
	g, s := laid(strip, outline, at, relief{growWidth: 0.3, growDepth: -0.2, domeMedial: 0.05, domeOver: 0.05, frontRadius: 1, backRadius: 2}, 50, 0.001, 0)
	in := Input{Strip: strip, Outline: outline, GainSD: 0.03}
	for i := range 16 {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / 16)
		m := make([]float64, strip.Cells())
		g.read(s.layer, &s.ground, plane{130, 8 * cos, 14 * sin}, m, nil)
		for k := range m {
			m[k] += 0.1 * rng.NormFloat64()
		}
		in.Maps = append(in.Maps, Map{Kind: Press, KPa: m, NoiseKPa: 0.1})
	}
	out := Find(in)
	assert.Equal(t, FromPress, out.Evidence)
	assert.False(t, out.UsedHolds)
	assert.InDelta(t, at.medial, out.Offset[0], 0.02)
	assert.InDelta(t, at.over, out.Offset[1], 0.03)
	assert.InDelta(t, at.turn*180/math.Pi, out.RotationDeg, 0.1)
	assert.InDelta(t, 0.3, out.Outline.HalfWidth.Value, 0.1)
	assert.InDelta(t, 2, out.Outline.BackRadius.Value, 0.4)
	assert.Less(t, out.Outline.FrontRadius.Value, out.Outline.BackRadius.Value)
}

// A mirrored mounting has the mirrored seat.
func TestMirror(t *testing.T) {
	for seed := uint64(1); seed <= 3; seed++ {
		in, _ := example(t, "back 3 mm, front 1 mm", seed, given{press: true}, nil)
		out := Find(in)
		for i := range in.Maps {
			kPa := slices.Clone(in.Maps[i].KPa)
			for r := range in.Strip.Rows {
				slices.Reverse(kPa[r*in.Strip.Cols : (r+1)*in.Strip.Cols])
			}
			in.Maps[i].KPa = kPa
		}
		back := Find(in)
		assert.InDelta(t, -out.Offset[0], back.Offset[0], 0.03)
		assert.InDelta(t, out.Offset[1], back.Offset[1], 0.03)
		assert.InDelta(t, -out.RotationDeg, back.RotationDeg, 0.2)
	}
}

// The result does not depend on the order of the scan.
func TestScanOrder(t *testing.T) {
	in, _ := example(t, "all together", 3, given{press: true, holds: true}, nil)
	out := Find(in)
	strip := *in.Strip
	strip.Scan, strip.FirstCell = "serpentine", "front-medial"
	other := in
	other.Strip, other.Maps = &strip, slices.Clone(in.Maps)
	for i, m := range in.Maps {
		kPa := make([]float64, len(m.KPa))
		for k := range kPa {
			kPa[k] = m.KPa[place(other, k)]
		}
		other.Maps[i].KPa = kPa
	}
	again := Find(other)
	assert.Equal(t, out.Offset, again.Offset)
	assert.Equal(t, out.CoPs[len(out.CoPs)-1].At, again.CoPs[len(out.CoPs)-1].At)
}

// Without maps the seat is that of the profile, with its uncertainty.
func TestAssumed(t *testing.T) {
	strip := sim.SeatStrip()
	strip.Mount.OffsetMM, strip.Mount.RotationDeg = [2]float64{1, -2}, 3
	out := Find(Input{Strip: strip, Outline: platform.Superellipse(36, 22, 2.5), GainSD: 0.03})
	assert.Equal(t, Assumed, out.Evidence)
	assert.Empty(t, out.Refused)
	assert.Equal(t, platform.Point{1, -2}, out.Offset)
	assert.Equal(t, 3., out.RotationDeg)
	assert.Equal(t, 1., out.Cov[0][0])
	assert.Equal(t, 1., out.Cov[1][1])
}

// refusals returns the reasons for which kinds of evidence were refused.
func refusals(s Seat) (r []Reason) {
	for _, x := range s.Refused {
		r = append(r, x.Reason)
	}
	return r
}

// Impossible presses and shoes are refused, each with its reason, and the result falls
// back to wider evidence.
func TestRefusals(t *testing.T) {
	both := given{press: true, holds: true}
	press := func(change func(*sim.PadPress)) func(*sim.MountingSetup) {
		return func(s *sim.MountingSetup) {
			if s.Press == (sim.PadPress{}) {
				s.Press = sim.DefaultPadPress()
			}
			change(&s.Press)
		}
	}
	for _, bad := range []struct {
		name   string
		press  func(*sim.PadPress)
		reason Reason
	}{
		{"a bare hand", func(p *sim.PadPress) { p.BareHand = true }, Misfit},
		{"one edge", func(p *sim.PadPress) { p.Turns = 0.3 }, EdgesUnseen},
		{"a slip of 2 mm midway", func(p *sim.PadPress) { p.SlipMM = 2 }, Slipped},
	} {
		for _, scenario := range []string{"all together", "rounded 2 mm, foam stiffens"} {
			t.Run(bad.name+", "+scenario, func(t *testing.T) {
				in, _ := example(t, scenario, 1, both, press(bad.press))
				out := Find(in)
				assert.Equal(t, FromHolds, out.Evidence)
				assert.Equal(t, []Reason{bad.reason}, refusals(out))
			})
		}
	}
	t.Run("pressed by a foot", func(t *testing.T) {
		for seed := uint64(1); seed <= 2; seed++ { // in the centre, and behind it
			in, _ := example(t, "all together", seed, both, nil)
			in.Maps = in.Maps[len(in.Maps)-6:]
			for _, m := range in.Maps {
				m.Kind = Press
				in.Maps = append(in.Maps, m)
			}
			out := Find(in)
			assert.Equal(t, FromHolds, out.Evidence)
			assert.Equal(t, []Reason{EdgesUnseen}, refusals(out))
		}
	})
	t.Run("a strip that does not reach beyond the platform", func(t *testing.T) {
		in, _ := example(t, "all together", 1, both, func(s *sim.MountingSetup) {
			strip := *s.Strip
			strip.Rows, strip.Cols = 4, 6
			s.Strip = &strip
		})
		out := Find(in)
		assert.Equal(t, FromHolds, out.Evidence)
		assert.Equal(t, []Reason{EdgesUnseen}, refusals(out))
	})
	t.Run("the cells at the border are lost", func(t *testing.T) {
		in, _ := example(t, "kind", 1, both, nil)
		in.Lost = make([]bool, in.Strip.Cells())
		for k := range in.Lost {
			row, col := in.Strip.RowCol(k)
			in.Lost[k] = row == 0 || row == in.Strip.Rows-1 || col == 0 || col == in.Strip.Cols-1
		}
		out := Find(in)
		assert.NotEqual(t, FromPress, out.Evidence)
		assert.Contains(t, refusals(out), EdgesUnseen)
	})
	t.Run("an outline of another shoe", func(t *testing.T) {
		in, _ := example(t, "all together", 1, both, nil)
		in.Outline = platform.Superellipse(43, 22, 2.5)
		assert.Contains(t, refusals(Find(in)), OtherOutline)
	})
	// off returns a mounting whose strip lies the given distance in front of where its
	// profile says.
	off := func(t *testing.T, mm float64) (Input, *sim.Mounting) {
		in, m := example(t, "foam stiffens", 1, both, func(s *sim.MountingSetup) {
			s.Strip.Mount.SeatSDMM, s.Strip.Mount.OffsetMM[1] = 0.1, mm
		})
		strip := *in.Strip
		strip.Mount.SeatSDMM, strip.Mount.OffsetMM[1] = 1, 0
		in.Strip = &strip
		return in, m
	}
	t.Run("a seat 9 mm off", func(t *testing.T) {
		in, _ := off(t, -9)
		out := Find(in)
		assert.Equal(t, Assumed, out.Evidence)
		assert.Equal(t, []Reason{SeatFar, SeatFar}, refusals(out))
		assert.True(t, out.PriorConflict)
		assert.Greater(t, out.Cov[1][1], 8., "the profile's claim of 1 mm is not repeated")
	})
	t.Run("a seat 7 mm off", func(t *testing.T) {
		in, m := off(t, -7)
		out := Find(in)
		assert.Equal(t, FromPress, out.Evidence, "a press is believed farther than holds")
		assert.True(t, out.PriorConflict)
		assert.InDelta(t, m.Seat.OverMM, out.Offset[1], 0.3)
		in.Maps = in.Maps[len(in.Maps)-6:]
		out = Find(in)
		assert.Equal(t, Assumed, out.Evidence)
		assert.Equal(t, []Reason{SeatFar}, refusals(out))
		assert.True(t, out.PriorConflict)
	})
	t.Run("few maps", func(t *testing.T) {
		in, _ := example(t, "kind", 1, both, nil)
		in.Maps = slices.Concat(in.Maps[:leastMaps-1], in.Maps[len(in.Maps)-2:])
		out := Find(in)
		assert.Equal(t, FromHolds, out.Evidence)
		assert.Equal(t, []Reason{FewMaps}, refusals(out))
	})
}

// Two presses before the holds are one press to the estimator.
func TestPressedTwice(t *testing.T) {
	in, m := example(t, "all together", 2, given{press: true, holds: true}, nil)
	again, _ := example(t, "all together", 2, given{press: true}, func(s *sim.MountingSetup) {
		s.Press = sim.DefaultPadPress()
		s.Press.Maps, s.Press.LoadN = 25, [2]float64{90, 120}
	})
	in.Maps = append(again.Maps, in.Maps...)
	out := Find(in)
	assert.Equal(t, FromPress, out.Evidence)
	assert.Empty(t, out.Refused)
	assert.InDelta(t, m.Seat.MedialMM, out.Offset[0], 0.2)
	assert.InDelta(t, m.Seat.OverMM, out.Offset[1], 0.2)
}

// second adds a press after the holds, before which the strip has moved by medialMM
// towards +medial.
func second(t *testing.T, in Input, scenario string, seed uint64, medialMM float64) Input {
	later, _ := example(t, scenario, seed, given{press: true}, func(s *sim.MountingSetup) {
		s.Strip.Mount.OffsetMM[0] += medialMM
		if s.Press == (sim.PadPress{}) {
			s.Press = sim.DefaultPadPress()
		}
		s.Press.LoadN = [2]float64{80, 140}
	})
	in.Maps = slices.Clone(in.Maps)
	for _, m := range later.Maps {
		m.Press = 1
		in.Maps = append(in.Maps, m)
	}
	return in
}

// A second press measures how far the strip moved. The seat during the holds lies between
// the two, with a narrower interval where the strip did not move.
func TestSecondPress(t *testing.T) {
	for _, scenario := range []string{"kind", "all together"} {
		for seed := uint64(1); seed <= 2; seed++ {
			in, m := example(t, scenario, seed, given{press: true, holds: true}, nil)
			one := Find(in)
			assert.Nil(t, one.Shift)
			still := Find(second(t, in, scenario, seed, 0))
			require.NotNil(t, still.Shift)
			assert.InDelta(t, 0, still.Shift.Medial.Value, 2*still.Shift.Medial.SD)
			assert.InDelta(t, 0, still.Shift.Over.Value, 2*still.Shift.Over.SD)
			assert.Less(t, still.Cov[1][1], 0.5*one.Cov[1][1], "without the assumed move")
			assert.InDelta(t, m.Seat.OverMM, still.Offset[1], 2*math.Sqrt(still.Cov[1][1]))

			moved := Find(second(t, in, scenario, seed, 0.8))
			assert.InDelta(t, 0.8, moved.Shift.Medial.Value, 2*moved.Shift.Medial.SD)
			assert.Less(t, moved.Shift.Medial.SD, 0.15)
			assert.Greater(t, moved.Cov[0][0], still.Cov[0][0])
			assert.InDelta(t, m.Seat.MedialMM, moved.Offset[0], 2.6*math.Sqrt(moved.Cov[0][0]), "the holds are those of the first seat")
			assert.Len(t, moved.CoPs, 66)
		}
	}
}

// A press that cannot be used is left out, and the result names it.
func TestOneOfTwoPresses(t *testing.T) {
	in, m := example(t, "kind", 3, given{press: true, holds: true}, nil)
	two := second(t, in, "kind", 3, 0)
	few := two
	few.Maps = slices.Clone(two.Maps[:len(in.Maps)+leastMaps-1]) // the second press ends too soon
	out := Find(few)
	assert.Equal(t, FewMaps, out.LeftOut)
	assert.Nil(t, out.Shift)
	assert.Empty(t, out.Refused)
	assert.Equal(t, Find(in).Offset, out.Offset)
	few.Maps = slices.Clone(two.Maps[30-leastMaps+1:]) // the first begins too late
	out = Find(few)
	assert.Equal(t, FewMaps, out.LeftOut)
	assert.Equal(t, FromPress, out.Evidence)
	assert.InDelta(t, m.Seat.OverMM, out.Offset[1], 0.2)
}

// The seat between two presses has the variance of a rectangular distribution of width d,
// which is d²/12 (JCGM 100:2008, 4.3.7).
func TestBetween(t *testing.T) {
	f := &found{scale: 1}
	f.v[medial], f.v[over] = 1.2, 0
	for i := range 3 {
		f.cov[i][i] = 1e-12
	}
	e := pressError.variance(1)
	x, cov, shift := between([3]float64{0, 0, 0}, diagonal(e[0], e[1], e[2]), f)
	assert.InDelta(t, 0.6, x[0], 1e-9)
	assert.InDelta(t, e[0]+1.2*1.2/12, cov.At(0, 0), 1e-6)
	assert.InDelta(t, e[1], cov.At(1, 1), 1e-6)
	assert.InDelta(t, 1.2, shift.Medial.Value, 1e-9)
	assert.InDelta(t, math.Sqrt(2*e[0]), shift.Medial.SD, 1e-6)
}

// The profile is not used, and the result says so, where two mountings lie 3 mm off under
// a profile that claims 0.2 mm.
func TestPriorIsSetAside(t *testing.T) {
	for seed := uint64(1); seed <= 2; seed++ {
		in, m := example(t, "all together", seed, given{press: true}, func(s *sim.MountingSetup) {
			s.Strip.Mount.SeatSDMM, s.Strip.Mount.OffsetMM = 0.1, [2]float64{-1, 3}
		})
		strip := *in.Strip
		strip.Mount.SeatSDMM, strip.Mount.OffsetMM = 0.2, [2]float64{}
		in.Strip = &strip
		out := Find(in)
		assert.True(t, out.PriorConflict)
		assert.InDelta(t, m.InPress.MedialMM, out.Offset[0], 0.15)
		assert.InDelta(t, m.InPress.OverMM, out.Offset[1], 0.15)
	}
}

// Where a strip moved by 2 mm between press and holds, the interval covers the movement,
// and the result says so.
func TestMoved(t *testing.T) {
	in, _ := example(t, "kind", 4, given{press: true, holds: true}, nil)
	later, m := example(t, "kind", 4, given{holds: true}, func(s *sim.MountingSetup) { s.Strip.Mount.OffsetMM[0] = 2 })
	in.Maps = append(in.Maps[:30:30], later.Maps...)
	out := Find(in)
	assert.True(t, out.Moved)
	assert.InDelta(t, m.Seat.MedialMM, out.Offset[0], 1.96*math.Sqrt(out.Cov[0][0]))
}

// Invalid readings reduce the accuracy of the seat only slightly.
func TestLostCells(t *testing.T) {
	in, m := example(t, "all together", 6, given{press: true, holds: true}, nil)
	in.Lost = make([]bool, in.Strip.Cells())
	in.Lost[3], in.Lost[16] = true, true
	in.Maps[7].KPa[20] = math.NaN()
	for i := range in.Maps {
		in.Maps[i].KPa[3] = 1e6
	}
	out := Find(in)
	assert.Equal(t, FromPress, out.Evidence)
	assert.InDelta(t, m.Seat.MedialMM, out.Offset[0], 0.2)
	assert.InDelta(t, m.Seat.OverMM, out.Offset[1], 0.3)
	last := out.CoPs[len(out.CoPs)-1]
	truth := m.Holds[len(m.Holds)-1]
	assert.InDelta(t, truth.CoP[0], last.At[0], 0.3)
	assert.InDelta(t, truth.CoP[1], last.At[1], 0.4)
	assert.InEpsilon(t, truth.LoadN, last.LoadN+last.BeyondN, 0.05)
}

// A bearing outline known from presses narrows the interval of holds alone, which still
// contains the true value.
func TestKnownOutline(t *testing.T) {
	both, _ := example(t, "rounded 2 mm", 8, given{press: true}, nil)
	known := Find(both).Outline
	in, m := example(t, "rounded 2 mm", 8, given{holds: true}, nil)
	wide := Find(in)
	in.Known = &known
	narrow := Find(in)
	assert.Equal(t, FromHolds, narrow.Evidence)
	assert.Less(t, narrow.Cov[1][1], wide.Cov[1][1])
	assert.InDelta(t, m.Seat.OverMM, narrow.Offset[1], 1.96*math.Sqrt(narrow.Cov[1][1]))
}
