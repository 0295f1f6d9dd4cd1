package analyze

import (
	"cmp"
	"slices"

	"aplomb/analyze/measure"
	"aplomb/analyze/releve"
	"aplomb/device"
)

// findPulses finds the pulses of load in the samples of each foot.
func (r *recorded) findPulses() (pulses [2][]releve.Pulse) {
	for f, l := range r.logs {
		if l != nil {
			pulses[f] = releve.Find(l.Samples)
		}
	}
	return pulses
}

// findPresses finds the pad presses of each foot among its pulses: those marked by events
// or, where there are none, those before the first relevé that their load identifies. It
// returns the other pulses, since a press is no relevé.
func (r *recorded) findPresses(pulses [2][]releve.Pulse) (others [2][]releve.Pulse) {
	others = r.takeMarkedPresses(pulses)
	var feet [2]releve.Foot
	for f, samples := range r.unrevised {
		if samples != nil {
			feet[f] = releve.Foot{Samples: samples, Pulses: releve.Find(samples), Outline: r.instruments[f].Grid.Outline}
			for _, press := range append(r.pressTimes(device.Foot(f)), r.pressTimes(device.NoFoot)...) {
				feet[f].Pulses = without(feet[f].Pulses, press)
			}
		}
	}
	for _, f := range device.Feet {
		if feet[f].Samples == nil || len(r.presses[f]) > 0 {
			continue
		}
		for _, press := range releve.FindPresses(feet[f], feet[f.Other()]) {
			others[f] = without(others[f], press)
			r.presses[f] = append(r.presses[f], measure.Press{StartS: press[0], EndS: press[1], Found: true})
		}
	}
	return others
}

// takeMarkedPresses records the pad presses marked by events, and returns the other
// pulses of each foot.
func (r *recorded) takeMarkedPresses(pulses [2][]releve.Pulse) (others [2][]releve.Pulse) {
	var feet [2]releve.Foot
	for f, l := range r.logs {
		if l != nil {
			feet[f] = releve.Foot{Samples: l.Samples, Pulses: pulses[f]}
		}
		others[f] = pulses[f]
		for _, press := range r.pressTimes(device.NoFoot) { // the platform is not known
			others[f] = without(others[f], press)
		}
	}
	for _, f := range device.Feet {
		if r.logs[f] == nil {
			continue
		}
		one, other := feet[f], feet[f.Other()]
		for _, press := range r.pressTimes(f) {
			others[f] = without(others[f], press)
			add := measure.Press{StartS: press[0], EndS: press[1]}
			switch {
			case one.StoodOn(press):
				add.Refused = measure.PressByFoot
			case other.PressedInstead(one, press):
				add.Refused = measure.PressOtherFoot
				others[f.Other()] = without(others[f.Other()], press)
			}
			r.presses[f] = append(r.presses[f], add)
		}
	}
	return others
}

// without returns the pulses that do not overlap a press, which lasts from one time to
// another, s.
func without(pulses []releve.Pulse, press [2]float64) []releve.Pulse {
	return slices.DeleteFunc(slices.Clone(pulses), func(p releve.Pulse) bool { return p.OnsetS < press[1] && p.EndS > press[0] })
}

// pressTimes returns begin and end of each marked pad press of a foot in order of time, s
// since the recording's first frame. Overlapping presses are merged.
func (r *recorded) pressTimes(f device.Foot) (times [][2]float64) {
	startNS := r.startNS()
	for _, e := range r.events {
		end := (float64(e.TimeNS) - startNS) / 1e9
		if begin := end - e.LengthS; e.Kind == device.Press && e.Foot == f && begin < end {
			times = append(times, [2]float64{begin, end})
		}
	}
	slices.SortFunc(times, func(a, b [2]float64) int { return cmp.Compare(a[0], b[0]) })
	apart := times[:0]
	for _, t := range times {
		if last := len(apart) - 1; last >= 0 && t[0] <= apart[last][1] {
			apart[last][1] = max(apart[last][1], t[1])
			continue
		}
		apart = append(apart, t)
	}
	return apart
}
