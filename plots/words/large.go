package words

import (
	"strings"

	"aplomb/analyze/measure"
	"aplomb/analyze/verdict"
)

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

// loadTowards has the words for a direction after: the load is towards the.
var loadTowards = map[measure.Direction]string{
	measure.Behind: "back", measure.InFront: "front", measure.LittleToeSide: "little toe", measure.BigToeSide: "big toe",
}

// LoadAt says in words for a dancer where the load is, without asking for anything: the
// load is towards the back. The arguments are those of verdict.Directions.
func LoadAt(v measure.Verdict, misses []measure.Direction, medialMM float64) string {
	switch v {
	case measure.OverTheBox:
		return "the load is over the box"
	case measure.TooCloseToCall:
		return "the load is at the edge of the kern, too close to call"
	}
	var sides []string
	for _, d := range verdict.Directions(v, misses, medialMM) {
		sides = append(sides, loadTowards[d])
	}
	if len(sides) == 0 {
		return ""
	}
	return "the load is towards the " + strings.Join(sides, " and the ")
}
