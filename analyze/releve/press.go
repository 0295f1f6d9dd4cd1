package releve

import (
	"math"
	"slices"

	"aplomb/analyze/measure"
	"aplomb/analyze/trace"
	"aplomb/device/platform"
)

// Foot is the input of FindPresses about one foot.
type Foot struct {
	Samples []measure.Sample
	Pulses  []Pulse          // of Find
	Outline platform.Polygon // of the platform, counter-clockwise, centroid at the origin, mm
}

// Definition of a pad press without a mark in the recording. It is our own choice, tested
// on simulated recordings only (analyze/VALIDATION.md).
const (
	// pressMostN is the load that a hand does not exceed for long, N. A press is made
	// with 60 to 150 N; a dancer of 41 kg or more on both feet loads each by more.
	pressMostN = 200
	// pressOfReleve is the largest median load of a press as a share of that of the
	// relevés after it. Turning on pointe loads the platform as much as a relevé.
	pressOfReleve = 0.7
	// pressAtLeastS is the shortest time under load, s. A hand takes seconds to rock the
	// platform once round.
	pressAtLeastS = 2
	// pressSteady is the largest share of a press's time in which its load may stay
	// within HoldWithin of one value. The weight of a body is steady, the push of a hand
	// that rocks is not.
	pressSteady = 0.7
	// pressPauseS is the longest time, s, for which the platform is lifted off the pad
	// within one press. Afterwards the shoe is put on, which takes longer.
	pressPauseS = 1
	// pressAside is the largest share of a press's time in which its load may exceed
	// pressMostN, or the other platform may be loaded: only one platform is pressed at a
	// time.
	pressAside = 0.05
	// pressStepS is the time over which the centre of pressure is averaged, s.
	pressStepS = 0.1
	// pressExtent is the least extent of the path of the centre of pressure, as a share
	// of the platform's width and depth. A press that goes 60 to 95 % of the way to the
	// outline on every side has 0.6 to 0.95.
	pressExtent = 0.5
	// pressReach is the distance of the centre of pressure from the middle of its path
	// while it goes round, as a share of the distance to an outline about that middle.
	// The middle is used instead of the platform's centre, because the strip may lie
	// millimetres from where its profile says.
	pressReach = 0.5
	// pressNear is the largest share of a round that may be closer to the middle than
	// that.
	pressNear = 0.25
	// pressRoundDeg is the angle through which the path must go without interruption,
	// degrees: four fifths of a round. A press of one round loses its beginning and its
	// end to the load floor.
	pressRoundDeg = 288
	// pressJumpDeg is the largest angle from one point beyond pressReach to the next. A
	// round in 2 s has 18° a step, and more where it comes nearer than pressReach.
	pressJumpDeg = 60
	// pressDetour is the largest sum of all angles of a round, in both directions, as a
	// multiple of the round. A hand that handles the shoe turns to and fro.
	pressDetour = 1.25
)

// FindPresses returns begin and end, s, of every pad press of a foot before its first
// relevé. other is the other foot, without samples where it has no strip.
//
// In a pad press the centre of pressure moves far towards the outline on all sides and
// once round without interruption. In sway, in steps and in rolling over the back edge it
// does not. A dancer who turns on pointe is distinguished from a press by her load, which
// is steady and as large as in her relevés. A foot whose load moves round near the edge,
// small and changing, while the other stands flat, is mistaken for a press.
//
// The first relevé begins with the first load above pressMostN on either foot, or when
// both feet are loaded at once.
func FindPresses(foot, other Foot) (presses [][2]float64) {
	first := foot.firstReleve(other)
	var run []Pulse
	take := func() {
		if len(run) > 0 && foot.isPress(run, other, first) {
			presses = append(presses, [2]float64{run[0].OnsetS, run[len(run)-1].EndS})
		}
		run = nil
	}
	for _, p := range foot.Pulses {
		if p.OnsetS >= first {
			break
		}
		if len(run) > 0 && p.OnsetS-run[len(run)-1].EndS > pressPauseS {
			take()
		}
		run = append(run, p)
	}
	take()
	return presses
}

// firstReleve returns the beginning of the first load that is too large or too steady for
// a hand, s; +Inf where there is none.
func (foot Foot) firstReleve(other Foot) float64 {
	first := math.Inf(1)
	for _, pulses := range [][]Pulse{foot.Pulses, other.Pulses} {
		for _, p := range pulses {
			if p.MedianN > pressMostN {
				first = min(first, p.OnsetS)
			}
		}
	}
	for _, pair := range Pair(foot.Pulses, other.Pulses) {
		if pair.Left >= 0 && pair.Right >= 0 {
			first = min(first, foot.Pulses[pair.Left].OnsetS, other.Pulses[pair.Right].OnsetS)
		}
	}
	return first
}

// StoodOn reports whether the load of a foot during a marked pad press, from one time to
// another, s, is that of a body: larger than that of a hand, and steady.
func (foot Foot) StoodOn(press [2]float64) bool {
	return slices.ContainsFunc(foot.Pulses, func(p Pulse) bool {
		return p.OnsetS < press[1] && p.EndS > press[0] && p.MedianN > pressMostN && p.HoldEndS-p.HoldStartS > (p.EndS-p.OnsetS)/2
	})
}

