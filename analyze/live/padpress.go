package live

import (
	"math"

	"aplomb/device"
	"aplomb/device/platform"
)

// PadPress is the step of a recording in which each platform in turn is pressed on a soft
// pad and rocked, so that its whole outline bears load. It asks for the left platform
// first, and determines from the loads which one is pressed.
//
// It ends when every platform has been pressed, when the user skips the rest, or when
// somebody rises instead of pressing (see PressOutcome).
type PadPress struct {
	asked    []device.Foot // still to be pressed, in order
	outlines [2]platform.Polygon
	inNewton [2]bool // the strip is calibrated, so that a hand's load can be identified

	outcome      PressOutcome
	lastNS       int64   // of Update
	restS        float64 // time since which no platform has been loaded
	unloadedOnce bool    // all platforms have been unloaded for PressRestS at least once
	idleS        float64 // time since a platform was last loaded
	bothS        float64 // time since which both platforms have been loaded
	loads        [2]pressLoad
	wrong        bool // another platform was loaded since the last one was asked for

	// State of the platform that is asked for:
	fromNS, toNS int64 // the loads so far, the present one left out; 0 where there was none
	edges        Edges // seen in them
	loadedS      float64
	dwellS       [edgeCount]float64 // time on each edge, the present load included
	loadings     int                // number of loads so far
	vain         int                // number of these loads after which fewer than leastEdges edges had been loaded
}

// pressLoad is the present load of one platform. Each frame contributes at most
// longestStepS to its times in s.
type pressLoad struct {
	on           bool
	fromNS, toNS int64   // first and last frame of it
	lastedS      float64 // from the first frame to the last
	offS         float64 // time since the load has ceased
	stillS       float64 // time for which the centre of pressure has stayed at still
	still        platform.Point
	heavyS       float64 // time for which the load has exceeded that of a hand
}

// Edge is one of the four edges of a platform.
type Edge int

// The edges, in the order in which they are listed.
const (
	Front Edge = iota
	Back
	BigToe
	LittleToe
	edgeCount = iota
)

// String returns the name of the edge in words.
func (e Edge) String() string {
	return [...]string{"front", "back", "big-toe side", "little-toe side"}[e]
}

// Edges reports which edges of a platform have been loaded, by Edge.
type Edges [edgeCount]bool

// All reports whether every edge has been loaded.
func (e Edges) All() bool { return e.Count() == edgeCount }

// Count returns the number of edges that have been loaded.
func (e Edges) Count() (n int) {
	for _, is := range e {
		if is {
			n++
		}
	}
	return n
}

// Loaded returns the edges that have been loaded.
func (e Edges) Loaded() (loaded []Edge) {
	for i, is := range e {
		if is {
			loaded = append(loaded, Edge(i))
		}
	}
	return loaded
}

// Missing returns the edges that have not been loaded.
func (e Edges) Missing() (missing []Edge) {
	for i, is := range e {
		if !is {
			missing = append(missing, Edge(i))
		}
	}
	return missing
}

// PressOutcome is the way in which a PadPress has ended.
type PressOutcome int

const (
	PressOpen     PressOutcome = iota // it has not ended
	PressDone                         // every platform was pressed and rocked
	PressSkipped                      // a person skipped the rest of it
	PressStoodOn                      // somebody stands on the platforms: load on both, larger than a hand's, or not rocking
	PressTimedOut                     // nothing was pressed for PressLimitS
)

// PressPhase is what a PadPress is waiting for.
type PressPhase int

const (
	PressRest   PressPhase = iota // both platforms without load, for the zeros
	PressAsked                    // a load on the platform that is asked for
	PressRocked                   // more of its edges
	PressLetGo                    // the end of the load: every edge has been loaded
	PressOther                    // the end of a load on the other platform
	PressBoth                     // the end of a load on one of both platforms
)

// PressState is the state of a PadPress.
type PressState struct {
	Outcome PressOutcome
	Phase   PressPhase
	Foot    device.Foot // whose platform is asked for, or was when the step ended
	Edges   Edges       // of it, loaded so far
	Wrong   bool        // another platform was loaded since this one was asked for
}

