package study_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/analyze/measure"
	"aplomb/analyze/plan"
	"aplomb/analyze/stats"
	"aplomb/analyze/study"
	"aplomb/analyze/track"
	"aplomb/device"
)

func free(string) bool { return false }

// declared returns the numbers of a study of the given number of dancers.
func declared(dancers int) study.Study {
	return study.Study{Name: "S", Declared: "2026-03-14", Seed: 5, Measure: measure.Over, Feet: [2]bool{true, true}, Visits: 2, Mountings: 1, Releves: 3, Stop: dancers}
}

func dancers(n int) (all []string) {
	for i := range n {
		all = append(all, fmt.Sprintf("D%d", i+1))
	}
	return all
}

func shoes(n int) (all []string) {
	for i := range n {
		all = append(all, string(rune('A'+i)))
	}
	return all
}

// In every round over all mountings and visits every shoe comes equally often at each
// position, and directly after each other shoe: the defining property of Williams designs
// (Williams, Australian Journal of Scientific Research A 2 (1949) 149-168), for rows in
// reverse too.
func TestEveryRoundIsBalanced(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.IntRange(2, 6).Draw(t, "shoes")
		square := k * (1 + k%2)
		n := square * rapid.IntRange(1, 2).Draw(t, "squares")
		s := declared(n)
		s.Seed = rapid.Uint64().Draw(t, "seed")
		s.Mountings = rapid.IntRange(1, 3).Draw(t, "mountings")
		s, err := study.New(s, dancers(n), shoes(k), nil, free)
		require.NoError(t, err)
		for visit := 1; visit <= s.Visits; visit++ {
			for round := range s.Mountings {
				at, after := map[string]int{}, map[string]int{}
				for row := 1; row <= n; row++ {
					steps := s.Plan(row, visit).Steps[round*k : (round+1)*k]
					for i, step := range steps {
						require.Equal(t, round+1, step.Mounting)
						at[fmt.Sprint(i, step.Shoe)]++
						if i > 0 {
							after[steps[i-1].Shoe+step.Shoe]++
						}
					}
				}
				require.Len(t, at, k*k)
				require.Len(t, after, k*(k-1))
				for what, times := range at {
					require.Equal(t, n/k, times, what)
				}
				for what, times := range after {
					require.Equal(t, n/k, times, what)
				}
			}
		}
	})
}

func TestLabels(t *testing.T) {
	s, err := study.New(declared(4), dancers(4), shoes(3), nil, func(l string) bool { return l == "Q" })
	require.NoError(t, err)
	assert.ElementsMatch(t, []string{"P", "R", "S"}, s.Labels(shoes(3)), "Q is the code of another shoe")
	again, err := study.New(declared(4), dancers(4), shoes(3), nil, func(l string) bool { return l == "Q" })
	require.NoError(t, err)
	assert.Equal(t, s, again, "the seed decides")
	// Over seeds a label goes to each shoe.
	of := map[string]int{}
	for seed := range uint64(60) {
		one := declared(4)
		one.Seed = seed
		one, err = study.New(one, dancers(4), shoes(3), []string{"P", "Q", "R"}, free)
		require.NoError(t, err)
		of[one.Label("A")]++
	}
	assert.Len(t, of, 3)
	_, err = study.New(declared(2), dancers(2), []string{"P", "Prima"}, nil, free)
	require.NoError(t, err, "letters that unblind are skipped")

	for labels, why := range map[string]string{
		"P,Q": "2 labels for 3 shoes", "P,Q,q": "named twice", "P,Q,a": "would tell the shoe", "P,Q,B-soft": "would tell the shoe", "P,Q,Z": "in the logbook", "P,Q,": "label",
		"P,Q,the B.": "would tell the shoe", "P,Q,xC": "would tell the shoe",
	} {
		_, err := study.New(declared(4), dancers(4), shoes(3), strings.Split(labels, ","), func(l string) bool { return l == "Z" })
		assert.ErrorContains(t, err, why, labels)
	}
}

func TestWhatIsNoStudy(t *testing.T) {
	for why, change := range map[string]func(*study.Study){
		"primary measure is one of": func(s *study.Study) { s.Measure = measure.SwaySpeed },
		"no foot":                   func(s *study.Study) { s.Feet = [2]bool{} },
		"needs both feet":           func(s *study.Study) { s.Measure, s.Feet = measure.LoadShare, [2]bool{true, false} },
		"0 visits":                  func(s *study.Study) { s.Visits = 0 },
		"21 mountings":              func(s *study.Study) { s.Mountings = 21 },
		"0 relevés":                 func(s *study.Study) { s.Releves = 0 },
		"compared after 5 dancers":  func(s *study.Study) { s.Stop = 5 },
	} {
		s := declared(4)
		change(&s)
		_, err := study.New(s, dancers(4), shoes(2), nil, free)
		assert.ErrorContains(t, err, why)
	}
	_, err := study.New(declared(2), []string{"D1", "D1"}, shoes(2), nil, free)
	assert.ErrorContains(t, err, "every dancer once")
	_, err = study.New(declared(2), dancers(2), shoes(1), nil, free)
	assert.Error(t, err)
}

