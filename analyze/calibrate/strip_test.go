package calibrate

import (
	"math"
	"math/rand/v2"
)

// bench simulates a strip with known gains and a known curve. It shares no code with the
// package.
type bench struct {
	rng     *rand.Rand
	gains   []float64
	zero    float64                   // counts
	noise   float64                   // counts
	counts  func(kPa float64) float64 // curve of a cell with gain 1
	creep   float64                   // relative creep a decade, by superposition
	loop    float64                   // added with decreasing weights, as a fraction of the largest response, 0 at both ends
	stepS   float64                   // time under each weight, s
	rateHz  float64
	areaMM2 float64
}

func newBench(seed uint64, cells int) *bench {
	b := &bench{
		rng: rand.New(rand.NewPCG(seed, 4)), gains: make([]float64, cells), zero: 40, noise: 1,
		counts: func(kPa float64) float64 { return kPa / 0.75 }, stepS: 12, rateHz: 20, areaMM2: 1000,
	}
	for k := range b.gains {
		b.gains[k] = 1
	}
	return b
}

// uneven draws gains with mean 1 and standard deviation sd.
func (b *bench) uneven(sd float64) *bench {
	sum := 0.0
	for k := range b.gains {
		b.gains[k] = 1 + sd*b.rng.NormFloat64()
		sum += b.gains[k]
	}
	for k := range b.gains {
		b.gains[k] *= float64(len(b.gains)) / sum
	}
	return b
}

// frame returns a frame with this many counts on a cell with gain 1.
func (b *bench) frame(response float64) []uint16 {
	f := make([]uint16, len(b.gains))
	for k, g := range b.gains {
		f[k] = uint16(max(0, min(4095, math.Round(b.zero+g*response+b.noise*b.rng.NormFloat64()))))
	}
	return f
}

func (b *bench) unloaded(n int) (frames [][]uint16) {
	for range n {
		frames = append(frames, b.frame(0))
	}
	return frames
}

// load returns a session with the weights one after the other.
func (b *bench) load(unit Unit, weights ...float64) Loading {
	l := Loading{Unit: unit, AreaMM2: b.areaMM2, FullCounts: 4095, Zero: make([]float64, len(b.gains))}
	for k := range l.Zero {
		l.Zero[k] = b.zero
	}
	newtons := map[Unit]float64{Newton: 1, Kilogram: 9.80665, Gram: 0.00980665}[unit]
	var on, delta []float64
	last, most, down := 0.0, 0.0, false
	for _, w := range weights {
		most = max(most, w)
	}
	full := b.counts(most * newtons / b.areaMM2 * 1000)
	for i, w := range weights {
		response := b.counts(w * newtons / b.areaMM2 * 1000)
		down = down || i > 0 && w < weights[i-1]
		if down {
			response += b.loop * full * 4 * w / most * (1 - w/most)
		}
		s := LoadStep{Weight: w, OnS: float64(i) * (b.stepS + 2)}
		on, delta, last = append(on, s.OnS), append(delta, response-last), response
		for frame := range int(b.stepS * b.rateHz) {
			t := s.OnS + (float64(frame)+1)/b.rateHz
			y := response
			for j := range on {
				y += delta[j] * b.creep * math.Log10(t-on[j])
			}
			s.TimeS, s.Frames = append(s.TimeS, t), append(s.Frames, b.frame(y))
		}
		l.Steps = append(l.Steps, s)
	}
	return l
}
