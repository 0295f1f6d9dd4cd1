package capture

import (
	"fmt"
	"io"
	"strings"
	"time"

	"aplomb/analyze/live"
	"aplomb/device"
)

// Signal is something that a person whose hands are on a shoe is to hear.
type Signal int

const (
	Pressed Signal = iota // the platforms have been pressed
	Counted               // a relevé counts
	Enough                // every foot has as many relevés as planned
	Halt                  // frames of a foot stay away
)

// Ring writes a signal to a terminal: its bell once to four times, so that signals are
// told apart by ear.
func Ring(w io.Writer, s Signal) {
	go func() { // nobody waits for a bell
		for range int(s) + 1 {
			fmt.Fprint(w, "\a")
			time.Sleep(150 * time.Millisecond)
		}
	}()
}

// guide leads a person through one recording of a guided fitting: the shoes are put on
// after the pad press, the relevés are counted against the plan, and one key ends the
// recording. It does nothing where none is guided.
type guide struct {
	planned int // relevés of every foot; 0 for a recording that is not guided
	meta    *device.Metadata
	watch   *live.Follower
	say     func(string)
	bell    func(Signal)
	finish  func() // ends the recording
	key     string // what the person presses to go on

	worn    bool // a person has said that the shoes are on and the strips hold
	warned  bool // that there are fewer relevés than planned
	counted [2]int
	rung    bool // for Enough
}

// pressed is called when the platforms have been pressed, or that was skipped.
func (g *guide) pressed() {
	if g.planned == 0 || g.worn {
		return
	}
	g.bell(Pressed)
	g.say("put the shoes on. Tug at each strip; at full point its tail hangs slack. Then " + g.key)
}

// update is called when a relevé has ended, was discarded or taken back.
func (g *guide) update() {
	if g.planned == 0 {
		return
	}
	now := g.watch.Counted()
	if now == g.counted {
		return
	}
	more := now[0]+now[1] > g.counted[0]+g.counted[1]
	g.counted, g.warned = now, false
	g.say(g.count())
	switch {
	case g.enough() && !g.rung:
		g.rung = true
		g.bell(Enough)
		g.say("enough: " + g.key + " ends this recording")
	case more:
		g.bell(Counted)
	}
	g.rung = g.enough()
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

func (g *guide) enough() bool {
	for _, f := range device.Feet {
		if g.meta.Sides[f] != nil && g.counted[f] < g.planned {
			return false
		}
	}
	return g.planned > 0
}

// next is called where the person wants to go on. It returns a note to keep, "" for none.
func (g *guide) next(pressing bool) (note string) {
	switch {
	case g.planned == 0:
	case pressing:
		g.say("the platforms are to be pressed first; s skips that")
	case !g.worn:
		g.worn = true
		g.say("the relevés can begin: " + g.count())
		return "shoes on, strips tugged at, slack looked at"
	case g.enough() || g.warned:
		g.finish()
	default:
		g.warned = true
		g.say(g.count() + ": " + g.key + " once more ends the recording with fewer than planned")
	}
	return ""
}
