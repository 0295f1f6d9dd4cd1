package trace

import (
	"math"
	"slices"

	"aplomb/device"
)

// What tells an unloaded strip whose zero has wandered from a loaded one.
const (
	levelN   = 3   // N: the most that a zero wanders from one window to the next, 30 N/s
	reachN   = 75  // N: the most that it climbs over one load
	soonest  = 3   // windows that lie level: shorter ones say nothing by themselves
	mostN    = 350 // N: what cells may read together, unloaded, where the whole recording speaks for it
	livelier = 1.5 // how much more than unloaded a dancer moves the load within a window
	goneS    = 1   // s: where frames are missing for longer, anything may have come and gone
	strayN   = 5   // N: a zero in force that is off by more is not good enough
)

// look is what is kept of a window of frames for when all of them are known.
// Loads are in N above the zero that the strip began with.
type look struct {
	from, to   float64   // s
	high, span float64   // largest load; largest less smallest
	used       float64   // what the zero in force read
	mean       []float32 // what its cells read on average, counts; nil where it is not flat
	run        int       // of windows that lie level, itself and those after it; 0 where it is not flat
}

// past keeps every window of a recording, for its end: where the strip was
// unloaded is then told from what came before and after.
//
// The lowest level stretch of all was unloaded: where its cells read up to 100 N
// together in any case, up to 350 N where the load rises from it and comes back,
// and moves more while it is up than a weight that lies still. From there the
// zero is followed both ways in time. While windows lie level, to 3 N each, they
// are unloaded. After a load the strip is unloaded again where two windows lie
// level within 12.5 N of the zero before, or below that, or above it by no more
// than 75 N and than half of what the load came to, if
//
//   - nothing as low lay level while the load was on, and
//   - the load does not go down further from there without having risen again.
//
// Where frames are missing for more than a second there may have been a load.
//
// So what cannot be told apart is this. A zero that climbs by more than 75 N
// over one load, faster than 30 N/s while unloaded, or at once by more than
// 12.5 N without a load, is load, and stays so. A load that grows by less than
// 30 N/s from nothing is drift. A motionless load of up to 75 N is drift where
// one at least twice as large comes just before it and another, or the end, just
// after. A motionless one of up to 350 N, above the zero of the profile, from
// which load rises and to which it comes back, and which never goes away, is an
// offset. A strip that moves by more than 5 N within a window while it is
// unloaded is never seen to be so.
type past struct {
	weights []weight
	curve   *device.Curve // nil where it is a line
	began   []float32     // the zero that the strip began with, counts
	looks   []look
	moved   float64 // N: by how much all zeros so far have been put right
}

// rise returns how far window a lies above b, N.
func (p *past) rise(a, b *look) float64 {
	return p.above(a.mean, b.mean)
}

// reads returns how far a window lies above the zero that the strip began with, N.
func (p *past) reads(l *look) float64 {
	return p.above(l.mean, p.began)
}

// above returns what cells bear that read mean and have their zeros at zero, N.
func (p *past) above(mean, zero []float32) (load float64) {
	for k, w := range p.weights {
		d := float64(mean[k] - zero[k])
		if p.curve != nil {
			d = p.curve.KPa(k, d)
		}
		load += w.load * d
	}
	return load
}

// read is above of a zero.
func (p *past) read(level []float64) (load float64) {
	for k, w := range p.weights {
		d := level[k] - float64(p.began[k])
		if p.curve != nil {
			d = p.curve.KPa(k, d)
		}
		load += w.load * d
	}
	return load
}

// keep adds a window; level is what the zero in force reads.
func (p *past) keep(w *window, to, level float64) {
	l := look{from: w.from, to: to, high: w.hi + level, span: w.hi - w.lo, used: level - p.moved}
	if w.flat() {
		l.run, l.mean = 1, make([]float32, len(w.sum))
		per := 1 / float64(w.n)
		for k, sum := range w.sum {
			l.mean[k] = float32(float64(sum) * per)
		}
	}
	p.looks = append(p.looks, l)
}

// settle returns the windows whose means are the zeros of the whole recording,
// with straight lines between them, and whether it began unloaded. It returns
// none where the strip was never seen unloaded.
func (p *past) settle() (at []int, fromStart bool) {
	for i := len(p.looks) - 2; i >= 0; i-- {
		l, next := &p.looks[i], &p.looks[i+1]
		if l.run > 0 && next.run > 0 && math.Abs(p.rise(next, l)) <= levelN {
			l.run = next.run + 1
		}
	}
	lowest, anchor := math.Inf(1), -1
	for i, l := range p.looks {
		if l.run < soonest {
			continue
		}
		if read := p.reads(&p.looks[i+1]); read < lowest {
			lowest, anchor = read, i+1
		}
	}
	if anchor < 0 || lowest > mostN {
		return nil, false
	}
	rest := make([]bool, len(p.looks))
	rest[anchor] = true
	p.walk(rest, anchor, 1)
	p.walk(rest, anchor, -1)
	if lowest > offsetsN && !p.comesBack(rest) {
		return nil, false
	}
	return p.knots(rest), slices.Contains(rest[:min(2, len(rest))], true)
}

