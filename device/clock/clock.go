// Package clock maps the clock of a strip to that of the host.
//
// All that is known is when each frame was measured by the strip's clock and
// when it arrived by the host's. Frames come late, by milliseconds in bursts
// and by more when the host is busy, but never early. So the arrivals lie above
// a straight line, which is the strip's clock seen by the host with the
// shortest delay, and the best guess is the line below all of them that leaves
// the smallest sum of delays: the linear-programming estimate of clock skew of
// Moon, Skelly & Towsley (Estimation and removal of clock skew from network
// delay measurements, IEEE INFOCOM 1999, 227-234; title and pages from memory).
package clock

import "math"

const (
	// skewSpanUS is the shortest span from which a skew is taken. Below it the
	// clocks are presumed to run alike: at 1 s, 1 ms of delay is 1000 ppm.
	skewSpanUS = 1_000_000
	// maxSkew is more than any oscillator is off with which a serial line still
	// works. It keeps a backlog that was read at once from looking like a fast clock.
	maxSkew = 0.01
	// maxHull bounds the memory.
	maxHull = 1024
)

// Fit is the line, fitted as the frames come. The zero Fit is ready to use. It
// takes constant time a frame on average and holds at most some 1000 points.
//
// The constant part of the delay cannot be known and stays in the line: Host
// is late by the shortest delay of any frame, on a serial line the time its
// bytes take.
type Fit struct {
	firstUS uint64
	firstNS int64
	n       float64
	sumX    float64 // of x, as point has it
	last    point
	// hull is the lower convex hull of the points, in order of x. The line
	// below all points with the smallest sum of distances is the highest one
	// at their mean x, so it touches the hull there.
	hull []point
}

// point is a frame: x is its strip time since the first frame, µs, and y how
// much longer than x it took to arrive, ns.
type point struct{ x, y float64 }

// Add takes a frame measured at tUS of the strip's clock, µs, that arrived at
// arrivalNS of the host's, ns. Frames come in order of tUS.
func (f *Fit) Add(tUS uint64, arrivalNS int64) {
	if f.n == 0 {
		f.firstUS, f.firstNS = tUS, arrivalNS
	}
	x := max(f.last.x, float64(int64(tUS-f.firstUS))) // never back
	p := point{x, float64(arrivalNS-f.firstNS) - 1000*x}
	again := f.n > 0 && x == f.last.x
	f.n++
	f.sumX += x
	if again {
		if p.y >= f.last.y {
			return
		}
		f.hull = f.hull[:len(f.hull)-1]
	}
	f.last = p
	for n := len(f.hull); n >= 2 && slope(f.hull[n-2], f.hull[n-1]) >= slope(f.hull[n-2], p); n-- {
		f.hull = f.hull[:n-1]
	}
	f.hull = append(f.hull, p)
	if len(f.hull) > maxHull {
		f.thin()
	}
}

// thin keeps of the hull points that are evenly apart. Only a clock that keeps
// changing makes so many; the line may then cut off a dropped point by as much
// as the hull bends between two kept ones.
func (f *Fit) thin() {
	apart := f.last.x / (maxHull / 2)
	kept := f.hull[:1]
	for _, p := range f.hull[1 : len(f.hull)-1] {
		if p.x-kept[len(kept)-1].x >= apart {
			kept = append(kept, p)
		}
	}
	f.hull = append(kept, f.last)
}

// Host returns the host's time at tUS of the strip's clock, ns since 1970.
// (A float64 that large counts in steps of 256 ns.) Without frames it is NaN.
func (f *Fit) Host(tUS uint64) float64 {
	if f.n == 0 {
		return math.NaN()
	}
	x := float64(int64(tUS - f.firstUS))
	touch, skew := f.line()
	return float64(f.firstNS) + (1000*x + touch.y + 1000*skew*(x-touch.x))
}

// Skew returns how much slower the strip's clock runs than the host's, as a
// fraction: 1e-6 is 1 µs for every second that the strip counts. It is 0 with
// less than one second of frames.
func (f *Fit) Skew() float64 {
	_, skew := f.line()
	return skew
}

// line returns a point of the line and its slope, as a fraction.
func (f *Fit) line() (touch point, skew float64) {
	if f.last.x >= skewSpanUS {
		mean := f.sumX / f.n
		end := 1 // of the edge over the mean
		for end < len(f.hull)-1 && f.hull[end].x < mean {
			end++
		}
		// The height at the mean is a concave function of the slope, so a slope
		// out of bounds is best replaced by the bound.
		skew = max(-maxSkew, min(maxSkew, slope(f.hull[end-1], f.hull[end])/1000))
	}
	lowest := math.Inf(1)
	for _, p := range f.hull {
		if above := p.y - 1000*skew*p.x; above < lowest {
			touch, lowest = p, above
		}
	}
	return touch, skew
}

// slope from a to b, ns a µs.
func slope(a, b point) float64 { return (b.y - a.y) / (b.x - a.x) }
