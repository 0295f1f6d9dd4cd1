package live

import (
	"math"

	"aplomb/device"
	"aplomb/device/platform"
)

// PadPress is the step of a recording in which each platform in turn is pressed on
// a soft pad and rocked, so that its whole outline bears load. It asks for the left
// platform first, and tells from the loads which one is pressed.
//
// It ends when every platform has been pressed, when a person skips what is left
// of it, or by itself where somebody rises instead of pressing (see PressOutcome).
type PadPress struct {
	asked    []device.Foot // still to be pressed, in order
	outlines [2]platform.Polygon
	inNewton [2]bool // the strip is calibrated, so that its load can be told from a hand's

	outcome PressOutcome
	begunNS int64 // first Update
	restNS  int64 // since when no platform is loaded; 0 under load
	rested  bool  // no platform was loaded for PressRestS
	changed int64 // when something last happened, for the time limit
	bothNS  int64 // since when both platforms are loaded; 0 where they are not
	lastNS  int64
	loads   [2]pressLoad
	wrong   bool // another platform answered since the last one was asked for

	// Of the platform that is asked for:
	fromNS, toNS int64 // the loads so far, the present one left out; 0 where there was none
	edges        Edges // seen in them
	loadedS      float64
	dwellS       [edgeCount]float64 // time on each edge, the present load included
	vain         int                // loads that showed no second edge
}

// pressLoad is the present load of one platform.
type pressLoad struct {
	fromNS, toNS int64 // first and last frame of it; 0 without load
	stillNS      int64 // since when the centre of pressure has stayed at still
	still        platform.Point
	heavyNS      int64 // since when the load is more than a hand's; 0 where it is not
}

// lasts returns for how long the load has been on, s.
func (l *pressLoad) lasts() float64 { return seconds(l.fromNS, l.toNS) }

func seconds(from, to int64) float64 { return float64(to-from) / 1e9 }

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

// Edges says which edges of a platform have been loaded, by Edge.
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

// Missing returns the edges that have not been loaded.
func (e Edges) Missing() (missing []Edge) {
	for i, is := range e {
		if !is {
			missing = append(missing, Edge(i))
		}
	}
	return missing
}

// PressOutcome says how a PadPress has ended.
type PressOutcome int

