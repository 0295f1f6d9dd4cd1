// Package live follows a recording while it is made: the load on each foot, and every
// relevé as soon as it has ended.
//
// A pad press is no relevé. PadPress guides the user through one and determines from the
// loads which platform is pressed; afterwards the Follower measures at the seat estimated
// from the press (FindSeat).
//
// All results are provisional. Zeros, clocks, pairs of feet and seats are based on the
// frames so far. The uncertainty from the gains of cells and creep are left out. When the
// zeros have changed during a load, the change is found at the next rest and then applied
// to the whole load. Offsets of more than 100 N above the zeros of the profile count as
// load here, whereas the analysis of a complete recording identifies them. Package
// analyze gives the final results. Relevés are found by package releve in the trace since
// the foot was last unloaded.
//
// Most frames allocate nothing. Every tenth of a second under load a map is allocated,
// and so is memory for each relevé and, once a second, for judging the cells.
package live

import (
	"fmt"
	"math"
	"slices"

	"aplomb/analyze/cells"
	"aplomb/analyze/field"
	"aplomb/analyze/releve"
	"aplomb/device"
	"aplomb/device/platform"
)

// Follower follows one recording. It is not safe for concurrent use.
type Follower struct {
	feet    [2]*footFollower
	startNS int64 // arrival of the first frame
	lastNS  int64
	pulses  [2][]releve.Pulse // by foot; times are s since startNS by the host's clock
	holds   [2][]Hold         // of each pulse
	releves []Releve
	marks   []releve.Mark
	presses []Press // no relevés
	openNS  int64   // beginning of the current pad press; 0 where there is none
}

// New returns a Follower for a recording with this metadata, before its first
// frame.
func New(m *device.Metadata) *Follower {
	w := &Follower{}
	for f, side := range m.Sides {
		if side != nil {
			w.feet[f] = newFootFollower(side)
		}
	}
	return w
}

const (
	// restS is how long, s, a foot must carry no load for its pulse to end. A shorter
	// dip does not end a pulse, and the load is averaged over 10 ms to either side.
	restS = releve.DipShorterThanS + 0.02
	// idleS is the length of the trace, s, that is kept without load, for the onset of
	// the next pulse.
	idleS = 0.5
	// memoryS bounds the trace, s, of a foot that stays loaded.
	memoryS = 120
	// judgeCellsS is the interval between two judgements of the cells, s.
	judgeCellsS = 1
)

// Ended is the part of one foot in a relevé that has just ended.
type Ended struct {
	N    int
	Foot device.Foot
	Hold Hold
}

// Add takes a frame and returns the relevés that ended with it, for most frames
// none.
func (w *Follower) Add(frame *device.Frame) (ended []Ended, err error) {
	if int(frame.Foot) >= len(w.feet) || w.feet[frame.Foot] == nil {
		return nil, fmt.Errorf("a frame of the %s foot, for which there is no strip profile", frame.Foot)
	}
	if w.startNS == 0 {
		w.startNS = frame.ArrivalNS
	}
	w.lastNS = max(w.lastNS, frame.ArrivalNS)
	w.feet[frame.Foot].arrivalNS = frame.ArrivalNS
	w.feet[frame.Foot].tail.Pressed(w.openNS != 0 && w.feet[frame.Foot].rocks())
	over, err := w.feet[frame.Foot].add(frame)
	if err != nil || !over {
		return nil, err
	}
	return w.finishPulses(frame.Foot), nil
}

// finishPulses measures the pulses of foot f that have ended.
func (w *Follower) finishPulses(f device.Foot) (ended []Ended) {
	foot, before := w.feet[f], len(w.pulses[f])
	for _, p := range releve.Find(foot.tail.Samples()) {
		hold, at := foot.measure(p), p
		p.OnsetS, p.EndS = w.recordingTime(foot, p.OnsetS), w.recordingTime(foot, p.EndS)
		if w.isPress(f, p) {
			foot.keepMaps(at)
		}
		w.pulses[f] = append(w.pulses[f], p)
		w.holds[f] = append(w.holds[f], hold)
	}
	foot.forgetBefore(foot.downS)
	if len(w.pulses[f]) > before {
		ended = w.pair(f, before)
	}
	return ended
}

// recordingTime converts a time of a foot's trace, s, to the time of the
// recording, s since its first frame.
func (w *Follower) recordingTime(f *footFollower, s float64) float64 {
	return (f.tail.Host(s) - float64(w.startNS)) / 1e9
}

