package plots_test

import (
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/analyze/track"
	"aplomb/plots"
	"aplomb/plots/words"
)

// trend returns a picture of six visits over six weeks, two of them close together, one
// with a stop and without a relevé, the last one in another shoe.
func trend() *plots.Trend {
	day := func(n int) time.Time { return time.Date(2026, 3, 2, 17, 0, 0, 0, time.UTC).AddDate(0, 0, n) }
	days := []int{0, 14, 16, 23, 35, 42}
	points := func(values ...float64) (out []plots.TrendPoint) {
		for i, v := range values {
			if math.IsNaN(v) {
				continue
			}
			p := plots.TrendPoint{At: day(days[i]), Value: v, CI95: &[2]float64{v - 1, v + 1.2}, Reference: i == 0, Wording: track.WithinNoise}
			if v-values[0] > 2.2 {
				p.Wording = track.BeyondNoise
			}
			out = append(out, p)
		}
		return out
	}
	missing := math.NaN()
	wide := points(-0.4, -0.2, -0.5, missing, 0.1)
	wide[2].CI95 = &[2]float64{-30, 30}
	last := plots.TrendPoint{At: day(42), Value: -2.1, Reference: true}
	p := &plots.Trend{Theme: plots.DefaultTheme(), Marks: true, Zones: true, Stops: []time.Time{day(23)}, Panels: []plots.TrendPanel{
		{
			Title: "Front to back (over), mm", Note: "up: front, down: back", Measure: words.DisplayOf(measure.Over), Plot: 110, Kern: &[2]float64{-3.2, 3.2},
			Segments: []plots.TrendSegment{{Points: points(-5.9, -4.4, -3.4, missing, -1.9), Band: &[2]float64{-8.1, -3.7}}, {Points: []plots.TrendPoint{last}}},
			Other:    points(-1.2, -1.5, -0.9, missing, -1.0), Missing: []time.Time{day(23)},
		},
		{
			Title: "Side to side (medial), mm, of a code that is too long for the room that there is in a title", Note: "up: big toe", Measure: words.DisplayOf(measure.Medial),
			Kern: &[2]float64{-5.1, 5.1}, Segments: []plots.TrendSegment{{Points: wide}},
		},
		{Title: "Pain, 0 to 10", Note: "ring before, disc after"},
	}}
	for i, at := range days {
		p.Visits = append(p.Visits, day(at))
		before, after := []int{2, 2, 1, 10, 1, 0}[i], []int{3, 2, 2, 10, 1, 0}[i]
		pain := plots.TrendPain{At: day(at), Before: &before, After: &after}
		if i == 3 {
			pain.Before = nil
		}
		p.Panels[2].Pain = append(p.Panels[2].Pain, pain)
	}
	p.Changes = []plots.TrendChange{{Last: day(35), First: day(42), Text: "shoe a-code-of-many-characters", Short: "a-code-of-many-characters"}}
	return p
}

func TestTrendHasItsWords(t *testing.T) {
	found, _, _ := labels(trend())
	var written []string
	for _, l := range found {
		written = append(written, l.text)
	}
	for _, want := range []string{
		"up: front, down: back", "2 Mar 26", "13 Apr 26", "stop", "reference visit", "beyond noise", "target zone (kern)", "the other foot", "nothing measured", "stop for pain",
		"noise: 95 % of visits if nothing has changed",
	} {
		assert.Contains(t, written, want)
	}
	said := trend().Describe()
	for _, want := range []string{
		"Front to back (over), mm, up: front, down: back; target zone (kern) from −3.2 mm to 3.2 mm; 2 Mar 26: −5.9 ± 1.1 mm; ", "13 Apr 26: −2.1 mm.",
		"Pain, 0 to 10, ring before, disc after; 2 Mar 26: 2 before, 3 after;", "25 Mar 26: 10 after;", "From 13 Apr 26 on: shoe a-code", "Stop on 25 Mar 26.",
	} {
		assert.Contains(t, said, want)
	}
	assert.Equal(t, "No visits.", (&plots.Trend{}).Describe())
}

