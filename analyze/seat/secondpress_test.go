package seat

import (
	"math"
	"os"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device/sim"
)

// The 95 % interval of the seat during the holds contains the true seat as often as
// stated when the strip moves between two presses. The strip moves all at once, before
// the holds or after them, which is the worst case. The true seat is the simulator's,
// whose physics the estimator's model does not contain.
func TestSeatFromTwoPresses(t *testing.T) {
	mountings := 2
	if os.Getenv("APLOMB_LONG") != "" {
		mountings = 100
	}
	scenario, err := sim.ScenarioNamed("all together")
	require.NoError(t, err)
	all, missed := 0, 0
	for _, slip := range []float64{0, 0.2, 0.5, 1} {
		var squares, offBy, half, oneHalf float64
		covered, leftOut, oneCovered := 0, 0, 0
		for seed := range uint64(mountings) {
			setup := scenario.Setup(6001+seed, int(seed), 6, ContactKPa)
			setup.GridMM = gridMM
			setup.Press = sim.DefaultPadPress()
			setup.Press.Maps, setup.Press.Turns, setup.Press.SlipMM = 60, 2, slip
			m, err := sim.NewMounting(setup)
			require.NoError(t, err)
			in := Input{Strip: setup.Strip, Outline: setup.Shoe.Outline(), GainSD: setup.Sensor.GainSD}
			var presses [2][]Map
			for i, p := range m.Press {
				presses[i/30] = append(presses[i/30], Map{Kind: Press, KPa: p.KPa, NoiseKPa: setup.Sensor.NoiseKPa})
			}
			truth := [2]float64{m.Seat.MedialMM - m.InPress.MedialMM, m.Seat.OverMM - m.InPress.OverMM}
			if seed%2 == 1 { // the strip moved after the holds
				presses[0], presses[1] = presses[1], presses[0]
				truth[0], truth[1] = -truth[0], -truth[1]
			}
			holds := func(maps []Map) []Map {
				maps = slices.Clone(maps)
				for _, h := range m.Holds {
					maps = append(maps, Map{Kind: Hold, KPa: h.KPa, NoiseKPa: setup.Sensor.NoiseKPa})
				}
				return maps
			}
			one := in
			one.Maps = holds(presses[0])
			first := Find(one)
			for k := range presses[1] {
				presses[1][k].Press = 1
			}
			in.Maps = holds(slices.Concat(presses[0], presses[1]))
			found := Find(in)
			require.Equal(t, FromPress, found.Evidence)
			if found.Shift == nil {
				t.Logf("seed %d: a press is left out: %s", seed, found.LeftOut)
				leftOut++
				continue
			}
			offBy += math.Pow(found.Shift.Medial.Value-truth[0], 2) + math.Pow(found.Shift.Over.Value-truth[1], 2)
			for axis, is := range [2]float64{m.Seat.MedialMM, m.Seat.OverMM} {
				off, h := found.Offset[axis]-is, 1.96*math.Sqrt(found.Cov[axis][axis])
				squares, half = squares+off*off, half+h
				if math.Abs(off) <= h {
					covered++
				}
				h = 1.96 * math.Sqrt(first.Cov[axis][axis])
				oneHalf += h
				if math.Abs(first.Offset[axis]-is) <= h {
					oneCovered++
				}
			}
		}
		assert.LessOrEqual(t, leftOut, mountings/10)
		n := float64(2 * (mountings - leftOut))
		t.Logf("moved by %.1f mm: the move is off by %.2f mm; seat in the holds off by %.2f mm, ± %.2f mm holds the truth in %.0f %%; with the first press alone ± %.2f mm in %.0f %%; %d of %d without a second press",
			slip, math.Sqrt(offBy/n), math.Sqrt(squares/n), half/n, 100*float64(covered)/n, oneHalf/n, 100*float64(oneCovered)/n, leftOut, mountings)
		all, missed = all+int(n), missed+int(n)-covered
	}
	// Of 16 intervals with 93 % coverage six or more miss the true value once in 2,000
	// runs.
	assert.Less(t, missed, max(6, all*7/100))
}
