package track

import (
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/plots/words"
)

var start = time.Date(2026, 3, 2, 17, 0, 0, 0, time.UTC)

// one returns a set of relevés of one foot in one mounting, a week after the previous visit.
func one(dancer string, week, mounting int, baseline bool, foot device.Foot, values ...float64) (rows []Row) {
	for n, v := range values {
		rows = append(rows, Row{
			Dancer: dancer, Visit: fmt.Sprintf("week %d", week), Baseline: baseline,
			Recording: fmt.Sprintf("%s-%d-%d", dancer, week, mounting),
			At:        start.Add(time.Duration(week)*7*24*time.Hour + time.Duration(mounting)*time.Minute),
			Foot:      foot, Shoe: "A", Version: "1", Strip: foot.String(), Mounting: fmt.Sprintf("%d-%d-%s", week, mounting, foot),
			N: n + 1, Value: v,
		})
	}
	return rows
}

// Shrout & Fleiss, Psychological Bulletin 86 (1979) 420-428, tables 2 and 3: six
// subjects, four judges, a mean square within subjects of 6.26. Here the
// subjects are visits and the judges mountings on that day.
func TestSEMOfShroutAndFleiss(t *testing.T) {
	f, err := os.Open("../../testdata/raters.csv")
	require.NoError(t, err)
	defer f.Close()
	table, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	var rows []Row
	for week, line := range table[1:] {
		for judge, text := range line[1:] {
			v, err := strconv.ParseFloat(text, 64)
			require.NoError(t, err)
			rows = append(rows, one("D7", week, judge, false, device.Left, v)...)
		}
	}
	got, err := Follow(measure.Over, "D7", rows)
	require.NoError(t, err)
	r := got.Series[0].Repeat
	require.NotNil(t, r)
	assert.InDelta(t, 6.26, r.SEM*r.SEM, 5e-3)
	assert.Equal(t, 18.0, r.DOF)
	assert.Equal(t, Remountings, r.From)
	assert.False(t, r.Pooled)
	// 2.101: the 0.975 quantile of t with 18 degrees of freedom (JCGM 100:2008, table G.2,
	// which gives 2.10).
	assert.InDelta(t, 2.101*math.Sqrt(2*6.26), r.MDC95, 5e-3)
}

// By hand: baseline means −4, −5, −4, −5, −4, −5 have a mean of −4.5 and a variance
// of 6·0.25/5 = 0.3.
func TestChangeAgainstBaseline(t *testing.T) {
	var rows []Row
	for week := range 6 {
		over := -4 - float64(week%2)
		rows = append(rows, one("D7", week, 0, true, device.Left, over-0.1, over, over+0.1)...)
	}
	rows = append(rows, one("D7", 6, 0, false, device.Left, -3, -3, -3)...)
	rows = append(rows, one("D7", 7, 0, false, device.Left, -1, -1, -1)...)
	f, err := Follow(measure.Over, "D7", rows)
	require.NoError(t, err)
	require.Len(t, f.Series, 1)
	s := f.Series[0]
	assert.InDelta(t, math.Sqrt(0.3), s.Repeat.SEM, 1e-12)
	assert.Equal(t, 5.0, s.Repeat.DOF)
	assert.Equal(t, BaselineVisits, s.Repeat.From)
	// 2.57·√2·0.5477 = 1.991, with t for 5 degrees of freedom of JCGM 100:2008, table G.2.
	assert.InDelta(t, 1.991, s.Repeat.MDC95, 5e-3)
	assert.Equal(t, 0.95, s.Repeat.Coverage)

	assert.True(t, s.Points[0].Reference)
	assert.Nil(t, s.Points[0].Change)
	assert.InDelta(t, 1, *s.Points[6].Change, 1e-9)
	assert.Equal(t, WithinNoise, s.Points[6].Wording)
	assert.InDelta(t, 3, *s.Points[7].Change, 1e-9)
	assert.Equal(t, BeyondNoise, s.Points[7].Wording)

	assert.Equal(t, "The minimal detectable change is 2.0 mm, from baseline visits of this dancer (5 degrees of freedom).", s.RepeatText(measure.Over))
}

