package advise

import (
	"math"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
)

// Pattern is a pattern in the measures of a shoe.
type Pattern string

const (
	Undecided       Pattern = "too close to call"       // more measurements are needed; nothing is advised
	Fine            Pattern = "over the box"            // nothing needs to change
	Behind          Pattern = "behind the kern"         // and part of the platform carries no load
	BehindBulging   Pattern = "behind, foot bulging"    // behind, and the foot bulges over the sides of the box
	BehindWhole     Pattern = "behind, whole platform"  // behind, although the whole platform carries load
	BehindLittleToe Pattern = "behind, little-toe side" // behind and towards the little toe
	LittleToe       Pattern = "little-toe side"         // and not behind
	BigToe          Pattern = "big-toe side"
	TooFarOver      Pattern = "too far over"
	SmallPatch      Pattern = "small patch near the centre" // over the box, with small contact and high peak pressure
	OneFoot         Pattern = "one foot only"               // one foot is over the box, or the load is on one side
	Sinks           Pattern = "sinking"                     // the load moves within the hold, or the foot was seen to sink
	Sickles         Pattern = "sickling"                    // observed
	Bulges          Pattern = "box bulging"                 // likewise
	HeelLoose       Pattern = "heel loose"                  // likewise
)

// Thresholds of patterns: our own choice. A pattern is given where its probability,
// from mean, standard uncertainty and degrees of freedom, is at least minProbability;
// the verdict of a comparison has its own threshold of the same value.
const (
	minProbability = 0.95

	smallShare   = 0.75 // largest contact share of a small patch
	wholeShare   = 0.90 // least contact share of a platform that carries load all over
	highPeak     = 2.5  // least ratio of peak pressure to load ÷ platform area of a high peak
	sideways     = 0.5  // share of the kern's half-width beyond which the load is to the side as well as behind
	minLoadShift = 0.05 // least distance of the load share from 1/2 for load on one side
	minSinking   = 1.0  // mm, least change of a place within the hold that counts as sinking
)

// patternOf returns the pattern of one shoe on one foot, the measures on which it is
// based, and what they left open.
func patternOf(s compare.ShoeFoot, seen Observations) (p Pattern, saw string, open []string) {
	over, medial := s.Measures[measure.Over], s.Measures[measure.Medial]
	if s.Verdict == measure.TooCloseToCall || over.CI95 == nil || medial.CI95 == nil {
		return Undecided, sawPlace(s), []string{openVerdict(s.N)}
	}
	lo, _ := s.Platform.Kern.Bounds()
	share := s.Measures[measure.ContactShare]
	switch s.Verdict {
	case measure.TooFarOver:
		return TooFarOver, sawPlace(s), nil
	case measure.OverTheBox:
		mean := s.Measures[measure.Load].Mean / s.Platform.AreaMM2 * 1000 // kPa
		if below(share, smallShare) >= minProbability && 1-below(s.Measures[measure.PeakPressure], highPeak*mean) >= minProbability {
			return SmallPatch, sawPatch(s, s.Measures[measure.PeakPressure].Mean/mean), nil
		}
		return Fine, sawPlace(s), nil
	case measure.ToTheSide:
		if medial.Mean > 0 {
			return BigToe, sawPlace(s), nil
		}
		switch behind := below(over, 0); {
		case behind >= minProbability:
			return BehindLittleToe, sawPlace(s), nil
		case behind > 1-minProbability:
			open = []string{openBehind}
		}
		return LittleToe, sawPlace(s), open
	}
	if below(medial, sideways*lo[0]) >= minProbability {
		return BehindLittleToe, sawPlace(s), nil
	}
	if seen.Bulging {
		return BehindBulging, sawPlace(s), nil
	}
	switch whole := 1 - below(share, wholeShare); {
	case whole >= minProbability:
		return BehindWhole, sawPatch(s, 0), nil
	case whole > 1-minProbability:
		open = []string{openWhole}
	}
	return Behind, sawPatch(s, 0), open
}

// settlings are the measures of how the load moves within the hold.
var settlings = [...]measure.Measure{measure.OverChange, measure.PeakOverChange, measure.PeakMedialChange}

// sinking returns how far the load moves within the hold in words, "" where it does not
// move by minSinking with minProbability. Both directions count: the foot settles in the
// box, and the direction of the load depends on where the box gives way.
func sinking(s compare.ShoeFoot) string {
	var moved []measure.Measure
	for _, m := range settlings {
		change := s.Measures[m]
		if below(change, -minSinking) >= minProbability || 1-below(change, minSinking) >= minProbability {
			moved = append(moved, m)
		}
	}
	if moved == nil {
		return ""
	}
	return sawSinking(s, moved)
}

// oneSided reports whether one foot is over the box and the other is not, or one
// carries more of the load.
func oneSided(left, right compare.ShoeFoot) (saw string, ok bool) {
	settled := func(v measure.Verdict) bool { return v != measure.TooCloseToCall }
	if settled(left.Verdict) && settled(right.Verdict) && (left.Verdict == measure.OverTheBox) != (right.Verdict == measure.OverTheBox) {
		return placesText(left, right), true
	}
	share := left.Measures[measure.LoadShare]
	if share.N == 0 || share.CI95 == nil {
		return "", false
	}
	if below(share, 0.5-minLoadShift) >= minProbability || 1-below(share, 0.5+minLoadShift) >= minProbability {
		return sawLoad(share), true
	}
	return "", false
}

// below returns the probability that a measure lies below x, by Student's t
// distribution about its mean; NaN, for which every comparison is false, where it
// has no value or no interval.
func below(m compare.Summary, x float64) float64 {
	switch {
	case m.N == 0 || m.CI95 == nil:
		return math.NaN()
	case m.U == 0 && m.Mean < x:
		return 1
	case m.U == 0:
		return 0
	}
	dof := math.Inf(1)
	if m.DOF != nil {
		dof = *m.DOF
	}
	t := (x - m.Mean) / m.U
	p := stats.TwoSided(t, dof) / 2 // probability of the tail beyond t
	if t < 0 {
		return p
	}
	return 1 - p
}