// Press is one load during a PadPress. Foot is NoFoot for a load that is not used for a
// seat, because another platform was asked for.
type Press struct {
	Foot         device.Foot
	FromNS, ToNS int64 // host clock, ns since 1970
	Edges        Edges // loaded in it; none for NoFoot
}

// PressReading is the input of a PadPress from one foot.
type PressReading struct {
	LoadN float64
	At    platform.Point // centre of pressure, mm; NaN below LoadFloorN
	NS    int64          // arrival of the last frame, ns; 0 before the first
}

// Limits of a pad press. All are our assumptions; TestPressShowsTheSeat and
// TestPressIsDistinguishedFromReleves show their effect.
const (
	// PressRestS is the time without load before a press is asked for, s.
	PressRestS = 1
	// PressLimitS is the time without any load after which a press is no longer
	// asked for, s.
	PressLimitS = 120
	// edgeReach is the part of the distance from the centroid to the outline beyond which
	// a centre of pressure loads the edge in that direction. It is small because the
	// strip may lie some millimetres from where its profile says.
	edgeReach = 0.3
	// edgeS is the time on an edge after which it counts as loaded, s.
	edgeS = 0.1
	// leastPressS is the least time under load, s.
	leastPressS = 1
	// settleS is the time after which a load is a press, and its absence the end of it, s.
	settleS = 0.2
	// knockS is the shortest load that may be taken for a relevé, s (see releve.Find).
	knockS = 0.1
	// longestStepS is the longest time that one frame represents, s. A longer pause does
	// not show how the load continued.
	longestStepS = 0.1
	// staleS is the time without frames after which the load of a foot is not known, s.
	staleS = 0.5
	// otherShare is the largest share of the larger load that the other platform bears
	// without counting as loaded.
	otherShare = 0.25
	// bothS is the time under load of both platforms after which somebody is assumed to
	// stand on them, s.
	bothS = 1
	// handN is a load that a hand does not reach for heavyS, N. It applies to calibrated
	// strips.
	handN, heavyS = 250, 0.5
	// stillMM is the distance within which the centre of pressure of somebody who
	// stands stays, mm: for stillS with a load of at least stillN where the strip is
	// calibrated, for stillAnyS with any load where it is not.
	stillMM, stillN, stillS, stillAnyS = 3, 170, 1.5, 2.5
	// vainLoads is the number of loads with fewer than leastEdges edges after which
	// they are taken for relevés, where the strip is not calibrated.
	vainLoads, leastEdges = 3, 2
	// mostLoads is the number of loads of a platform after which they are taken for
	// relevés where an edge is still missing.
	mostLoads = 8
)

// NewPadPress returns the step for the feet that a recording with this metadata has.
func NewPadPress(m *device.Metadata) *PadPress {
	p := &PadPress{}
	for _, f := range device.Feet {
		if side := m.Sides[f]; side != nil {
			p.asked = append(p.asked, f)
			p.outlines[f] = side.Shoe.Outline()
			p.inNewton[f] = side.Strip.Calibration.Measured()
		}
	}
	return p
}

// State returns the present state.
func (p *PadPress) State() PressState {
	s := PressState{Outcome: p.outcome, Wrong: p.wrong}
	if len(p.asked) == 0 {
		return s
	}
	f := p.asked[0]
	s.Foot, s.Edges = f, p.seen()
	if p.outcome != PressOpen {
		return s
	}
	on, other := p.loads[f].lastedS >= settleS, p.loads[f.Other()].lastedS >= settleS
	switch {
	case on && other:
		s.Phase = PressBoth
	case other && p.unloadedOnce:
		s.Phase = PressOther
	case !p.unloadedOnce:
		s.Phase = PressRest
	case (on || p.fromNS != 0) && s.Edges.All() && p.underLoad() >= leastPressS:
		s.Phase = PressLetGo
	case on || p.fromNS != 0:
		s.Phase = PressRocked
	default:
		s.Phase = PressAsked
	}
	return s
}

// seen returns the edges of the requested platform that have been loaded so far.
func (p *PadPress) seen() (e Edges) {
	for i, s := range p.dwellS {
		e[i] = s >= edgeS
	}
	return e
}

// underLoad returns the time for which the requested platform has been loaded, s.
func (p *PadPress) underLoad() float64 { return p.loadedS + p.loads[p.asked[0]].lastedS }

