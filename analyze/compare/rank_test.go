package compare

import (
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
	"aplomb/device"
	"aplomb/plots/words"
)

// Two shoes have no ranking.
func TestTwoShoesAreNotRanked(t *testing.T) {
	c := of(t, behind("A", -9), behind("B", -6))
	assert.Empty(t, c.Against)
	assert.Empty(t, c.Ranking)
}

func behind(code string, over float64) day {
	return day{shoe: shoe(code), mounting: code, left: []float64{over - 0.2, over, over + 0.2, over + 0.1}}
}

func TestRanking(t *testing.T) {
	c := of(t, behind("A", -9), behind("B", -6), behind("C", -6.1), behind("D", 0))
	places := map[string]int{}
	for _, s := range c.Ranking {
		places[s.Shoe] = s.Place
	}
	assert.Equal(t, map[string]int{"D": 1, "B": 2, "C": 2, "A": 4}, places)
	assert.Equal(t, []string{"A", "B", "C"}, c.Ranking[0].Better)
	require.Len(t, c.Against, 3)
	for _, a := range c.Against {
		assert.Equal(t, "A", a.From)
		assert.Equal(t, Clear, a.Wording)
		assert.LessOrEqual(t, *a.PShoes, 0.05)
	}
}

// A difference that is just clear by itself is not clear among many shoes, and the shoe
// shares its rank.
func TestRankingAmongMany(t *testing.T) {
	days := []day{behind("A", -8), {shoe: shoe("B"), mounting: "B", left: []float64{-7.8, -7.2, -7.6, -7.5}}}
	two := of(t, days...)
	assert.Equal(t, Clear, two.difference(t, measure.Over, device.Left).Wording)
	assert.Equal(t, "B", two.Preferred)
	for _, code := range []string{"C", "D", "E", "F"} {
		days = append(days, behind(code, -8))
	}
	many := of(t, days...)
	assert.Equal(t, CouldBeChance, many.Against[0].Wording)
	assert.Empty(t, many.Preferred)
	assert.Contains(t, many.Why, "could be chance after adjusting for the number of comparisons")
	assert.NotContains(t, two.Why, "adjusting")
	for _, s := range many.Ranking {
		assert.Equal(t, 1, s.Place, s.Shoe)
	}
}

// A shoe without a verdict shares the rank of the others.
func TestShoeWithoutAVerdictSharesItsRank(t *testing.T) {
	open := day{shoe: shoe("C"), mounting: "C", left: []float64{-6, 0, -3, -7}}
	c := of(t, behind("A", 0), behind("B", -8), open)
	require.Equal(t, measure.TooCloseToCall, c.Shoes[2].Verdict)
	assert.Equal(t, []RankedShoe{{Place: 1, Shoe: "A", Better: []string{"B"}}, {Place: 1, Shoe: "C"}, {Place: 3, Shoe: "B"}}, c.Ranking)
}

// A shoe that is better on one foot and worse on the other is called neither.
func TestRankingOfFeetThatDisagree(t *testing.T) {
	good, bad := []float64{0, 0.1, -0.1}, []float64{-8, -8.1, -7.9}
	c := of(t,
		day{shoe: shoe("A"), mounting: "1", left: good, right: bad},
		day{shoe: shoe("B"), mounting: "2", left: bad, right: good},
		day{shoe: shoe("C"), mounting: "3", left: bad, right: bad})
	assert.Equal(t, []RankedShoe{
		{Place: 1, Shoe: "A", Better: []string{"C"}}, {Place: 1, Shoe: "B", Better: []string{"C"}}, {Place: 3, Shoe: "C"},
	}, c.Ranking)
}

// A shoe that misses the kern in a direction in which the other one does not is not
// called nearer, however much less it is behind. A shoe that misses it in fewer
// directions and is less behind is.
func TestNearerOnBothAxes(t *testing.T) {
	place := func(code string, over, medial float64) day {
		d := behind(code, over)
		d.medial, d.seatSD = medial, 0.2
		return d
	}
	aside := of(t, place("A", -9, 0), place("B", -6, -9))
	assert.Equal(t, []measure.Direction{measure.Behind, measure.LittleToeSide}, aside.Shoes[1].Misses)
	assert.Equal(t, Clear, aside.difference(t, measure.Over, device.Left).Wording)
	assert.Empty(t, aside.Preferred)
	assert.Contains(t, aside.Why, "In B it sits behind the kern and towards the little-toe side, 6.0 mm behind the centre (95 % interval ")
	assert.Contains(t, aside.Why, " and 9.0 mm to the little-toe side of the centre (95 % interval ")

	back := of(t, place("A", -9, -9), place("B", -6, 0))
	assert.Equal(t, []measure.Direction{measure.Behind}, back.Shoes[1].Misses)
	assert.Equal(t, "B", back.Preferred)
}

