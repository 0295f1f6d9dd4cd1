package hold

import (
	"aplomb/analyze/field"
	"aplomb/analyze/measure"
	"aplomb/analyze/verdict"
)

// fullCoverage is the least share of the outline under the strip for which no
// warning is given.
const fullCoverage = 0.99

// Coverage returns the warning that a strip is smaller than its platform, which affects
// every measure; nil where it covers the platform.
func (in *Instrument) Coverage() []measure.Warning {
	if in.Covered >= fullCoverage {
		return nil
	}
	return []measure.Warning{measure.Warn(measure.StripSmall, measure.Values{Strip: in.Strip.Name, Percent: 100 * in.Covered})}
}

// Thresholds of warnings about a relevé.
const (
	OffOutlineWarn = 0.03 // share of load on cells beside the outline
	FlatShareWarn  = 0.90 // contact share below this with the dancer over the box
)

// holdWarnings returns the warnings about a hold; full is its reconstructed map.
func (in *Instrument) holdWarnings(m *measure.Hold, h *Hold, full field.Reconstruction) []measure.Warning {
	all := append([]measure.Warning{}, in.Coverage()...)
	warn := func(code measure.Code, v measure.Values) { all = append(all, measure.Warn(code, v)) }
	if m.OffOutlineShare > OffOutlineWarn {
		warn(measure.LoadOffOutline, measure.Values{Percent: 100 * OffOutlineWarn})
	}
	if m.PInside >= verdict.InsideFrom && m.ContactShare < FlatShareWarn {
		warn(measure.NotFlat, measure.Values{})
	}
	if h.saturated {
		warn(measure.SaturatedCells, measure.Values{})
	}
	if h.Beyond > 0 {
		warn(measure.BeyondInReleve, measure.Values{})
	}
	if h.crosstalkStays {
		warn(measure.CrosstalkStays, measure.Values{})
	}
	if h.Pulse.TouchesGap {
		warn(measure.GapInReleve, measure.Values{})
	}
	if len(full.Unfilled) > 0 {
		warn(measure.CellsNotFilled, measure.Values{Cells: in.Faulty(full.Unfilled)})
	}
	if len(full.Filled) > 0 {
		warn(measure.CellsFilled, measure.Values{Cells: in.Faulty(full.Filled)})
	}
	return all
}
