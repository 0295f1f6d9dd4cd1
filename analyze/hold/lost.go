package hold

import (
	"math"

	"aplomb/analyze/cells"
	"aplomb/analyze/measure"
)

// Lost cells are dead or stuck: their readings do not follow the load. The reconstruction
// within the cells fills them from the others (field.Grid.WithoutCells); CellsFilled is
// the uncertainty of that correction.

// CellsFilled is the source of uncertainty that lost cells are filled from the others.
const CellsFilled measure.Source = "cells filled"

// Lose removes from the grid the cells that the monitor found to be dead or stuck. It
// returns whether there are new ones.
func (in *Instrument) Lose(w *cells.Monitor) bool {
	var gone []int
	w.End()
	for _, found := range w.Faults() {
		if found.Kind != cells.Dead && found.Kind != cells.Stuck {
			continue
		}
		for k := range in.Strip.Cells() {
			if w.At(k) == found.Cell && !in.isLost(k) {
				in.Lost = append(in.Lost, LostCell{k, found.Cell, found.Kind})
				gone = append(gone, k)
			}
		}
	}
	if len(gone) == 0 {
		return false
	}
	in.Grid = in.Grid.WithoutCells(gone)
	in.weights = in.Grid.Weights()
	return true
}

// fromLostCells returns the uncertainty of filling lost cells. It measures the
// typical hold again without one more cell beside a lost one
// (field.Grid.WithoutOneMore), takes the root mean square of the changes over those
// cells, and then the root of the sum of squares over the lost cells.
func fromLostCells(in *Instrument, t *Typical) effectOf {
	e := measure.Effect{
		Source: CellsFilled, Type: measure.TypeB, Distribution: measure.Normal, Common: measure.OfShape,
		Basis: "how measures change without one more cell beside each that does not measure",
	}
	u := map[measure.Measure]float64{}
	for _, maps := range in.Grid.LeaveNeighboursOut(t.pressure, t.noise) {
		for _, m := range locatedMeasures {
			sum := 0.0
			for _, full := range maps {
				d := change(m, in.measuresOf(full), t.hold)
				sum += d * d / float64(len(maps))
			}
			u[m] = math.Hypot(u[m], math.Sqrt(sum))
		}
	}
	if len(u) == 0 {
		e.Basis = "every cell measures"
	}
	e.U = withUnlimitedDOF(u)
	return constantEffect(e)
}
