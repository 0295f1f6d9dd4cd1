package analyze

import (
	"math"

	"aplomb/analyze/hold"
	"aplomb/analyze/measure"
	"aplomb/analyze/trace"
	"aplomb/device"
)

// recordingWarnings returns the warnings about a recording as a whole.
func (r *recorded) recordingWarnings() []measure.Warning {
	var all []measure.Warning
	if r.corrected != "" {
		all = append(all, measure.Warn(measure.Corrected, measure.Values{Detail: r.corrected}))
	}
	if r.missing != "" {
		all = append(all, measure.Warn(measure.RecordingCut, measure.Values{Detail: r.missing}))
	}
	if r.damaged != "" {
		all = append(all, measure.Warn(measure.RecordingDamaged, measure.Values{Detail: r.damaged}))
	}
	for _, f := range device.Feet {
		if in := r.instruments[f]; in != nil {
			for _, w := range r.footWarnings(f, in) {
				all = append(all, w.On(f))
			}
		}
	}
	var discarded []int
	for i, is := range r.paired.discarded {
		if is {
			discarded = append(discarded, i+1)
		}
	}
	if len(discarded) > 0 {
		all = append(all, measure.Warn(measure.Discarded, measure.Values{Releves: discarded}))
	}
	for _, f := range device.Feet {
		if w, ok := beyondCalibration(r.instruments[f], r.holds[f]); ok {
			all = append(all, w.On(f))
		}
	}
	return all
}

// footWarnings returns the warnings about one foot of a recording.
func (r *recorded) footWarnings(f device.Foot, in *hold.Instrument) []measure.Warning {
	l := r.logs[f]
	if l == nil {
		return []measure.Warning{measure.Warn(measure.NoFrames, measure.Values{Strip: in.Strip.Name})}
	}
	var all []measure.Warning
	if l.Lost > 0 {
		all = append(all, measure.Warn(measure.FramesMissing, measure.Values{N: int(l.Lost), Of: framesSent(l)}))
	}
	if l.Beyond > 0 {
		all = append(all, measure.Warn(measure.BeyondConverter, measure.Values{Strip: in.Strip.Name, N: l.Beyond, Of: l.Frames}))
	}
	all = append(all, in.Coverage()...)
	if r.meta.Sides[f].Clock == "host" {
		all = append(all, measure.Warn(measure.HostClock, measure.Values{}))
	}
	all = append(all, measure.CalibrationWarnings(in.Strip.CalibrationDoubts(r.meta.Started))...)
	all = append(all, r.seatWarnings(f, in)...)
	if len(in.Lost) > 0 {
		var at []int
		for _, c := range in.Lost {
			at = append(at, c.K)
		}
		all = append(all, measure.Warn(measure.CellsLost, measure.Values{Strip: in.Strip.Name, Cells: in.Faulty(at)}))
	}
	switch {
	case !l.Unloaded && len(in.Strip.Calibration.ZeroCounts) > 0:
		all = append(all, measure.Warn(measure.ZeroCalibrated, measure.Values{}))
	case !l.Unloaded:
		all = append(all, measure.Warn(measure.ZeroUnknown, measure.Values{}))
	case l.StartsLoaded:
		all = append(all, measure.Warn(measure.ZeroFromLater, measure.Values{}))
	}
	return all
}

// seatWarnings returns the warnings about the seat of a strip.
func (r *recorded) seatWarnings(f device.Foot, in *hold.Instrument) (all []measure.Warning) {
	s, mount := r.seats[f], r.meta.Sides[f].Strip.Mount
	for _, p := range r.presses[f] {
		if p.Found {
			all = append(all, measure.Warn(measure.PressFound, measure.Values{Span: &[2]float64{p.StartS, p.EndS}}))
		}
	}
	if s.PressRefused != "" {
		all = append(all, measure.Warn(measure.PressUnused, measure.Values{Detail: string(s.PressRefused)}))
	}
	switch {
	case s.BeyondProfile && s.Evidence == measure.EvidenceAssumed:
		all = append(all, measure.Warn(measure.SeatFar, measure.Values{Strip: in.Strip.Name}))
	case s.BeyondProfile:
		off := math.Hypot(s.Medial.Value-mount.OffsetMM[0], s.Over.Value-mount.OffsetMM[1])
		all = append(all, measure.Warn(measure.SeatBeyond, measure.Values{Strip: in.Strip.Name, MM: off}))
	}
	if s.Moved {
		all = append(all, measure.Warn(measure.SeatMoved, measure.Values{Strip: in.Strip.Name}))
	}
	if s.Outline != nil && s.Outline.Conflict {
		all = append(all, measure.Warn(measure.OutlineConflict, measure.Values{Shoe: r.meta.Sides[f].Shoe.Code}))
	}
	return all
}

// footLog returns the counts of frames from one strip.
func footLog(l *trace.Log) measure.FootLog {
	counts := measure.FootLog{Frames: l.Frames, SpanS: l.Samples[len(l.Samples)-1].T - l.Samples[0].T}
	if l.Lost >= 0 {
		lost := l.Lost // a copy, so that the log can be freed
		counts.Lost = &lost
	}
	if counts.SpanS > 0 {
		counts.RateHz = float64(framesSent(l)-1) / counts.SpanS
	}
	return counts
}

// framesSent returns the number of frames that the strip sent, including those missing by
// number.
func framesSent(l *trace.Log) int { return l.Frames + int(max(0, l.Lost)) }

// beyondCalibration returns a warning of pressures larger than those at which the strip
// was calibrated.
func beyondCalibration(in *hold.Instrument, holds []*hold.Hold) (w measure.Warning, ok bool) {
	frames, beyond := 0, 0
	for _, h := range holds {
		if h != nil {
			frames += h.Frames
			beyond += h.Beyond
		}
	}
	if beyond == 0 {
		return w, false
	}
	return measure.Warn(measure.BeyondCalibration, measure.Values{
		Strip: in.Strip.Name, KPa: in.Curve.MaxKPa(), Percent: 100 * float64(beyond) / float64(frames),
	}), true
}
