package analyze

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"aplomb/analyze/releve"
	"aplomb/analyze/trace"
	"aplomb/device"
)

// counted returns the holds of foot f without those that were discarded, or all
// where that leaves none.
func counted(holds []*hold, f device.Foot, pairs []releve.Releve, discarded []bool) []*hold {
	left := slices.Clone(holds)
	for n, pair := range pairs {
		if i := [2]int{pair.Left, pair.Right}[f]; i >= 0 && discarded[n] {
			left[i] = nil
		}
	}
	if slices.ContainsFunc(left, func(h *hold) bool { return h != nil }) {
		return left
	}
	return holds
}

// discards says which relevés somebody discarded while recording, and warns of
// them: both feet of each. A relevé is over when its last foot is down.
func (r *Result) discards(pairs []releve.Releve, pulses [2][]releve.Pulse, logs [2]*trace.Log) []bool {
	startNS := math.NaN()
	for _, l := range logs {
		if l != nil {
			startNS = l.StartNS
		}
	}
	var marks []releve.Mark
	for _, e := range r.Events {
		if e.Kind == device.Discard {
			marks = append(marks, releve.Mark{TimeS: (float64(e.TimeNS) - startNS) / 1e9, Back: e.Cause == device.TakenBack})
		}
	}
	ends := make([]float64, len(pairs))
	for i, pair := range pairs {
		ends[i] = pair.EndS(pulses[device.Left], pulses[device.Right])
	}
	discarded := releve.Discarded(ends, marks)
	var named []string
	for i, is := range discarded {
		if is {
			named = append(named, fmt.Sprint(i+1))
		}
	}
	if len(named) > 0 {
		r.warn("discarded while recording, and not counted: relevé %s", strings.Join(named, ", "))
	}
	return discarded
}
