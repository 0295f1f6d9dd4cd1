package analyze

import (
	"math"

	"aplomb/analyze/cells"
	"aplomb/analyze/measure"
)

// Lost cells: a cell that is dead or stuck says nothing of the load on it. The
// reconstruction within the cells fills it from the others (field.Grid.Without),
// which is a correction, and CellsFilled is its uncertainty.

// CellsFilled is the uncertainty for want of cells that do not measure.
const CellsFilled measure.Source = "cells filled"

// lose takes the cells that the watch found to be dead or stuck out of the grid.
// It returns whether there are any that were not lost before.
func (in *instrument) lose(w *cells.Watch) bool {
	var gone []int
	w.End()
	for _, found := range w.Findings() {
		if found.Kind != cells.Dead && found.Kind != cells.Stuck {
			continue
		}
		for k := range in.strip.Cells() {
			if w.At(k) == found.Cell && !in.isLost(k) {
				in.lost = append(in.lost, lostCell{k, found.Cell, found.Kind})
				gone = append(gone, k)
			}
		}
	}
	if len(gone) == 0 {
		return false
	}
	in.grid = in.grid.Without(gone)
	in.weights = in.grid.Weights()
	return true
}

func (in *instrument) isLost(k int) bool {
	for _, l := range in.lost {
		if l.k == k {
			return true
		}
	}
	return false
}

// faulty describes the lost cells at these places of the scan.
func (in *instrument) faulty(at []int) []measure.FaultyCell {
	var all []measure.FaultyCell
	for _, k := range at {
		for _, l := range in.lost {
			if l.k == k {
				all = append(all, measure.FaultyCell{Row: l.cell.Row + 1, Column: l.cell.Col + 1, Fault: string(l.fault)})
			}
		}
	}
	return all
}

// fromLostCells is the uncertainty for want of the lost cells: how much each
// measure of the typical hold changes without one more cell beside each lost one
// (field.Grid.WithoutOneMore), root mean square over those, then the root of the
// sum of squares over the lost cells.
func fromLostCells(in *instrument, t *typical) effectOf {
	e := measure.Effect{
		Source: CellsFilled, Type: measure.TypeB, Distribution: measure.Normal, Common: measure.OfShape,
		Basis: "how measures change without one more cell beside each that does not measure",
	}
	u := map[measure.Measure]float64{}
	for _, maps := range in.grid.WithoutOneMore(t.pressure, t.noise) {
		for _, m := range located {
			sum := 0.0
			for _, full := range maps {
				d := change(m, in.locatedAt(full), t.hold)
				sum += d * d / float64(len(maps))
			}
			u[m] = math.Hypot(u[m], math.Sqrt(sum))
		}
	}
	if len(u) == 0 {
		e.Basis = "every cell measures"
	}
	e.U = exactly(u)
	return always(e)
}
