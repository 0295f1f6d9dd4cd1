package sway

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/stats"
)

// meanDifference returns, to within a factor, the mean square difference between the means
// over two parts of equal length τ, of which one begins k lengths after the other, of
// noise whose spectrum falls as 1/f^1.5: the integral of 4·sin²(πfkτ)·sinc²(πfτ)/f^1.5
// over all frequencies. Such noise is a fractional Brownian motion whose mean square
// difference over a time t grows as √t; two integrations give the exponent 2.5.
func meanDifference(k int) float64 {
	x := math.Abs(float64(k))
	if k == 0 {
		return 0
	}
	return math.Pow(x+1, 2.5) + math.Pow(x-1, 2.5) - 2*math.Pow(x, 2.5) - 2
}

// The closed form equals the integral, within its factor.
func TestMeanDifferenceIsThatOfTheSpectrum(t *testing.T) {
	integral := func(k int) (sum float64) {
		const steps = 2_000_000
		lo, hi := math.Log(1e-8), math.Log(1e3) // of x = πfτ
		for i := range steps {
			x := math.Exp(lo + (hi-lo)*(float64(i)+0.5)/steps)
			sinc, s := math.Sin(x)/x, math.Sin(float64(k)*x)
			sum += 4 * s * s * sinc * sinc / math.Sqrt(x) * (hi - lo) / steps
		}
		return sum
	}
	one := integral(1)
	for _, k := range []int{2, 6} {
		assert.InEpsilon(t, integral(k)/one, meanDifference(k)/meanDifference(1), 1e-4, "k = %d", k)
	}
}

// covariance returns the covariance of two contrasts of the ninths of such noise.
func covariance(a, b [Ninths]float64) (c float64) {
	for i := range a {
		for j := range b {
			c -= a[i] * b[j] * meanDifference(i-j) / 2
		}
	}
	return c
}

// The factor and the degrees of freedom are those of noise of that spectrum: the variance of the
// change, the expected variance of the steps about their mean, and, with P·C the centred
// covariance matrix of the steps, (tr PC)²/tr (PC)².
func TestUncertaintyOfAChangeIsThatOfTheSpectrum(t *testing.T) {
	change := [Ninths]float64{-1. / 3, -1. / 3, -1. / 3, 6: 1. / 3, 7: 1. / 3, 8: 1. / 3}
	const n = Ninths - 1
	var centred [n][Ninths]float64 // the steps less their mean
	for i := range centred {
		centred[i][i+1]++
		centred[i][i]--
		centred[i][0] += 1. / n
		centred[i][Ninths-1] -= 1. / n
	}
	trace, squares := 0.0, 0.0
	for i := range centred {
		trace += covariance(centred[i], centred[i])
		for j := range centred {
			c := covariance(centred[i], centred[j])
			squares += c * c
		}
	}
	assert.InDelta(t, math.Sqrt(covariance(change, change)/(trace/(n-1))), changeFactor, 5e-4)
	assert.InDelta(t, trace*trace/squares, changeDOF, 0.05)
}

// A steady drift is estimated exactly: a line that rises by r over the hold differs by
// two thirds of it between the thirds, without uncertainty.
func TestChangeOfALine(t *testing.T) {
	var at, x []float64
	for i := range 900 {
		at, x = append(at, 5+float64(i)/300), append(x, -2+0.6*float64(i)/899)
	}
	means, ok := InNinths(at, x)
	require.True(t, ok)
	c := ChangeWithin(means)
	assert.InDelta(t, 0.4, c.Value, 1e-3)
	assert.InDelta(t, 0, c.U, 1e-3)
}

func TestNinthsNeedValues(t *testing.T) {
	at, x, _ := sample(100, 2, circle)
	_, ok := InNinths(at, x)
	assert.True(t, ok)
	_, ok = InNinths(append(at[:60:60], at[90:]...), append(x[:60:60], x[90:]...))
	assert.False(t, ok, "a ninth without a value")
	x[70] = math.NaN()
	_, ok = InNinths(at, x)
	assert.False(t, ok)
	_, ok = InNinths(at[:8], x[:8])
	assert.False(t, ok)
	_, ok = InNinths(make([]float64, 20), make([]float64, 20))
	assert.False(t, ok, "the clock stands")
}

// The test prints how often the 95 % interval of a change contains the true one, with a
// drift of 1 mm and without: the table of analyze/VALIDATION.md with
//
//	APLOMB_LONG=1 go test -run ChangeIsCovered -v ./analyze/sway
func TestChangeIsCovered(t *testing.T) {
	holds := 400
	if os.Getenv("APLOMB_LONG") != "" {
		holds = 20_000
	}
	var table strings.Builder
	for _, spectrum := range []struct {
		name     string
		exponent float64
		bounded  bool // the interval promises its coverage for it
	}{{"white", 0, false}, {"1/f", 1, true}, {"1/f^1.5", 1.5, true}, {"1/f²", 2, false}} {
		fmt.Fprintf(&table, "\n| %s |", spectrum.name)
		for _, length := range []float64{2, 3, 6} {
			covered, half := [2]int{}, 0.0
			for i := range holds {
				n := newNoise(rand.New(rand.NewPCG(uint64(i), uint64(10*length))), spectrum.exponent, 0.5)
				for d, drift := range []float64{0, 1} {
					at, x, _ := sample(50, length, func(t float64) (float64, float64) { return n.at(t) + drift*1.5*t/length, 0 })
					means, ok := InNinths(at, x)
					require.True(t, ok)
					c := ChangeWithin(means)
					interval := stats.Interval95(c.Value, c.U, c.DOF)
					if interval.Contains(drift) {
						covered[d]++
					}
					half += (interval.Hi - c.Value) / float64(2*holds)
				}
			}
			for d, n := range covered {
				share := float64(n) / float64(holds)
				fmt.Fprintf(&table, " %.1f %% |", 100*share)
				if spectrum.bounded {
					// A share of 94 % falls below this once in a thousand runs.
					assert.Greater(t, share, 0.94-3.1*math.Sqrt(0.94*0.06/float64(holds)), "%s, %v s, drift %d", spectrum.name, length, d)
				}
			}
			fmt.Fprintf(&table, " ±%.2f mm |", half)
		}
	}
	t.Log(table.String())
}
