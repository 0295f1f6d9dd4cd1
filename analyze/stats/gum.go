package stats

import "math"

// Component is one independent contribution to a combined standard uncertainty.
type Component struct {
	U   float64 // standard uncertainty, already multiplied by its sensitivity
	DOF float64 // degrees of freedom; +Inf where U is taken as known
}

// Combined returns the root of the sum of squares of the components.
func Combined(parts ...Component) float64 {
	u := 0.0
	for _, p := range parts {
		u = math.Hypot(u, p.U)
	}
	return u
}

// EffectiveDOF returns the degrees of freedom of the combined uncertainty,
// u⁴ ÷ Σ uᵢ⁴/νᵢ, not truncated (Welch-Satterthwaite: JCGM 100:2008, G.4.1,
// formula G.2b). It is +Inf where nothing limits it: no component, none with
// U above 0, or all of them with infinite degrees of freedom. A component with
// U above 0 and 0 degrees of freedom makes it 0. It is NaN where anything is
// NaN or negative.
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
			continue // also where DOF is 0, which would make 0/0
		}
		v := (p.U / largest) * (p.U / largest)
		square += v
		limit += v * v / p.DOF
	}
	return square * square / limit
}
