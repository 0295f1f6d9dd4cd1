package plan

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func order(p Plan) string {
	var b strings.Builder
	for _, s := range p.Steps {
		b.WriteString(s.Shoe)
	}
	return b.String()
}

func named(n int) []string { return strings.Split("ABCDEFGHIJ"[:n], "") }

func TestMirrored(t *testing.T) {
	seen := map[string]int{}
	for seed := range uint64(300) {
		p, err := Mirrored(named(3), 2, 5, seed)
		require.NoError(t, err)
		seen[order(p)]++
		again, _ := Mirrored(named(3), 2, 5, seed)
		assert.Equal(t, p, again)
	}
	// Three orders are possible, about equally often (100 ± 4 standard deviations).
	assert.Len(t, seen, 3)
	for _, o := range []string{"ABCCBA", "BCAACB", "CABBAC"} {
		assert.InDelta(t, 100, seen[o], 4*math.Sqrt(300*2/9.0), o)
	}
}

// shift returns the largest effect of a trend, given for every step and relevé, on the
// difference between the means of two shoes.
func shift(p Plan, drift func(step, sinceRest, releve int) float64) float64 {
	sum, n := map[string]float64{}, map[string]float64{}
	sinceRest := 0
	for i, s := range p.Steps {
		if s.Rest {
			sinceRest = 0
		}
		for r := range s.Releves {
			sum[s.Shoe] += drift(i, sinceRest, r)
			n[s.Shoe]++
		}
		sinceRest++
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for shoe := range sum {
		lo, hi = min(lo, sum[shoe]/n[shoe]), max(hi, sum[shoe]/n[shoe])
	}
	return hi - lo
}

// In a mirrored order of any size every shoe has the same number of mountings, one a
// round, and a linear trend has the same effect on all shoes.
func TestMirroredProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.IntRange(1, 10).Draw(t, "shoes")
		m := rapid.IntRange(1, 9).Draw(t, "mountings")
		releves := rapid.IntRange(1, 6).Draw(t, "releves")
		p, err := Mirrored(named(k), m, releves, rapid.Uint64().Draw(t, "seed"))
		require.NoError(t, err)
		require.Len(t, p.Steps, k*m)
		rests := 0
		for round := range m {
			worn := map[string]bool{}
			for i, s := range p.Steps[round*k : (round+1)*k] {
				worn[s.Shoe] = true
				assert.Equal(t, round+1, s.Mounting)
				assert.Equal(t, round > 0 && i == 0, s.Rest)
				if s.Rest {
					rests++
				}
			}
			assert.Len(t, worn, k, "every shoe once a round")
		}
		assert.Equal(t, m-1, rests)

		left := 0.0
		switch {
		case m == 1:
			left = float64(k - 1)
		case m%2 == 1 && k%2 == 0:
			left = 1 / float64(m)
		}
		assert.InDelta(t, left, p.Uneven, 1e-12)
		a := rapid.Float64Range(-2, 2).Draw(t, "a step")
		b := rapid.Float64Range(-2, 2).Draw(t, "a relevé")
		assert.InDelta(t, math.Abs(a)*left, shift(p, func(step, _, releve int) float64 {
			return a*float64(step) + b*float64(releve)
		}), 1e-9, "linear over the visit")
		if left == 0 {
			assert.InDelta(t, 0, shift(p, func(_, since, _ int) float64 { return a * float64(since) }), 1e-9, "starting anew after each rest")
		}
	})
}

func TestMirroredRefuses(t *testing.T) {
	for _, c := range []struct {
		shoes              []string
		mountings, releves int
		says               string
	}{
		{nil, 2, 5, "0 shoes"},
		{[]string{"A", "A"}, 2, 5, "shoe A is named twice"},
		{[]string{"A", ""}, 2, 5, "without a code"},
		{named(2), 0, 5, "0 mountings"},
		{named(2), 2, 0, "2 mountings of 0 relevés"},
		{named(2), math.MaxInt, 5, "at most 200"},
	} {
		_, err := Mirrored(c.shoes, c.mountings, c.releves, 1)
		assert.ErrorContains(t, err, c.says)
	}
}

