package capture

import (
	"fmt"
	"strings"

	"aplomb/analyze/live"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/plots/words"
)

// guide leads the user through one recording of a guided fitting: the shoes are put on
// after the pad press, the relevés are counted against the plan, and one key ends the
// recording. It does nothing in other recordings.
type guide struct {
	guided   bool
	planned  int // relevés of every foot; 0 where nothing is planned
	meta     *device.Metadata
	watch    *live.Follower
	say      func(string) // reports an event
	prompt   func(string) // shows what to do now; the live view shows it anyway
	bell     func(Signal)
	finish   func() // ends the recording
	skip     func() // ends the requested pad press; nil where next does not
	whenWorn func() // called when the user has confirmed that the shoes are on; may be nil
	key      string // name of the key that continues

	worn    bool // the user has confirmed that the shoes are on and the strips hold
	warned  bool // that pressing next again skips the request
	counted [2]int
	heard   int  // number of the relevé that Counted was last rung for
	rung    bool // for Enough
}

// pressed is called when the platforms have been pressed, or when that was skipped.
func (g *guide) pressed() {
	g.warned = false
	if !g.guided || g.worn {
		return
	}
	g.bell(Pressed)
	g.prompt("put the shoes on. " + words.TugTest + " Then " + g.key)
}

// putOn reports whether the shoes are to be put on: the platforms have been pressed, the
// shoes are not confirmed to be on, and no relevé counts.
func (g *guide) putOn() bool { return g.guided && !g.worn && g.counted == [2]int{} }

// update is called when a relevé has ended, was discarded or taken back.
func (g *guide) update() {
	now := g.watch.Counted()
	if !g.guided || now == g.counted {
		return
	}
	more := now[0]+now[1] > g.counted[0]+g.counted[1]
	g.counted, g.warned = now, false
	g.say(g.count())
	n := g.watch.Count()
	switch {
	case g.enough() && !g.rung:
		g.bell(Enough)
		g.say("enough: " + g.key + " ends this recording")
	case more && n != g.heard: // once for both feet
		g.bell(Counted)
	}
	g.rung, g.heard = g.enough(), n
}

// count returns the relevés against the plan, such as "left 2 of 3, right 3 of 3".
func (g *guide) count() string {
	var feet []string
	for _, f := range device.Feet {
		if g.meta.Sides[f] != nil {
			feet = append(feet, fmt.Sprintf("%s %d of %d", f, g.counted[f], g.planned))
		}
	}
	return strings.Join(feet, ", ")
}

// enough reports whether every foot has as many relevés as planned.
func (g *guide) enough() bool {
	now := g.watch.Counted()
	for _, f := range device.Feet {
		if g.meta.Sides[f] != nil && now[f] < g.planned {
			return false
		}
	}
	return g.planned > 0
}

// next is called when the user wants to continue. It returns a note for the recording, ""
// for none.
func (g *guide) next(pressing bool) (note string) {
	switch {
	case !g.guided:
	case pressing && g.skip == nil:
		g.say("the platforms are to be pressed first; s skips that")
	case pressing && !g.warned:
		g.warned = true
		g.say("the platforms are to be pressed first; " + g.key + " once more skips that")
	case pressing:
		g.skip()
	case g.putOn():
		g.worn = true
		if g.whenWorn != nil {
			g.whenWorn()
		}
		g.say("the relevés can begin: " + g.count())
		return measure.ShoesOn
	case g.enough() || g.warned:
		g.finish()
	default:
		g.warned = true
		g.say(g.count() + ": " + g.key + " once more ends it with fewer than planned")
	}
	return ""
}