// Update takes the readings of both feet, by device.Foot, at the arrival of a frame,
// ns. It returns the loads that have turned out to be presses. After the outcome it
// does nothing.
func (p *PadPress) Update(ns int64, feet [2]PressReading) (made []Press) {
	if p.outcome != PressOpen {
		return nil
	}
	if len(p.asked) == 0 {
		p.outcome = PressDone
		return nil
	}
	step := 0.0
	if p.lastNS != 0 {
		step = max(0, min(float64(ns-p.lastNS)/1e9, longestStepS))
	}
	p.lastNS = ns
	p.idleS += step
	most := max(feet[device.Left].LoadN, feet[device.Right].LoadN)
	known := true
	for _, f := range device.Feet {
		if p.outlines[f] == nil {
			continue
		}
		r := feet[f]
		if float64(ns-r.NS)/1e9 > staleS {
			known = false
			continue
		}
		l := &p.loads[f]
		switch {
		case r.LoadN >= LoadFloorN && r.LoadN >= otherShare*most:
			p.load(f, ns, r, step)
			continue
		case l.on:
			l.offS += step
		}
		if l.on && l.offS >= settleS {
			made = append(made, p.unload(f)...)
			if p.outcome != PressOpen || len(p.asked) == 0 {
				return made
			}
		}
	}
	f := p.asked[0]
	p.rest(step, known)
	if l := &p.loads[f]; l.on && l.offS == 0 && l.toNS == ns && !p.loads[f.Other()].on && p.unloadedOnce {
		p.dwell(f, feet[f].At, step)
	}
	switch {
	case p.stood(ns):
		return append(made, p.end(PressStoodOn)...)
	case p.idleS >= PressLimitS:
		return append(made, p.end(PressTimedOut)...)
	}
	return made
}

// load adds a frame with load on a platform, step after the frame before, s.
func (p *PadPress) load(f device.Foot, ns int64, r PressReading, step float64) {
	l := &p.loads[f]
	if !l.on {
		*l = pressLoad{on: true, fromNS: ns, still: r.At}
		step = 0
	}
	l.toNS, p.idleS = ns, 0
	l.lastedS, l.offS = l.lastedS+l.offS+step, 0
	if l.stillS += step; !(math.Hypot(r.At[0]-l.still[0], r.At[1]-l.still[1]) <= stillMM) || p.inNewton[f] && r.LoadN < stillN {
		l.stillS, l.still = 0, r.At
	}
	if l.heavyS += step; !p.inNewton[f] || r.LoadN < handN {
		l.heavyS = 0
	}
}

// unload ends the present load of a platform and returns the presses that it consists of.
func (p *PadPress) unload(f device.Foot) []Press {
	l := p.loads[f]
	p.loads[f] = pressLoad{}
	switch {
	case l.lastedS < knockS:
		return nil // too short for a relevé
	case !p.unloadedOnce || f != p.asked[0]:
		p.wrong = p.wrong || p.unloadedOnce
		return []Press{{Foot: device.NoFoot, FromNS: l.fromNS, ToNS: l.toNS}}
	}
	if p.fromNS == 0 {
		p.fromNS = l.fromNS
	}
	p.toNS, p.edges = l.toNS, p.seen()
	p.loadedS += l.lastedS
	p.loadings++
	if !p.inNewton[f] && p.edges.Count() < leastEdges {
		p.vain++
	}
	switch done := p.edges.All() && p.loadedS >= leastPressS; {
	case !done && (p.vain >= vainLoads || p.loadings >= mostLoads):
		p.fromNS = 0 // they may be relevés
		return p.end(PressStoodOn)
	case !done:
		return nil
	}
	made := p.pressed()
	p.asked = p.asked[1:]
	p.fromNS, p.toNS, p.edges, p.loadedS, p.dwellS = 0, 0, Edges{}, 0, [edgeCount]float64{}
	p.loadings, p.vain = 0, 0
	p.wrong = false
	if len(p.asked) == 0 {
		p.outcome = PressDone
	}
	return made
}

