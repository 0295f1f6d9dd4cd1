package compare

import (
	"fmt"
	"math/rand/v2"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/device"
)

// overDays simulates recordings of two shoes over visits, each shoe mounted once a visit.
// The place of the load in a shoe differs between visits by a standard deviation of dayMM.
func overDays(g *rand.Rand, visits int, dayMM float64) (all []*measure.Result) {
	press := fitting{recording: 0.3, seat: 0.2, claimed: 0.2, evidence: measure.EvidencePress, mountings: 1}
	for visit := range visits {
		for i, r := range press.recordings(g) {
			r.Meta.Visit = fmt.Sprint("visit ", visit)
			r.Meta.Started = time.Date(2026, 3, 1+7*visit, 17, i, 0, 0, time.UTC)
			off := [2]float64{dayMM * g.NormFloat64(), dayMM * g.NormFloat64()}
			for k := range r.Releves {
				h := *r.Releves[k].Hold
				h.OverMM += off[r.Releves[k].Foot]
				r.Releves[k].Hold = &h
			}
			all = append(all, r)
		}
	}
	return all
}

// One visit has no day effect. With several the comparison states one, as a component of
// the difference with the variance day²·(1/v_A + 1/v_B).
func TestDayEffect(t *testing.T) {
	g := rand.New(rand.NewPCG(13, 6))
	all := overDays(g, 4, 1)
	one, err := Results(all[:2], Options{})
	require.NoError(t, err)
	assert.Zero(t, one.Visits)
	assert.Nil(t, one.Days)

	c, err := Results(all, Options{})
	require.NoError(t, err)
	assert.Equal(t, 4, c.Visits)
	day := c.Days[measure.Over]
	assert.Greater(t, day.SD, 0.3)
	assert.Equal(t, mounting.OfDancer, day.From, "2 shoes and 2 feet on 4 days: 12 degrees of freedom")
	assert.Equal(t, 12.0, day.DOF)
	assert.Contains(t, c.Warnings, measure.Warn(measure.SeveralVisits, measure.Values{N: 4, Days: 21, MM: day.SD}))

	d := c.Differences[0]
	require.Equal(t, measure.Over, d.Measure)
	days := day.SD * day.SD * 2 / 4
	assert.Greater(t, d.U*d.U, days)
	assert.InDelta(t, days/(d.U*d.U), c.RestsOn.Day, 1e-9)
	assert.InDelta(t, 1, c.RestsOn.Dancer+c.RestsOn.Mounting+c.RestsOn.Effect+c.RestsOn.Day+c.RestsOn.Sensor, 1e-9)
	require.NotNil(t, d.DOF)
	assert.Less(t, *d.DOF, 30.0)
}

// Two shoes of one visit are compared without a day effect, also with another visit in
// the comparison, since a day's effect is the same for both.
func TestShoesOfOneVisitHaveNoDayBetweenThem(t *testing.T) {
	a := sample{visits: 1, visit: "1", n: 3, mountings: 1, days: mounting.Share{Variance: 1, Term: 1}}
	b := a
	assert.Zero(t, contrastOf(a, b).days)
	b.visit = "2"
	assert.Equal(t, mounting.Share{Variance: 2, Term: 4}, contrastOf(a, b).days)
}

// Recordings that do not name their visit belong to another one after a pause.
func TestVisitsOfRecordings(t *testing.T) {
	at := func(visit string, hour int) *measure.Result {
		r := &measure.Result{}
		r.Meta.Visit, r.Meta.Started = visit, time.Date(2026, 3, 2, hour, 0, 0, 0, time.UTC)
		return r
	}
	assert.Equal(t, []string{"unnamed 1", "unnamed 0", "unnamed 0", "v", "unnamed 2"},
		visitsOf([]*measure.Result{at("", 25), at("", 17), at("", 18), at("v", 26), at("", 49)}))
}

// Day effects cause no false difference between identical shoes, in 50 simulated dancers
// or, with APLOMB_LONG, 1,000.
func TestDayEffectsCauseNoFalseDifference(t *testing.T) {
	n := 50
	if os.Getenv("APLOMB_LONG") != "" {
		n = 1000
	}
	for i, row := range []struct {
		visits int
		dayMM  float64
	}{{5, 0}, {5, 1}, {3, 1}} {
		g := rand.New(rand.NewPCG(13, uint64(60+i)))
		clear, holds := 0, 0
		for range n {
			c, err := Results(overDays(g, row.visits, row.dayMM), Options{})
			require.NoError(t, err)
			over := false
			for _, d := range c.Differences {
				if d.Measure == measure.Over {
					over = over || d.Wording == Clear
					if d.CI95[0] <= 0 && 0 <= d.CI95[1] {
						holds++
					}
				}
			}
			if over {
				clear++
			}
		}
		what := fmt.Sprintf("%d visits, days %.0f mm apart", row.visits, row.dayMM)
		t.Logf("%s: over is clear in %.1f %%, intervals hold the difference in %.1f %%", what, 100*float64(clear)/float64(n), 50*float64(holds)/float64(n))
		limit{0.06}.atMost(t, clear, n, what+": over is clear")
		limit{0.93}.atLeast(t, holds, 2*n, what+": the interval holds the difference")
	}
}

// A shoe that was worn longer at a later visit is the same shoe, and the comparison
// states its hours; with another shank it is another shoe.
func TestWornShoeIsTheSameShoe(t *testing.T) {
	at := func(visit string, hours float64, shank, mounting string, over ...float64) day {
		s := shoe("A")
		s.HoursWorn, s.Shank = hours, shank
		return day{shoe: s, mounting: mounting, left: over, seatSD: 0.2, meta: func(m *device.Metadata) { m.Visit = visit }}
	}
	c := of(t, at("1", 0, "hard", "1", 0, 0.2, 0.1), at("2", 6.5, "hard", "2", 1, 1.3, 1.1))
	require.Len(t, c.Shoes, 1)
	assert.Equal(t, "A", c.Shoes[0].Shoe)
	assert.Equal(t, 6, c.Shoes[0].N)
	assert.Contains(t, c.Warnings, measure.Warn(measure.ShoeAged, measure.Values{Shoe: "A", Hours: &[2]float64{0, 6.5}}))

	c = of(t, at("1", 0, "hard", "1", 0, 0.2, 0.1), at("2", 6.5, "hard", "2", 1, 1.3, 1.1), at("2", 6.5, "soft", "3", 2, 2.1, 2.3))
	require.Len(t, c.Shoes, 2)
	assert.Equal(t, "A#1", c.Shoes[0].Shoe)
	assert.Equal(t, 6, c.Shoes[0].N)
	assert.Equal(t, "A#2", c.Shoes[1].Shoe)
	assert.Contains(t, c.Warnings, measure.Warn(measure.ShoeAged, measure.Values{Shoe: "A#1", Hours: &[2]float64{0, 6.5}}))
	assert.Contains(t, c.Warnings, measure.Warn(measure.ShoeDescribedTwice, measure.Values{Shoe: "A", N: 2, Properties: []string{"shank"}}))
}
