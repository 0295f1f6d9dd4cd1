package words

import (
	"strings"

	"aplomb/analyze/measure"
	"aplomb/analyze/verdict"
)

// Large returns a verdict in one or two words in capitals, to be read from across a room.
// medialMM is the medial coordinate of the centre of pressure in mm, whose sign gives the
// side.
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
		return "EDGE"
	}
	return ""
}

// LargeLines returns a verdict in large words, a line for each axis on which the load lies
// beyond the kern, over first: BACK, then LITTLE TOE. The arguments are those of
// verdict.Directions.
func LargeLines(v measure.Verdict, misses []measure.Direction, medialMM float64) []string {
	if len(misses) < 2 {
		if word := Large(v, medialMM); word != "" {
			return []string{word}
		}
		return nil
	}
	var lines []string
	for _, d := range misses {
		lines = append(lines, largeOf[d])
	}
	return lines
}

// largeOf holds the large words for each direction.
var largeOf = map[measure.Direction]string{
	measure.Behind: Large(measure.PulledBack, 0), measure.InFront: Large(measure.TooFarOver, 0),
	measure.LittleToeSide: Large(measure.ToTheSide, -1), measure.BigToeSide: Large(measure.ToTheSide, 1),
}

// LargeVerdict returns the lines of LargeLines in one: BACK + LITTLE TOE.
func LargeVerdict(v measure.Verdict, misses []measure.Direction, medialMM float64) string {
	return strings.Join(LargeLines(v, misses, medialMM), " + ")
}

// loadTowards holds the words for a direction after "the load is towards the".
var loadTowards = map[measure.Direction]string{
	measure.Behind: "back", measure.InFront: "front", measure.LittleToeSide: "little toe", measure.BigToeSide: "big toe",
}

// LoadAt returns where the load is in words for a dancer, without an instruction: the
// load is towards the back. The arguments are those of verdict.Directions.
func LoadAt(v measure.Verdict, misses []measure.Direction, medialMM float64) string {
	switch v {
	case measure.OverTheBox:
		return "the load is over the box"
	case measure.TooCloseToCall:
		return "the load is at the edge of the target, too close to call"
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