func TestRankingProperties(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(3, 4).Draw(rt, "shoes")
		var days, back []day
		for i := range n {
			d := day{shoe: shoe(fmt.Sprint(i)), mounting: fmt.Sprint(i), seatSD: 0.3}
			d.left = rapid.SliceOfN(rapid.Float64Range(-9, 5), 2, 4).Draw(rt, "left")
			d.right = rapid.SliceOfN(rapid.Float64Range(-9, 5), 2, 4).Draw(rt, "right")
			days, back = append(days, d), append([]day{d}, back...)
		}
		c := of(t, days...)
		place := map[string]int{}
		for i, s := range c.Ranking {
			place[s.Shoe] = s.Place
			assert.LessOrEqual(t, s.Place, i+1)
		}
		assert.Len(t, place, n, "every shoe has a place")
		for _, s := range c.Ranking {
			for _, o := range s.Better {
				assert.Less(t, s.Place, place[o])
			}
		}
		alone := c.Ranking[0].Place == 1 && c.Ranking[1].Place > 1 && len(c.Ranking[0].Better) == n-1
		assert.Equal(t, alone, c.Preferred != "", "the answer and the ranking agree")
		if alone {
			assert.Equal(t, c.Ranking[0].Shoe, c.Preferred)
		}
		for _, s := range of(t, back...).Ranking {
			assert.Equal(t, place[s.Shoe], s.Place, "whichever was worn on arrival")
		}
		for _, d := range c.Differences {
			if d.Wording != "" {
				assert.Equal(t, d.Wording == Clear, *d.PHolm <= 0.05)
				assert.LessOrEqual(t, *d.P, *d.PHolm)
				assert.Equal(t, excludesZero(d.CI95), *d.P <= 0.05, "one model: interval and p-value agree")
			}
		}
	})
}

// worn returns recordings in the order A B B A, two mountings each, with a trend in mm a
// relevé and a difference of 2 mm between the shoes.
func worn(order string, drift float64) (days []day) {
	at := 0
	for i, code := range order {
		d := day{shoe: shoe(string(code)), mounting: fmt.Sprint(i), seatSD: 0.1}
		for k := range 5 {
			at++
			d.left = append(d.left, -3+2*float64(code-'A')+drift*float64(at)+[]float64{0.1, -0.1, 0, 0.1, -0.1}[k])
		}
		days = append(days, d)
	}
	return days
}

func TestVisitTrend(t *testing.T) {
	mirrored := of(t, worn("ABBA", -0.05)...)
	require.NotEmpty(t, mirrored.Trends)
	d := mirrored.Trends[0]
	assert.Equal(t, measure.Over, d.Measure)
	assert.InDelta(t, -0.05, d.PerReleve, 0.01)
	assert.Equal(t, Clear, d.Wording)
	assert.Equal(t, 20, d.Releves)
	assert.InDelta(t, 0, d.Effects[0].Difference, 1e-12, "mirrored: it cancels")
	assert.InDelta(t, 2, mirrored.Differences[0].Difference, 1e-9)
	assert.Contains(t, fmt.Sprint(words.Warnings(mirrored.Warnings)), "whatever the shoe: warming up or tiring; in this order it cancels between shoes")

	inTurn := of(t, worn("AABB", -0.05)...)
	assert.InDelta(t, -0.5, inTurn.Trends[0].Effects[0].Difference, 0.1, "B came ten relevés later")
	assert.InDelta(t, 2-0.5, inTurn.Differences[0].Difference, 1e-9)
	assert.Contains(t, fmt.Sprint(words.Warnings(inTurn.Warnings)), "of the difference from A to B")

	none := of(t, worn("ABBA", 0)...)
	assert.Equal(t, CouldBeChance, none.Trends[0].Wording)
	assert.NotContains(t, fmt.Sprint(words.Warnings(none.Warnings)), "tiring")
}

