//go:build !race

package sim

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device/platform"
)

func setup(t testing.TB, name string, seed uint64) MountingSetup {
	c, err := ScenarioNamed(name)
	require.NoError(t, err)
	return c.Setup(seed, 0, 5, 10)
}

// Every scenario gives maps that carry the load and a possible truth.
func TestScenarios(t *testing.T) {
	for _, c := range Scenarios() {
		t.Run(c.Name, func(t *testing.T) {
			for seed := range uint64(4) {
				s := setup(t, c.Name, seed)
				s.GridMM = sessionGridMM
				m, err := NewMounting(s)
				require.NoError(t, err)
				plan := s.Press
				if plan == (PadPress{}) {
					plan = DefaultPadPress()
				}
				require.Len(t, m.Press, plan.Maps)
				require.Len(t, m.Holds, 5)
				outline := m.Surface.Outline()
				require.InEpsilon(t, outline.Area(), m.Bearing.AreaMM2, 1e-6)
				for _, p := range m.Press {
					require.True(t, p.LoadN >= plan.LoadN[0]-1e-6 && p.LoadN <= plan.LoadN[1]+1e-6)
					r := math.Hypot(p.CoP[0], p.CoP[1]) / outline.Reach(p.CoP)
					require.True(t, r >= plan.Reach[0]-1e-6 && r <= plan.Reach[1]+1e-6)
				}
				for _, h := range m.Holds {
					require.True(t, h.LoadN >= holdLeastN-1e-6 && h.LoadN <= holdMostN+1e-6)
					require.True(t, h.ContactShare > 0.3 && h.ContactShare <= 1.0001, "%v", h.ContactShare)
					if seed%2 == 0 {
						require.Less(t, h.CoP[1], 0.0)
					}
				}
			}
		})
	}
}

// A strip that covers the platform, without faults, reads load and centre of pressure.
func TestMountingReadsItsTruth(t *testing.T) {
	s := setup(t, "kind", 3)
	s.Sensor = Sensor{}
	s.Strip.Rows, s.Strip.Cols = 40, 50
	s.Strip.PitchMM, s.Strip.CellMM = [2]float64{1, 1}, [2]float64{1, 1}
	m, err := NewMounting(s)
	require.NoError(t, err)
	seated := *s.Strip
	seated.Mount.OffsetMM, seated.Mount.RotationDeg = [2]float64{m.Seat.MedialMM, m.Seat.OverMM}, m.Seat.RotationDeg
	require.NotZero(t, m.Seat.MedialMM)
	for _, h := range m.Holds {
		var f, a, b float64
		for k, p := range h.KPa {
			c := seated.Centre(seated.RowCol(k))
			f, a, b = f+p, a+p*c[0], b+p*c[1]
		}
		require.InEpsilon(t, h.LoadN, f/1000, 1e-4)
		require.InDelta(t, h.CoP[0], a/f, 0.002)
		require.InDelta(t, h.CoP[1], b/f, 0.002)
	}
}

// Shoe, gains and dancer stay with the seed; seat and noise go with the mounting.
func TestMountingsDiffer(t *testing.T) {
	s := setup(t, "all together", 5)
	a, err := NewMounting(s)
	require.NoError(t, err)
	again, err := NewMounting(s)
	require.NoError(t, err)
	require.Equal(t, a.Holds, again.Holds)
	require.Equal(t, a.Press, again.Press)
	s.Number++
	b, err := NewMounting(s)
	require.NoError(t, err)
	require.Equal(t, a.Surface.Outline(), b.Surface.Outline())
	require.Equal(t, a.Gains, b.Gains)
	require.Equal(t, a.Bearing, b.Bearing)
	require.NotEqual(t, a.Seat, b.Seat)
	require.Equal(t, a.Seat, a.InPress)
	require.Less(t, math.Abs(a.Holds[0].CoP[1]-b.Holds[0].CoP[1]), 4.0)
	s.Physics.MoveSDMM = 0.3
	c, err := NewMounting(s)
	require.NoError(t, err)
	require.Equal(t, b.InPress, c.InPress)
	require.NotEqual(t, c.Seat, c.InPress)
}

func TestMountingRefuses(t *testing.T) {
	for name, spoil := range map[string]func(*MountingSetup){
		"a strip and a shoe": func(s *MountingSetup) { s.Strip = nil },
		"-1 holds":           func(s *MountingSetup) { s.Holds = -1 },
		"threshold of NaN":   func(s *MountingSetup) { s.ThresholdKPa = math.NaN() },
		"0 maps a second":    func(s *MountingSetup) { s.Press.RateHz = 0 },
		"way to the outline": func(s *MountingSetup) { s.Press.Reach[1] = 1 },
		"rounding by":        func(s *MountingSetup) { s.Physics.RoundBackMM = 12 },
	} {
		s := setup(t, "kind", 1)
		s.Press = DefaultPadPress()
		spoil(&s)
		_, err := NewMounting(s)
		require.ErrorContains(t, err, name)
	}
	s := setup(t, "kind", 1)
	s.Press = DefaultPadPress()
	s.Press.Maps = 0
	m, err := NewMounting(s)
	require.NoError(t, err)
	require.Empty(t, m.Press)
}

// A strip that slips is displaced from halfway through the press on, and during the
// holds.
func TestPressSlips(t *testing.T) {
	s := setup(t, "kind", 4)
	s.Sensor = Sensor{}
	still, err := NewMounting(s)
	require.NoError(t, err)
	s.Press = DefaultPadPress()
	s.Press.SlipMM = 1.5
	slips, err := NewMounting(s)
	require.NoError(t, err)
	require.Equal(t, still.InPress, slips.InPress)
	require.InDelta(t, 1.5, math.Hypot(slips.Seat.MedialMM-slips.InPress.MedialMM, slips.Seat.OverMM-slips.InPress.OverMM), 1e-12)
	for i := range still.Press {
		require.Equal(t, i < 15, assert.ObjectsAreEqual(still.Press[i], slips.Press[i]), "map %d", i)
	}
}