// If a study reports that nothing can be clear, the smallest p of its test is not clear
// after Holm's adjustment; otherwise it is.
func TestTooFew(t *testing.T) {
	for n := 2; n <= 10; n++ {
		for k := 2; k <= 4; k++ {
			s, err := study.New(declared(n), dancers(n), shoes(k), nil, free)
			require.NoError(t, err)
			p := stats.SignFlip(slices.Repeat([]float64{1}, n), 1).P
			all := append([]float64{p}, slices.Repeat([]float64{1}, k*(k-1)/2-1)...)
			assert.Equal(t, stats.Holm(all)[0] > 0.05, s.TooFew() != "", "%d dancers, %d shoes: %s", n, k, s.TooFew())
		}
	}
	s, err := study.New(declared(6), dancers(6), shoes(3), nil, free)
	require.NoError(t, err)
	assert.Equal(t, "With 6 dancers no difference can be called clear: the smallest p of 3 pairs of shoes is 0.031, 0.094 after Holm's adjustment. It takes 7 dancers.", s.TooFew())
}

// The smallest p has the three decimals of the comparison.
func TestTooFewOfFour(t *testing.T) {
	s, err := study.New(declared(4), dancers(4), shoes(2), nil, free)
	require.NoError(t, err)
	assert.Equal(t, "With 4 dancers no difference can be called clear: the smallest p of one pair of shoes is 0.125. It takes 6 dancers.", s.TooFew())
}

// One pair and one dancer are written as such.
func TestTooFewOfOne(t *testing.T) {
	s, err := study.New(declared(1), dancers(1), shoes(2), nil, free)
	require.NoError(t, err)
	assert.Equal(t, "With one dancer no difference can be called clear: the smallest p of one pair of shoes is 1. It takes 6 dancers.", s.TooFew())
}

// The plan counts as declared until somebody who knows how shoes differ changes it.
func TestChangedAfterLook(t *testing.T) {
	full := study.Change{Kind: study.KeyShown, What: study.ComparedInFull}
	key := study.Change{Kind: study.KeyShown, What: study.KeyWasShown}
	interim, amended, dropOut := study.Change{Kind: study.Interim}, study.Change{Kind: study.Amendment}, study.Change{Kind: study.DropOut, Row: 1}
	for _, c := range []struct {
		changes  []study.Change
		is, full bool
	}{
		{nil, false, false},
		{[]study.Change{key, amended, dropOut, interim, dropOut}, false, false},
		{[]study.Change{interim, amended}, true, false},
		{[]study.Change{amended, full}, false, true},
		{[]study.Change{full, amended}, true, true},
		{[]study.Change{full, dropOut}, true, true},
	} {
		s := study.Study{Changes: c.changes}
		assert.Equal(t, c.is, s.ChangedAfterLook(), "%v", c.changes)
		assert.Equal(t, c.full, s.Compared(), "%v", c.changes)
	}

	s, err := study.New(declared(7), dancers(7), []string{"A", "B"}, nil, free)
	require.NoError(t, err)
	s.Changes = []study.Change{full, amended}
	in := study.Input{Rows: map[measure.Measure][]track.Row{}, Visits: map[string][]string{}, Progress: study.Progress{Reached: true}}
	for i, who := range dancers(7) {
		in.Visits[who] = []string{"one"}
		in.Progress.Dancers = append(in.Progress.Dancers, study.DancerProgress{Dancer: who, Complete: true})
		in.Rows[measure.Over] = append(in.Rows[measure.Over], append(rows(who, "A", "one", []float64{0}), rows(who, "B", "one", []float64{1 + float64(i)})...)...)
	}
	c, err := s.Compare(in, false)
	require.NoError(t, err)
	assert.InDelta(t, 2.0/128, *c.Pairs[0].PHolm, 1e-12)
	assert.Equal(t, study.Untested, c.Pairs[0].Wording)
	assert.Len(t, c.Changes, 2)
	s.Changes = nil
	c, err = s.Compare(in, false)
	require.NoError(t, err)
	assert.Equal(t, study.Clear, c.Pairs[0].Wording)
}

