package releve

import (
	"math"
	"math/rand/v2"

	"aplomb/analyze/measure"
)

// This file simulates the load of a dancer against time, with the true pulses. It
// contains no cells and no contact mechanics, because only the detection of pulses is
// tested.

type kind int

const (
	rise    kind = iota // settles into a hold
	aborted             // descends before the load has settled, or nearly
	step                // a step of walking on pointe
	kinds
)

func (k kind) String() string { return [...]string{"relevés", "aborted rises", "steps on pointe"}[k] }

// truth is one pulse with the times of its noiseless load: when it rises through 10 %
// of its median (25 N at least), and from when to when it stays within 15 % of it,
// apart from short dips.
type truth struct {
	kind               kind
	onset, end         float64
	holdStart, holdEnd float64
	cut                bool // frames are missing in it or next to it
	seen               float64
}

func (p truth) held() float64 { return p.holdEnd - p.holdStart }

// shape is one pulse of load, without noise, from 0 at time 0.
type shape struct {
	kind                     kind
	level                    float64 // N
	rise, hold, lower        float64 // total durations, s
	bounce, bounceHz, settle float64 // overshoot on arrival: share of level, Hz, s
	wobble                   [6]struct{ share, hz, phase float64 }
	dips                     []struct{ at, length, depth float64 }
}

func (s shape) length() float64 { return s.rise + s.hold + s.lower }

// steady returns the load at t without dips.
func (s shape) steady(t float64) float64 {
	switch {
	case t <= 0 || t >= s.length():
		return 0
	case t < s.rise:
		return s.level * ease(t/s.rise) * (1 + s.sway(t))
	case t > s.rise+s.hold:
		return s.level * ease((s.length()-t)/s.lower) * (1 + s.sway(t))
	}
	u := t - s.rise
	b := s.bounce * math.Exp(-u/s.settle) * math.Sin(2*math.Pi*s.bounceHz*u)
	return s.level * (1 + s.sway(t) + b)
}

func (s shape) sway(t float64) float64 {
	w := 0.0
	for _, c := range s.wobble {
		w += c.share * math.Sin(2*math.Pi*c.hz*t+c.phase)
	}
	return w
}

func (s shape) load(t float64) float64 {
	v := s.steady(t)
	for _, d := range s.dips {
		if u := (t - d.at) / d.length; u > 0 && u < 1 {
			v *= 1 - d.depth*math.Sin(math.Pi*u)
		}
	}
	return v
}

// ease rises from 0 to 1 with zero slope at both ends.
func ease(u float64) float64 { return u * u * (3 - 2*u) }

// dancer generates pulses of one dancer.
type dancer struct {
	rng    *rand.Rand
	weight float64 // N
}

func (d dancer) between(lo, hi float64) float64 { return lo + (hi-lo)*d.rng.Float64() }

// pulse returns one pulse of a kind under one foot that carries a share of the weight.
func (d dancer) pulse(k kind, share float64) shape {
	s := shape{kind: k, level: d.weight * share, settle: 0.1}
	loudest := d.between(0, 0.10) // amplitude of the oscillation, which decreases with frequency
	for i := range s.wobble {
		hz := d.between(0.2, 1) * float64(int(1)<<i) / 3
		s.wobble[i].share = loudest / float64(i+1) / 2.45
		s.wobble[i].hz, s.wobble[i].phase = hz, d.between(0, 2*math.Pi)
	}
	switch k {
	case rise:
		s.rise, s.hold, s.lower = d.between(0.15, 2), d.between(0.6, 5), d.between(0.15, 1)
		if d.rng.Float64() < 0.4 { // springs up
			s.rise = d.between(0.08, 0.25)
			s.bounce, s.bounceHz, s.settle = d.between(0.1, 0.5), d.between(4, 8), d.between(0.04, 0.12)
		}
		if s.hold > 1.6 && d.rng.Float64() < 0.3 {
			s.dips = append(s.dips, struct{ at, length, depth float64 }{
				s.rise + d.between(0.7, s.hold-0.8), d.between(0.04, 0.14), d.between(0.2, 1),
			})
		}
	case aborted:
		s.rise, s.hold, s.lower = d.between(0.12, 0.6), d.between(0, 0.4), d.between(0.12, 0.6)
	case step:
		s.rise, s.hold, s.lower = d.between(0.08, 0.2), d.between(0.1, 0.35), d.between(0.08, 0.2)
	}
	return s
}

