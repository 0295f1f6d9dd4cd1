package sim

import (
	"math"
	"math/rand/v2"
	"slices"

	"aplomb/device"
	"aplomb/device/platform"
)

// Dancer describes the dancer and her rises.
type Dancer struct {
	MassKG    float64 // body mass, carried by both feet together
	LeftShare float64 // of the load on the left foot while both are up, on average, 0 to 1
	Rises     int     // number of rises, aborted ones included; 0 for an endless number
	Aborted   []int   // the rises, counted from 1, that never settle
	SwaySD    float64 // of the centre of pressure during a hold, along each axis, mm
	LoadSD    float64 // of the load during a hold, as a fraction of it
}

// DefaultDancer returns a dancer of 55 kg who rises without end.
func DefaultDancer() Dancer {
	return Dancer{MassKG: 55, LeftShare: 0.5, SwaySD: 0.5, LoadSD: 0.02}
}

// Stand describes where the load of a foot acts on the platform of its shoe.
type Stand struct {
	CoPMM     platform.Point // mean, [medial, over], mm
	ScatterSD float64        // from one relevé to the next, along each axis, mm
}

// DefaultLeadInS is the time for which the strips are unloaded before the first load, s.
const DefaultLeadInS = 2.0

const (
	leadOut = 2.0 // s after the last rise, and after the last press
	// approach is the offset over of the load at the beginning of a rise from its place
	// in the hold, mm: a dancer rises over the back edge.
	approach = -3.0
)

// rise is one relevé of both feet.
type rise struct {
	aborted bool
	end     float64 // time at which both feet are down again, s
	feet    [2]footRise
}

// footRise is one foot in a rise. Times are in s from the first frame.
type footRise struct {
	start              float64
	up, hold, down     float64
	level              float64 // N
	overshoot          float64 // peak above the level just after the rise, as a fraction of it
	swing, swingPeriod float64 // amplitude of a load that never settles, as a fraction of the level; its period, s
	cop                platform.Point

	heldFrom, heldTo float64 // between these the load is within 15 % of its level
}

// dance generates the rises one after the other when they are needed.
type dance struct {
	dancer     Dancer
	stands     [2]Stand   // in this recording
	loadFactor [2]float64 // by which the load of this recording is multiplied
	rng        *rand.Rand
	begin      float64 // time of the first rise, s
	rises      []rise
	last       float64 // end of the pad presses after the last rise, s; 0 where there are none
}

// rise returns the i-th rise, false where there is none.
func (d *dance) rise(i int) (*rise, bool) {
	if d.dancer.Rises > 0 && i >= d.dancer.Rises {
		return nil, false
	}
	for i >= len(d.rises) {
		d.rises = append(d.rises, d.draw())
	}
	return &d.rises[i], true
}

// end returns the time of rest after the last of the rises generated so far and the pad
// presses that follow the last of all, s.
func (d *dance) end() float64 {
	if len(d.rises) == 0 {
		return d.begin
	}
	return max(d.rises[len(d.rises)-1].end, d.last) + leadOut
}

// draw generates the next rise.
func (d *dance) draw() rise {
	g := d.rng
	n := len(d.rises) + 1
	start := d.begin
	if n > 1 {
		start = d.rises[n-2].end + uniform(g, 1.5, 2.5)
	}
	r := rise{aborted: slices.Contains(d.dancer.Aborted, n)}
	both := footRise{
		start: start,
		up:    uniform(g, 0.3, 0.6), hold: uniform(g, 2.5, 4), down: uniform(g, 0.25, 0.5),
		overshoot: uniform(g, 0.02, 0.08),
	}
	level := 1 + 0.01*g.NormFloat64()
	if r.aborted {
		level = both.abort(g)
	}
	share := d.dancer.LeftShare + 0.015*g.NormFloat64()
	shares := [2]float64{share, 1 - share}
	for k := range r.feet {
		p := both
		p.start += min(0.06, max(-0.06, 0.02*g.NormFloat64()))
		p.up *= uniform(g, 0.95, 1.05)
		p.level = d.dancer.MassKG * device.StandardGravity * level * min(1, max(0, shares[k])) * d.loadFactor[k]
		for axis := range p.cop {
			p.cop[axis] = d.stands[k].CoPMM[axis] + d.stands[k].ScatterSD*g.NormFloat64()
		}
		p.heldFrom = p.start + p.up*smoothAt(0.85)
		p.heldTo = p.start + p.up + p.hold + p.down*smoothAt(0.15)
		r.feet[k] = p
		r.end = max(r.end, p.end())
	}
	return r
}

