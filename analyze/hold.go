package analyze

import (
	"aplomb/analyze/budget"
	"aplomb/analyze/field"
	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
	"aplomb/analyze/sway"
	"aplomb/analyze/verdict"
	"aplomb/device/platform"
)

// Budgeted lists the measures whose budget is worked out.
var Budgeted = []measure.Measure{measure.Over, measure.Medial, measure.ContactShare, measure.Load}

// measured is a hold's result while it is made.
type measured struct {
	*measure.Hold
	full   field.Map      // reconstruction of the hold's mean map
	errors standardErrors // of its means
}

// measure finds the numbers of a hold with their uncertainty.
func (in *instrument) measure(h *hold, t *typical) (*measure.Hold, []measure.Warning) {
	m := in.numbers(h, t)
	m.Effects = make([]measure.Effect, len(t.effects))
	for i, effect := range t.effects {
		m.Effects[i] = effect(h, m)
	}
	m.Budget = make(map[measure.Measure]measure.Budget, len(Budgeted))
	for _, one := range Budgeted {
		m.Budget[one] = budget.OfHold(m.Effects, one)
	}
	m.UOverMM, m.UMedialMM = m.Budget[measure.Over].U, m.Budget[measure.Medial].U
	m.UContactShare, m.ULoadN = m.Budget[measure.ContactShare].U, m.Budget[measure.Load].U
	m.Verdict, m.PInside = verdict.Judge(in.grid.Kern, platform.Point{m.MedialMM, m.OverMM}, platform.Point{m.UMedialMM, m.UOverMM})
	return m.Hold, in.holdWarnings(m.Hold, h, m.full)
}

// numbers finds the numbers of a hold.
//
// The mean centre of pressure is that of the frames, each of which the trace
// corrects only lightly, and to it is added what the full reconstruction of the
// mean map finds beyond that. So is the load, to which lost cells add and from
// which crosstalk and creep are taken.
func (in *instrument) numbers(h *hold, t *typical) *measured {
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
	full := in.grid.Again(t.full, h.pressure, h.noise)
	frameN, frameAt := in.perFrame(h.read)
	at := platform.Point{mean(medial) + full.CoP[0] - frameAt[0], mean(over) + full.CoP[1] - frameAt[1]}
	p := h.pulse
	m := &measure.Hold{
		RiseS: p.HoldStartS - p.OnsetS, HoldStartS: p.HoldStartS,
		HoldS: p.HoldEndS - p.HoldStartS, LowerS: p.EndS - p.HoldEndS,
		Map: h.pressure,
	}
	in.locate(m, full, at, mean(load)+full.LoadN-frameN)
	m.PeakFrameKPa = h.peakFrame
	m.PTIKPaS = m.PeakKPa * m.HoldS
	if s, ok := sway.Of(times, medial, over); ok {
		m.Sway = &s
	}
	return &measured{m, full, standardErrors{
		platform.Point{stats.BatchMeanSE(medial), stats.BatchMeanSE(over)}, stats.BatchMeanSE(load), stats.BatchDOF(len(times)),
	}}
}

func mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}
