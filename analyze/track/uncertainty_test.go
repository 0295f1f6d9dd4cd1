package track

import (
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/device"
)

// seated gives rows a standard uncertainty that comes from the seat alone.
func seated(u float64, rows []Row) []Row {
	for i := range rows {
		rows[i].U, rows[i].USeat = u, u
	}
	return rows
}

// A change smaller than the uncertainty of its visits is within noise, for any
// repeatability of mountings.
func TestChangeWithinTheUncertaintyOfItsVisits(t *testing.T) {
	var rows []Row
	for week := range 6 {
		for mounting := range 2 {
			over := -4 + 0.02*float64(mounting)
			if week == 5 {
				over += 0.9
			}
			rows = append(rows, one("D7", week, mounting, false, device.Left, over-0.1, over, over+0.1)...)
		}
	}
	known, err := Follow(measure.Over, "D7", seated(0.05, rows))
	require.NoError(t, err)
	p := known.Series[0].Points[5]
	require.InDelta(t, 0.9, *p.Change, 1e-9)
	assert.Equal(t, BeyondNoise, p.Wording)

	unknown, err := Follow(measure.Over, "D7", seated(1.6, rows))
	require.NoError(t, err)
	s := unknown.Series[0]
	assert.Equal(t, known.Series[0].Repeat, s.Repeat)
	assert.Less(t, s.Repeat.MDC95, 0.9)
	assert.Greater(t, (s.Points[5].OfMean.CI95[1]-s.Points[5].OfMean.CI95[0])/2, 2.2, "a visit reads ± 2.2 or more")
	assert.Equal(t, WithinNoise, s.Points[5].Wording)
}

// A change beyond noise has an interval that excludes 0, and no exploratory measure has a
// wording.
func TestBeyondNoiseIsBeyondTheVisitsToo(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var rows []Row
		v := rapid.Float64Range(-1, 1)
		for week := range 6 {
			shift := rapid.Float64Range(-3, 3).Draw(t, "shift")
			for mounting := range 2 {
				rows = append(rows, one("D7", week, mounting, false, device.Left, shift+v.Draw(t, "a"), shift+v.Draw(t, "b"))...)
			}
		}
		rows = seated(rapid.Float64Range(0, 2).Draw(t, "seat"), rows)
		f, err := Follow(measure.Over, "D7", rows)
		require.NoError(t, err)
		for _, p := range f.Series[0].Points[1:] {
			ci := p.OfChange.CI95
			beyond := math.Abs(*p.Change) > f.Series[0].Repeat.MDC95 && (ci[0] > 0 || ci[1] < 0)
			assert.Equal(t, beyond, p.Wording == BeyondNoise)
		}
		f, err = Follow(measure.PeakPressure, "D7", rows)
		require.NoError(t, err)
		for _, p := range f.Series[0].Points {
			assert.Empty(t, p.Wording)
		}
	})
}

// The same relevés give the same uncertainty, degrees of freedom and interval whether
// they are two visits in one shoe or two shoes in one visit, with everything that a seat
// and a strip contribute; so a change that is beyond noise in one is clear in the other.
func TestUncertaintyIsThatOfAComparison(t *testing.T) {
	start := time.Date(2026, 3, 2, 17, 0, 0, 0, time.UTC)
	seen := map[Wording]int{}
	rapid.Check(t, func(t *rapid.T) {
		draw := func(lo, hi float64, label string) float64 { return rapid.Float64Range(lo, hi).Draw(t, label) }
		seat, shape := draw(0, 0.5, "seat"), draw(0, 0.3, "shape")
		first := device.Strip{Name: "L-01", Rows: 5, Cols: 8}
		second := first
		if rapid.Bool().Draw(t, "calibrated again") {
			second.Calibration.GainSD = 0.02
		}
		var fittings [2][]*measure.Result // two shoes in one visit; two visits in one shoe
		for part, apart := range []float64{0, draw(-3, 3, "apart")} {
			strip := []*device.Strip{&first, &second}[part]
			effects := []measure.Effect{
				{Source: "seat", Common: measure.OfMounting, Evidence: measure.EvidencePress,
					U: map[measure.Measure]measure.StandardUncertainty{measure.Over: {U: seat, DOF: 9}}},
				{Source: "bearing outline", Common: measure.OfShape, U: map[measure.Measure]measure.StandardUncertainty{measure.Over: {U: shape, DOF: measure.Unlimited}}},
				{Source: measure.Gain, Common: measure.OfStrip, Draws: map[measure.Measure][]float64{measure.Over: {draw(-0.5, 0.5, "gain"), draw(-0.5, 0.5, "gain"), draw(-0.5, 0.5, "gain")}}},
				{Source: "zero drift", Common: measure.OfStrip, Distribution: measure.Rectangular, Bound: map[measure.Measure]float64{measure.Over: draw(-0.4, 0.4, "drift")}},
				{Source: "sway", Common: measure.OfReleve, U: map[measure.Measure]measure.StandardUncertainty{measure.Over: {U: 0.2, DOF: 5}}},
			}
			for mounting := range 4 {
				var releves []measure.Releve
				for n := range 2 {
					releves = append(releves, measure.Releve{N: n + 1, Foot: device.Left, FeetUp: 1, Status: measure.Measured,
						Hold: &measure.Hold{OverMM: apart + draw(-1, 1, "over"), UOverMM: 1, DOFOver: 9, Effects: effects}})
				}
				for i, named := range [][2]string{{"1", "AB"[part : part+1]}, {fmt.Sprint(part + 1), "A"}} {
					r := &measure.Result{
						Recording: measure.Recording{File: fmt.Sprint(part, mounting), Dancer: "D7"},
						Meta:      device.Metadata{Dancer: "D7", Visit: named[0], Started: start.Add(time.Duration(4*part+mounting) * time.Minute)},
						Releves:   releves,
					}
					r.Meta.Sides[device.Left] = &device.Side{
						Strip: strip, Shoe: &device.Shoe{Code: named[1], PlatformMM: [2]float64{36, 22}, OutlineExponent: 2.5}, Mounting: fmt.Sprint(part, mounting),
					}
					r.Platforms.Left = &measure.Platform{}
					fittings[i] = append(fittings[i], r)
				}
			}
		}
		c, err := compare.Results(fittings[0], compare.Options{})
		require.NoError(t, err)
		f, err := Follow(measure.Over, "D7", Rows(measure.Over, fittings[1]))
		require.NoError(t, err)
		require.Equal(t, measure.Over, c.Differences[0].Measure)
		d, p := c.Differences[0], f.Series[0].Points[1]
		require.NotNil(t, d.DOF)
		assert.InDelta(t, d.Difference, *p.Change, 1e-12)
		assert.InDelta(t, d.U, p.OfChange.U, 1e-12)
		assert.InEpsilon(t, *d.DOF, float64(p.OfChange.DOF), 1e-9)
		assert.InDelta(t, d.CI95[0], p.OfChange.CI95[0], 1e-9)
		assert.InDelta(t, d.CI95[1], p.OfChange.CI95[1], 1e-9)
		assert.Equal(t, c.Mountings[measure.Over], f.Effect)
		assert.InDelta(t, c.Shoes[0].Measures[measure.Over].U, f.Series[0].Points[0].OfMean.U, 1e-12)

		require.NotNil(t, f.Series[0].Repeat)
		seen[p.Wording]++
		larger := math.Abs(*p.Change) > f.Series[0].Repeat.MDC95
		assert.Equal(t, larger && d.Wording == compare.Clear, p.Wording == BeyondNoise)
	})
	assert.Len(t, seen, 2, "both wordings came up")
}