// PressedInstead reports whether a hand pressed the platform of this foot, and did not
// touch the other, during a pad press that was marked for the other foot, from one time
// to another, s.
func (foot Foot) PressedInstead(other Foot, press [2]float64) bool {
	return foot.loadedShare(press[0], press[1], trace.LoadFloorN) > 0.5 &&
		foot.loadedShare(press[0], press[1], pressMostN) < pressAside &&
		other.loadedShare(press[0], press[1], trace.LoadFloorN) < pressAside
}

// isPress reports whether successive pulses of a foot, the last of which begins
// before first, s, are a pad press.
func (foot Foot) isPress(run []Pulse, other Foot, first float64) bool {
	from, to := run[0].OnsetS, run[len(run)-1].EndS
	if to > first || other.loadedShare(from, to, trace.LoadFloorN) > pressAside || foot.loadedShare(from, to, pressMostN) > pressAside {
		return false
	}
	path, load := foot.path(from, to)
	if float64(len(path))*pressStepS < pressAtLeastS || load > pressOfReleve*foot.releveLoad(to) {
		return false
	}
	for _, p := range run {
		if p.HoldEndS-p.HoldStartS > pressSteady*(to-from) {
			return false
		}
	}
	return goesRound(path, foot.Outline)
}

// loadedShare returns the share of the samples between two times, s, whose load exceeds a
// limit, N; 0 where there is no sample.
func (foot Foot) loadedShare(from, to, limitN float64) float64 {
	samples := trace.Within(foot.Samples, from, to)
	loaded := 0
	for _, s := range samples {
		if float64(s.LoadN) > limitN {
			loaded++
		}
	}
	return float64(loaded) / float64(max(1, len(samples)))
}

// releveLoad returns the median of the loads of the pulses after a time, s; +Inf
// where there is none.
func (foot Foot) releveLoad(after float64) float64 {
	var loads []float32
	for _, p := range foot.Pulses {
		if p.OnsetS > after && !p.Aborted {
			loads = append(loads, float32(p.MedianN))
		}
	}
	if len(loads) == 0 {
		return math.Inf(1)
	}
	return float64(lowerMedian(loads))
}

// path returns the centre of pressure between two times, s, averaged over steps and
// weighted by load, and the median of the steps' loads. Steps without a centre of
// pressure are left out.
func (foot Foot) path(from, to float64) (path []platform.Point, loadN float64) {
	var loads []float32
	samples := trace.Within(foot.Samples, from, to)
	for i := 0; i < len(samples); {
		end := samples[i].T + pressStepS
		var sum, medial, over float64
		n := 0
		for ; i < len(samples) && samples[i].T < end; i++ {
			s := samples[i]
			if load := float64(s.LoadN); load >= trace.LoadFloorN && s.OverMM == s.OverMM { // a place that is not NaN
				sum, medial, over = sum+load, medial+load*float64(s.MedialMM), over+load*float64(s.OverMM)
				n++
			}
		}
		if n > 0 {
			path, loads = append(path, platform.Point{medial / sum, over / sum}), append(loads, float32(sum/float64(n)))
		}
	}
	return path, float64(lowerMedian(loads))
}

// goesRound reports whether a path, mm, goes far towards all sides of an outline and once
// round without interruption.
func goesRound(path []platform.Point, outline platform.Polygon) bool {
	lo, hi := platform.Polygon(path).Bounds()
	least, most := outline.Bounds()
	var size platform.Point
	for k := range size {
		if size[k] = most[k] - least[k]; hi[k]-lo[k] < pressExtent*size[k] {
			return false
		}
	}
	middle := platform.Polygon(path).Hull().Moments().Centroid
	angles := make([]float64, len(path)) // on an ellipse with the platform's proportions; NaN too near to the middle
	for i, at := range path {
		q := platform.Point{at[0] - middle[0], at[1] - middle[1]}
		angles[i] = math.NaN()
		if math.Hypot(q[0], q[1]) >= pressReach*outline.Reach(q) {
			angles[i] = math.Atan2(q[1]/size[1], q[0]/size[0])
		}
	}
	for i := range angles {
		if beginsRound(angles[i:]) {
			return true
		}
	}
	return false
}

// beginsRound reports whether successive angles, NaN for points too near to the middle,
// begin with a round.
func beginsRound(angles []float64) bool {
	const degree = math.Pi / 180
	turned, travelled, near := 0.0, 0.0, 0
	last := angles[0]
	for i, angle := range angles {
		if math.IsNaN(angle) {
			near++
			continue
		}
		step := math.Remainder(angle-last, 2*math.Pi)
		if !(math.Abs(step) <= pressJumpDeg*degree) { // nor NaN, where the first is too near
			return false
		}
		last, turned, travelled = angle, turned+step, travelled+math.Abs(step)
		if math.Abs(turned) >= pressRoundDeg*degree {
			return travelled <= pressDetour*math.Abs(turned) && float64(near) <= pressNear*float64(i)
		}
	}
	return false
}
