package field

import "math"

// Remains returns what the reconstruction leaves of the truth where readings
// have neither noise nor gain error, by what explained the map: root mean square
// errors of the centre of pressure along either axis, mm, and of the contact
// share, 0..1. They were measured on 56,000 maps with known truth, which
// TestRemainsTable prints and which are of our own making: linear, powered,
// domed and sloped fields, a uniform half and ellipse, and a bump, in equal
// parts. Load is the sum of the readings and leaves nothing. A map below
// LoadFloorN has no explanation and no remains.
//
// Where no model explained the map, it may be that none is true or that one is
// and the strip does not lie where its profile says. The first is in the table;
// for the second, contact share may as well be that of the model that came
// nearest: either of two values has the standard deviation of its distance ÷ √2
// about the one taken.
func (m Reconstruction) ModelError() (copMM, share float64) {
	r := modelErrors[m.Family]
	return r.copMM, max(r.share, m.nearestShareDiff/math.Sqrt2)
}

var modelErrors = map[string]struct{ copMM, share float64 }{
	LinearBed:  {0.001, 0.0006},
	PowerBed:   {0.001, 0.0006},
	DomedBed:   {0.001, 0.0009},
	UniformCut: {0.0015, 0.0006},
	SlopedCut:  {0.001, 0.0018},
	CellByCell: {0.017, 0.041},
}