// recorded returns a recording of both feet.
func recorded(shoe, mounting string, releves int) plan.Recorded {
	return plan.Recorded{Name: mounting, Shoe: shoe, Mounting: mounting, Feet: [2]bool{true, true}, Releves: [2]int{releves, releves}}
}

func TestFollow(t *testing.T) {
	s := declared(2)
	s.Visits = 1
	s, err := study.New(s, dancers(2), []string{"A", "B"}, []string{"P", "Q"}, free)
	require.NoError(t, err)
	first, second := s.Rows[0].Order[0], s.Rows[0].Order[1]
	p := s.Follow([]study.Made{
		{Dancer: "D1", Visit: 1, Name: "2026-03-14", Recordings: []plan.Recorded{recorded(second, "1", 3), recorded(first, "2", 2), recorded("A / B", "3", 3)}},
		{Dancer: "D9", Visit: 1, Name: "2026-03-14", Recordings: []plan.Recorded{recorded("A", "4", 3)}},
	})
	assert.Equal(t, []string{"P", "Q"}, p.Labels)
	assert.Zero(t, p.Complete)
	assert.False(t, p.Reached)
	one := p.Dancers[0].Visits[0]
	assert.Equal(t, 2, one.Planned)
	assert.Equal(t, 1, one.Done)
	assert.Equal(t, []study.Missing{{Label: s.Label(first), Mounting: 1, Has: "left 2 of 3, right 2 of 3"}}, one.Missing)
	said := strings.Join(one.Notes, "\n")
	assert.Contains(t, said, "where shoe "+s.Label(first)+" was next")
	assert.NotContains(t, said, "shoe A")
	assert.NotContains(t, said, "shoe B")
	assert.Len(t, p.Dancers[1].Visits[0].Missing, 2)

	p = s.Follow([]study.Made{
		{Dancer: "D1", Visit: 1, Day: "2026-03-13", Recordings: []plan.Recorded{recorded("A", "1", 3), recorded("B", "2", 3)}},
		{Dancer: "D2", Visit: 1, Day: "2026-03-14", Recordings: []plan.Recorded{recorded("A", "3", 3), recorded("B", "4", 4)}},
	})
	assert.Equal(t, 2, p.Before, "recordings from before the study was declared")
	assert.Equal(t, 2, p.Complete)
	assert.True(t, p.Reached)
}

// rows returns relevés of a dancer in a shoe in the mountings of one visit, the same on
// both feet.
func rows(dancer, shoe, visit string, mountings ...[]float64) (all []track.Row) {
	for m, values := range mountings {
		for i, v := range values {
			for _, f := range device.Feet {
				all = append(all, track.Row{
					Dancer: dancer, Shoe: shoe, Visit: visit, Foot: f, Mounting: fmt.Sprint(dancer, shoe, visit, m), N: i + 1, Value: v, At: time.Unix(0, 0),
				})
			}
		}
	}
	return all
}

// twoShoes returns a comparison of two shoes in which dancer i has 0 in A and d[i] in B.
func twoShoes(t *testing.T, d []float64, interim bool) (*study.Comparison, error) {
	s := declared(len(d))
	s, err := study.New(s, dancers(len(d)), []string{"A", "B"}, []string{"P", "Q"}, free)
	require.NoError(t, err)
	in := study.Input{Rows: map[measure.Measure][]track.Row{}, Visits: map[string][]string{}, Shoes: []device.Shoe{
		{Code: "A", PlatformMM: [2]float64{36, 22}, OutlineExponent: 2.5}, {Code: "B", PlatformMM: [2]float64{40, 22}, OutlineExponent: 2.5, VampMM: 30},
	}}
	for i, x := range d {
		who := fmt.Sprintf("D%d", i+1)
		in.Visits[who] = []string{"one", "two"}
		in.Progress.Dancers = append(in.Progress.Dancers, study.DancerProgress{Row: i + 1, Dancer: who, Complete: !interim})
		// Mountings and visits count alike, however many relevés they have.
		all := rows(who, "A", "one", []float64{-1, -1, -1, -1}, []float64{1})
		all = append(all, rows(who, "B", "one", []float64{x + 2}, []float64{x, x, x, x})...)
		all = append(all, rows(who, "B", "two", []float64{x - 1})...)
		all = append(all, rows(who, "B", "another day", []float64{50})...)
		in.Rows[measure.Over] = append(in.Rows[measure.Over], all...)
		in.Rows[measure.Load] = append(in.Rows[measure.Load], all...)
	}
	if !interim {
		in.Progress.Complete, in.Progress.Reached = len(d), true
	}
	return s.Compare(in, interim)
}

