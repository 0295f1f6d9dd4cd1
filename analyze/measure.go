package analyze

// Measure is one number of a hold, as tables, comparisons and pictures need it.
type Measure struct {
	Name     string // as in the JSON
	Label    string // for people
	Unit     string // "" for a plain number
	Decimals int
	Of       func(*Measures) (value float64, ok bool)
}

// Catalog lists every measure that is compared, the declared first one at the
// head. A new measure is one line here and one field of Measures.
var Catalog = []Measure{
	{"over_mm", "over", "mm", 1, always(func(m *Measures) float64 { return m.OverMM })},
	{"medial_mm", "medial", "mm", 1, always(func(m *Measures) float64 { return m.MedialMM })},
	{"contact_share", "contact share", "", 2, always(func(m *Measures) float64 { return m.ContactShare })},
	{"kern_ratio", "kern ratio", "", 2, always(func(m *Measures) float64 { return m.KernRatio })},
	{"edge_mm", "distance to the edge", "mm", 1, always(func(m *Measures) float64 { return m.EdgeMM })},
	{"over_norm", "over, edge = 1", "", 2, always(func(m *Measures) float64 { return m.OverNorm })},
	{"medial_norm", "medial, edge = 1", "", 2, always(func(m *Measures) float64 { return m.MedialNorm })},
	{"load_n", "load", "N", 0, always(func(m *Measures) float64 { return m.LoadN })},
	{"load_share", "load share, left", "", 2, func(m *Measures) (float64, bool) {
		if m.LoadShare == nil {
			return 0, false
		}
		return *m.LoadShare, true
	}},
	{"back_third", "load in the back third", "", 2, always(func(m *Measures) float64 { return m.Thirds.Back })},
	{"middle_third", "load in the middle third", "", 2, always(func(m *Measures) float64 { return m.Thirds.Middle })},
	{"front_third", "load in the front third", "", 2, always(func(m *Measures) float64 { return m.Thirds.Front })},
	{"peak_kpa", "peak pressure", "kPa", 0, always(func(m *Measures) float64 { return m.PeakKPa })},
	{"pti_kpa_s", "pressure-time integral", "kPa·s", 0, always(func(m *Measures) float64 { return m.PTIKPaS })},
	{"sd_over_mm", "sway along over, sd", "mm", 2, swaying(func(m *Measures) float64 { return m.Sway.SDOverMM })},
	{"sd_medial_mm", "sway along medial, sd", "mm", 2, swaying(func(m *Measures) float64 { return m.Sway.SDMedialMM })},
	{"speed_mm_s", "sway speed", "mm/s", 1, swaying(func(m *Measures) float64 { return m.Sway.SpeedMMS })},
	{"ellipse95_mm2", "sway, 95 % prediction ellipse", "mm²", 1, swaying(func(m *Measures) float64 { return m.Sway.Ellipse95MM2 })},
	{"hold_s", "hold", "s", 1, always(func(m *Measures) float64 { return m.HoldS })},
}

// MeasureNamed finds a measure of the Catalog.
func MeasureNamed(name string) (Measure, bool) {
	for _, m := range Catalog {
		if m.Name == name {
			return m, true
		}
	}
	return Measure{}, false
}

func always(f func(*Measures) float64) func(*Measures) (float64, bool) {
	return func(m *Measures) (float64, bool) { return f(m), true }
}

func swaying(f func(*Measures) float64) func(*Measures) (float64, bool) {
	return func(m *Measures) (float64, bool) {
		if m.Sway == nil {
			return 0, false
		}
		return f(m), true
	}
}
