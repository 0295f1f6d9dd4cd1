package plan_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/analyze/plan"
	"aplomb/device"
)

// With perfect mounting a plan is the textbook's two-sample t-test: to see one
// standard deviation with 80 % power takes 17 a group, half of one 64 (Cohen,
// Statistical Power Analysis for the Behavioral Sciences (2nd ed., 1988), table
// 2.4.1). The last digits are R 4.2.2's:
// power.t.test(n = 17, power = 0.8, strict = TRUE, tol = 1e-12), and n = 5.
func TestDetectableDifferenceIsThatOfATTest(t *testing.T) {
	n := plan.Noise{Scatter: 1, ScatterDOF: 20}
	assert.InDelta(t, 1, plan.Detect(1, 17, 1, n).Difference, 0.01)
	assert.InDelta(t, 0.5, plan.Detect(1, 64, 1, n).Difference, 0.002)
	assert.InDelta(t, 0.991004649, plan.Detect(1, 17, 1, n).Difference, 1e-6)
	assert.InDelta(t, 2.024439339, plan.Detect(1, 5, 1, n).Difference, 1e-6)
}

func TestSeeTheParts(t *testing.T) {
	// Without scatter only mounting remains: u = 1·√2 with the degrees of freedom of the seat.
	s := plan.Detect(1, 5, 1, plan.Noise{Seat: 1, SeatDOF: 8})
	assert.InDelta(t, math.Sqrt2, s.U, 1e-12)
	assert.InDelta(t, 8, s.DOF, 1e-9)
	// scipy: the non-central t with 8 degrees of freedom gives 3.2009196485 u.
	assert.InDelta(t, 3.2009196485*math.Sqrt2, s.Difference, 1e-7)

	all := plan.Detect(2, 5, 1, plan.Noise{Scatter: 1, ScatterDOF: 9, Seat: 1, SeatDOF: 8, Sensor: 0.3})
	assert.InDelta(t, math.Sqrt(2.0/10+2.0/2+0.09), all.U, 1e-12)

	assert.True(t, math.IsInf(plan.Detect(1, 1, 1, plan.Noise{Scatter: 1, Seat: 1, SeatDOF: 8}).Difference, 1))
	twice := plan.Detect(2, 1, 1, plan.Noise{Scatter: 1, Seat: 1, SeatDOF: 8})
	assert.Greater(t, twice.U, math.Sqrt2, "one relevé a mounting: its scatter holds the seat's too")
}

func TestMore(t *testing.T) {
	p, err := plan.Mirrored([]string{"A", "B", "C"}, 2, 5, 1)
	require.NoError(t, err)
	n := plan.NoiseOver(nil, device.Mount{SeatSDMM: 1}, mounting.Effect{})
	now := p.DetectableDifference(n)
	more := p.Alternatives(n)
	require.Len(t, more, 4)
	assert.Equal(t, [2]int{4, 5}, [2]int{more[0].Mountings, more[0].Releves}, "mounting is what mostly limits")
	for i, s := range more {
		assert.Less(t, s.Difference, now.Difference)
		if i > 0 {
			assert.GreaterOrEqual(t, s.Difference, more[i-1].Difference)
		}
	}
	three, _ := plan.Mirrored([]string{"A"}, 1, 3, 1)
	assert.Len(t, three.Alternatives(n), 2, "three more is twice three, one more is twice one")
}

func TestNoiseOver(t *testing.T) {
	n := plan.NoiseOver([][]float64{{1, 3}, {10, 12}, {5}}, device.Mount{SeatSDMM: 0.6, SeatMountings: 10}, mounting.Effect{SD: 0.24, From: mounting.OfDancer})
	assert.InDelta(t, math.Sqrt2, n.Scatter, 1e-12) // each pair has a sum of squares of 2 about its mean
	assert.Equal(t, 2.0, n.ScatterDOF)
	assert.Equal(t, 9.0, n.SeatDOF)
	assert.Equal(t, "Relevés scatter by 1.4 mm, from this dancer's relevés so far (2 degrees of freedom); "+
		"a new mounting adds 0.6 mm, as measured for this strip; besides, mountings differ by 0.2 mm, as this dancer's have.", n.RestsOn())
	none := plan.NoiseOver(nil, device.Mount{SeatSDMM: 1}, mounting.New(nil).Effect("", measure.Over))
	assert.Equal(t, "Relevés are assumed to scatter by 1.0 mm, our assumption; "+
		"a new mounting is assumed to add 1.0 mm, our assumption; besides, mountings differ by 0.3 mm, our assumption.", none.RestsOn())
}