// Darwin's maize through the whole comparison: p is Fisher's 1726/32768, and estimate and
// interval are R's (analyze/stats/testdata/wilcox.json).
func TestCompareDarwinsMaize(t *testing.T) {
	d := []float64{49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48} // testdata/maize.csv
	c, err := twoShoes(t, d, false)
	require.NoError(t, err)
	require.Len(t, c.Pairs, 1)
	p := c.Pairs[0]
	assert.Equal(t, "A", p.From)
	assert.Equal(t, "B", p.To)
	assert.InDelta(t, 1726.0/32768, *p.P, 1e-12)
	assert.InDelta(t, 25, *p.Estimate, 1e-9)
	assert.InDelta(t, 4, p.CI95[0], 1e-9)
	assert.InDelta(t, 41.5, p.CI95[1], 1e-9)
	assert.Equal(t, *p.P, *p.PHolm, "one pair")
	assert.Equal(t, study.NotClear, p.Wording)
	require.Len(t, c.Other, 1, "the load, without a test")
	assert.InDelta(t, 25, *c.Other[0].Estimate, 1e-9)
	// The shoes differ by 4 mm of width and in nothing else that is known of both.
	require.Len(t, c.Properties, 2)
	assert.Equal(t, "platform width", c.Properties[0].Of)
	assert.InDelta(t, 25.0/4, *c.Properties[0].Estimate, 1e-9)
	assert.Equal(t, "platform area", c.Properties[1].Of)
	assert.Contains(t, c.LeftOut, measure.Refusal{Of: "platform depth", Why: "all shoes have the same"})
	assert.Contains(t, c.LeftOut, measure.Refusal{Of: "vamp", Why: "known of 1 of 2 shoes"})

	for i := range d {
		d[i] = math.Abs(d[i])
	}
	c, err = twoShoes(t, d, false)
	require.NoError(t, err)
	assert.InDelta(t, 2.0/32768, *c.Pairs[0].P, 1e-12)
	assert.Equal(t, study.Clear, c.Pairs[0].Wording)
}

// Before the stopping rule is met there is no comparison, or one without codes of shoes,
// wordings and properties of shoes.
func TestCompareTooEarly(t *testing.T) {
	s, err := study.New(declared(2), dancers(2), []string{"A", "B"}, nil, free)
	require.NoError(t, err)
	_, err = s.Compare(study.Input{}, false)
	assert.ErrorIs(t, err, study.ErrTooEarly)
	c, err := twoShoes(t, []float64{1, 2, 3, 4, 5, 6, 7}, true)
	require.NoError(t, err)
	assert.True(t, c.Interim)
	assert.Equal(t, []string{"P", "Q"}, []string{c.Pairs[0].From, c.Pairs[0].To})
	assert.Equal(t, []string{"P", "Q"}, []string{c.Shoes[0].Shoe, c.Shoes[1].Shoe})
	assert.Equal(t, study.Untested, c.Pairs[0].Wording)
	assert.NotNil(t, c.Pairs[0].P)
	assert.Empty(t, c.Properties)
}

func TestCompareFew(t *testing.T) {
	c, err := twoShoes(t, []float64{3}, false)
	require.NoError(t, err)
	assert.Nil(t, c.Pairs[0].P)
	assert.Equal(t, study.Untested, c.Pairs[0].Wording)
	assert.True(t, slices.ContainsFunc(c.LeftOut, func(l measure.Refusal) bool { return strings.Contains(l.Why, "one dancer") }))
	c, err = twoShoes(t, []float64{3, 4, 5}, false)
	require.NoError(t, err)
	assert.InDelta(t, 0.25, *c.Pairs[0].P, 1e-12)
	assert.Nil(t, c.Pairs[0].CI95)
	assert.Equal(t, study.NotClear, c.Pairs[0].Wording)

	// Nobody wore the second shoe.
	s, err := study.New(declared(1), dancers(1), []string{"A", "B"}, nil, free)
	require.NoError(t, err)
	c, err = s.Compare(study.Input{
		Progress: study.Progress{Dancers: []study.DancerProgress{{Row: 1, Dancer: "D1"}}},
		Rows:     map[measure.Measure][]track.Row{measure.Over: rows("D1", "A", "one", []float64{1, 2})},
		Visits:   map[string][]string{"D1": {"one"}},
	}, true)
	require.NoError(t, err)
	assert.Zero(t, c.Pairs[0].Dancers)
	assert.Nil(t, c.Pairs[0].Estimate)
	assert.Equal(t, "no dancer has values in both", c.LeftOut[0].Why)
}
