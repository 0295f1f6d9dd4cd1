// Package hold measures one hold: the part of a relevé in which the load stays constant.
//
// An Instrument is a strip under its platform, at the seat that its profile gives or that
// was found. It averages the pressure map of a hold from the trace, corrects it
// (corrections.go), and measures it with its uncertainty (measure.go), to which every
// source adds its effect (sources.go).
package hold

import (
	"aplomb/analyze/measure"
	"aplomb/analyze/releve"
	"aplomb/analyze/seat"
)

// Hold is the part of a relevé on one foot in which the load stays constant, with
// the pressures of its cells. Slices over cells are in the order of the scan.
type Hold struct {
	Pulse   releve.Pulse
	samples []measure.Sample

	read      []float64 // mean map above the baseline, through the curve, kPa
	pressure  []float64 // the same, corrected
	noise     []float64 // standard deviation of the mean map, kPa
	peaks     ninths    // place of peak pressure in each ninth
	drift     []float64 // the baseline after the load less that of the hold, kPa; nil where the strip was not unloaded afterwards
	peakFrame float64   // largest pressure of a cell in a single frame, kPa

	creepBound     float64 // half-width of the creep left in the load, as a share of it
	crosstalkStays bool    // crosstalk could not be removed
	saturated      bool    // a cell reached the end of its range
	atEnd          []int   // the cells that did, by their place in the scan
	found          *found  // centre of pressure and contact at the seat that was found; nil where the seat is assumed
	Frames         int     // in the mean map
	Beyond         int     // of these, frames beyond the calibrated pressures, see trace.Map
}

// hasPlace reports whether a sample has a centre of pressure.
func hasPlace(s measure.Sample) bool { return s.OverMM == s.OverMM } // not NaN

// found is the centre of pressure and the contact of a hold's map at the seat that was
// found.
type found struct {
	cop     seat.CoP
	contact *seat.Contact // nil where no fit of holds gives it
}

// Found sets the centre of pressure and the contact of the hold at the seat that was
// found. contact is nil where the fit gives none.
func (h *Hold) Found(cop seat.CoP, contact *seat.Contact) { h.found = &found{cop, contact} }

// contact returns the contact that the fit of the seat gives the hold, nil where there
// is none.
func (h *Hold) contact() *seat.Contact {
	if h.found == nil {
		return nil
	}
	return h.found.contact
}
