// Package clock maps the clock of a strip to that of the host.
//
// All that is known is when each frame was measured by the strip's clock and
// when its last byte arrived by the host's. Frames come late, by milliseconds
// in bursts and by more when the host is busy, but never early. So the truth
// lies below every arrival, and near the lowest of them.
//
// A straight line below all arrivals (Moon, Skelly & Towsley, Estimation and
// removal of clock skew from network delay measurements, IEEE INFOCOM 1999,
// 227-234; title and pages from memory) would do for a clock of constant rate.
// Crystals wander by some 2 ppm a minute, which over an hour takes them 50 ms
// from such a line. So this is the same idea for a rate that changes: an arrival
// is left out where it lies above the line between an earlier and a later one by
// more than a change of rate by 1 ppm a second would explain. What is left are
// the corners of the curve, seldom a frame that waited, and between them it is
// straight. That is a convex hull with room to bend the other way. It needs no
// windows and no guess of how late frames may be, an outlier changes nothing,
// and a corner once passed stays, so that frames cost constant time.
//
// The first and the last frames have no others on their far side, and may all
// be late. There the curve goes on at its mean rate of the half minute before.
//
// What cannot be known:
//
//   - The shortest delay. It stays in the curve, which is late by it: the time a
//     packet takes on the line, which the caller can take off each arrival,
//     and what the converter, the USB adapter and the host add at best. Left
//     against right the latter cancels where both feet have the same hardware.
//   - The scan. A frame has one time, the middle of its scan by the strip's
//     clock, whenever each cell was really read.
//   - How long the last frame of a batch has waited, where frames and batches
//     keep step. At 200 frames a second and batches of 16 ms some frame waits less
//     than 1 ms, at 50 or 250 less than 4 ms, but at 62.5 or 125 each of them may
//     wait up to 16 or 8 ms, always the same, until the clocks have drifted
//     past each other by that much.
package clock

import (
	"math"
	"sort"
)

const (
	// maxBend is by how much the rate of a clock may change, per second: thirty
	// times the wander of a crystal, and enough for a resonator that warms up. On
	// a line as they are it leaves six to eight corners a minute.
	maxBend = 1e-6
	// maxRate is more than any oscillator is off with which a serial line still
	// works. It keeps a backlog that was read at once from looking like a fast
	// clock, and time from standing still.
	maxRate = 0.01
	// blockS is of how many seconds only the frame that waited least, by the
	// strip's own clock, may become a corner, s. It bounds the memory.
	blockS = 0.25
	// baseS is over how long the rate at an end is taken, s: long against
	// whatever makes frames late, short against the wander.
	rateS = 30
	// trimmings is which part of that, at either side, is not believed.
	trimShare = 0.1
	// shortS is the shortest time that has a rate of its own, s. Below it that
	// from before a restart is taken, and at first the clocks are presumed to run alike.
	minRateS = 1
)

// point is a frame: x is its strip time since the first frame, s, and y how
// much longer than x it took to arrive, s.
type point struct{ x, y float64 }

// rateTo is the rate of a clock that goes through both; 1e-6 is 1 µs that the
// strip's counts too little for every second.
func (p point) rateTo(q point) float64 { return (q.y - p.y) / (q.x - p.x) }

// piece is the curve of a clock that has run without starting again.
type segment struct {
	corners  []point
	from, to float64 // x of the first and the last frame
	frames   int
	lowest   point    // the frame of this block that waited least
	blockEnd float64  // x
	end      straight // on which the curve goes on, as of the last block; at first its rate is that of the piece before
}

func (p *segment) add(x, y float64) {
	if p.frames == 0 {
		p.from, p.to = x, x
	}
	p.to = max(p.to, x) // never back
	now := point{p.to, y}
	switch {
	case p.frames == 0 || p.to >= p.blockEnd:
		if p.frames > 0 {
			p.addCorner(p.lowest)
			p.end = p.endLine()
		}
		p.lowest, p.blockEnd = now, p.to+blockS
	case y < p.lowest.y:
		p.lowest = now
	}
	p.frames++
}