// pair pairs the pulses of both feet to relevés and returns those of foot f from
// pulse number first on.
func (w *Follower) pair(f device.Foot, first int) (ended []Ended) {
	left, holdsLeft := w.withoutPresses(device.Left)
	right, holdsRight := w.withoutPresses(device.Right)
	w.releves = w.releves[:0]
	for i, pair := range releve.Pair(left, right) {
		one := Releve{N: i + 1, EndS: pair.EndS(left, right)}
		if pair.Left >= 0 {
			one.Feet[device.Left] = &w.holds[device.Left][holdsLeft[pair.Left]]
		}
		if pair.Right >= 0 {
			one.Feet[device.Right] = &w.holds[device.Right][holdsRight[pair.Right]]
		}
		w.releves = append(w.releves, one)
		if i := [2]int{pair.Left, pair.Right}[f]; i >= 0 {
			if i = [2][]int{holdsLeft, holdsRight}[f][i]; i >= first {
				ended = append(ended, Ended{one.N, f, w.holds[f][i]})
			}
		}
	}
	w.applyMarks()
	return ended
}

// withoutPresses returns the pulses of a foot that no pad press overlaps, and the
// index of each in w.pulses.
func (w *Follower) withoutPresses(f device.Foot) (pulses []releve.Pulse, at []int) {
	for i, p := range w.pulses[f] {
		if !w.isPress(f, p) {
			pulses, at = append(pulses, p), append(at, i)
		}
	}
	return pulses, at
}

// isPress reports whether a pulse of a foot overlaps a pad press, or a load that may
// still become one.
func (w *Follower) isPress(f device.Foot, p releve.Pulse) bool {
	from, to := w.startNS+int64(1e9*p.OnsetS), w.startNS+int64(1e9*p.EndS)
	if w.openNS != 0 && to > w.openNS {
		return true
	}
	return slices.ContainsFunc(w.presses, func(press Press) bool {
		return (press.Foot == f || press.Foot == device.NoFoot) && from < press.ToNS && to > press.FromNS
	})
}

// OpenPress excludes from the relevés all pulses that end after ns, the host's time in ns
// since 1970, until ClosePress.
func (w *Follower) OpenPress(ns int64) {
	w.openNS = ns
	for _, foot := range w.feet {
		if foot != nil {
			foot.pressed = nil
		}
	}
}

// AddPress excludes from the relevés the pulses that overlap a press: those of its foot,
// or of both where it has none.
func (w *Follower) AddPress(p Press) {
	w.presses = append(w.presses, p)
	w.pair(device.Left, math.MaxInt)
}

// ClosePress ends OpenPress. Pulses excluded since then become relevés again, except for
// those that overlap an added press.
func (w *Follower) ClosePress() {
	w.openNS = 0
	w.pair(device.Left, math.MaxInt)
}

// applyMarks marks the discarded relevés.
func (w *Follower) applyMarks() {
	ends := make([]float64, len(w.releves))
	for i := range w.releves {
		ends[i] = w.releves[i].EndS
	}
	for i, is := range releve.ApplyMarks(ends, w.marks) {
		w.releves[i].Discarded = is
	}
}

// Discard discards the relevé that ended last and is not discarded yet, at the
// host's time ns, in ns since 1970. It returns the number of the relevé; 0 where
// there is none, and then nothing changes.
func (w *Follower) Discard(ns int64) (n int) { return w.mark(ns, false) }

// TakeBack undoes the last Discard that is not undone yet. It returns the number
// of the relevé that counts again; 0 where there is none, and then nothing
// changes.
func (w *Follower) TakeBack(ns int64) (n int) { return w.mark(ns, true) }

func (w *Follower) mark(ns int64, back bool) (n int) {
	before := make([]bool, len(w.releves))
	for i, r := range w.releves {
		before[i] = r.Discarded
	}
	w.marks = append(w.marks, releve.Mark{TimeS: float64(ns-w.startNS) / 1e9, Undo: back})
	w.applyMarks()
	for i, r := range w.releves {
		if r.Discarded != before[i] {
			return r.N
		}
	}
	w.marks = w.marks[:len(w.marks)-1]
	return 0
}

// Count returns the number of relevés that have ended, without those discarded.
func (w *Follower) Count() (n int) {
	for _, r := range w.releves {
		if !r.Discarded {
			n++
		}
	}
	return n
}

// Counted returns the relevés of each foot, by device.Foot, whose load settled, without
// those discarded.
func (w *Follower) Counted() (feet [2]int) {
	for _, r := range w.releves {
		for f, hold := range r.Feet {
			if !r.Discarded && hold != nil && hold.Settled {
				feet[f]++
			}
		}
	}
	return feet
}

