package sim

import (
	"math"
	"math/rand/v2"
)

// pinkNoise is a random function of time with mean 0 and equal power in every octave from
// pinkLow to pinkHigh, a spectrum that falls as 1/f. It is a sum of sines of one amplitude
// whose frequencies are evenly spaced on a logarithmic scale.
type pinkNoise struct {
	amplitude float64
	tones     [pinkTones]struct{ omega, phase float64 }
}

const (
	pinkLow   = 0.1 // Hz
	pinkHigh  = 10.0
	pinkTones = 28
)

// newPinkNoise returns a pinkNoise with the given standard deviation.
func newPinkNoise(rng *rand.Rand, sd float64) *pinkNoise {
	w := &pinkNoise{amplitude: sd * math.Sqrt(2.0/pinkTones)}
	for i := range w.tones {
		at := (float64(i) + rng.Float64()) / pinkTones
		w.tones[i].omega = 2 * math.Pi * pinkLow * math.Pow(pinkHigh/pinkLow, at)
		w.tones[i].phase = 2 * math.Pi * rng.Float64()
	}
	return w
}

// at returns the value at t seconds.
func (w *pinkNoise) at(t float64) float64 {
	sum := 0.0
	for i := range w.tones {
		sum += math.Sin(w.tones[i].omega*t + w.tones[i].phase)
	}
	return w.amplitude * sum
}
