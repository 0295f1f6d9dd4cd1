package words

import (
	"fmt"
	"strings"

	"aplomb/analyze/live"
	"aplomb/analyze/seat"
	"aplomb/device"
)

// PressAsk returns the request for the pad press of a platform.
func PressAsk(f device.Foot) string {
	return fmt.Sprintf("press the %s platform on the pad, rock it to all sides", f)
}

// PressHow returns the instructions for a pad press.
func PressHow() string {
	return fmt.Sprintf("shoe off the foot, your hand in the box, foam on a table, %d to %d N", seat.PressLeastN, seat.PressMostN)
}

// PressWatched returns the instruction for the pad press of a foot that is being watched.
func PressWatched(f device.Foot) string {
	return fmt.Sprintf("The %s foot is watched: press its shoe with no foot in it.", f)
}

// PressOther returns the message that a platform other than the requested one was loaded.
func PressOther(asked device.Foot, other *device.Strip) string {
	return fmt.Sprintf("that was strip %s of the %s foot: press the %s platform; if you did, swap the strips or their cables first", other.Name, other.Foot, asked)
}

// OtherShoe returns the message that a pad press fits the platform of another shoe better
// than that of the shoe named in the recording.
func OtherShoe(f device.Foot, named, other string) string {
	return fmt.Sprintf("%s: the press fits shoe %s better than %s: read the code on the shoe", f, other, named)
}

// OtherShoeThen returns what to do if another shoe is indeed under the strip.
func OtherShoeThen(named, again string) string {
	return fmt.Sprintf("is it not %s? fix the strips under %s, then %s asks for the press again", named, named, again)
}

// PressBoth returns the message that both platforms are loaded while one is requested.
func PressBoth(asked device.Foot) string {
	return fmt.Sprintf("both platforms are loaded: press only the %s one", asked)
}

// PressToGo returns which edges are still to be loaded.
func PressToGo(e live.Edges) string {
	switch e.Count() {
	case 0:
		return "rock it to all sides"
	case len(e):
		return "press a little longer"
	}
	return "still to load: " + ListEdges(e.Missing())
}

// ListEdges lists edges of a platform.
func ListEdges(list []live.Edge) string {
	var names []string
	for _, e := range list {
		names = append(names, e.String())
	}
	if last := len(names) - 1; last > 0 {
		return strings.Join(names[:last], ", ") + " and " + names[last]
	}
	return strings.Join(names, "")
}

// TugTest is the instruction for testing that the strips hold once the shoes are on.
const TugTest = "Tug at each strip; at full point its tail hangs slack."
