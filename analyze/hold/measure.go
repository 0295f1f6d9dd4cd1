package hold

import (
	"math"

	"aplomb/analyze/budget"
	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
	"aplomb/analyze/sway"
	"aplomb/analyze/verdict"
	"aplomb/device/platform"
)

// Measure returns the numbers of a hold with their uncertainty, and the warnings
// about it. t is the typical hold of the foot in the recording.
func (in *Instrument) Measure(h *Hold, t *Typical) (*measure.Hold, []measure.Warning) {
	m := in.numbers(h, t)
	m.Effects = make([]measure.Effect, len(t.effects))
	for i, effect := range t.effects {
		m.Effects[i] = effect(h, m)
	}
	m.Budget = make(map[measure.Measure]measure.Budget, len(measure.Budgeted))
	for _, one := range measure.Budgeted {
		m.Budget[one] = budget.OfHold(m.Effects, one)
	}
	m.UOverMM, m.UMedialMM = m.Budget[measure.Over].U, m.Budget[measure.Medial].U
	m.UContactShare, m.ULoadN = m.Budget[measure.ContactShare].U, m.Budget[measure.Load].U
	m.DOFOver, m.DOFMedial = m.Budget[measure.Over].DOF, m.Budget[measure.Medial].DOF
	m.DOFContactShare, m.DOFLoad = m.Budget[measure.ContactShare].DOF, m.Budget[measure.Load].DOF
	m.ContactCI95 = contactInterval(h, m.Hold)
	m.Settling = m.settling()
	m.Verdict, m.PInside, m.Misses = verdict.Judge(in.Grid.Kern, platform.Point{m.MedialMM, m.OverMM}, platform.Point{m.UMedialMM, m.UOverMM},
		float64(min(m.DOFMedial, m.DOFOver)))
	return m.Hold, in.holdWarnings(m.Hold, h, m.full)
}

// numbers computes the measures of a hold without their uncertainty.
//
// The mean centre of pressure is the mean over the frames, by the weights for single
// frames, plus a difference found on the mean map: its centre of pressure by the fit of
// the seat, or else by the full reconstruction, less that by the weights for single
// frames. The load is computed in the same way; its difference also contains the load of
// lost cells and the corrections for crosstalk and creep.
func (in *Instrument) numbers(h *Hold, t *Typical) *holdResult {
	var series [4][]float64
	for i := range series {
		series[i] = make([]float64, 0, len(h.samples))
	}
	times, medial, over, load := series[0], series[1], series[2], series[3]
	for _, s := range h.samples {
		load = append(load, float64(s.LoadN))
		if hasPlace(s) {
			times = append(times, s.T)
			medial = append(medial, float64(s.MedialMM))
			over = append(over, float64(s.OverMM))
		}
	}
	full := in.Grid.ReconstructFrom(t.full, h.pressure, h.noise)
	frameN, frameAt := in.perFrame(h.read)
	ofMap := full.CoP
	if h.found != nil {
		ofMap = h.found.cop.At
	}
	at := platform.Point{mean(medial) + ofMap[0] - frameAt[0], mean(over) + ofMap[1] - frameAt[1]}
	p := h.Pulse
	m := &measure.Hold{
		RiseS: p.HoldStartS - p.OnsetS, HoldStartS: p.HoldStartS,
		HoldS: p.HoldEndS - p.HoldStartS, LowerS: p.EndS - p.HoldEndS,
		Map: h.pressure, MapNoiseKPa: rms(h.noise),
	}
	in.locate(m, full, at, mean(load)+full.LoadN-frameN)
	if c := h.contact(); c != nil {
		m.ContactMM2, m.ContactShare, m.ContactEdge = c.AreaMM2, c.Share, c.Edge
		m.Thirds = measure.Thirds{Back: c.Thirds[0], Middle: c.Thirds[1], Front: c.Thirds[2]}
	}
	m.PeakFrameKPa = h.peakFrame
	m.PTIKPaS = m.PeakKPa * m.HoldS
	if s, ok := sway.OfHold(times, medial, over); ok {
		m.Sway = &s
	}
	result := &holdResult{Hold: m, full: full, changes: in.changes(h, times, over), errors: standardErrors{
		platform.Point{stats.BatchMeanSE(medial), stats.BatchMeanSE(over)}, stats.BatchMeanSE(load), stats.BatchDOF(len(times)),
	}}
	if whole, ok := sway.FromPath(times, medial, over); ok {
		result.swayMM = platform.Point{whole.SDMedialMM, whole.SDOverMM}
	}
	return result
}

// contactInterval returns the 95 % interval of the contact share of a measured hold,
// within 0 to 1. The interval from the fit of the seat is asymmetric; the other sources
// widen each side by the root of the sum of squares.
func contactInterval(h *Hold, m *measure.Hold) [2]float64 {
	share, half := m.ContactShare, m.Budget[measure.ContactShare].Expanded
	down, up := half, half
	if c := h.contact(); c != nil {
		other := 0.0
		if m.UContactShare > 0 {
			other = half * without(m.UContactShare, c.U) / m.UContactShare
		}
		down, up = math.Hypot(share-c.Lo, other), math.Hypot(c.Hi-share, other)
	}
	return [2]float64{max(0, share-down), min(1, share+up)}
}

func mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

// rms returns the root mean square.
func rms(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return math.Sqrt(sum / float64(len(x)))
}
