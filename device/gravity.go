package device

// StandardGravity makes a weight of a mass, m/s²: the conventional value of the
// third General Conference on Weights and Measures (1901), as in ISO 80000-3.
// From the equator to the poles at sea level gravity is within 0.3 % of it.
const StandardGravity = 9.80665