func TestPlanInWords(t *testing.T) {
	p, err := Mirrored([]string{"A", "B"}, 2, 5, 1)
	require.NoError(t, err)
	assert.Equal(t, "BAAB", order(p))
	assert.Equal(t, "Put B on and fix the strip: mounting 1, 5 relevés.", p.Steps[0].Text())
	assert.Equal(t, "Rest for two minutes. Keep A on, but take the strip off and fix it again: mounting 2, 5 relevés.", p.Steps[2].Text())
	assert.Equal(t, "Put B on again and fix the strip again: mounting 2, 5 relevés.", p.Steps[3].Text())
	assert.Contains(t, p.Balance(), "cancels.")

	once, _ := Mirrored(named(3), 1, 1, 0)
	assert.Contains(t, once.Balance(), "the last 2 steps after the first: warming up or tiring does not cancel")
	odd, _ := Mirrored(named(2), 3, 1, 0)
	assert.Contains(t, odd.Balance(), "cancels but for 1/3 of a step")
	single, _ := Mirrored(named(1), 1, 1, 0)
	assert.Contains(t, single.Balance(), "One shoe")
}

// A Williams design is defined, for one square (even) or two (odd), by each row and each
// position containing every treatment equally often, and each following each other
// equally often.
func TestWilliamsDefinition(t *testing.T) {
	for n := 2; n <= 15; n++ {
		rows := square(n)
		squares := 1 + n%2
		require.Len(t, rows, n*squares)
		place, after := map[[2]int]int{}, map[[2]int]int{}
		for _, row := range rows {
			once := map[int]bool{}
			for j, k := range row {
				once[k] = true
				place[[2]int{j, k}]++
				if j > 0 {
					after[[2]int{row[j-1], k}]++
				}
			}
			assert.Len(t, once, n)
		}
		assert.Len(t, place, n*n)
		assert.Len(t, after, n*(n-1))
		for _, times := range place {
			assert.Equal(t, squares, times)
		}
		for pair, times := range after {
			assert.Equal(t, squares, times, "%v", pair)
		}
	}
}

// As published in the manual of the R package crossdes 1.1 (function williams,
// after Williams 1949 and Wakeling & MacFie, Food Quality and Preference 6
// (1995) 299-308): the design for 3 treatments, and the first rows of that for
// 10; for two, AB and BA.
func TestWilliamsPublished(t *testing.T) {
	published := map[int][][]int{
		2:  {{1, 2}, {2, 1}},
		3:  {{1, 2, 3}, {2, 3, 1}, {3, 1, 2}, {3, 2, 1}, {1, 3, 2}, {2, 1, 3}},
		10: {{1, 2, 10, 3, 9, 4, 8, 5, 7, 6}, {2, 3, 1, 4, 10, 5, 9, 6, 8, 7}, {3, 4, 2, 5, 1, 6, 10, 7, 9, 8}},
	}
	for n, rows := range published {
		for i, want := range rows {
			for j := range want {
				want[j]-- // the package counts from 0
			}
			assert.Equal(t, want, square(n)[i], "%d treatments, row %d", n, i+1)
		}
	}
}

func TestWilliamsForAStudy(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 6).Draw(t, "shoes")
		times := rapid.IntRange(1, 3).Draw(t, "times")
		one, err := Williams(named(n), 1, rapid.Uint64().Draw(t, "seed"))
		require.NoError(t, err)
		s, err := Williams(named(n), times*one.Square, rapid.Uint64().Draw(t, "seed"))
		require.NoError(t, err)
		assert.True(t, s.Balanced)
		after := map[string]int{}
		for _, order := range s.Orders {
			for j := 1; j < n; j++ {
				after[order[j-1]+order[j]]++
			}
		}
		assert.Len(t, after, n*(n-1))
		for pair, count := range after {
			assert.Equal(t, times*one.Square/n, count, pair)
		}
	})
	s, err := Williams(named(3), 4, 7)
	require.NoError(t, err)
	assert.Len(t, s.Orders, 4)
	assert.False(t, s.Balanced)
	assert.Equal(t, "Not balanced: places and followers come equally often with 6 dancers or a multiple.", s.Text())
	_, err = Williams(named(1), 4, 7)
	assert.ErrorContains(t, err, "at least 2")
	_, err = Williams(named(2), 0, 7)
	assert.ErrorContains(t, err, "0 dancers")
}
