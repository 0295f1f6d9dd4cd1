// Package live follows a recording while it happens: what each foot stands on
// now, and every relevé as soon as it is over.
//
// All of it is provisional. Zeros, clocks and pairs are those that the frames
// so far give, and what the cells' gains add to the uncertainty is left out, as
// is creep; package analyze has the last word. A zero that has wandered while a
// foot was up is found when the strip lies still again, and is then taken for
// that of the whole load; offsets of more than 100 N above the zero of the
// profile stay load here, where analysis of the whole recording finds them. Relevés are found by package releve, in
// the part of the trace since the foot was last down.
//
// A frame allocates nothing; a map under load does every tenth of a second, and
// so do a relevé and, once a second, the judging of the cells.
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

// Watch follows one recording. It belongs to one goroutine.
type Follower struct {
	feet    [2]*footFollower
	startNS int64 // arrival of the first frame
	lastNS  int64
	pulses  [2][]releve.Pulse // by foot; times in s since startNS, on the host's clock
	holds   [2][]Hold         // of each pulse
	releves []Releve
	marks   []releve.Mark
}

// New follows a recording of these sides that is about to begin.
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
	// restS is how long a foot must carry nothing until its pulse is over: a
	// shorter dip does not part it, and the load is averaged over 10 ms either way.
	restS = releve.DipShorterThanS + 0.02
	// idleS of the trace stays while there is no load, for the next pulse to rise from.
	idleS = 0.5
	// memoryS bounds the trace of a foot that is never down.
	memoryS = 120
	// inspectS is how often the cells are judged.
	judgeCellsS = 1
)

// Ended is one foot of a relevé that has just ended.
type Ended struct {
	N    int
	Foot device.Foot
	Hold Hold
}

// Add takes a frame. It returns what has ended with it, most often nothing.
func (w *Follower) Add(frame *device.Frame) (news []Ended, err error) {
	if int(frame.Foot) >= len(w.feet) || w.feet[frame.Foot] == nil {
		return nil, fmt.Errorf("a frame of the %s foot, for which there is no strip profile", frame.Foot)
	}
	if w.startNS == 0 {
		w.startNS = frame.ArrivalNS
	}
	w.lastNS = max(w.lastNS, frame.ArrivalNS)
	over, err := w.feet[frame.Foot].add(frame)
	if err != nil || !over {
		return nil, err
	}
	return w.finishPulses(frame.Foot), nil
}

// conclude takes note of the pulses of foot f that are over.
func (w *Follower) finishPulses(f device.Foot) (news []Ended) {
	foot, before := w.feet[f], len(w.pulses[f])
	for _, p := range releve.Find(foot.tail.Samples()) {
		hold := foot.measure(p)
		p.OnsetS, p.EndS = w.recordingTime(foot, p.OnsetS), w.recordingTime(foot, p.EndS)
		w.pulses[f] = append(w.pulses[f], p)
		w.holds[f] = append(w.holds[f], hold)
	}
	foot.forgetBefore(foot.downS)
	if len(w.pulses[f]) > before {
		news = w.pair(f, before)
	}
	return news
}

// since puts a time of a foot on that of the recording.
func (w *Follower) recordingTime(f *footFollower, s float64) float64 {
	return (f.tail.Host(s) - float64(w.startNS)) / 1e9
}

// pair makes relevés of the pulses of both feet, and returns those of foot f
// from number first on.
func (w *Follower) pair(f device.Foot, first int) (news []Ended) {
	left, right := w.pulses[device.Left], w.pulses[device.Right]
	w.releves = w.releves[:0]
	for i, pair := range releve.Pair(left, right) {
		one := Releve{N: i + 1, EndS: pair.EndS(left, right)}
		if pair.Left >= 0 {
			one.Feet[device.Left] = &w.holds[device.Left][pair.Left]
		}
		if pair.Right >= 0 {
			one.Feet[device.Right] = &w.holds[device.Right][pair.Right]
		}
		w.releves = append(w.releves, one)
		if i := [2]int{pair.Left, pair.Right}[f]; i >= first {
			news = append(news, Ended{one.N, f, w.holds[f][i]})
		}
	}
	w.applyMarks()
	return news
}

// remark applies what has been marked.
func (w *Follower) applyMarks() {
	ends := make([]float64, len(w.releves))
	for i := range w.releves {
		ends[i] = w.releves[i].EndS
	}
	for i, is := range releve.ApplyMarks(ends, w.marks) {
		w.releves[i].Discarded = is
	}
}

// Discard discards the relevé that was over last and is not discarded yet, at a
// time of the host, ns since 1970. It returns its number, 0 where there is none
// and nothing was done.
func (w *Follower) Discard(ns int64) (n int) { return w.mark(ns, false) }

// TakeBack takes back the last Discard that still holds, and returns the number
// of the relevé that counts again, 0 where there is none and nothing was done.
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

// Releves returns the relevés that are over, in order. It is good until the
// next call of Add, Discard or TakeBack.
func (w *Follower) Releves() []Releve { return w.releves }

// LoadN returns what a foot carries now, N; 0 without a frame of it.
func (w *Follower) LoadN(f device.Foot) float64 {
	if w.feet[f] == nil {
		return 0
	}
	return float64(w.feet[f].now.LoadN)
}

// State is what there is at one moment.
type State struct {
	ElapsedS float64
	Feet     [2]*FootState // nil where a foot is not recorded
	Releves  []Releve      // that are over, in order
}

// Foot is what one foot stands on at one moment.
type FootState struct {
	KPa     []float64 // pressure on each cell, above its zero, in scan order; none before the first frame
	LoadN   float64
	At      platform.Point // centre of pressure, mm
	Located bool           // there is a centre of pressure: the load is above the floor
	Doubts  []string       // what is wrong with cells now
	Suspect []bool         // the cells concerned
}

// Snapshot fills s with what there is now. It keeps the memory of s and nothing
// of s belongs to w afterwards.
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

func (f *footFollower) snapshot(s *FootState) {
	s.LoadN = float64(f.now.LoadN)
	s.At, s.Located = platform.Point{float64(f.now.MedialMM), float64(f.now.OverMM)}, !math.IsNaN(float64(f.now.OverMM))
	s.KPa = slices.Grow(s.KPa[:0], len(f.counts))[:len(f.counts)]
	zero := f.tail.Zero()
	for k, c := range f.counts {
		s.KPa[k] = f.curve.KPa(k, float64(c)-zero[k])
	}
	f.listDoubts(s)
}

// doubt says which cells are not to be believed now: those at the end of their
// range, and after them what the whole recording so far says of the cells.
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

// kindWords are the kinds of broken cells that whoever records can act upon, at
// once; the rest is for later.
var shownKinds = map[cells.FaultKind]string{
	cells.Dead: "dead cell", cells.Stuck: "stuck cell", cells.Loose: "loose cell", cells.Crosstalk: "ghosting",
}

// inspect looks once in a while what has been found out about the cells.
func (f *footFollower) judgeCells() {
	if f.now.T-f.judgedS < judgeCellsS {
		return
	}
	f.judgedS = f.now.T
	f.faults = slices.DeleteFunc(f.cells.Faults(), func(b cells.Fault) bool { return shownKinds[b.Kind] == "" })
}

// LoadFloorN is the load below which there is no centre of pressure, N.
const LoadFloorN = field.LoadFloorN