const (
	PressOpen     PressOutcome = iota // it has not ended
	PressDone                         // every platform was pressed and rocked
	PressSkipped                      // a person skipped the rest of it
	PressStoodOn                      // somebody stands on the platforms: load on both, more than a hand's, or that does not rock
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
	Wrong   bool        // another platform answered since this one was asked for
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

// Press is one load during a PadPress. Foot is NoFoot for a load that shows nothing
// of a seat, because another platform was asked for.
type Press struct {
	Foot         device.Foot
	FromNS, ToNS int64 // host clock, ns since 1970
	Edges        Edges // loaded in it; none for NoFoot
}

// PressReading is what a PadPress is told of one foot.
type PressReading struct {
	LoadN float64
	At    platform.Point // centre of pressure, mm; NaN below LoadFloorN
	NS    int64          // arrival of the last frame, ns; 0 before the first
}

// Limits of a pad press. All are our assumptions; TestPressShowsTheSeat and
// TestPressTellsReleves show what they do.
const (
	// PressLeastN and PressMostN are the load that a person is asked for, N. It is not
	// enforced.
	PressLeastN, PressMostN = 60, 150
	// PressRestS is the time without load before a press is asked for, s.
	PressRestS = 1
	// PressLimitS is the time without any load after which a press is no longer
	// asked for, s.
	PressLimitS = 120
	// edgeReach is the part of the way from the centroid to the outline from which on
	// a centre of pressure loads the edge in that direction. It is small because the
	// strip may lie some millimetres from where its profile says.
	edgeReach = 0.3
	// edgeS is the time on an edge after which it counts as loaded, s.
	edgeS = 0.1
	// leastPressS is the least time under load, s.
	leastPressS = 1
	// settleS is the shortest load, and the shortest time without load between two, s.
	settleS = 0.2
	// staleS is the time without frames after which the load of a foot is not known, s.
	staleS = 0.5
	// otherShare is the largest share of the larger load that the other platform bears
	// without counting as loaded.
	otherShare = 0.25
	// bothS is the time under load of both platforms after which somebody stands, s.
	bothS = 1
	// handN is more load than a hand gives for heavyS, N. It holds for calibrated strips.
	handN, heavyS = 250, 0.5
	// stillMM is the distance within which the centre of pressure of somebody who
	// stands stays, mm: for stillS with a load of at least stillN where the strip is
	// calibrated, for stillAnyS with any load where it is not.
	stillMM, stillN, stillS, stillAnyS = 3, 170, 1.5, 2.5
	// vainLoads is the number of loads with fewer than leastEdges edges after which
	// they are taken for relevés, where the strip is not calibrated.
	vainLoads, leastEdges = 3, 2
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
	on, other := p.loads[f].lasts() >= settleS, p.loads[f.Other()].lasts() >= settleS
	switch {
	case on && other:
		s.Phase = PressBoth
	case other && p.rested:
		s.Phase = PressOther
	case !p.rested:
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

// seen returns the edges of the platform asked for that have been loaded so far.
func (p *PadPress) seen() (e Edges) {
	for i, s := range p.dwellS {
		e[i] = s >= edgeS
	}
	return e
}

// underLoad returns the time for which the platform asked for has been loaded, s.
func (p *PadPress) underLoad() float64 { return p.loadedS + p.loads[p.asked[0]].lasts() }

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
	if p.begunNS == 0 {
		p.begunNS, p.changed, p.lastNS = ns, ns, ns
	}
	step := min(seconds(p.lastNS, ns), edgeS)
	p.lastNS = ns
	most := max(feet[device.Left].LoadN, feet[device.Right].LoadN)
	known := true
	for _, f := range device.Feet {
		if p.outlines[f] == nil {
			continue
		}
		r := feet[f]
		if seconds(r.NS, ns) > staleS {
			known = false
			continue
		}
		if r.LoadN >= LoadFloorN && r.LoadN >= otherShare*most {
			p.load(f, ns, r)
		} else if l := &p.loads[f]; l.fromNS != 0 && seconds(l.toNS, ns) >= settleS {
			made = append(made, p.unload(f)...)
			if p.outcome != PressOpen || len(p.asked) == 0 {
				return made
			}
		}
	}
	f := p.asked[0]
	p.rest(ns, known)
	if p.loads[f].fromNS != 0 && p.loads[f].toNS == ns && p.loads[f.Other()].fromNS == 0 && p.rested {
		p.dwell(f, feet[f].At, step)
	}
	switch {
	case p.stood(ns):
		return append(made, p.end(PressStoodOn)...)
	case seconds(p.changed, ns) >= PressLimitS:
		return append(made, p.end(PressTimedOut)...)
	}
	return made
}

// load notes a frame with load on a platform.
func (p *PadPress) load(f device.Foot, ns int64, r PressReading) {
	l := &p.loads[f]
	if l.fromNS == 0 {
		*l = pressLoad{fromNS: ns, stillNS: ns, still: r.At}
	}
	l.toNS, p.changed = ns, ns
	if !(math.Hypot(r.At[0]-l.still[0], r.At[1]-l.still[1]) <= stillMM) {
		l.stillNS, l.still = ns, r.At
	}
	if p.inNewton[f] && r.LoadN < stillN {
		l.stillNS = ns
	}
	switch {
	case !p.inNewton[f] || r.LoadN < handN:
		l.heavyNS = 0
	case l.heavyNS == 0:
		l.heavyNS = ns
	}
}

// unload ends the present load of a platform and returns the presses that it makes.
func (p *PadPress) unload(f device.Foot) []Press {
	l := p.loads[f]
	p.loads[f] = pressLoad{}
	switch {
	case l.lasts() < settleS:
		return nil // a knock
	case !p.rested || f != p.asked[0]:
		p.wrong = p.wrong || p.rested
		return []Press{{Foot: device.NoFoot, FromNS: l.fromNS, ToNS: l.toNS}}
	}
	if p.fromNS == 0 {
		p.fromNS = l.fromNS
	}
	p.toNS, p.edges = l.toNS, p.seen()
	p.loadedS += l.lasts()
	if !p.inNewton[f] && p.edges.Count() < leastEdges {
		if p.vain++; p.vain >= vainLoads {
			return p.end(PressStoodOn)
		}
	}
	if !p.edges.All() || p.loadedS < leastPressS {
		return nil
	}
	made := p.pressed()
	p.asked = p.asked[1:]
	p.fromNS, p.toNS, p.edges, p.loadedS, p.dwellS, p.vain = 0, 0, Edges{}, 0, [edgeCount]float64{}, 0
	p.wrong = false
	if len(p.asked) == 0 {
		p.outcome = PressDone
	}
	return made
}

// pressed returns the press of the platform asked for, as far as it goes: none where
// too few of its edges have been loaded.
func (p *PadPress) pressed() []Press {
	if p.fromNS == 0 || p.edges.Count() < leastEdges {
		return nil
	}
	return []Press{{Foot: p.asked[0], FromNS: p.fromNS, ToNS: p.toNS, Edges: p.edges}}
}

// rest notes whether the platforms are without load.
func (p *PadPress) rest(ns int64, known bool) {
	switch {
	case !known || p.loads[device.Left].fromNS != 0 || p.loads[device.Right].fromNS != 0:
		p.restNS = 0
	case p.restNS == 0:
		p.restNS = ns
	case seconds(p.restNS, ns) >= PressRestS:
		p.rested = true
	}
	if both := p.loads[device.Left].fromNS != 0 && p.loads[device.Right].fromNS != 0; !both {
		p.bothNS = 0
	} else if p.bothNS == 0 {
		p.bothNS = ns
	}
}

// dwell adds a time, s, to the edge that a centre of pressure loads.
func (p *PadPress) dwell(f device.Foot, at platform.Point, s float64) {
	if e, ok := edgeAt(p.outlines[f], at); ok {
		p.dwellS[e] += s
	}
}

// edgeAt returns the edge of an outline that a load at a point, mm, acts on: within
// 22.5° of its middle, the outline being drawn as wide as deep. ok is false near the
// centroid and at the corners.
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
	if p.bothNS != 0 && seconds(p.bothNS, ns) >= bothS {
		return true
	}
	for f, l := range p.loads {
		if l.fromNS == 0 || l.toNS != ns {
			continue
		}
		if l.heavyNS != 0 && seconds(l.heavyNS, ns) >= heavyS {
			return true
		}
		long := stillAnyS
		if p.inNewton[f] {
			long = stillS
		}
		if seconds(l.stillNS, ns) >= long {
			return true
		}
	}
	return false
}

// end ends the step and returns the press of the platform asked for, without the
// present load.
func (p *PadPress) end(o PressOutcome) []Press {
	p.outcome = o
	return p.pressed()
}

// Remaining returns the feet whose platforms have not been pressed to the end.
func (p *PadPress) Remaining() []device.Foot { return p.asked }

// Skip ends the step, because a person says so. It returns the loads so far: as a
// press where it has loaded at least two edges, else as one that shows nothing.
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

// takePresent makes the present load of the platform asked for part of its press,
// and returns that of the other platform.
func (p *PadPress) takePresent() (made []Press) {
	f := p.asked[0]
	if l := p.loads[f]; l.lasts() >= settleS {
		if p.fromNS == 0 {
			p.fromNS = l.fromNS
		}
		p.toNS, p.edges = l.toNS, p.seen()
	}
	if l := p.loads[f.Other()]; l.lasts() >= settleS {
		made = append(made, Press{Foot: device.NoFoot, FromNS: l.fromNS, ToNS: l.toNS})
	}
	return made
}

// Stop ends the step because the recording ends. It returns the press that this
// cuts short.
func (p *PadPress) Stop() []Press {
	if p.outcome != PressOpen || len(p.asked) == 0 {
		return nil
	}
	p.takePresent()
	return p.end(PressSkipped)
}
