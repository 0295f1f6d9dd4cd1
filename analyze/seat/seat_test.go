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

// example is a mounting of a scenario with what it shows the estimator.
func example(t require.TestingT, scenario string, seed uint64, g given, change func(*sim.MountingSetup)) (Input, *sim.Mounting) {
	s, err := sim.ScenarioNamed(scenario)
	require.NoError(t, err)
	setup := s.Setup(seed, 0, 6, 10)
	if change != nil {
		change(&setup)
	}
	m, err := sim.NewMounting(setup)
	require.NoError(t, err)
	return input(setup, m, g), m
}

// Maps from the estimator's own model give back what they were made from. This
// proves that the sums are right, nothing about shoes.
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

// A mounting seen in a mirror has the mirrored seat.
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

// What the order of the scan is does not matter.
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

// refusals says why kinds of evidence were refused.
func refusals(s Seat) (r []Reason) {
	for _, x := range s.Refused {
		r = append(r, x.Reason)
	}
	return r
}

// Presses and shoes that cannot be right are refused, each with its reason, and
// the answer falls back to the wider evidence.
func TestRefusals(t *testing.T) {
	both := given{press: true, holds: true}
	t.Run("a bare hand", func(t *testing.T) {
		in, _ := example(t, "all together", 1, both, func(s *sim.MountingSetup) {
			s.Press = sim.DefaultPadPress()
			s.Press.BareHand = true
		})
		out := Find(in)
		assert.Equal(t, FromHolds, out.Evidence)
		assert.Equal(t, []Reason{Misfit}, refusals(out))
	})
	t.Run("an outline of another shoe", func(t *testing.T) {
		in, _ := example(t, "all together", 1, both, nil)
		in.Outline = platform.Superellipse(43, 22, 2.5)
		assert.Contains(t, refusals(Find(in)), OtherOutline)
	})
	t.Run("a seat 7 mm off", func(t *testing.T) {
		in, _ := example(t, "foam stiffens", 1, both, func(s *sim.MountingSetup) { s.Strip.Mount.OffsetMM[1] = -4 })
		strip := *in.Strip
		strip.Mount.OffsetMM[1] = 3
		in.Strip = &strip
		out := Find(in)
		assert.Equal(t, Assumed, out.Evidence)
		assert.Contains(t, refusals(out), SeatFar)
		assert.Len(t, out.Refused, 2)
		assert.True(t, out.PriorConflict)
		assert.Greater(t, out.Cov[1][1], 8., "the profile's claim of 1 mm is not repeated")
	})
	t.Run("few maps", func(t *testing.T) {
		in, _ := example(t, "kind", 1, both, nil)
		in.Maps = slices.Concat(in.Maps[:leastMaps-1], in.Maps[len(in.Maps)-2:])
		out := Find(in)
		assert.Equal(t, FromHolds, out.Evidence)
		assert.Equal(t, []Reason{FewMaps}, refusals(out))
	})
}

// Two mountings that lie 3 mm off under a profile that claims 0.2 mm: the profile
// is set aside, and it is said.
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

// A strip that moved by 2 mm between press and holds: the interval covers it, and it is said.
func TestMoved(t *testing.T) {
	in, _ := example(t, "kind", 4, given{press: true, holds: true}, nil)
	later, m := example(t, "kind", 4, given{holds: true}, func(s *sim.MountingSetup) { s.Strip.Mount.OffsetMM[0] = 2 })
	in.Maps = append(in.Maps[:30:30], later.Maps...)
	out := Find(in)
	assert.True(t, out.Moved)
	assert.InDelta(t, m.Seat.MedialMM, out.Offset[0], 1.96*math.Sqrt(out.Cov[0][0]))
}

// Readings that are not to be believed cost accuracy, not the seat.
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

// A bearing outline that presses have shown narrows what holds alone say, and
// the truth stays within.
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
