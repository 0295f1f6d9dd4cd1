package analyze

import (
	"math"
	"slices"

	"aplomb/analyze/hold"
	"aplomb/analyze/measure"
	"aplomb/analyze/releve"
	"aplomb/analyze/trace"
	"aplomb/device"
)

// pairedPulses holds the pulses of load of both feet, and the pairs of them that
// are one relevé.
type pairedPulses struct {
	pulses    [2][]releve.Pulse
	pairs     []releve.PulsePair
	discarded []bool // by pair: marked while recording as not to be used
}

// pairPulses pairs the pulses of load of the two feet to relevés.
func (r *recorded) pairPulses(pulses [2][]releve.Pulse) *pairedPulses {
	paired := &pairedPulses{pulses: pulses}
	paired.pairs = releve.Pair(paired.pulses[device.Left], paired.pulses[device.Right])
	paired.discarded = r.findDiscarded(paired)
	return paired
}

// startNS returns the host's time of the recording's first frame, ns since 1970.
func (r *recorded) startNS() float64 {
	for _, l := range r.logs {
		if l != nil {
			return l.StartNS
		}
	}
	return math.NaN()
}

// secondsOf returns the time of an event, s since the recording's first frame.
func (r *recorded) secondsOf(e device.Event) float64 { return (float64(e.TimeNS) - r.startNS()) / 1e9 }

// findDiscarded returns, by pair, whether the relevé was discarded while recording. A
// mark applies to the last relevé that had ended on both feet at that time.
func (r *recorded) findDiscarded(paired *pairedPulses) []bool {
	var marks []releve.Mark
	for _, e := range r.events {
		if e.Kind == device.Discard {
			marks = append(marks, releve.Mark{TimeS: r.secondsOf(e), Undo: e.Cause == device.TakenBack})
		}
	}
	ends := make([]float64, len(paired.pairs))
	for i, pair := range paired.pairs {
		ends[i] = pair.EndS(paired.pulses[device.Left], paired.pulses[device.Right])
	}
	return releve.ApplyMarks(ends, marks)
}

// withoutDiscarded returns the holds of foot f that were not discarded, or all of them
// where all were.
func (r *pairedPulses) withoutDiscarded(f device.Foot, holds []*hold.Hold) []*hold.Hold {
	left := slices.Clone(holds)
	for n, pair := range r.pairs {
		if i := index(pair, f); i >= 0 && r.discarded[n] {
			left[i] = nil
		}
	}
	if slices.ContainsFunc(left, func(h *hold.Hold) bool { return h != nil }) {
		return left
	}
	return holds
}

// list returns the relevés by n, left before right, before they are measured. A relevé
// without a hold is marked as aborted, and also where a gap that may be the reason
// overlaps it.
func (r *pairedPulses) list(holds [2][]*hold.Hold) []measure.Releve {
	releves := []measure.Releve{}
	for n, pair := range r.pairs {
		up := 2
		if pair.Left < 0 || pair.Right < 0 {
			up = 1
		}
		for _, f := range device.Feet {
			i := index(pair, f)
			if i < 0 {
				continue
			}
			p := r.pulses[f][i]
			one := measure.Releve{
				N: n + 1, Foot: f, FeetUp: up, StartS: p.OnsetS, EndS: p.EndS,
				Status: measure.Measured, Discarded: r.discarded[n], Warnings: []measure.Warning{}, Texts: []string{},
			}
			if holds[f][i] == nil {
				one.Status = measure.Aborted
				if p.TouchesGap {
					w := measure.Warn(measure.GapInReleve, measure.Values{}).On(f)
					w.Releve = one.N
					one.Warnings = append(one.Warnings, w)
				}
			}
			releves = append(releves, one)
		}
	}
	return releves
}

// findHolds finds the holds of all pulses of both feet.
func (r *recorded) findHolds() {
	for f, l := range r.logs {
		if l == nil {
			continue
		}
		r.holds[f] = make([]*hold.Hold, len(r.paired.pulses[f]))
		for i, p := range r.paired.pulses[f] {
			r.holds[f][i] = r.instruments[f].Of(l, p)
		}
	}
}

// index returns the index of foot f's pulse in a pair, negative where the foot made none.
func index(pair releve.PulsePair, f device.Foot) int {
	return [2]int{pair.Left, pair.Right}[f]
}

// loadShare returns the left load as a share of the load on both feet, 0 to 1: the mean
// over the time in which both feet hold, nil where there is none. The right load is
// interpolated to the time of each left frame, unless frames are missing there.
func loadShare(logs [2]*trace.Log, one, other releve.Pulse) *float64 {
	left, right := logs[device.Left].Samples, logs[device.Right].Samples
	from, to := max(one.HoldStartS, other.HoldStartS), min(one.HoldEndS, other.HoldEndS)
	sum, n := 0.0, 0
	i := 0
	if len(right) > 0 {
		i = trace.Index(right, from)
	}
	for _, s := range trace.Within(left, from, to) {
		for i < len(right) && right[i].T < s.T {
			i++
		}
		if i == 0 || i == len(right) || right[i].Flags&measure.AfterGap != 0 {
			continue
		}
		a, b := right[i-1], right[i]
		r := float64(a.LoadN) + float64(b.LoadN-a.LoadN)*(s.T-a.T)/(b.T-a.T)
		if both := float64(s.LoadN) + r; both > 0 {
			sum += float64(s.LoadN) / both
			n++
		}
	}
	if n == 0 {
		return nil
	}
	share := sum / float64(n)
	return &share
}