// Dates lie on a true time axis: the marks of visits are as far apart as the visits.
func TestTrendHasATrueTimeAxis(t *testing.T) {
	p := trend()
	p.Visits, p.Stops = []time.Time{p.Visits[0], p.Visits[1], p.Visits[5]}, nil // days 0, 14, 42
	found, _, _ := labels(p)
	at := map[string]float64{}
	for _, l := range found {
		at[l.text] = float64(l.box.Min.X + l.box.Max.X)
	}
	// The labels of the outer dates may be moved inwards, by at most half their width.
	assert.InDelta(t, 1./3, (at["16 Mar 26"]-at["2 Mar 26"])/(at["13 Apr 26"]-at["2 Mar 26"]), 0.06)
}

// The panels of one measure in two pictures have one axis, and so does time.
func TestShareAxes(t *testing.T) {
	a, b := trend(), trend()
	b.Panels = b.Panels[:1]
	b.Panels[0].Segments[0].Points[0].Value = -11
	b.Visits = []time.Time{b.Visits[0].AddDate(0, 0, -7)}
	plots.ShareAxes(a, b)
	require.NotNil(t, a.Panels[0].Range)
	assert.Equal(t, *a.Panels[0].Range, *b.Panels[0].Range)
	assert.InDelta(t, -11, a.Panels[0].Range[0], 1e-9)
	assert.NotEqual(t, *a.Panels[0].Range, *a.Panels[1].Range)
	assert.Nil(t, a.Panels[2].Range, "pain")
	assert.Equal(t, a.Visits, b.Visits)
	assert.Len(t, a.Visits, 7)
}

// A follow-up is drawn in display units, with the band of the minimal detectable change
// about the reference, which need not be among the drawn visits.
func TestTrendOfAFollowUp(t *testing.T) {
	var rows []track.Row
	for visit, share := range []float64{0.60, 0.62, 0.95} {
		for mounting, off := range []float64{-0.02, 0, 0.02} {
			for n := range 2 {
				rows = append(rows, track.Row{
					Dancer: "D7", Visit: fmt.Sprint(visit), At: time.Date(2026, 3, 1+7*visit, 0, 0, 0, 0, time.UTC), Shoe: "A", Support: "barre",
					Recording: fmt.Sprint(visit, mounting), Mounting: fmt.Sprint(visit, mounting), N: n + 1, Value: share + off,
				})
			}
		}
	}
	f, err := track.Follow(measure.ContactShare, "D7", rows)
	require.NoError(t, err)
	s := f.Series[0]
	segment := plots.NewTrendSegment(words.DisplayOf(measure.ContactShare), s, s.Points)
	require.NotNil(t, segment.Band)
	// t for 6 degrees of freedom: 2.45 (JCGM 100:2008, table G.2).
	assert.InDelta(t, 2.45*math.Sqrt2*2, segment.Band[1]-60, 0.01, "the mountings of a visit have a standard deviation of 2 %")
	assert.InDelta(t, 60, (segment.Band[0]+segment.Band[1])/2, 1e-9)
	require.Len(t, segment.Points, 3)
	assert.InDelta(t, 60, segment.Points[0].Value, 1e-9)
	require.NotNil(t, segment.Points[0].CI95)
	assert.InDelta(t, 120, segment.Points[0].CI95[0]+segment.Points[0].CI95[1], 1e-9)
	assert.True(t, segment.Points[0].Reference)
	assert.Equal(t, track.WithinNoise, segment.Points[1].Wording)
	assert.Equal(t, track.BeyondNoise, segment.Points[2].Wording)

	later := plots.NewTrendSegment(words.DisplayOf(measure.ContactShare), s, s.Points[1:])
	assert.Equal(t, segment.Band, later.Band)
	s.Repeat = nil
	assert.Nil(t, plots.NewTrendSegment(words.DisplayOf(measure.ContactShare), s, s.Points).Band)
}
