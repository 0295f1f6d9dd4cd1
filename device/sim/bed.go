package sim

import "math"

// Bed is an elastic layer under a Surface that pushes but does not pull. The
// pressure at a point depends only on the depth u by which the surface goes into
// the layer there (Winkler's bed): pressure = KPaMM·u.
//
// With ThicknessMM the layer is a foam that stiffens as it is compressed:
// pressure = KPaMM·u/(1 - u/ThicknessMM). It has the form of Boyle's law for gas
// in closed cells, whose excess pressure at the strain ε is p₀·ε/(1 - ε).
// ThicknessMM is the thickness of the gas in the layer. Foam that is compressed by
// more than nine tenths of that is dense, and its stiffness stays constant.
//
// With EdgeMM the layer also resists shear (Pasternak's bed), which loads the
// outline with pressure·EdgeMM per length. Let k be the layer's stiffness and g
// its shear stiffness in N/mm. Beside the platform the layer sinks by
// u·exp(-x/λ) with λ = √(g/k), the solution of g·d²u/dx² = k·u, so its shear at
// the outline is g·u/λ = k·u·λ. Where the displacement falls linearly through the
// thickness t, g = G·t/3 and k = E/t, so λ = t·√(G/3E). That is 0.37·t for a
// Poisson's ratio of 0.2. The load acts edgeLoadMM inside the outline.
type Bed struct {
	KPaMM       float64
	ThicknessMM float64 // mm; 0 is a bed of constant stiffness
	EdgeMM      float64 // λ, mm; 0 is a bed without shear
}

// DefaultPadKPaMM is the stiffness of the foam pad for pad presses, kPa/mm. ASTM
// D1056 grades cellular rubbers by the pressure that compresses them by a
// quarter: 34 to 62 kPa (5 to 9 psi) in grade 2, 90 to 117 kPa in grade 4. For a
// pad of 5 to 10 mm that is 14 to 50 kPa/mm in grade 2 and 36 to 94 kPa/mm in
// grade 4. The value chosen is our assumption: 100 N on 7 cm² would compress a
// softer pad flat.
const DefaultPadKPaMM = 60

// pressure returns the pressure at a depth, its growth and the energy per area
// (kPa, kPa/mm, kPa·mm).
func (b Bed) pressure(u float64) (p, growth, energy float64) {
	if b.ThicknessMM == 0 {
		return b.KPaMM * u, b.KPaMM, b.KPaMM * u * u / 2
	}
	t := b.ThicknessMM
	dense := max(0, u-denseAt*t)
	u -= dense
	left := 1 - u/t
	p, growth, energy = b.KPaMM*u/left, b.KPaMM/(left*left), b.KPaMM*t*(-u-t*math.Log(left))
	return p + growth*dense, growth, energy + p*dense + growth*dense*dense/2
}

// denseAt is the part of its thickness by which foam is compressed when it is dense.
const denseAt = 0.9

// depth returns the depth at which the bed has a pressure, mm.
func (b Bed) depth(kPa float64) float64 {
	if b.ThicknessMM == 0 {
		return kPa / b.KPaMM
	}
	dense := denseAt * b.ThicknessMM
	if p, growth, _ := b.pressure(dense); kPa > p {
		return dense + (kPa-p)/growth
	}
	return kPa / (b.KPaMM + kPa/b.ThicknessMM)
}

// orElse returns the bed, with the given stiffness where it has none.
func (b Bed) orElse(kPaMM float64) Bed {
	if b.KPaMM == 0 {
		b.KPaMM = kPaMM
	}
	return b
}
