package measure

// entry is a measure's description with the function that reads its value from a
// hold.
type entry struct {
	Description
	of func(*Hold) (value float64, ok bool)
}

// catalogue lists every measure that is compared. A new measure is a constant,
// one entry here and one field of Hold.
var catalogue = [...]entry{
	Over: {Description{
		Symbol: "over_mm", Label: "over", Title: "Front to back (over)", Unit: "mm", Kind: Declared, Decimals: 1, Low: "back", High: "front",
		Definition: "mean centre of pressure from back to front, from the platform's centroid; positive towards the front edge",
	}, inEveryHold(func(h *Hold) float64 { return h.OverMM })},
	Medial: {Description{
		Symbol: "medial_mm", Label: "medial", Title: "Side to side (medial)", Unit: "mm", Kind: Declared, Decimals: 1, Low: "little toe", High: "big toe",
		Definition: "mean centre of pressure from side to side, from the platform's centroid; positive towards the big toe on either foot",
	}, inEveryHold(func(h *Hold) float64 { return h.MedialMM })},
	ContactShare: {Description{
		Symbol: "contact_share", Label: "contact share", Title: "Platform in contact (contact share)", Kind: Declared, Proportion: true,
		Definition: "area of the platform that carries pressure, divided by the area of its outline",
	}, inEveryHold(func(h *Hold) float64 { return h.ContactShare })},
	KernRatio: {Description{
		Symbol: "kern_ratio", Label: "kern ratio", Title: "Kern ratio (up to 1 is inside)", Kind: Exploratory, Decimals: 2,
		Definition: "distance of the centre of pressure from the centroid, divided by the distance to the kern's boundary in that direction",
	}, inEveryHold(func(h *Hold) float64 { return h.KernRatio })},
	EdgeDistance: {Description{
		Symbol: "edge_mm", Label: "distance to the edge", Title: "Distance to the edge", Unit: "mm", Kind: Exploratory, Decimals: 1,
		Definition: "distance of the centre of pressure from the platform's outline; negative outside",
	}, inEveryHold(func(h *Hold) float64 { return h.EdgeMM })},
	OverNorm: {Description{
		Symbol: "over_norm", Label: "over, edge = 1", Title: "Over, edge = 1", Kind: Exploratory, Decimals: 2,
		Definition: "over divided by the distance from the centroid to the outline on that side; −1 is the back edge, 1 the front edge",
	}, inEveryHold(func(h *Hold) float64 { return h.OverNorm })},
	MedialNorm: {Description{
		Symbol: "medial_norm", Label: "medial, edge = 1", Title: "Medial, edge = 1", Kind: Exploratory, Decimals: 2,
		Definition: "medial divided by the distance from the centroid to the outline on that side; −1 is the little-toe edge, 1 the big-toe edge",
	}, inEveryHold(func(h *Hold) float64 { return h.MedialNorm })},
	Load: {Description{
		Symbol: "load_n", Label: "load", Title: "Load", Unit: "N", Kind: Declared,
		Definition: "mean force under the platform",
	}, inEveryHold(func(h *Hold) float64 { return h.LoadN })},
	LoadShare: {Description{
		Symbol: "load_share", Label: "load share, left", Title: "Load share, left", Kind: Declared, Proportion: true,
		Definition: "load of the left foot divided by the load of both, while both hold; one number for both feet, absent where one foot rises alone",
	}, func(h *Hold) (float64, bool) {
		if h.LoadShare == nil {
			return 0, false
		}
		return *h.LoadShare, true
	}},
	BackThird: {Description{
		Symbol: "back_third", Label: "load in the back third", Title: "Load in the back third", Kind: Exploratory, Proportion: true,
		Definition: "share of the load in the back third of the platform's depth",
	}, inEveryHold(func(h *Hold) float64 { return h.Thirds.Back })},
	MiddleThird: {Description{
		Symbol: "middle_third", Label: "load in the middle third", Title: "Load in the middle third", Kind: Exploratory, Proportion: true,
		Definition: "share of the load in the middle third of the platform's depth",
	}, inEveryHold(func(h *Hold) float64 { return h.Thirds.Middle })},
	FrontThird: {Description{
		Symbol: "front_third", Label: "load in the front third", Title: "Load in the front third", Kind: Exploratory, Proportion: true,
		Definition: "share of the load in the front third of the platform's depth",
	}, inEveryHold(func(h *Hold) float64 { return h.Thirds.Front })},
	PeakPressure: {Description{
		Symbol: "peak_kpa", Label: "peak pressure", Title: "Peak pressure", Unit: "kPa", Kind: Exploratory,
		Definition: "largest pressure of a cell in the mean map of the hold",
	}, inEveryHold(func(h *Hold) float64 { return h.PeakKPa })},
	PressureTime: {Description{
		Symbol: "pti_kpa_s", Label: "pressure-time integral", Title: "Pressure-time integral", Unit: "kPa·s", Kind: Exploratory,
		Definition: "largest pressure-time integral of a cell over the hold",
	}, inEveryHold(func(h *Hold) float64 { return h.PTIKPaS })},
	SwayOver: {Description{
		Symbol: "sd_over_mm", Label: "sway along over, sd", Title: "Sway front to back, SD", Unit: "mm", Kind: Exploratory, Decimals: 2,
		Definition: "standard deviation of the centre of pressure from back to front, over a window of the hold of one length",
	}, inSway(func(s *Sway) float64 { return s.SDOverMM })},
	SwayMedial: {Description{
		Symbol: "sd_medial_mm", Label: "sway along medial, sd", Title: "Sway side to side, SD", Unit: "mm", Kind: Exploratory, Decimals: 2,
		Definition: "standard deviation of the centre of pressure from side to side, over a window of the hold of one length",
	}, inSway(func(s *Sway) float64 { return s.SDMedialMM })},
	SwaySpeed: {Description{
		Symbol: "speed_mm_s", Label: "sway speed", Title: "Sway speed", Unit: "mm/s", Kind: Exploratory, Decimals: 1,
		Definition: "path length of the centre of pressure divided by the time it took, over a window of the hold of one length",
	}, inSway(func(s *Sway) float64 { return s.SpeedMMS })},
	SwayEllipse: {Description{
		Symbol: "ellipse95_mm2", Label: "sway, 95 % prediction ellipse", Title: "Sway, 95 % prediction ellipse", Unit: "mm²", Kind: Exploratory, Decimals: 1,
		Definition: "area of the 95 % prediction ellipse of the centre of pressure, over a window of the hold of one length (Schubert and Kirchner, Gait & Posture 39 (2014) 518-522)",
	}, inSway(func(s *Sway) float64 { return s.Ellipse95MM2 })},
	OverChange: {Description{
		Symbol: "over_change_mm", Label: "change of over within the hold", Title: "Over, change within the hold", Unit: "mm", Kind: Exploratory, Decimals: 1, Low: "back", High: "front",
		Definition: "centre of pressure from back to front, mean over the last third of the hold less that over the first",
	}, inSettling(func(s *Settling) float64 { return s.Over.Value })},
	PeakOverChange: {Description{
		Symbol: "peak_over_change_mm", Label: "change of the peak's over within the hold", Title: "Peak place, change front to back", Unit: "mm", Kind: Exploratory, Decimals: 1, Low: "back", High: "front",
		Definition: "place of peak pressure (centroid of what exceeds half of it) from back to front, mean over the last third of the hold less that over the first",
	}, inSettling(func(s *Settling) float64 { return s.PeakOver.Value })},
	PeakMedialChange: {Description{
		Symbol: "peak_medial_change_mm", Label: "change of the peak's medial within the hold", Title: "Peak place, change side to side", Unit: "mm", Kind: Exploratory, Decimals: 1, Low: "little toe", High: "big toe",
		Definition: "place of peak pressure (centroid of what exceeds half of it) from side to side, mean over the last third of the hold less that over the first",
	}, inSettling(func(s *Settling) float64 { return s.PeakMedial.Value })},
	HoldTime: {Description{
		Symbol: "hold_s", Label: "hold", Title: "Length of the hold", Unit: "s", Kind: Exploratory, Decimals: 1,
		Definition: "length of the hold",
	}, inEveryHold(func(h *Hold) float64 { return h.HoldS })},
}

// Value returns the value of m in its unit. ok is false where the hold has none.
func (h *Hold) Value(m Measure) (value float64, ok bool) {
	if h == nil || m == 0 || int(m) >= len(catalogue) {
		return 0, false
	}
	return catalogue[m].of(h)
}

// inEveryHold returns the value function of a measure that every hold has.
func inEveryHold(f func(*Hold) float64) func(*Hold) (float64, bool) {
	return func(h *Hold) (float64, bool) { return f(h), true }
}

// inSway returns the value function of a measure of sway, which not every hold has.
func inSway(f func(*Sway) float64) func(*Hold) (float64, bool) {
	return func(h *Hold) (float64, bool) {
		if h.Sway == nil {
			return 0, false
		}
		return f(h.Sway), true
	}
}

// inSettling returns the value function of a change within a hold, which not every hold has.
func inSettling(f func(*Settling) float64) func(*Hold) (float64, bool) {
	return func(h *Hold) (float64, bool) {
		if h.Settling == nil {
			return 0, false
		}
		return f(h.Settling), true
	}
}

// Budgeted lists the measures whose uncertainty budget is computed.
var Budgeted = [...]Measure{Over, Medial, ContactShare, Load}