// pressed returns the press of the requested platform so far: none where too few of its
// edges have been loaded.
func (p *PadPress) pressed() []Press {
	if p.fromNS == 0 || p.edges.Count() < leastEdges {
		return nil
	}
	return []Press{{Foot: p.asked[0], FromNS: p.fromNS, ToNS: p.toNS, Edges: p.edges}}
}

// rest updates the times for which the platforms have been unloaded, and both loaded.
func (p *PadPress) rest(step float64, known bool) {
	left, right := p.loads[device.Left].on, p.loads[device.Right].on
	if p.restS += step; !known || left || right {
		p.restS = 0
	}
	p.unloadedOnce = p.unloadedOnce || p.restS >= PressRestS
	if p.bothS += step; !left || !right {
		p.bothS = 0
	}
}

// dwell adds a time, s, to the edge loaded by a centre of pressure.
func (p *PadPress) dwell(f device.Foot, at platform.Point, s float64) {
	if e, ok := edgeAt(p.outlines[f], at); ok {
		p.dwellS[e] += s
	}
}

// edgeAt returns the edge of an outline on which a load at a point, mm, acts: within
// 22.5° of its middle when the outline is scaled to be as wide as deep. ok is false near
// the centroid and at the corners.
func edgeAt(outline platform.Polygon, at platform.Point) (e Edge, ok bool) {
	r := math.Hypot(at[0], at[1])
	if !(r > 0) || r < edgeReach*outline.Reach(at) {
		return 0, false
	}
	lo, hi := outline.Bounds()
	m, o := at[0]/(hi[0]-lo[0]), at[1]/(hi[1]-lo[1])
	switch half := math.Tan(math.Pi / 8); {
	case math.Abs(m) <= half*math.Abs(o) && o > 0:
		return Front, true
	case math.Abs(m) <= half*math.Abs(o):
		return Back, true
	case math.Abs(o) <= half*math.Abs(m) && m > 0:
		return BigToe, true
	case math.Abs(o) <= half*math.Abs(m):
		return LittleToe, true
	}
	return 0, false
}

// stood reports whether somebody stands on the platforms rather than presses them.
func (p *PadPress) stood(ns int64) bool {
	if p.bothS >= bothS {
		return true
	}
	for f, l := range p.loads {
		long := stillAnyS
		if p.inNewton[f] {
			long = stillS
		}
		if l.on && l.toNS == ns && (l.heavyS >= heavyS || l.stillS >= long) {
			return true
		}
	}
	return false
}

// end ends the step and returns the press of the requested platform, without the present
// load.
func (p *PadPress) end(o PressOutcome) []Press {
	p.outcome = o
	return p.pressed()
}

// Remaining returns the feet whose platforms have not been pressed to the end.
func (p *PadPress) Remaining() []device.Foot { return p.asked }

// Skip ends the step at the user's request. It returns the loads so far: as a press where
// at least two edges were loaded, else as one without use for a seat.
func (p *PadPress) Skip() []Press {
	if p.outcome != PressOpen || len(p.asked) == 0 {
		return nil
	}
	f := p.asked[0]
	made := p.takePresent()
	if p.fromNS != 0 {
		one := Press{Foot: f, FromNS: p.fromNS, ToNS: p.toNS, Edges: p.edges}
		if p.edges.Count() < leastEdges {
			one.Foot, one.Edges = device.NoFoot, Edges{}
		}
		made = append(made, one)
	}
	p.outcome = PressSkipped
	return made
}

// takePresent adds the present load of the requested platform to its press, and returns
// that of the other platform.
func (p *PadPress) takePresent() (made []Press) {
	f := p.asked[0]
	if l := p.loads[f]; l.lastedS >= knockS {
		if p.fromNS == 0 {
			p.fromNS = l.fromNS
		}
		p.toNS, p.edges = l.toNS, p.seen()
	}
	if l := p.loads[f.Other()]; l.lastedS >= knockS {
		made = append(made, Press{Foot: device.NoFoot, FromNS: l.fromNS, ToNS: l.toNS})
	}
	return made
}

// Stop ends the step because the recording ends. It returns the unfinished press.
func (p *PadPress) Stop() []Press {
	if p.outcome != PressOpen || len(p.asked) == 0 {
		return nil
	}
	p.takePresent()
	return p.end(PressSkipped)
}