// abort makes a rise one that never settles and returns its load as a fraction of the
// dancer's weight: they come down again at once, or the load keeps oscillating.
func (p *footRise) abort(g *rand.Rand) (level float64) {
	p.overshoot = 0
	if g.IntN(2) == 0 {
		p.hold, p.down = uniform(g, 0, 0.1), uniform(g, 0.25, 0.35)
		return uniform(g, 0.6, 0.95)
	}
	p.swing, p.swingPeriod = uniform(g, 0.45, 0.6), uniform(g, 0.4, 0.55)
	p.hold = p.swingPeriod * float64(2+g.IntN(3))
	return uniform(g, 0.6, 0.8)
}

func (p *footRise) end() float64 { return p.start + p.up + p.hold + p.down }

// settleS is the time for which the load exceeds its level after the rise, s.
const settleS = 0.4

// load returns the load at t as a fraction of the level, without the random part.
func (p *footRise) load(t float64) float64 {
	t -= p.start
	if t <= 0 {
		return 0
	}
	if t < p.up {
		return smooth(t / p.up)
	}
	t -= p.up
	f := 1.0
	if p.swing > 0 {
		f += p.swing * math.Sin(2*math.Pi*min(t, p.hold)/p.swingPeriod)
	} else if t < settleS {
		y := 2*t/settleS - 1
		f += p.overshoot * (1 - y*y) * (1 - y*y)
	}
	if t > p.hold {
		f *= 1 - smooth(min(1, (t-p.hold)/p.down))
	}
	return f
}

// onset returns when the load passes 10 % of its level on the way up, s, and over when it
// passes 7 % on the way down.
func (p *footRise) onset() float64 { return p.start + p.up*smoothAt(0.10) }
func (p *footRise) over() float64  { return p.start + p.up + p.hold + p.down*smoothAt(0.93) }

// smooth goes from 0 to 1 as x does, with the least jerk, as limbs move (Flash & Hogan,
// Journal of Neuroscience 5 (1985) 1688-1703).
func smooth(x float64) float64 { return x * x * x * (10 - 15*x + 6*x*x) }

// smoothAt returns the x at which smooth is y.
func smoothAt(y float64) float64 {
	lo, hi := 0.0, 1.0
	for range 50 {
		if mid := (lo + hi) / 2; smooth(mid) < y {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

// footMotion is the load of one foot as a function of time.
type footMotion struct {
	dance        *dance
	foot         device.Foot
	region       safeRegion
	now          int // index of the present or next rise
	medial, over *pinkNoise
	load         *pinkNoise
}

// at returns the load in N at t seconds, where it acts, and the rise that it belongs to; no
// load between rises. Times must not decrease from call to call.
func (m *footMotion) at(t float64) (loadN float64, cop platform.Point, r *rise) {
	r, ok := m.dance.rise(m.now)
	for ok && t >= r.feet[m.foot].end() {
		m.now++
		r, ok = m.dance.rise(m.now)
	}
	if !ok || t <= r.feet[m.foot].start {
		return 0, cop, nil
	}
	p := &r.feet[m.foot]
	f := p.load(t)
	cop = platform.Point{p.cop[0] + m.medial.at(t), p.cop[1] + m.over.at(t) + approach*max(0, 1-f)}
	return p.level * f * max(0, 1+m.load.at(t)), m.region.clamp(cop), r
}

// safeRegion is the part of a platform in which a dancer keeps the load: maxReach of the
// distance from the middle to the outline.
type safeRegion struct {
	outline platform.Polygon
	near    float64 // distance from the middle within which every point is in the region, mm
}

// maxReach is the share of the way from the middle to the outline that the load may go.
const maxReach = 0.9

func newSafeRegion(outline platform.Polygon) safeRegion {
	return safeRegion{outline, maxReach * outline.EdgeDistance(platform.Point{})}
}

// clamp moves a point outside the region towards the middle, on to its edge.
func (e safeRegion) clamp(q platform.Point) platform.Point {
	l := math.Sqrt(q[0]*q[0] + q[1]*q[1])
	if l <= e.near {
		return q
	}
	if far := maxReach * e.outline.Reach(q); l > far {
		return platform.Point{q[0] * far / l, q[1] * far / l}
	}
	return q
}
