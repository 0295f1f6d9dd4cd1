package hold

import (
	"aplomb/analyze/budget"
	"aplomb/analyze/measure"
	"aplomb/analyze/releve"
	"aplomb/analyze/sway"
	"aplomb/analyze/trace"
	"aplomb/device/platform"
)

// ninths holds one position, mm along medial and over, for each ninth of a hold.
type ninths struct {
	known bool // every ninth has one
	at    [sway.Ninths]platform.Point
}

// axis returns the coordinates along one axis, 0 medial and 1 over, mm.
func (n *ninths) axis(i int) (x [sway.Ninths]float64) {
	for k, p := range n.at {
		x[k] = p[i]
	}
	return x
}

// peaks returns the position of peak pressure in the mean map of each ninth of a pulse's
// hold, with the strip at its profile's seat. zero is the baseline, counts. The positions
// are unknown where the hold is shorter than the window of sway or a ninth has no map.
// The maps are not corrected for crosstalk and creep, which hardly change from ninth to
// ninth.
func (in *Instrument) peaks(l *trace.Log, p releve.Pulse, zero []float64) (n ninths) {
	length := p.HoldEndS - p.HoldStartS
	if length < sway.WindowS {
		return n
	}
	for i := range n.at {
		from := p.HoldStartS + length*float64(i)/sway.Ninths
		m := l.Map(from, from+length/sway.Ninths, zero)
		if m.Frames == 0 {
			return ninths{}
		}
		n.at[i] = in.peakAt(m.KPa)
		if n.at[i][0] != n.at[i][0] { // NaN: no cell has pressure
			return ninths{}
		}
	}
	n.known = true
	return n
}

// peakShare is the share of the largest pressure above which pressure belongs to the
// peak. It is our own choice.
const peakShare = 0.5

// peakAt returns the position of the peak of a map, kPa in scan order, with the strip at
// its profile's seat, mm: the centroid of what exceeds peakShare of the largest pressure.
// Unlike the position of the largest cell it moves evenly as the peak moves from one cell
// to the next, or as one of two peaks grows. Lost cells do not count. It is NaN where no
// cell has pressure.
func (in *Instrument) peakAt(kPa []float64) (at platform.Point) {
	largest := 0.0
	for k, v := range kPa {
		if !in.isLost(k) {
			largest = max(largest, v)
		}
	}
	sum := 0.0
	for k, v := range kPa {
		if above := v - peakShare*largest; above > 0 && !in.isLost(k) {
			c := in.Strip.Centre(in.Strip.RowCol(k))
			at[0], at[1], sum = at[0]+above*c[0], at[1]+above*c[1], sum+above
		}
	}
	return platform.Point{at[0] / sum, at[1] / sum}
}

// changes returns the changes from the first third of a hold to its last: of over, from
// the times, s, and coordinates over, mm, of its frames, and of the position of peak
// pressure.
func (in *Instrument) changes(h *Hold, times, over []float64) map[measure.Measure]sway.Change {
	means, ok := sway.InNinths(times, over)
	if !ok || !h.peaks.known {
		return nil
	}
	peaks := h.peaks
	for i := range peaks.at {
		peaks.at[i] = in.reseated(peaks.at[i])
	}
	return map[measure.Measure]sway.Change{
		measure.OverChange:       sway.ChangeWithin(means),
		measure.PeakOverChange:   sway.ChangeWithin(peaks.axis(1)),
		measure.PeakMedialChange: sway.ChangeWithin(peaks.axis(0)),
	}
}

// settling returns the changes within a hold with their uncertainty, nil where there are
// none.
func (m *holdResult) settling() *measure.Settling {
	if m.changes == nil {
		return nil
	}
	of := func(one measure.Measure) measure.Change {
		v, b := m.changes[one].Value, budget.OfHold(m.Effects, one)
		return measure.Change{Estimate: measure.Estimate{Value: v, U: b.U, CI95: [2]float64{v - b.Expanded, v + b.Expanded}}, DOF: b.DOF}
	}
	return &measure.Settling{Over: of(measure.OverChange), PeakOver: of(measure.PeakOverChange), PeakMedial: of(measure.PeakMedialChange)}
}
