package reliability_test

import (
	"math"
	"math/rand/v2"
	"os"
	"runtime"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/analyze/measure"
	"aplomb/analyze/reliability"
	"aplomb/analyze/stats"
)

// TestCoverageTable prints how often a 95 % interval contains the true value, in
// simulated studies of dancers with two days and two mountings a day.
func TestCoverageTable(t *testing.T) {
	if os.Getenv("APLOMB_LONG") != "1" {
		t.Skip("minutes; APLOMB_LONG=1 asks for it")
	}
	const studies = 300
	for _, c := range []struct {
		name           string
		dancers, shoes int
		sd             [5]float64 // dancer, shoe, day, mounting, relevé
	}{
		{"20 dancers, one shoe", 20, 1, [5]float64{2, 0, 0.6, 0.4, 0.3}},
		{"6 dancers, one shoe", 6, 1, [5]float64{2, 0, 0.6, 0.4, 0.3}},
		{"6 dancers, two shoes", 6, 2, [5]float64{2, 1, 0.6, 0.4, 0.3}},
		{"6 dancers, one shoe, days alike", 6, 1, [5]float64{2, 0, 0, 0.4, 0.3}},
	} {
		held, asked := map[string]int{}, map[string]int{}
		var mutex sync.Mutex
		var done sync.WaitGroup
		work := make(chan uint64)
		for range runtime.NumCPU() {
			done.Go(func() {
				for seed := range work {
					r, err := reliability.Of(measure.Over, study(rand.New(rand.NewPCG(seed, 18)), c.dancers, c.shoes, 2, c.sd), reliability.Options{})
					if !assert.NoError(t, err) {
						return
					}
					mutex.Lock()
					count(&r.Feet[0], c.sd, held, asked)
					mutex.Unlock()
				}
			})
		}
		for seed := range uint64(studies) {
			work <- seed
		}
		close(work)
		done.Wait()
		for _, what := range []string{"dancer", "shoe", "day", "mounting", "relevé", "SEM", "ICC(1,1)", "ICC(2,1)", "ICC(3,1)", "upper limit"} {
			if asked[what] > 0 {
				share := float64(held[what]) / float64(asked[what])
				t.Logf("| %s | %s | %.1f %% |", c.name, what, 100*share)
				assert.GreaterOrEqual(t, share, 0.92, "%s: %s", c.name, what)
			}
		}
	}
}

// count counts the intervals of a foot that contain the true value.
func count(f *reliability.Foot, sd [5]float64, held, asked map[string]int) {
	one := func(what string, ci [2]float64, truth float64) {
		asked[what]++
		if (stats.Interval{Lo: ci[0], Hi: ci[1]}).Contains(truth) {
			held[what]++
		}
	}
	levels := map[reliability.Level]int{reliability.OfDancer: 0, reliability.OfShoe: 1, reliability.OfDay: 2, reliability.OfMounting: 3, reliability.OfReleve: 4}
	for _, c := range f.Components {
		one(string(c.Of), c.CI95, sd[levels[c.Of]])
	}
	error2 := sd[2]*sd[2] + sd[3]*sd[3]/2 + sd[4]*sd[4]/6
	one("SEM", f.SEM.CI95, math.Sqrt(error2))
	for _, i := range f.ICC {
		one(i.Kind, i.CI95, (sd[0]*sd[0]+sd[1]*sd[1])/(sd[0]*sd[0]+sd[1]*sd[1]+error2))
	}
	if a := f.Agreement; a != nil {
		one("upper limit", a.UpCI, 1.96*math.Sqrt(2*error2))
	}
}