// A comparison calls the detectable difference clear in 80 % of simulated fittings. The
// mounting repeatability of the strip is measured in nine mountings each time, and there
// is no mounting effect.
// APLOMB_LONG=1 simulates 4,000 fittings a row instead of 120.
func TestComparisonDetectsTheDetectableDifference(t *testing.T) {
	const seat = 1.0 // mm
	fittings := 120
	if os.Getenv("APLOMB_LONG") != "" {
		fittings = 4000
	}
	var known []mounting.Row // mountings without an effect, so many that they decide
	for i := range 300 {
		for range 2 {
			known = append(known, mounting.Row{Group: "A", Mounting: fmt.Sprint(i), Measure: measure.Over, Value: 1, Evidence: measure.EvidencePress})
		}
	}
	for _, c := range []struct {
		mountings, releves int
		scatter            float64
	}{{1, 5, 1}, {2, 5, 1}, {2, 3, 2}, {4, 4, 0.3}} {
		detectable := plan.Detect(c.mountings, c.releves, 1, plan.Noise{Scatter: c.scatter, Seat: seat, SeatDOF: 8}).Difference
		g := rand.New(rand.NewPCG(uint64(c.mountings), math.Float64bits(c.scatter)))
		chi2 := distuv.ChiSquared{K: 8, Src: g}
		clear := 0.0
		for range fittings {
			profile := seat * math.Sqrt(chi2.Rand()/8)
			var all []*measure.Result
			for s, shoe := range []string{"A", "B"} {
				for m := range c.mountings {
					off := float64(s)*detectable + seat*g.NormFloat64()
					over := make([]float64, c.releves)
					for i := range over {
						over[i] = off + c.scatter*g.NormFloat64()
					}
					all = append(all, made(shoe, fmt.Sprint(shoe, m), len(all), profile, over))
				}
			}
			result, err := compare.Results(all, compare.Options{Earlier: known})
			require.NoError(t, err)
			for _, d := range result.Differences {
				if d.Measure == measure.Over && d.Wording == compare.Clear {
					clear++
				}
			}
		}
		share := clear / float64(fittings)
		t.Logf("%d mountings of %d relevés, scatter %.1f mm: %.2f mm is called clear in %.1f %%", c.mountings, c.releves, c.scatter, detectable, 100*share)
		assert.InDelta(t, 0.8, share, 0.02+3*math.Sqrt(0.8*0.2/float64(fittings)), "%+v", c)
	}
}

// made returns a recording of the left foot with the given over of its relevés.
func made(shoe, mounting string, minute int, seat float64, over []float64) *measure.Result {
	s := &device.Shoe{Code: shoe, OutlineMM: [][2]float64{{-20, -12}, {20, -12}, {20, 12}, {-20, 12}}}
	r := &measure.Result{}
	r.Meta = device.Metadata{Started: time.Date(2026, 3, 1, 10, minute, 0, 0, time.UTC)}
	r.Meta.Sides[device.Left] = &device.Side{
		Shoe: s, Mounting: mounting,
		Strip: &device.Strip{Name: "L-01", Rows: 5, Cols: 8, Mount: device.Mount{SeatSDMM: seat, SeatMountings: 9}},
	}
	outline := s.Outline()
	r.Platforms.Set(device.Left, measure.Platform{Outline: outline, Kern: outline.Kern(), AreaMM2: outline.Area()})
	for n, v := range over {
		r.Releves = append(r.Releves, measure.Releve{N: n + 1, Status: measure.Measured, Hold: &measure.Hold{
			OverMM:  v,
			Effects: []measure.Effect{{Common: measure.OfMounting, U: map[measure.Measure]measure.StandardUncertainty{measure.Over: {U: seat, DOF: 8}}}},
		}})
	}
	return r
}
