package advise

import (
	"math"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
)

// Pattern is what the numbers of a shoe show.
type Pattern string

const (
	Undecided       Pattern = "too close to call"       // measure more; nothing is advised
	Fine            Pattern = "over the box"            // nothing to change
	Behind          Pattern = "behind the kern"         // and part of the platform carries nothing
	BehindBulging   Pattern = "behind, foot bulging"    // over the sides of the box
	BehindWhole     Pattern = "behind, whole platform"  // though the whole platform carries load
	BehindLittleToe Pattern = "behind, little-toe side" // both together
	LittleToe       Pattern = "little-toe side"         // alone
	BigToe          Pattern = "big-toe side"
	TooFarOver      Pattern = "too far over"
	SmallPatch      Pattern = "small patch near the centre" // with a high peak
	OneFoot         Pattern = "one foot only"               // or load kept on one side
)

// Where a pattern begins: our own choices. A pattern is called where its
// probability, from the mean, its standard uncertainty and degrees of freedom,
// is at least sure; a comparison's verdict has its own threshold of the same size.
const (
	minProbability = 0.95

	smallShare   = 0.75 // contact share below: a small patch
	wholeShare   = 0.90 // contact share from here: the whole platform carries
	highPeak     = 2.5  // peak ÷ (load ÷ platform area) above: a high peak
	sideways     = 0.5  // of the kern's half-width towards a side: load to that side, besides being behind
	minLoadShift = 0.05 // load share further than this from a half: load kept on one side
)

// patternOf decides what one shoe shows on one foot.
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

// oneSided says whether one foot is over and the other is not, or one carries
// more of the load.
func oneSided(left, right compare.ShoeFoot) (saw string, ok bool) {
	settled := func(v measure.Verdict) bool { return v != measure.TooCloseToCall }
	if settled(left.Verdict) && settled(right.Verdict) && (left.Verdict == measure.OverTheBox) != (right.Verdict == measure.OverTheBox) {
		return sawFeet(left, right), true
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

// below returns the probability that a measure lies below x; NaN, which decides
// nothing, where it was not measured or nothing says how it scatters.
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
	p := stats.TwoSided(t, dof) / 2 // of the tail beyond t
	if t < 0 {
		return p
	}
	return 1 - p
}
