package words

import "aplomb/analyze/measure"

// Large returns a verdict in one or two words in capitals, to be read from across a room.
// medialMM, the medial place of the centre of pressure in mm, tells to which side the load
// sits.
func Large(v measure.Verdict, medialMM float64) string {
	switch v {
	case measure.OverTheBox:
		return "OVER"
	case measure.PulledBack:
		return "BACK"
	case measure.TooFarOver:
		return "FORWARD"
	case measure.ToTheSide:
		if medialMM < 0 {
			return "LITTLE TOE"
		}
		return "BIG TOE"
	case measure.TooCloseToCall:
		return "TOO CLOSE"
	}
	return ""
}

// LoadAt says in words for a dancer where the load is, without asking for anything: the
// load is towards the back. The arguments are those of Large.
func LoadAt(v measure.Verdict, medialMM float64) string {
	switch v {
	case measure.OverTheBox:
		return "the load is over the box"
	case measure.PulledBack:
		return "the load is towards the back"
	case measure.TooFarOver:
		return "the load is towards the front"
	case measure.ToTheSide:
		if medialMM < 0 {
			return "the load is towards the little toe"
		}
		return "the load is towards the big toe"
	case measure.TooCloseToCall:
		return "the load is at the edge of the kern, too close to call"
	}
	return ""
}