// The trend is the common slope of the shoes: with one mounting each it equals
// stats.CommonSlope of the same numbers, which is tested against R.
func TestVisitTrendIsTheCommonSlope(t *testing.T) {
	a, b := []float64{-1, -1.4, -1.2, -1.9}, []float64{0.3, 0.1, 0.4, -0.6}
	c := of(t, day{shoe: shoe("A"), mounting: "1", left: a, seatSD: 1}, day{shoe: shoe("B"), mounting: "2", left: b, seatSD: 1})
	want := stats.CommonSlope([]stats.Group{{X: []float64{1, 2, 3, 4}, Y: a}, {X: []float64{5, 6, 7, 8}, Y: b}}, 0, 0)
	assert.InDelta(t, want.Slope, c.Trends[0].PerReleve, 1e-12)
	assert.InDelta(t, want.U, c.Trends[0].U, 1e-12, "a mounting that is all of a shoe cannot tilt the slope")
}

// The order of relevés restarts at every visit, counts relevés that were not measured,
// and follows the times of the recordings.
func TestOrderOfReleves(t *testing.T) {
	later := day{shoe: shoe("B"), mounting: "2", left: []float64{1, 2}}.result(10)
	first := day{shoe: shoe("A"), mounting: "1", left: []float64{1, 2, 3}}.result(0)
	first.Releves[1].Status, first.Releves[1].Hold = measure.Aborted, nil
	again := day{shoe: shoe("A"), mounting: "3", left: []float64{1}}.result(0)
	again.Meta.Started = made.Add(30 * time.Hour)
	at := releveOrders([]*measure.Result{later, first, again}, device.Left)
	assert.Equal(t, releveOrder{0, 3}, at[releveID{1, 3}])
	assert.Equal(t, releveOrder{0, 4}, at[releveID{0, 1}])
	assert.Equal(t, releveOrder{1, 1}, at[releveID{2, 1}])
	assert.Empty(t, releveOrders([]*measure.Result{later}, device.Right))
}

// Two recordings of equal values have no scatter. Their trend is not clear, whether the
// mounting effect is the assumed one or estimated as none; values without scatter have no
// trend.
func TestCopiesOfARecordingHaveNoClearTrend(t *testing.T) {
	for _, values := range [][]float64{{-8, -2}, {-8, -7.5, -7}} {
		a, b := day{shoe: shoe("A"), mounting: "1", left: values}, day{shoe: shoe("A"), mounting: "2", left: values}
		c := of(t, a, b)
		assert.Greater(t, c.Trends[0].U, 0.0)
		assert.Equal(t, CouldBeChance, c.Trends[0].Wording)
		c, err := Results([]*measure.Result{a.result(0), b.result(1)}, Options{})
		require.NoError(t, err)
		assert.Equal(t, CouldBeChance, c.Trends[0].Wording)
	}
	for _, values := range [][]float64{{-8, -8}, {-8, -8.1}} {
		same := day{shoe: shoe("A"), mounting: "1", left: append(values, 2*values[1]-values[0])}
		assert.Empty(t, of(t, same).Trends)
	}
}

func TestNoVisitTrendFromTooLittle(t *testing.T) {
	assert.Empty(t, of(t, day{shoe: shoe("A"), mounting: "1", left: []float64{1, 2}}).Trends)
}

func TestChanges(t *testing.T) {
	oval := &device.Shoe{Code: "A", PlatformMM: [2]float64{36, 22}, OutlineExponent: 2, Box: "tapered", CrownMM: 24, Shank: "soft", ShankLength: "full", HoursWorn: 3}
	wide := &device.Shoe{Code: "B", PlatformMM: [2]float64{40, 22}, OutlineExponent: 2, Box: "square", Shank: "hard", ShankLength: "three-quarter", HoursWorn: 3, Padding: "gel"}
	c := of(t, day{shoe: oval, mounting: "1", left: []float64{-3, -3.1}}, day{shoe: wide, mounting: "2", left: []float64{-1, -1.1}})
	require.Len(t, c.Changes, 1)
	got := c.Changes[0]
	assert.Equal(t, []Property{
		{PlatformWidth, "36.0", "40.0", got.Properties[0].By},
		{Box, "tapered", "square", 2},
		{Shank, "soft", "hard", 2},
		{ShankLength, "full", "three-quarter", -1},
	}, got.Properties)
	assert.InDelta(t, 4, got.Properties[0].By, 0.01)
	assert.Equal(t, []string{Crown, Vamp, Wings, Padding}, got.Unknown)
	assert.Len(t, got.Moved, 4)
	assert.InDelta(t, 2, got.Moved[0].Difference, 1e-9)
	w, d, square := extent(oval)
	assert.InDelta(t, 36, w, 0.01)
	assert.InDelta(t, 22, d, 0.01)
	assert.InDelta(t, math.Pi/4, square, 1e-3, "an oval fills π/4 of its rectangle")
}