// A dancer without repetitions is compared with the repeatability of all dancers; if it
// has too few degrees of freedom as well, changes have no wording.
func TestPooledOverTheLogbook(t *testing.T) {
	followed := append(one("D7", 0, 0, false, device.Left, -4, -4), one("D7", 1, 0, false, device.Left, -1, -1)...)
	f, err := Follow(measure.Over, "D7", followed)
	require.NoError(t, err)
	assert.Nil(t, f.Series[0].Repeat)
	assert.Empty(t, f.Series[0].Points[1].Wording)
	assert.InDelta(t, 3, *f.Series[0].Points[1].Change, 1e-9, "the change is there all the same")
	assert.Contains(t, f.Series[0].RepeatText(measure.Over), "not known well enough to judge a change. It takes 5 mountings beyond the first of their visit (so far 0, still needed 5).")
	// Two mountings on one day are one beyond the first.
	f, err = Follow(measure.Over, "D7", append(append(one("D7", 2, 0, false, device.Left, 1), one("D7", 2, 1, false, device.Left, 2)...), followed...))
	require.NoError(t, err)
	assert.Contains(t, f.Series[0].RepeatText(measure.Over), "(so far 1, still needed 4)")

	rows := followed
	for d := range 5 { // each twice, 1 mm apart: a variance of 1/2 within
		dancer := fmt.Sprintf("E%d", d)
		rows = append(rows, one(dancer, 0, 0, false, device.Left, float64(d))...)
		rows = append(rows, one(dancer, 0, 1, false, device.Left, float64(d)+1)...)
	}
	f, err = Follow(measure.Over, "D7", rows)
	require.NoError(t, err)
	r := f.Series[0].Repeat
	require.NotNil(t, r)
	assert.True(t, r.Pooled)
	assert.Equal(t, Remountings, r.From)
	assert.Equal(t, 5, r.Groups)
	assert.InDelta(t, math.Sqrt(0.5), r.SEM, 1e-12)
	assert.Equal(t, BeyondNoise, f.Series[0].Points[1].Wording)
	assert.Contains(t, r.text(measure.Over), "from remountings on one day of dancers in the logbook, because this one has too few")
}

// Changes between visits after the baseline do not change the repeatability.
func TestFollowUpNeverEntersTheError(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		baseline := rapid.Bool().Draw(t, "baseline")
		v := rapid.Float64Range(-2, 2)
		var still, moved []Row
		for week := range 8 {
			shift := 0.0
			if week > 5 {
				shift = rapid.Float64Range(-50, 50).Draw(t, "recovered")
			}
			for mounting := range 2 {
				a := one("D7", week, mounting, baseline && week <= 5, device.Left, v.Draw(t, "a"), v.Draw(t, "b"))
				still = append(still, a...)
				for _, r := range a {
					r.Value += shift
					moved = append(moved, r)
				}
			}
		}
		x, err := Follow(measure.Over, "D7", still)
		require.NoError(t, err)
		y, err := Follow(measure.Over, "D7", moved)
		require.NoError(t, err)
		a, b := x.Series[0].Repeat, y.Series[0].Repeat
		require.NotNil(t, a)
		assert.Equal(t, map[bool]SEMSource{true: BaselineVisits, false: Remountings}[baseline], a.From)
		assert.Equal(t, a.From, b.From)
		assert.Equal(t, a.DOF, b.DOF)
		assert.InDelta(t, a.SEM, b.SEM, 1e-9)
	})
}

// The order of the rows has no effect.
func TestOrderOfRowsDoesNotMatter(t *testing.T) {
	var rows []Row
	for week := range 4 {
		for mounting := range 2 {
			rows = append(rows, one("D7", week, mounting, week < 2, device.Left, 1, 3, float64(week))...)
			rows = append(rows, one("D7", week, mounting, week < 2, device.Right, 2, 1, 4)...)
		}
	}
	want, err := Follow(measure.Over, "D7", rows)
	require.NoError(t, err)
	rapid.Check(t, func(t *rapid.T) {
		got, err := Follow(measure.Over, "D7", rapid.Permutation(rows).Draw(t, "rows"))
		require.NoError(t, err)
		assert.Equal(t, want, got)
	})
}

func TestLeftLessRight(t *testing.T) {
	var rows []Row
	for week := range 2 {
		rows = append(rows, one("D7", week, 0, false, device.Left, -3, -3, -3)...)
		rows = append(rows, one("D7", week, 0, false, device.Right, -1, float64(week)-1)...) // the third relevé was on the left foot alone
	}
	f, err := Follow(measure.Over, "D7", rows)
	require.NoError(t, err)
	require.Len(t, f.Series, 3)
	assert.Equal(t, []Side{Left, Right, Between}, []Side{f.Series[0].Side, f.Series[1].Side, f.Series[2].Side})
	d := f.Series[2]
	assert.Equal(t, 2, d.Points[0].N)
	assert.InDelta(t, -2, d.Points[0].Mean, 1e-12)
	assert.InDelta(t, -0.5, *d.Points[1].Change, 1e-12)

	share, err := Follow(measure.LoadShare, "D7", rows)
	require.NoError(t, err)
	require.Len(t, share.Series, 1, "one number for both feet")
	assert.Equal(t, Both, share.Series[0].Side)
	assert.Equal(t, 3, share.Series[0].Points[0].N)
}

