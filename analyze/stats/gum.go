package stats

import "math"

// Component is one independent contribution to a combined standard uncertainty.
type Component struct {
	U   float64 // standard uncertainty, already multiplied by its sensitivity
	DOF float64 // degrees of freedom; +Inf where U is taken as known
}

// Combined returns the combined standard uncertainty of independent components,
// √Σuᵢ² (JCGM 100:2008, 5.1.2, formula 10, sensitivities included in uᵢ).
func Combined(parts ...Component) float64 {
	u := 0.0
	for _, p := range parts {
		u = math.Hypot(u, p.U)
	}
	return u
}

// EffectiveDOF returns the degrees of freedom of the combined uncertainty,
// u⁴ ÷ Σ uᵢ⁴/νᵢ, not truncated (Welch-Satterthwaite: JCGM 100:2008, G.4.1,
// formula G.2b). It is +Inf without components, where no component has U above
// 0, and where all have infinite degrees of freedom. A component with U above 0
// and 0 degrees of freedom makes it 0. It is NaN where any U or DOF is NaN or
// negative.
func EffectiveDOF(parts ...Component) float64 {
	largest := 0.0
	for _, p := range parts {
		if !(p.U >= 0) || !(p.DOF >= 0) {
			return math.NaN()
		}
		largest = max(largest, p.U)
	}
	if largest == 0 {
		return math.Inf(1)
	}
	var square, limit float64
	for _, p := range parts {
		if p.U == 0 {
			continue // with DOF 0 as well, which would give 0/0
		}
		v := (p.U / largest) * (p.U / largest)
		square += v
		limit += v * v / p.DOF
	}
	return square * square / limit
}
