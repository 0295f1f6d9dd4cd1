package sway

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"
)

// noise is a random path whose spectrum falls as 1/f^exponent from lowHz to highHz, with
// mean 0 and standard deviation sd over a long time: a sum of sines with frequencies
// evenly spaced on a logarithmic scale, as package device/sim makes its sway.
type noise struct{ amplitude, omega, phase []float64 }

const (
	lowHz, highHz = 0.1, 10.0
	tones         = 28
)

func newNoise(rng *rand.Rand, exponent, sd float64) *noise {
	n := &noise{}
	sum := 0.0
	for i := range tones {
		f := lowHz * math.Pow(highHz/lowHz, (float64(i)+rng.Float64())/tones)
		a := math.Pow(f, (1-exponent)/2) // the power of a band of a constant ratio is f·f^−exponent
		sum += a * a / 2
		n.amplitude = append(n.amplitude, a)
		n.omega = append(n.omega, 2*math.Pi*f)
		n.phase = append(n.phase, 2*math.Pi*rng.Float64())
	}
	for i := range n.amplitude {
		n.amplitude[i] *= sd / math.Sqrt(sum)
	}
	return n
}

func (n *noise) at(t float64) (v float64) {
	for i := range n.amplitude {
		v += n.amplitude[i] * math.Sin(n.omega[i]*t+n.phase[i])
	}
	return v
}

// expectedVariance returns the expected sample variance over a time T, s, of pink noise
// of standard deviation sd after the low-pass: the integral over the spectrum of
// 1 − sinc²(πfT), times the square of the amplitude that the filter leaves (see
// TestLowPassLeavesWhatItShould).
func expectedVariance(sd, T float64) (v float64) {
	const steps = 100_000
	for i := range steps {
		f := lowHz * math.Pow(highHz/lowHz, (float64(i)+0.5)/steps)
		sinc := math.Sin(math.Pi*f*T) / (math.Pi * f * T)
		left := 1 / (1 + math.Pow(f/10, 4))
		v += sd * sd * left * left * (1 - sinc*sinc) / steps
	}
	return v
}

// The standard deviation over a whole hold grows with its length, as the spectrum states.
// Over the window it does not, and equals that of the window's length.
func TestSwayDoesNotDependOnTheLengthOfTheHold(t *testing.T) {
	const sd, rate, holds = 0.5, 50.0, 400
	root := func(of func(at, m, o []float64) (medial, over float64), length float64) (rms, se float64) {
		rng := rand.New(rand.NewPCG(4, uint64(10*length)))
		var squares []float64
		for range holds {
			x, y := newNoise(rng, 1, sd), newNoise(rng, 1, sd)
			a, b := of(sample(rate, length, func(t float64) (float64, float64) { return x.at(t), y.at(t) }))
			squares = append(squares, (a*a+b*b)/2)
		}
		mean, s := stat.MeanStdDev(squares, nil)
		return math.Sqrt(mean), s / math.Sqrt(holds) / (2 * math.Sqrt(mean))
	}
	whole := func(at, m, o []float64) (float64, float64) {
		s, ok := FromPath(at, m, o)
		require.True(t, ok)
		return s.SDMedialMM, s.SDOverMM
	}
	window := func(at, m, o []float64) (float64, float64) {
		s, ok := OfHold(at, m, o)
		if !ok {
			return math.NaN(), math.NaN()
		}
		return s.SDMedialMM, s.SDOverMM
	}
	var table strings.Builder
	for _, length := range []float64{0.6, 2, 6} {
		got, se := root(whole, length)
		want := math.Sqrt(expectedVariance(sd, length))
		fmt.Fprintf(&table, "\nwhole hold of %.1f s: %.3f mm, expected %.3f", length, got, want)
		assert.InDelta(t, want, got, 3.5*se+0.01*want, "%v s", length)
	}
	want := math.Sqrt(expectedVariance(sd, WindowS))
	for _, length := range []float64{3.5, 4.5, 6, 10} {
		got, se := root(window, length)
		fmt.Fprintf(&table, "\nwindow in a hold of %.1f s: %.3f ± %.3f mm, expected %.3f", length, got, se, want)
		assert.InDelta(t, want, got, 3.5*se+0.02*want, "%v s", length)
	}
	t.Log(table.String())
}