// The interval of a mean share stays within 0 to 1, that of a difference of the feet does not.
func TestIntervalOfShare(t *testing.T) {
	rows := one("D7", 0, 0, false, device.Left, 1, 0.96, 1)
	rows = append(rows, one("D7", 0, 0, false, device.Right, 0, 0.04, 0)...)
	f, err := Follow(measure.ContactShare, "D7", rows)
	require.NoError(t, err)
	require.Len(t, f.Series, 3)
	left, right, between := f.Series[0].Points[0].OfMean, f.Series[1].Points[0].OfMean, f.Series[2].Points[0].OfMean
	assert.Equal(t, 1.0, left.CI95[1])
	assert.Less(t, left.CI95[0], 0.96)
	assert.Equal(t, 0.0, right.CI95[0])
	assert.Greater(t, between.CI95[1], 1.0)
}

// Two strips under one foot are the same strips in either order.
func TestStripsInAnyOrder(t *testing.T) {
	var rows []Row
	for visit, strips := range [][2]string{{"L-01", "L-02"}, {"L-02", "L-01"}} {
		for mounting, strip := range strips {
			for _, r := range one("D7", visit, mounting, false, device.Left, -3, -2) {
				r.Strip = strip
				rows = append(rows, r)
			}
		}
	}
	f, err := Follow(measure.Over, "D7", rows)
	require.NoError(t, err)
	assert.Empty(t, f.Series[0].Points[1].Flags)
}

func TestOnlyWithinTheSameShoe(t *testing.T) {
	rows := one("D7", 0, 0, false, device.Left, -3, -3)
	worn := one("D7", 1, 0, false, device.Left, -2, -2)
	other := one("D7", 2, 0, false, device.Left, 5, 5)
	hand := one("D7", 3, 0, false, device.Left, -1, -1)
	for i := range worn {
		worn[i].Version, worn[i].Strip = "2", "L-09"
		other[i].Shoe = "B"
		hand[i].Support = "hand"
	}
	rows = append(append(append(rows, worn...), other...), hand...)
	f, err := Follow(measure.Over, "D7", rows)
	require.NoError(t, err)
	require.Len(t, f.Series, 3)
	require.Len(t, f.Series[0].Points, 2)
	assert.Equal(t, []Flag{ShoeAltered, AnotherStrip}, f.Series[0].Points[1].Flags)
	assert.Nil(t, f.Series[1].Points[0].Change, "shoe B is not set against shoe A")
	assert.Equal(t, []string{
		"left, shoe B: one visit only, nothing to compare it with",
		"left: A and B are followed each on its own: different shoes",
		"left, shoe A (hand): one visit only, nothing to compare it with",
		"left: A and A (hand) are followed each on its own: different support or rise",
		"left: B and A (hand) are followed each on its own: different shoes",
	}, words.Warnings(f.Warnings))
}

// Mountings without a name are counted, as in a comparison, but not used for the
// repeatability, because they may be the same mounting.
func TestUnnamedMountings(t *testing.T) {
	var rows []Row
	for week := range 6 {
		for k := range 2 {
			set := one("D7", week, k, false, device.Left, float64(k))
			set[0].Mounting = ""
			rows = append(rows, set...)
		}
	}
	f, err := Follow(measure.Over, "D7", rows)
	require.NoError(t, err)
	assert.Equal(t, 2, f.Series[0].Points[0].Mountings)
	assert.Nil(t, f.Series[0].Repeat)
}

// The slope within sets: R 4.2.2, lm(y ~ factor(set) + x) with the numbers below
// gives x -0.23, standard error 0.0164750894, 7 degrees of freedom, and confint
// -0.2689574 to -0.1910426.
func TestFatigue(t *testing.T) {
	rows := append(one("D7", 0, 0, false, device.Left, -1.0, -1.3, -1.4, -1.8, -1.9), one("D7", 0, 1, false, device.Left, -3.1, -3.2, -3.6, -3.7, -4.0)...)
	f, err := Follow(measure.Over, "D7", rows)
	require.NoError(t, err)
	got := f.Series[0].Points[0].Fatigue
	require.NotNil(t, got)
	assert.InDelta(t, -0.23, got.PerReleve, 1e-9)
	assert.InEpsilon(t, 1.64750894e-2, got.U, 1e-7)
	assert.InDelta(t, -0.2689574, got.CI95[0], 1e-6)
	assert.InDelta(t, 7, got.DOF, 1e-9)
	assert.Equal(t, 2, got.Sets)
	assert.True(t, got.Clear)
	slope, interval, wording := got.Parts(measure.Over)
	assert.Equal(t, []string{"−0.23 mm", "−0.27 mm to −0.19 mm", "clear"}, []string{slope, interval, wording})

	few, err := Follow(measure.Over, "D7", one("D7", 0, 0, false, device.Left, -1, -2))
	require.NoError(t, err)
	assert.Nil(t, few.Series[0].Points[0].Fatigue)
}

