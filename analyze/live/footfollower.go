package live

import (
	"math"
	"slices"

	"aplomb/analyze/cells"
	"aplomb/analyze/field"
	"aplomb/analyze/measure"
	"aplomb/analyze/releve"
	"aplomb/analyze/seat"
	"aplomb/analyze/stats"
	"aplomb/analyze/trace"
	"aplomb/analyze/verdict"
	"aplomb/device"
	"aplomb/device/platform"
)

// Releve is one finished relevé of one foot or both.
type Releve struct {
	N         int      // by onset, from 1; may change while one foot is still up
	EndS      float64  // when both feet were down, s since the first frame
	Feet      [2]*Hold // by device.Foot; nil for a foot that was not up
	Discarded bool
}

// Hold is the provisional result of one foot in a relevé; see measure.Hold for
// the final one.
type Hold struct {
	Settled      bool // the load settled; otherwise the fields below are 0
	HoldS        float64
	LoadN        float64
	OverMM       float64
	MedialMM     float64
	ContactShare float64
	Verdict      measure.Verdict
	Misses       []measure.Direction
	TouchesGap   bool // frames are missing in the relevé
}

// footFollower follows one foot.
type footFollower struct {
	strip   *device.Strip // at the seat in force
	outline platform.Polygon
	profile device.Mount // the seat according to the profile
	grid    *field.Grid  // of strip
	curve   *device.Curve
	tail    *trace.Tail // at the profile's seat

	still  platform.Point // of the centre of pressure, mm
	stillS float64        // since when it has stayed there, s

	seat    *seat.Seat // found from a pad press; nil where there is none
	pressed []pressMap // of the loads since a press was opened

	now       measure.Sample
	arrivalNS int64    // of the last frame, ns; 0 before it
	counts    []uint16 // of the last frame
	loaded    bool     // there has been load since the last long rest
	downS     float64  // time since which there is no load, s; NaN under load

	fullAt []float64 // by cell, when it was last at full scale, s

	cells   *cells.Monitor
	faults  []cells.Fault // at judgedS
	judgedS float64       // s
}

// showSaturatedS is how long a cell at full scale is shown, s.
const showSaturatedS = 2

// newFootFollower returns a footFollower for one side of a recording.
func newFootFollower(side *device.Side) *footFollower {
	s := side.Strip
	outline, curve := side.Shoe.Outline(), s.Curve()
	grid := field.New(s, outline)
	return &footFollower{
		strip: s, outline: outline, profile: s.Mount, grid: grid, curve: curve, cells: cells.New(s, outline),
		tail:  trace.NewTail(&trace.Strip{Grid: grid, Curve: curve, SaturatesAt: s.SaturatesAt, Zero: s.Calibration.ZeroCounts}),
		downS: math.NaN(), fullAt: slices.Repeat([]float64{math.Inf(-1)}, s.Cells()),
		now: measure.Sample{MedialMM: float32(math.NaN()), OverMM: float32(math.NaN())},
	}
}

// add takes a frame and reports whether a pulse may have ended with it.
func (f *footFollower) add(frame *device.Frame) (over bool, err error) {
	s, err := f.tail.Add(frame)
	if err != nil {
		return false, err
	}
	f.now, f.counts = s, append(f.counts[:0], frame.Counts...)
	f.cells.Add(frame)
	f.judgeCells()
	if s.Flags&measure.Saturated != 0 {
		for k, c := range frame.Counts {
			if int(c) >= f.strip.SaturatesAt {
				f.fullAt[k] = s.T
			}
		}
	}
	switch {
	case s.LoadN >= LoadFloorN:
		f.loaded, f.downS = true, math.NaN()
		if first := f.tail.Samples()[0].T; s.T-first > memoryS {
			f.tail.Forget(s.T - memoryS/2)
		}
		return false, nil
	case math.IsNaN(f.downS):
		f.downS = s.T
	}
	switch unloaded := s.T - f.downS; {
	case f.loaded && unloaded >= restS:
		return true, nil
	case !f.loaded && unloaded > 2*idleS:
		f.forgetBefore(s.T - idleS)
	}
	return false, nil
}

// rocks reports whether the centre of pressure moves like that of a hand that rocks a
// platform on a pad.
func (f *footFollower) rocks() bool {
	at := f.at()
	if !(math.Hypot(at[0]-f.still[0], at[1]-f.still[1]) <= stillMM) {
		f.still, f.stillS = at, f.now.T
	}
	return f.now.T-f.stillS < stillS
}

// forgetBefore drops the trace before a time since which the foot has been down,
// s.
func (f *footFollower) forgetBefore(since float64) {
	f.loaded, f.downS = false, since
	f.tail.Forget(since)
}

// measure returns the provisional result of a pulse.
func (f *footFollower) measure(p releve.Pulse) Hold {
	h := Hold{TouchesGap: p.TouchesGap}
	if p.Aborted {
		return h
	}
	m := f.tail.Map(p.OnsetS, p.HoldStartS, p.HoldEndS)
	if m.Frames == 0 {
		return h
	}
	noise := f.tail.Noise()
	for k, p := range m.KPa {
		noise[k] *= f.curve.PerCount(k, f.curve.Counts(k, p)) / math.Sqrt(float64(m.Frames))
	}
	full := f.grid.Reconstruct(m.KPa, noise)
	if !full.CoPOK {
		return h
	}
	h.Settled, h.HoldS, h.LoadN = true, p.HoldEndS-p.HoldStartS, full.LoadN
	h.MedialMM, h.OverMM, h.ContactShare = full.CoP[0], full.CoP[1], full.ContactShare
	medial, over := f.scatter(p)
	seat, dof := f.seatSD()
	h.Verdict, _, h.Misses = verdict.Judge(f.grid.Kern, full.CoP, platform.Point{math.Hypot(seat[0], medial), math.Hypot(seat[1], over)}, dof)
	return h
}

// scatter returns the standard uncertainty of the mean centre of pressure due to
// its movement during the hold, mm.
func (f *footFollower) scatter(p releve.Pulse) (uMedial, uOver float64) {
	var medial, over []float64
	for _, s := range f.tail.Samples()[p.HoldFirst : p.HoldLast+1] {
		if !math.IsNaN(float64(s.OverMM)) {
			medial, over = append(medial, float64(s.MedialMM)), append(over, float64(s.OverMM))
		}
	}
	return zeroIfNaN(stats.BatchMeanSE(medial)), zeroIfNaN(stats.BatchMeanSE(over))
}

// zeroIfNaN returns u, or 0 where it is NaN.
func zeroIfNaN(u float64) float64 {
	if math.IsNaN(u) {
		return 0
	}
	return u
}
