package field

import "math"

// ModelError returns the error of the reconstruction for readings with neither noise nor
// gain error, by family of model: root mean square errors of the centre of pressure along
// either axis, mm, and of the contact share, 0 to 1. They were measured on 56,000
// simulated maps with known truth, which TestModelErrorTable prints: linear, power, domed
// and sloped fields, a uniform half and ellipse, and a bump, in equal parts. Load is the
// sum of the readings and has no model error. A map below LoadFloorN has no model, and
// both errors are 0.
//
// Where no model fitted, either none is true, or one is and the seat differs from that of
// the profile. The table contains the error of the former case. In the latter case the
// contact share may be that of the nearest model: one of two equally probable values
// deviates from the other by a standard deviation of distance ÷ √2.
func (m Reconstruction) ModelError() (copMM, share float64) {
	r := modelErrors[m.Family]
	return r.copMM, max(r.share, m.nearestShareDiff/math.Sqrt2)
}

// modelErrors are the errors of ModelError by family.
var modelErrors = map[string]struct{ copMM, share float64 }{
	LinearBed:  {0.001, 0.0006},
	PowerBed:   {0.001, 0.0006},
	DomedBed:   {0.001, 0.0009},
	UniformCut: {0.0015, 0.0006},
	SlopedCut:  {0.001, 0.0018},
	CellByCell: {0.017, 0.041},
}
