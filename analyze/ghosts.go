package analyze

import "aplomb/device/network"

// laid returns a map, kPa, without what current leads to cells by the way round
// through others, where the strip's profile says enough of its lines; the map
// itself elsewhere. A reading below its zero is noise, and stays. It returns true
// where that failed; the map then is as it was. A profile that is wrong about the
// lines does not show: any readings lead to some conductances.
func (g *foot) laid(seen []float64) (pressure []float64, failed bool) {
	tie := g.strip.Ghosting.Tie()
	if tie == 0 {
		return seen, false
	}
	across, conducts := make([]float64, len(seen)), make([]float64, len(seen))
	at := func(k int) int { // the network goes row by row
		row, col := g.strip.RowCol(k)
		return row*g.strip.Cols + col
	}
	for k, p := range seen {
		if g.without(k) != nil {
			continue // whatever it conducts, it does not say
		}
		across[at(k)] = g.curve.Counts(k, p)
	}
	if !network.New(g.strip.Rows, g.strip.Cols, tie).Undo(across, conducts) {
		return seen, true
	}
	pressure = make([]float64, len(seen))
	for k := range pressure {
		pressure[k] = min(0, seen[k]) + g.curve.KPa(k, conducts[at(k)])
	}
	return pressure, false
}
