package live

import "aplomb/device"

// Press tells from the loads which platform is pressed: before a recording
// begins, somebody presses the left one with a hand, which shows whether the
// strips are under the feet that their profiles name.
type Press struct {
	since int64   // from when the platforms have been loaded as they are, ns
	as    [2]bool // whether each is
	held  bool    // the left one has been pressed
}

// Pressed says how far a Press has got.
type Pressed int

const (
	Awaited Pressed = iota // press the left platform
	Both                   // both are loaded: press only the left one
	Held                   // it is pressed: let go
	Done                   // and free again
	Swapped                // the right one was pressed instead
)

const (
	// pressNS is how long a press must last, and a release.
	pressNS = 200e6
	// aside is how much of a press may reach the other platform.
	aside = 0.25
)

// See takes the loads of both platforms (N) at a time (ns).
func (p *Press) See(ns int64, loadN [2]float64) Pressed {
	most := max(loadN[device.Left], loadN[device.Right])
	var as [2]bool
	for f, load := range loadN {
		as[f] = load >= LoadFloorN && load >= aside*most
	}
	if as != p.as || p.since == 0 {
		p.as, p.since = as, ns
	}
	lasts := ns-p.since >= pressNS
	switch {
	case p.held && lasts && as == [2]bool{}:
		return Done
	case p.held:
		return Held
	case lasts && as == [2]bool{true, false}:
		p.held = true
		return Held
	case lasts && as == [2]bool{false, true}:
		return Swapped
	case as == [2]bool{true, true}:
		return Both
	}
	return Awaited
}
