package hold

import (
	"math"

	"aplomb/analyze/budget"
	"aplomb/analyze/measure"
	"aplomb/analyze/releve"
	"aplomb/analyze/sway"
	"aplomb/analyze/trace"
	"aplomb/device/platform"
)

// ninths holds a place, mm along medial and over, for each ninth of a hold.
type ninths struct {
	known bool // every ninth has one
	at    [sway.Ninths]platform.Point
}

// axis returns the places along one axis, 0 medial and 1 over, mm.
func (n *ninths) axis(i int) (x [sway.Ninths]float64) {
	for k, p := range n.at {
		x[k] = p[i]
	}
	return x
}

// peaks returns the place of peak pressure in the mean map of each ninth of the hold of
// a pulse, above a zero, counts, with the strip at its profile's seat. None is known
// where the hold is shorter than the window of sway or a ninth has no map.
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
	}
	n.known = true
	return n
}

// peakAt returns the place of the peak of a map, kPa in scan order, with the strip at
// its profile's seat, mm: the vertices of the parabolas through the largest cell and its
// neighbours along rows and along columns. Where a neighbour is lost or beyond the strip
// it is the middle of the cell in that direction. It is NaN where every cell is lost.
func (in *Instrument) peakAt(kPa []float64) platform.Point {
	s := in.Strip
	largest := -1
	for k := range kPa {
		if !in.isLost(k) && (largest < 0 || kPa[k] > kPa[largest]) {
			largest = k
		}
	}
	if largest < 0 {
		return platform.Point{math.NaN(), math.NaN()}
	}
	row, col := s.RowCol(largest)
	at := s.Centre(row, col)
	along := func(dr, dc int) (d platform.Point) {
		before, okBefore := in.cellAt(kPa, row-dr, col-dc)
		after, okAfter := in.cellAt(kPa, row+dr, col+dc)
		if okBefore && okAfter {
			share, next := vertex(before, kPa[largest], after), s.Centre(row+dr, col+dc)
			d = platform.Point{share * (next[0] - at[0]), share * (next[1] - at[1])}
		}
		return d
	}
	rows, cols := along(1, 0), along(0, 1)
	return platform.Point{at[0] + rows[0] + cols[0], at[1] + rows[1] + cols[1]}
}

// cellAt returns the pressure of the cell at row and col; ok is false beside the strip
// and for a lost cell.
func (in *Instrument) cellAt(kPa []float64, row, col int) (pressure float64, ok bool) {
	for k, v := range kPa {
		if r, c := in.Strip.RowCol(k); r == row && c == col {
			return v, !in.isLost(k)
		}
	}
	return 0, false
}

// vertex returns where the parabola through three values at −1, 0 and 1 has its maximum;
// the middle one is the largest. It lies within ±½.
func vertex(before, middle, after float64) float64 {
	bend := 2*middle - before - after
	if bend <= 0 {
		return 0 // all three are equal
	}
	return (after - before) / (2 * bend)
}

// changes returns what changes from the first third of a hold to its last: over from
// the times, s, and places over, mm, of its frames, and the place of peak pressure.
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

// settling returns the changes within a hold with what its effects make uncertain about
// them, nil where there are none.
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