// now is the line on which the curve goes on. The block that is not over counts
// only in that no frame comes early.
func (p *segment) liveLine() straight {
	l := p.end
	if len(p.corners) == 0 {
		l.through = p.lowest
	}
	l.stayBelow(p.lowest)
	return l
}

// push makes q the last corner and drops those that it shows to be late.
func (p *segment) addCorner(q point) {
	n := len(p.corners)
	for n > 0 && p.corners[n-1].y > q.y+maxRate*(q.x-p.corners[n-1].x) {
		n--
	}
	if n > 0 {
		q.y = min(q.y, p.corners[n-1].y+maxRate*(q.x-p.corners[n-1].x))
	}
	for ; n >= 2; n-- {
		a, b := p.corners[n-2], p.corners[n-1]
		above := b.y - a.y - a.rateTo(q)*(b.x-a.x)
		if above < maxBend/2*(b.x-a.x)*(q.x-b.x) {
			break
		}
	}
	p.corners = append(p.corners[:n], q)
}

// at is the height of the curve at x, and of its first and last edge beyond them.
func (p *segment) at(x float64) float64 {
	n := len(p.corners)
	if n == 1 {
		return p.corners[0].y + p.end.rate*(x-p.corners[0].x)
	}
	i := sort.Search(n, func(i int) bool { return p.corners[i].x >= x })
	i = max(1, min(i, n-1))
	a, b := p.corners[i-1], p.corners[i]
	return a.y + a.rateTo(b)*(x-a.x)
}

// line is a clock that runs evenly.
type straight struct {
	through point
	rate    float64
}

func (l straight) at(x float64) float64 { return l.through.y + l.rate*(x-l.through.x) }

// host is the host's time at x, s since the first frame arrived.
func (l straight) host(x float64) float64 {
	return l.through.x + l.through.y + (1+l.rate)*(x-l.through.x)
}

// stayBelow lowers l to q where that lies below it.
func (l *straight) stayBelow(q point) {
	if q.y < l.at(q.x) {
		l.through = q
	}
}

// secant is the line through the curve at x with its mean rate from there to another place.
func (p *segment) secant(x, other float64) straight {
	through := point{x, p.at(x)}
	return straight{through, through.rateTo(point{other, p.at(other)})}
}

// base is how far from an end the curve is believed, and from where to where its
// rate is taken; ok is false where the piece is too short for that.
func (p *segment) rateInterval() (near, far float64, ok bool) {
	long := p.to - p.from
	base := min(long, rateS)
	return trimShare * base, (1 - trimShare) * base, long >= minRateS
}

// last is the line on which the curve goes on behind its last corner.
func (p *segment) endLine() straight {
	near, far, ok := p.rateInterval()
	if !ok {
		return p.constantRate()
	}
	l := p.secant(p.to-near, p.to-far)
	for i := len(p.corners) - 1; i >= 0 && p.corners[i].x > p.to-near; i-- {
		l.stayBelow(p.corners[i])
	}
	return l
}

// even is the line below all corners that has the rate known from before.
func (p *segment) constantRate() straight {
	l := straight{p.corners[0], p.end.rate}
	for _, c := range p.corners {
		l.stayBelow(c)
	}
	return l
}

// forget drops the corners that no longer matter to the end.
func (p *segment) dropOldCorners() {
	n := 0
	for n+1 < len(p.corners) && p.corners[n+1].x < p.to-rateS {
		n++
	}
	p.corners = append(p.corners[:0], p.corners[n:]...)
}

// next is what follows a strip's starting again.
func (p *segment) afterRestart() segment { return segment{end: straight{rate: p.end.rate}} }

// origin is the first frame.
type origin struct {
	us    uint64
	ns    int64
	known bool
}

func (o *origin) point(tUS uint64, arrivalNS int64) (x, y float64) {
	if !o.known {
		*o = origin{tUS, arrivalNS, true}
	}
	x = o.seconds(tUS)
	return x, float64(arrivalNS-o.ns)/1e9 - x
}

func (o *origin) seconds(tUS uint64) float64 { return float64(int64(tUS-o.us)) / 1e6 }

// host is the host's time so many seconds after the first frame arrived.
func (o *origin) host(after float64) float64 {
	if !o.known {
		return math.NaN()
	}
	return float64(o.ns) + 1e9*after
}
