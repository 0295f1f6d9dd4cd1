// Package clock converts the time of a strip's clock to that of the host.
//
// For each frame two times are known: when it was measured by the strip's clock, and when
// its last byte arrived by the host's. Frames are delayed, by milliseconds in bursts and
// by more when the host is busy, but they never arrive before they are sent. The true
// relation of the clocks therefore lies below all arrivals, and close to the earliest of
// them.
//
// A straight line below all arrivals would be right for a clock of constant rate (Moon,
// Skelly & Towsley, Estimation and removal of clock skew from network delay measurements,
// IEEE INFOCOM 1999, 227-234). The rate of a crystal changes by some 2 ppm a minute,
// which in an hour adds up to 50 ms. Therefore this package uses a curve: an arrival is
// left out where it lies above the line between an earlier and a later one by more than a
// change of rate by 1 ppm a second explains. The remaining arrivals, few of which were
// delayed, are the corners of the curve, which is straight between them. It is a convex
// hull that may also bend slightly the other way. It needs no windows and no assumption
// on delays, an outlier has no effect, and a corner does not change once later ones
// confirm it, so that a frame takes constant time.
//
// All of the first and of the last frames may be delayed, and there are no other frames
// beyond them. There the curve continues at its mean rate over the neighbouring half
// minute.
//
// The following is not known:
//
//   - The shortest delay. The curve is late by it: by the transmission time of a
//     packet, which the caller can subtract from each arrival, and by the smallest
//     delay of converter, USB adapter and host. Where both feet have the same
//     hardware the latter cancels between left and right.
//   - The times of the cells within a scan. A frame has one time, the middle of its
//     scan by the strip's clock.
//   - The time for which the last frame of a batch has waited, where frames and
//     batches are synchronous. At 200 frames a second and batches of 16 ms some frame
//     waits less than 1 ms, at 50 or 250 less than 4 ms; but at 62.5 or 125 every
//     frame may wait up to 16 or 8 ms, always the same, until the clocks have drifted
//     past each other by that much.
package clock

import (
	"math"
	"sort"
)

const (
	// maxBend bounds the change of a clock's rate, 1/s. It is thirty times that of a
	// crystal, and enough for a ceramic resonator that warms up. On a usual line it
	// leaves six to eight corners a minute.
	maxBend = 1e-6
	// maxRate bounds the rate error of a clock. It is more than that of any oscillator
	// with which a serial line works. It keeps a backlog that is read at once from
	// looking like a fast clock, and time from standing still.
	maxRate = 0.01
	// blockS is the length of a block by the strip's clock, s. Only the frame with the
	// least delay in a block may become a corner, which bounds the memory.
	blockS = 0.25
	// rateS is the time over which the rate at an end is averaged, s: long compared
	// with delays, short compared with changes of the rate.
	rateS = 30
	// trimShare is the share of that time which is left out at either side.
	trimShare = 0.1
	// minRateS is the shortest time from which a rate is computed, s. Below it the rate
	// from before a restart is used, and at the beginning a rate of 0.
	minRateS = 1
)

// point is a frame: x is its time since the first frame by the strip's clock, s, and y
// the time since the first arrival by the host's clock minus x, s.
type point struct{ x, y float64 }

// rateTo returns the slope from p to q. 1e-6 means that the strip's clock counts 1 µs
// too little in every second.
func (p point) rateTo(q point) float64 { return (q.y - p.y) / (q.x - p.x) }

// segment is the curve between two restarts of the strip.
type segment struct {
	corners  []point
	from, to float64 // x of the first and the last frame
	frames   int
	lowest   point    // the frame of this block with the least delay
	blockEnd float64  // x
	end      straight // continues the curve, as of the last block; at first it has the rate of the segment before
}

// add adds a frame. Frames come in order of x.
func (p *segment) add(x, y float64) {
	if p.frames == 0 {
		p.from, p.to = x, x
	}
	p.to = max(p.to, x) // time does not run backwards
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

// liveLine returns the line that continues the curve. The current block is used only
// to keep it below every frame.
func (p *segment) liveLine() straight {
	l := p.end
	if len(p.corners) == 0 {
		l.through = p.lowest
	}
	l.stayBelow(p.lowest)
	return l
}

// addCorner makes q the last corner and removes the corners that q shows to have been
// delayed.
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

// at returns the curve at x. Beyond the corners it continues the first or last line.
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

// straight is the line of a clock of constant rate.
type straight struct {
	through point
	rate    float64
}

func (l straight) at(x float64) float64 { return l.through.y + l.rate*(x-l.through.x) }

// host returns the host's time at x, s since the first frame arrived.
func (l straight) host(x float64) float64 {
	return l.through.x + l.through.y + (1+l.rate)*(x-l.through.x)
}

// stayBelow moves the line down to q where q lies below it.
func (l *straight) stayBelow(q point) {
	if q.y < l.at(q.x) {
		l.through = q
	}
}

// secant returns the line through the curve at x whose slope is the mean rate from there
// to the curve at other.
func (p *segment) secant(x, other float64) straight {
	through := point{x, p.at(x)}
	return straight{through, through.rateTo(point{other, p.at(other)})}
}

// rateInterval returns, for both ends of the segment, the distance from the end up to
// which the curve is not used, near, and the distance up to which its rate is averaged,
// far, s. ok is false where the segment is too short.
func (p *segment) rateInterval() (near, far float64, ok bool) {
	long := p.to - p.from
	base := min(long, rateS)
	return trimShare * base, (1 - trimShare) * base, long >= minRateS
}

// endLine returns the line that continues the curve after its last corner.
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

// constantRate returns the line below all corners with the rate known from before.
func (p *segment) constantRate() straight {
	l := straight{p.corners[0], p.end.rate}
	for _, c := range p.corners {
		l.stayBelow(c)
	}
	return l
}

// dropOldCorners drops the corners that no longer affect the end of the curve.
func (p *segment) dropOldCorners() {
	n := 0
	for n+1 < len(p.corners) && p.corners[n+1].x < p.to-rateS {
		n++
	}
	p.corners = append(p.corners[:0], p.corners[n:]...)
}

// afterRestart returns the segment after a restart of the strip, with the rate so far.
func (p *segment) afterRestart() segment { return segment{end: straight{rate: p.end.rate}} }

// origin is the time and the arrival of the first frame.
type origin struct {
	us    uint64
	ns    int64
	known bool
}

// point returns a frame relative to the first one.
func (o *origin) point(tUS uint64, arrivalNS int64) (x, y float64) {
	if !o.known {
		*o = origin{tUS, arrivalNS, true}
	}
	x = o.seconds(tUS)
	return x, float64(arrivalNS-o.ns)/1e9 - x
}

func (o *origin) seconds(tUS uint64) float64 { return float64(int64(tUS-o.us)) / 1e6 }

// host returns the host's time a number of seconds after the first frame arrived, ns
// since 1970.
func (o *origin) host(after float64) float64 {
	if !o.known {
		return math.NaN()
	}
	return float64(o.ns) + 1e9*after
}