// Readings returns the present loads of both feet, by device.Foot, for a PadPress.
func (w *Follower) Readings() (feet [2]PressReading) {
	for f, foot := range w.feet {
		if foot != nil {
			feet[f] = PressReading{LoadN: float64(foot.now.LoadN), At: foot.at(), NS: foot.arrivalNS}
		}
	}
	return feet
}

// State is the state of a recording at one moment.
type State struct {
	ElapsedS float64
	Feet     [2]*FootState // nil where a foot is not recorded
	Releves  []Releve      // that have ended, in order
}

// FootState is the state of one foot at one moment.
type FootState struct {
	KPa     []float64 // pressure on each cell in scan order; empty before the first frame
	LoadN   float64
	Strip   *device.Strip  // its Mount is the seat found by a pad press, else that of its profile
	At      platform.Point // centre of pressure, mm
	Located bool           // At is defined: the load is above LoadFloorN
	Doubts  []string       // current faults of cells, as text
	Suspect []bool         // by cell in scan order, whether it has a fault
}

// Snapshot sets s to the current state. It reuses the memory of s and keeps no
// reference to it.
func (w *Follower) Snapshot(s *State) {
	s.ElapsedS = float64(w.lastNS-w.startNS) / 1e9
	s.Releves = append(s.Releves[:0], w.releves...)
	for i, r := range s.Releves {
		for f, h := range r.Feet {
			if h != nil {
				own := *h
				s.Releves[i].Feet[f] = &own
			}
		}
	}
	for f, foot := range w.feet {
		if foot == nil {
			s.Feet[f] = nil
			continue
		}
		if s.Feet[f] == nil {
			s.Feet[f] = &FootState{}
		}
		foot.snapshot(s.Feet[f])
	}
}

// snapshot sets s to the current state of the foot.
func (f *footFollower) snapshot(s *FootState) {
	s.LoadN = float64(f.now.LoadN)
	s.At, s.Located, s.Strip = f.at(), !math.IsNaN(float64(f.now.OverMM)), f.strip
	s.KPa = slices.Grow(s.KPa[:0], len(f.counts))[:len(f.counts)]
	zero := f.tail.Zero()
	for k, c := range f.counts {
		s.KPa[k] = f.curve.KPa(k, float64(c)-zero[k])
	}
	f.listDoubts(s)
}

// listDoubts sets Doubts and Suspect: cells at full scale within the last
// seconds, and the faults found in the recording so far.
func (f *footFollower) listDoubts(s *FootState) {
	s.Doubts = s.Doubts[:0]
	s.Suspect = s.Suspect[:0]
	full := 0
	for _, at := range f.fullAt {
		is := f.now.T-at <= showSaturatedS
		s.Suspect = append(s.Suspect, is)
		if is {
			full++
		}
	}
	switch {
	case full == 1:
		s.Doubts = append(s.Doubts, "1 cell at the end of its range: load and pressure are more than shown")
	case full > 1:
		s.Doubts = append(s.Doubts, fmt.Sprintf("%d cells at the end of their range: load and pressure are more than shown", full))
	}
	for _, b := range f.faults {
		if b.Cell == cells.WholeStrip {
			s.Doubts = append(s.Doubts, b.Text)
			continue
		}
		s.Doubts = append(s.Doubts, fmt.Sprintf("%s: %s, %s", shownKinds[b.Kind], b.Cell, b.Text))
		for k := range s.Suspect {
			if row, col := f.strip.RowCol(k); row == b.Cell.Row && col == b.Cell.Col {
				s.Suspect[k] = true
			}
		}
	}
}

// shownKinds are the kinds of faults that a user can remedy at once while recording, with
// their words.
var shownKinds = map[cells.FaultKind]string{
	cells.Dead: "dead cell", cells.Stuck: "stuck cell", cells.Loose: "loose cell", cells.Crosstalk: "crosstalk",
}

// judgeCells updates the faults of the cells once every judgeCellsS.
func (f *footFollower) judgeCells() {
	if f.now.T-f.judgedS < judgeCellsS {
		return
	}
	f.judgedS = f.now.T
	f.faults = slices.DeleteFunc(f.cells.Faults(), func(b cells.Fault) bool { return shownKinds[b.Kind] == "" })
}

// LoadFloorN is the load, N, below which the centre of pressure is not defined.
const LoadFloorN = field.LoadFloorN