// truthOf finds the true times in the noiseless load, to 1 ms.
func (s shape) truthOf(start float64) truth {
	const dt = 0.001
	n := int(s.length() / dt)
	at := func(i int) float64 { return s.steady(float64(i) * dt) }
	var plateau []float32
	for i := range n {
		if at(i) >= 0.85*s.level {
			plateau = append(plateau, float32(at(i)))
		}
	}
	m := float64(lowerMedian(plateau))
	p := truth{kind: s.kind}
	i := 0
	for at(i) < max(25, 0.10*m) {
		i++
	}
	p.onset = start + float64(i)*dt
	for i = n; at(i) < max(25, 0.07*m); i-- {
	}
	p.end = start + float64(i)*dt
	within := func(i int) bool { return math.Abs(at(i)-m) <= 0.15*m }
	middle := int((s.rise + s.hold/2) / dt)
	for i = int((s.rise + min(s.hold/2, 6*s.settle)) / dt); i > 0 && within(i); i-- {
	}
	p.holdStart = start + float64(i)*dt
	for i = middle; i < n && within(i); i++ {
	}
	p.holdEnd = start + float64(i)*dt
	return p
}

// condition describes the conditions of a recording.
type condition struct {
	rate      float64
	weight    [2]float64 // least and largest weight of the dancer, N
	noiseN    float64    // standard deviation, N, in addition to 0.5 % of the load
	driftN    float64    // drift of the unloaded strip between two zeros, N
	gaps      float64    // number a second
	longestMS float64    // longest gap, ms
}

// foot returns the samples of one foot in a recording, with the true pulses.
func (c condition) foot(rng *rand.Rand, pulses int) ([]measure.Sample, []truth) {
	d := dancer{rng: rng}
	d.weight = d.between(c.weight[0], c.weight[1])
	var shapes []shape
	var starts []float64
	t := 1.0
	for len(shapes) < pulses {
		share := d.between(0.35, 0.65) // on two feet
		if rng.Float64() < 0.4 {
			share = 1
		}
		k, n, rest := rise, 1, d.between(0.5, 2.5)
		switch u := rng.Float64(); {
		case u < 0.2:
			k = aborted
		case u < 0.3:
			k, n, share, rest = step, 2+rng.IntN(5), 1, d.between(0.25, 0.5)
		}
		for range n {
			s := d.pulse(k, share)
			shapes, starts = append(shapes, s), append(starts, t)
			t += s.length() + rest
		}
	}
	t += 1

	truths := make([]truth, len(shapes))
	for i, s := range shapes {
		truths[i] = s.truthOf(starts[i])
	}
	samples := make([]measure.Sample, 0, int(t*c.rate))
	drift, phase := d.between(0, c.driftN), d.between(0, 2*math.Pi)
	missingUntil, k := -1.0, 0
	var flag measure.Flag
	for i := 0; float64(i) < t*c.rate; i++ {
		now := (float64(i) + d.between(-0.1, 0.1)) / c.rate
		for k < len(shapes)-1 && now > starts[k]+shapes[k].length() {
			k++
		}
		if now < missingUntil || rng.Float64() < c.gaps/c.rate {
			if now >= missingUntil {
				missingUntil = now + d.between(0, c.longestMS/1000)
			}
			flag = measure.AfterGap
			mark(truths, now, 1/c.rate)
			continue
		}
		v := shapes[k].load(now - starts[k])
		for j := max(0, k-1); j <= k; j++ {
			if now >= truths[j].onset && now <= truths[j].end {
				truths[j].seen += 1 / c.rate
			}
		}
		v *= 1 + 0.005*rng.NormFloat64()
		v += c.noiseN*rng.NormFloat64() + drift*math.Sin(now/7+phase)
		samples = append(samples, measure.Sample{T: now, LoadN: float32(v), Flags: flag})
		flag = 0
	}
	return samples, truths
}

// mark marks the pulses in or beside which the frame at now, of one interval, is missing.
func mark(truths []truth, now, interval float64) {
	for i := range truths {
		p := &truths[i]
		if now > p.onset-3*interval && now < p.end+3*interval {
			p.cut = true
		}
	}
}