// Proportions are formatted as in other packages.
func TestProportionsAreInPercentagePoints(t *testing.T) {
	assert.Contains(t, (&Repeatability{MDC95: 0.08, DOF: 12, Coverage: 0.95}).text(measure.BackThird), "is 8 percentage points, ")
	slope, _, _ := (&Fatigue{PerReleve: -0.0123}).Parts(measure.LoadShare)
	assert.Equal(t, "−1.2 percentage points", slope)
}

// A point names the recordings of its relevés.
func TestPointsNameTheirRecordings(t *testing.T) {
	f, err := Follow(measure.Over, "D7", append(one("D7", 0, 0, false, device.Left, 1, 2), one("D7", 0, 1, false, device.Left, 1, 2)...))
	require.NoError(t, err)
	assert.Equal(t, []string{"D7-0-0", "D7-0-1"}, f.Series[0].Points[0].Recordings)
}

// Keep removes the warnings about the series that it removes.
func TestOnly(t *testing.T) {
	b := one("D7", 0, 1, false, device.Right, 1)
	b[0].Shoe = "B"
	f, err := Follow(measure.Over, "D7", slices.Concat(one("D7", 0, 0, false, device.Left, 1), one("D7", 1, 0, false, device.Left, 1), one("D7", 0, 0, false, device.Right, 1), b))
	require.NoError(t, err)
	require.Len(t, f.Series, 4)
	require.NotEmpty(t, f.Warnings)
	f.Keep(func(s Series) bool { return s.Side == Left })
	require.Len(t, f.Series, 1)
	assert.Equal(t, Left, f.Series[0].Side)
	assert.Empty(t, f.Warnings)
}

func TestFollowRefuses(t *testing.T) {
	_, err := Follow(measure.Over, "D8", one("D7", 0, 0, false, device.Left, 1))
	assert.ErrorContains(t, err, "over_mm of dancer D8: no measured relevé to follow")
	_, err = Follow(measure.Over, "D7", one("D7", 0, 0, false, device.Left, math.NaN()))
	assert.ErrorContains(t, err, "recording D7-0-0, relevé 1: NaN is no number")
}

// The share of changes called larger than the minimal detectable change, for simulated
// dancers whose visits differ only at random, is 1 − Coverage, from 5 degrees of freedom
// on.
func TestRateOfFalseChanges(t *testing.T) {
	g := rand.New(rand.NewPCG(8, 8))
	const dancers = 600
	called, said := 0.0, 0.0
	for range dancers {
		var rows []Row
		for week := range 8 {
			rows = append(rows, one("D7", week, 0, week > 0 && week < 7, device.Left, g.NormFloat64())...)
		}
		f, err := Follow(measure.Over, "D7", rows)
		require.NoError(t, err)
		s := f.Series[0]
		// Weeks 0 and 7 are compared; neither is part of the standard error.
		said += 1 - s.Repeat.Coverage
		if math.Abs(s.Points[7].Mean-s.Points[0].Mean) > s.Repeat.MDC95 {
			called++
		}
	}
	assert.InDelta(t, said/dancers, called/dancers, 4*math.Sqrt(0.1*0.9/dancers))
}

// Other conditions that may affect a measure are flagged if they differ from the
// reference.
func TestOtherConditionsAreFlagged(t *testing.T) {
	var rows []Row
	for week, also := range []Also{{Floor: "vinyl", Mark: 1}, {Floor: "wood", Padding: "gel", Mark: 2}, {Floor: "vinyl", Mark: 1}, {Mark: 1}} {
		for _, r := range one("D7", week, 0, false, device.Left, -3, -3.2) {
			r.Also = also
			rows = append(rows, r)
		}
	}
	f, err := Follow(measure.Over, "D7", rows)
	require.NoError(t, err)
	require.Len(t, f.Series, 1)
	points := f.Series[0].Points
	assert.Equal(t, []Flag{"floor wood", "padding gel", "mark 2"}, points[1].Flags)
	assert.Empty(t, points[2].Flags)
	assert.Equal(t, []Flag{"floor not stated"}, points[3].Flags)
}