// A path that arrives at 1.2 s and then stands still has settled at 1.2 s. A drift
// through the whole hold does not settle.
func TestPathSettles(t *testing.T) {
	arrive := func(t float64) (float64, float64) { return 0, 10 * min(t, 1.2) }
	start, ok := SettledAt(sample(100, 4, arrive))
	require.True(t, ok)
	assert.InDelta(t, 1.2, start, settlingStepS+1e-9)
	s, ok := OfHold(sample(100, 4, arrive))
	require.True(t, ok)
	assert.Equal(t, start, s.StartS)
	assert.InDelta(t, 0, s.SDOverMM, 0.1)
	assert.InDelta(t, 0, s.PathMM, 0.5)

	start, ok = SettledAt(sample(100, 4, func(t float64) (float64, float64) { return t, 2 * t }))
	require.True(t, ok)
	assert.InDelta(t, 0, start, 0.5, "all speeds are equal to within rounding")

	_, ok = OfHold(sample(100, 3.1, arrive))
	assert.False(t, ok, "1.9 s are left")
	_, ok = OfHold(sample(100, 3.3, arrive))
	assert.True(t, ok)
	_, ok = OfHold(sample(100, 1.9, circle))
	assert.False(t, ok, "shorter than the window")
}

// An approach of 3 mm that falls to 1/e in 0.3 s increases the standard deviation of sway
// over the whole hold by half. Over the window it increases it by less than a fifth: the
// rest at the beginning of the window moves no faster than the sway.
func TestApproachIsNotSway(t *testing.T) {
	const sd, holds = 0.5, 300
	rng := rand.New(rand.NewPCG(9, 9))
	var at, late, whole float64
	for range holds {
		x, y := newNoise(rng, 1, sd), newNoise(rng, 1, sd)
		steady := func(t float64) (float64, float64) { return x.at(t), y.at(t) }
		approaching := func(t float64) (float64, float64) { return x.at(t), y.at(t) - 3*math.Exp(-t/0.3) }
		a, okA := OfHold(sample(100, 5, steady))
		b, okB := OfHold(sample(100, 5, approaching))
		c, okC := FromPath(sample(100, 5, approaching))
		require.True(t, okA && okB && okC)
		at, late, whole = at+a.SDOverMM*a.SDOverMM/holds, late+b.SDOverMM*b.SDOverMM/holds, whole+c.SDOverMM*c.SDOverMM/holds
	}
	t.Logf("sd along over: %.3f mm steady, %.3f approaching, %.3f over the whole hold", math.Sqrt(at), math.Sqrt(late), math.Sqrt(whole))
	assert.InDelta(t, 1, math.Sqrt(late/at), 0.2)
	assert.Greater(t, math.Sqrt(whole/at), 1.3)
}

// The settling time does not depend on the position or the orientation of the path, the
// unit or the origin of time.
func TestSettledAtProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "noise"), 1))
		x, y := newNoise(rng, 1, 0.5), newNoise(rng, 1, 0.5)
		at, m, o := sample(rapid.Float64Range(50, 200).Draw(t, "rate"), rapid.Float64Range(2.2, 6).Draw(t, "length"),
			func(t float64) (float64, float64) { return x.at(t), y.at(t) - 2*math.Exp(-t/0.2) })
		for i := range at {
			// With the origin moved by 64 s these times are exact, so that every sample stays
			// within its quarter of a second.
			at[i] = math.Round(at[i]*(1<<20)) / (1 << 20)
		}
		want, ok := SettledAt(at, m, o)
		require.True(t, ok)
		sin, cos := math.Sincos(rapid.Float64Range(-3, 3).Draw(t, "turn"))
		for i := range m {
			m[i], o[i] = 7+3*(cos*m[i]-sin*o[i]), -3+3*(sin*m[i]+cos*o[i])
			at[i] += 64
		}
		got, ok := SettledAt(at, m, o)
		require.True(t, ok)
		assert.InDelta(t, 64+want, got, 1e-6)
	})
}
