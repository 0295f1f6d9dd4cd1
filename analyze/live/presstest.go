package live

import "aplomb/device"

// Press tells from the loads which platform is pressed: before a recording
// begins, somebody presses the left one with a hand, which shows whether the
// strips are under the feet that their profiles name.
type PressTest struct {
	since  int64   // from when the platforms have been loaded as they are, ns
	loaded [2]bool // whether each is
	held   bool    // the left one has been pressed
}

// Pressed says how far a Press has got.
type PressState int

const (
	PressAwaited PressState = iota // press the left platform
	PressBoth                      // both are loaded: press only the left one
	PressHeld                      // it is pressed: let go
	PressDone                      // and free again
	PressSwapped                   // the right one was pressed instead
)

const (
	// pressNS is how long a press must last, and a release.
	minPressNS = 200e6
	// aside is how much of a press may reach the other platform.
	otherShare = 0.25
)

// See takes the loads of both platforms (N) at a time (ns).
func (p *PressTest) Update(ns int64, loadN [2]float64) PressState {
	most := max(loadN[device.Left], loadN[device.Right])
	var as [2]bool
	for f, load := range loadN {
		as[f] = load >= LoadFloorN && load >= otherShare*most
	}
	if as != p.loaded || p.since == 0 {
		p.loaded, p.since = as, ns
	}
	lasts := ns-p.since >= minPressNS
	switch {
	case p.held && lasts && as == [2]bool{}:
		return PressDone
	case p.held:
		return PressHeld
	case lasts && as == [2]bool{true, false}:
		p.held = true
		return PressHeld
	case lasts && as == [2]bool{false, true}:
		return PressSwapped
	case as == [2]bool{true, true}:
		return PressBoth
	}
	return PressAwaited
}