// walk goes from a window that was unloaded, forward or back, and marks all
// others that were.
func (p *past) walk(rest []bool, from, step int) {
	zero := &p.looks[from]
	resting, peak, lowest := true, 0.0, 0.0
	for i := from + step; i >= 0 && i < len(p.looks); i += step {
		l := &p.looks[i]
		if resting && l.run > 0 && math.Abs(p.rise(l, zero)) <= levelN {
			rest[i], zero = true, l
			continue
		}
		if resting {
			resting, peak, lowest = false, 0, math.Inf(1)
		}
		if math.Abs(l.from-p.looks[i-step].from) > goneS {
			peak, lowest = math.Inf(1), math.Inf(1)
		}
		peak = max(peak, l.high-zero.high)
		last := p.last(i, step)
		n := 1 + (last-i)*step
		if l.run == 0 || n < 2 {
			continue
		}
		over := p.rise(l, zero)
		switch {
		case over <= quietN, over <= min(reachN, peak/2, lowest-quietN) && !p.fallsOn(last, step):
			rest[i], zero, resting = true, l, true
		case n >= soonest:
			for ; i != last; i += step {
				peak = max(peak, p.looks[i].high-zero.high)
			}
			lowest = min(lowest, over, p.rise(&p.looks[last], zero))
		}
	}
}

// last returns the last of the windows that lie level with the i-th, in the direction of step.
func (p *past) last(i, step int) int {
	if step > 0 {
		return i + max(0, p.looks[i].run-1)
	}
	for i > 0 && p.looks[i].run > 0 && p.looks[i-1].run == p.looks[i].run+1 {
		i--
	}
	return i
}

// fallsOn says whether the load goes down from the level of the i-th window, in
// the direction of step, without having risen before.
func (p *past) fallsOn(i, step int) bool {
	from := &p.looks[i]
	for j := i + step; j >= 0 && j < len(p.looks); j += step {
		l := &p.looks[j]
		if l.high > from.high+quietN {
			return false
		}
		last := p.last(j, step)
		if l.run == 0 || (last-j)*step < 1 {
			continue
		}
		if p.rise(l, from) < -quietN {
			return true
		}
		from, j = &p.looks[last], last
	}
	return false
}

// comesBack says whether load rises from where the strip was at rest and comes
// back, and is livelier in between than a weight that lies still.
func (p *past) comesBack(rest []bool) bool {
	var quiet, loaded []float64
	var zero *look
	rises, up := 0, false
	for i := range p.looks {
		l := &p.looks[i]
		switch {
		case rest[i]:
			if up {
				rises++
			}
			zero, up = l, false
			quiet = append(quiet, l.span)
		case zero != nil && l.high > zero.high+LoadFloorN:
			up = true
			loaded = append(loaded, l.span)
		}
	}
	if rises == 0 {
		return false
	}
	slices.Sort(quiet)
	slices.Sort(loaded)
	return loaded[len(loaded)/2] > livelier*quiet[len(quiet)/2]
}

// knots are the windows at rest, but for those beside a load, which may hold the
// first and last newtons of it. Where there are none but those, as between steps,
// it is the lowest of them.
func (p *past) knots(rest []bool) (at []int) {
	for first := 0; first < len(rest); first++ {
		if !rest[first] {
			continue
		}
		end := first
		for end < len(rest) && rest[end] {
			end++
		}
		from, to := first, end
		if from > 0 {
			from++
		}
		if to < len(rest) {
			to--
		}
		if from >= to {
			from = first
			for i := first + 1; i < end; i++ {
				if p.rise(&p.looks[i], &p.looks[from]) < 0 {
					from = i
				}
			}
			to = from + 1
		}
		for i := from; i < to; i++ {
			// A clock that starts again may go back.
			if n := len(at); n == 0 || p.looks[i].middle() > p.looks[at[n-1]].middle() {
				at = append(at, i)
			}
		}
		first = end
	}
	return at
}

// track makes zeros of windows.
func (p *past) track(at []int) []Zero {
	track := make([]Zero, len(at))
	for i, k := range at {
		l := &p.looks[k]
		track[i] = Zero{T: l.middle(), Level: make([]float64, len(p.weights))}
		for k, m := range l.mean {
			track[i].Level[k] = float64(m)
		}
	}
	return track
}

func (l *look) middle() float64 { return (l.from + l.to) / 2 }

// strays says whether the zeros that were in force are off the straight lines
// between the windows at.
func (p *past) strays(at []int) bool {
	read := func(i int) float64 { return p.reads(&p.looks[at[i]]) }
	next := 0
	before, after := read(0), read(0)
	for i := range p.looks {
		l := &p.looks[i]
		for next < len(at) && at[next] <= i {
			before, next = read(next), next+1
			after = before
			if next < len(at) {
				after = read(next)
			}
		}
		want := before
		if next > 0 && next < len(at) {
			from, to := p.looks[at[next-1]].middle(), p.looks[at[next]].middle()
			want += (l.middle() - from) / (to - from) * (after - before)
		}
		if math.Abs(l.used+p.moved-want) > strayN {
			return true
		}
	}
	return false
}

// between sets level to the zero at t on a track, the straight line between the
// two beside it, and beyond its ends that of the end.
func between(level []float64, track []Zero, t float64) {
	i := after(track, t)
	a := track[max(0, i-1)]
	copy(level, a.Level)
	if i == 0 || i == len(track) {
		return
	}
	b := track[i]
	share := (t - a.T) / (b.T - a.T)
	for k := range level {
		level[k] += share * (b.Level[k] - a.Level[k])
	}
}
