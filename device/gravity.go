package device

// StandardGravity is the standard acceleration of free fall, m/s², which converts a
// mass to its weight: the conventional value of the third General Conference on
// Weights and Measures (1901), as in ISO 80000-3. At sea level gravity is within
// 0.3 % of it from the equator to the poles.
const StandardGravity = 9.80665