// Fingers carry the load, but their pressure fades towards the edge of their patches.
func TestBareHand(t *testing.T) {
	s := setup(t, "kind", 4)
	s.Press = DefaultPadPress()
	s.Press.BareHand = true
	m, err := NewMounting(s)
	require.NoError(t, err)
	for _, p := range m.Press {
		require.True(t, p.LoadN >= 60-1e-6 && p.LoadN <= 150+1e-6)
	}
	im := m.Surface.fingers(100, platform.Point{})
	sum := 0.0
	for i, q := range m.Surface.points {
		sum += im.kPa[i] * q.area
	}
	require.InEpsilon(t, 100, sum/1000, 1e-9)
	require.InDelta(t, 0, im.CoP[1], 0.01)
}

// Draws have the standard deviations that the setup gives: over 400 mountings an
// estimate of one is within 15 % (four standard errors, each 1/√(2·400)).
func TestMountingDraws(t *testing.T) {
	s := setup(t, "kind", 0)
	const n = 400
	var medial, turn, wide float64
	for i := range uint64(n) {
		s.Seed = i
		seat := s.seat(stream(s.Seed, "mounting", "0"))
		medial += seat.MedialMM * seat.MedialMM
		turn += seat.RotationDeg * seat.RotationDeg
		lo, hi := s.shape().Outline.Bounds()
		wide += (hi[0] - lo[0] - 36) * (hi[0] - lo[0] - 36)
	}
	require.InEpsilon(t, 1, math.Sqrt(medial/n), 0.15)
	require.InEpsilon(t, 1, math.Sqrt(turn/n), 0.15)
	require.InEpsilon(t, 0.8, math.Sqrt(wide/n), 0.15)
}

// The bearing area of a flat platform is its outline, within one square of the grid.
func TestBearingOfAFlatPlatform(t *testing.T) {
	s := surface(t, Shape{Outline: platform.Superellipse(36, 22, 2.5)})
	b, err := s.Bearing(Bed{KPaMM: DefaultPadKPaMM}, 10)
	require.NoError(t, err)
	require.InEpsilon(t, s.Outline().Area(), b.AreaMM2, 1e-9)
	require.InDelta(t, s.Outline().Reach(platform.Point{1, 0}), b.HalfWidth, 1e-9)
	require.InDelta(t, s.Outline().Reach(platform.Point{0, 1}), b.HalfDepth, 1e-9)
	require.InDelta(t, 0, b.Centre[0], 1e-9)
	require.InDelta(t, 0, b.Centre[1], 1e-9)
}

// Cells beside the platform read an overhang that fades away from it; cells
// within do not change.
func TestOverhang(t *testing.T) {
	s := surface(t, Shape{Outline: platform.Rectangle(36, 20)})
	strip := SeatStrip()
	im, err := s.Press(Bed{KPaMM: 60}, 100, platform.Point{}, Pose{})
	require.NoError(t, err)
	plain, bent := make([]float64, strip.Cells()), make([]float64, strip.Cells())
	seat := Seat{OverMM: 2.5} // the back row starts at the back edge, the front row lies outside
	NewCells(s, strip, seat, 0, Overhang{}).Read(im, plain)
	NewCells(s, strip, seat, 0, Overhang{Share: 0.05, DecayMM: 2}).Read(im, bent)
	p := 100.0 / (36 * 20) * 1000
	for k := range plain {
		row, col := strip.RowCol(k)
		switch {
		case row == 4 && col > 0 && col < 7:
			require.Zero(t, plain[k])
			// Mean of the exponential over 5 mm.
			require.InDelta(t, 0.05*p*2*(1-math.Exp(-2.5))/5, bent[k], 0.02*0.05*p)
		case row < 4 && col > 0 && col < 7:
			require.InDelta(t, plain[k], bent[k], 1e-9)
		}
	}
}

func BenchmarkMounting(b *testing.B) {
	for _, name := range []string{"kind", "all together"} {
		b.Run(name, func(b *testing.B) {
			s := setup(b, name, 1)
			s.Holds = 10
			for b.Loop() {
				s.Number++
				if _, err := NewMounting(s); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// Every scenario is found by its name and by its word, which is easy to type.
func TestScenarioWords(t *testing.T) {
	words := ScenarioWords()
	for i, s := range Scenarios() {
		require.Regexp(t, `^[a-z-]+$`, s.Word)
		require.Equal(t, words[i], s.Word)
		require.Equal(t, i, slices.Index(words, s.Word), "no word twice")
		for _, name := range []string{s.Name, s.Word} {
			found, err := ScenarioNamed(name)
			require.NoError(t, err)
			require.Equal(t, s, found)
		}
	}
	_, err := ScenarioNamed("rund")
	require.ErrorContains(t, err, `no physics "rund": one of kind, rounded,`)
}

// A longer pad press makes more rounds at the same pace.
func TestPressOfAScenario(t *testing.T) {
	s, err := ScenarioNamed("foam-stiffens")
	require.NoError(t, err)
	p := s.PadPress(9)
	require.Equal(t, 90, p.Maps)
	require.InDelta(t, 3, p.Turns, 1e-12)
	require.Equal(t, s.Press.Reach, p.Reach)
	require.Equal(t, DefaultPadPress(), Scenario{}.PadPress(3))
}
