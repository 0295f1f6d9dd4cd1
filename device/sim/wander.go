package sim

import (
	"math"
	"math/rand/v2"
)

// wander is a motion about 0 with equal power in every octave from wanderLow
// to wanderHigh, a spectrum that falls as 1/f: sines of one amplitude whose
// frequencies are spread evenly over the logarithm.
type wander struct {
	amplitude float64
	tones     [wanderTones]struct{ omega, phase float64 }
}

const (
	wanderLow   = 0.1 // Hz
	wanderHigh  = 10.0
	wanderTones = 28
)

// newWander draws a motion with the given standard deviation.
func newWander(rng *rand.Rand, sd float64) *wander {
	w := &wander{amplitude: sd * math.Sqrt(2.0/wanderTones)}
	for i := range w.tones {
		at := (float64(i) + rng.Float64()) / wanderTones
		w.tones[i].omega = 2 * math.Pi * wanderLow * math.Pow(wanderHigh/wanderLow, at)
		w.tones[i].phase = 2 * math.Pi * rng.Float64()
	}
	return w
}

// at returns the motion at t seconds.
func (w *wander) at(t float64) float64 {
	sum := 0.0
	for i := range w.tones {
		sum += math.Sin(w.tones[i].omega*t + w.tones[i].phase)
	}
	return w.amplitude * sum
}
