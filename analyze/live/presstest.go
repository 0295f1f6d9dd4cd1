package live

import "aplomb/device"

// PressTest checks before a recording that the strips are under the feet that
// their profiles name: somebody presses the left platform by hand, and the test
// tells from the loads which one was pressed.
type PressTest struct {
	since  int64   // since when loaded has not changed, ns
	loaded [2]bool // whether each platform is loaded
	held   bool    // the left platform has been pressed
}

// PressState is the state of a PressTest.
type PressState int

const (
	PressAwaited PressState = iota // press the left platform
	PressBoth                      // both are loaded: press only the left platform
	PressHeld                      // the left platform is pressed: let go
	PressDone                      // it was pressed and is free again
	PressSwapped                   // the right platform was pressed instead
)

const (
	// minPressNS is the least duration of a press and of a release, ns.
	minPressNS = 200e6
	// otherShare is the largest share of the load that may reach the other platform.
	otherShare = 0.25
)

// Update takes the loads of both platforms, N, by device.Foot, at a time, ns, and
// returns the state of the test.
func (p *PressTest) Update(ns int64, loadN [2]float64) PressState {
	most := max(loadN[device.Left], loadN[device.Right])
	var loaded [2]bool
	for f, load := range loadN {
		loaded[f] = load >= LoadFloorN && load >= otherShare*most
	}
	if loaded != p.loaded || p.since == 0 {
		p.loaded, p.since = loaded, ns
	}
	lasts := ns-p.since >= minPressNS
	switch {
	case p.held && lasts && loaded == [2]bool{}:
		return PressDone
	case p.held:
		return PressHeld
	case lasts && loaded == [2]bool{true, false}:
		p.held = true
		return PressHeld
	case lasts && loaded == [2]bool{false, true}:
		return PressSwapped
	case loaded == [2]bool{true, true}:
		return PressBoth
	}
	return PressAwaited
}
