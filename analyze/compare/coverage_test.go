package compare

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"aplomb/analyze/measure"
	"aplomb/device"
)

// The 95 % intervals contain the true difference in at least 95 of 100 simulated
// fittings. They are too wide if mountings, as here, have no effect besides the seat: a
// scatter that is large by chance is attributed to an effect. Each fitting has a known
// difference between two shoes, a random seat for every mounting, random relevés, and a
// strip profile whose seat_sd was itself measured in nine mountings. APLOMB_LONG=1
// simulates 2,000 fittings a row instead of 25.
func TestCoverageTable(t *testing.T) {
	fittings := 25
	if os.Getenv("APLOMB_LONG") != "" {
		fittings = 2000
	}
	const seat = 1.0 // mm
	fmt.Println("mountings  scatter  difference  interval holds it  clear  clear with the wrong sign")
	for mountings := 1; mountings <= 4; mountings++ {
		for _, scatter := range []float64{0.3, 1, 2} {
			for _, difference := range []float64{0, 2} {
				g := rand.New(rand.NewPCG(uint64(mountings), math.Float64bits(scatter+difference)))
				chi2 := distuv.ChiSquared{K: 8, Src: g}
				holds, clear, wrong := 0.0, 0.0, 0.0
				for range fittings {
					profile := seat * math.Sqrt(chi2.Rand()/8)
					var results []*measure.Result
					for s, code := range []string{"A", "B"} {
						for m := range mountings {
							d := day{shoe: shoe(code), mounting: fmt.Sprint(code, m), seatSD: profile}
							off := float64(s)*difference + seat*g.NormFloat64()
							for range 3 + g.IntN(4) {
								d.left = append(d.left, off+scatter*g.NormFloat64())
							}
							results = append(results, d.result(s*10+m))
						}
					}
					c, err := Results(results, Options{})
					require.NoError(t, err)
					d := c.difference(t, measure.Over, device.Left)
					one := 1 / float64(fittings)
					if d.CI95[0] <= difference && difference <= d.CI95[1] {
						holds += one
					}
					if d.Wording == Clear {
						clear += one
						if d.Difference < 0 && difference > 0 {
							wrong += one
						}
					}
				}
				fmt.Printf("%9d  %7.1f  %10.1f  %15.1f %%  %4.1f %%  %.2f %%\n", mountings, scatter, difference, 100*holds, 100*clear, 100*wrong)
				// Three standard deviations of a share in this number of fittings.
				room := 3 * math.Sqrt(0.95*0.05/float64(fittings))
				assert.GreaterOrEqual(t, holds, 0.95-room)
				assert.LessOrEqual(t, wrong, 0.005)
				if difference == 0 {
					assert.LessOrEqual(t, clear, 0.05+room)
				}
			}
		}
	}
}
