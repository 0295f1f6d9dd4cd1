package hold

import "aplomb/device/crosstalk"

// removeCrosstalk removes from a hold's map the readings caused by current through other
// cells of the grid, where the strip's profile describes its lines. A reading below its
// zero is noise and stays. Where the network has no solution the map stays unchanged and
// the hold records that. Wrong values in the profile are not detected, since any readings
// give some conductances.
func removeCrosstalk(in *Instrument, h *Hold) {
	tie := in.Strip.Crosstalk.Tie()
	if tie == 0 {
		return
	}
	read := h.pressure
	across, conducts := make([]float64, len(read)), make([]float64, len(read))
	at := func(k int) int { // the network goes row by row
		row, col := in.Strip.RowCol(k)
		return row*in.Strip.Cols + col
	}
	for k, p := range read {
		if in.isLost(k) {
			continue // its reading does not show what it conducts
		}
		across[at(k)] = in.Curve.Counts(k, p)
	}
	if !crosstalk.New(in.Strip.Rows, in.Strip.Cols, tie).Conductances(across, conducts) {
		h.crosstalkStays = true
		return
	}
	h.pressure = make([]float64, len(read))
	for k := range h.pressure {
		h.pressure[k] = min(0, read[k]) + in.Curve.KPa(k, conducts[at(k)])
	}
}
