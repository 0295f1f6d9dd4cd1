package words

import "aplomb/analyze/measure"

// Verdict returns a verdict in plain words. medialMM, the mean medial place of
// the centre of pressure in mm, tells to which side the load sits.
func Verdict(v measure.Verdict, medialMM float64) string {
	switch v {
	case measure.PulledBack:
		return "behind (pulled back)"
	case measure.ToTheSide:
		return "to the " + ShortVerdict(v, medialMM)
	}
	return ShortVerdict(v, medialMM)
}

// ShortVerdict returns a verdict in as few words as can be understood, for where
// there is no room for those of Verdict.
func ShortVerdict(v measure.Verdict, medialMM float64) string {
	switch v {
	case measure.OverTheBox:
		return "over the box"
	case measure.PulledBack:
		return "behind"
	case measure.TooFarOver:
		return "too far over"
	case measure.ToTheSide:
		if medialMM < 0 {
			return "little-toe side"
		}
		return "big-toe side"
	case measure.TooCloseToCall:
		return "too close to call"
	}
	return string(v)
}
