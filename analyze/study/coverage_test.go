package study_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/analyze/study"
	"aplomb/analyze/track"
)

// Among equal shoes a study calls one or more pairs clear in at most 5 % of studies, and
// the interval contains the true difference in at least 95 %, for any number of dancers.
// Effects of dancers on a shoe are symmetric, as test and interval assume, except in the
// last row.
func TestCoverageTableOfStudies(t *testing.T) {
	if os.Getenv("APLOMB_LONG") == "" {
		t.Skip("APLOMB_LONG=1 simulates 1,000 studies a row")
	}
	const studies = 1000
	t.Log("| dancers | effect of a dancer on a shoe | a false clear, of 3 pairs | interval holds the difference | found, 1 mm |")
	for _, row := range []struct {
		dancers int
		kind    string
		draw    func(g *rand.Rand) float64 // standard deviation 1
		holds   bool
	}{
		{6, "normal", (*rand.Rand).NormFloat64, true},
		{10, "normal", (*rand.Rand).NormFloat64, true},
		{16, "normal", (*rand.Rand).NormFloat64, true},
		{16, "heavy tails (Laplace)", func(g *rand.Rand) float64 {
			return g.ExpFloat64() / math.Sqrt2 * float64(1-2*g.IntN(2))
		}, true},
		{16, "skewed (exponential, shoe C only)", nil, false},
	} {
		g := rand.New(rand.NewPCG(uint64(row.dancers), 9))
		s := declared(row.dancers)
		s, err := study.New(s, dancers(row.dancers), []string{"A", "B", "C"}, nil, free)
		require.NoError(t, err)
		clear, holds, found := 0.0, 0.0, 0.0
		for range studies {
			in := study.Input{Rows: map[measure.Measure][]track.Row{}, Visits: map[string][]string{}, Progress: study.Progress{Complete: row.dancers, Reached: true}}
			for d := range row.dancers {
				who := fmt.Sprintf("D%d", d+1)
				in.Visits[who] = []string{"one"}
				in.Progress.Dancers = append(in.Progress.Dancers, study.DancerProgress{Row: d + 1, Dancer: who, Complete: true})
				own := 2 * g.NormFloat64()
				for _, shoe := range []string{"A", "B", "C"} {
					effect := g.NormFloat64()
					switch {
					case row.draw != nil:
						effect = row.draw(g)
					case shoe == "C":
						effect = g.ExpFloat64() - 1
					}
					in.Rows[measure.Over] = append(in.Rows[measure.Over], rows(who, shoe, "one", []float64{own + effect})...)
				}
			}
			c, err := s.Compare(in, false)
			require.NoError(t, err)
			any := false
			for _, p := range c.Pairs {
				any = any || p.Wording == study.Clear
				if p.CI95[0] <= 0 && 0 <= p.CI95[1] {
					holds++
				}
			}
			if any {
				clear++
			}
			for i := range in.Rows[measure.Over] {
				if r := &in.Rows[measure.Over][i]; r.Shoe == "B" {
					r.Value++
				}
			}
			c, err = s.Compare(in, false)
			require.NoError(t, err)
			if c.Pairs[0].Wording == study.Clear {
				found++
			}
		}
		t.Logf("| %d | %s | %.1f %% | %.1f %% | %.0f %% |", row.dancers, row.kind, 100*clear/studies, 100*holds/studies/3, 100*found/studies)
		if row.holds { // three standard errors of a share
			assert.LessOrEqual(t, clear/studies, 0.05+3*math.Sqrt(0.05*0.95/studies))
			assert.GreaterOrEqual(t, holds/studies/3, 0.95-3*math.Sqrt(0.05*0.95/studies))
		}
	}
}
