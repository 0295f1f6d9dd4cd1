// Package seat estimates where a strip lies under a platform in one mounting: its medial
// and over offset and its rotation, from maps of pad presses and holds.
//
// The model of a map is a rigid platform on an elastic bed that pushes but does not pull
// (Winkler's bed). The platform's depth is a plane of three parameters for each map, less
// the recess of the platform's surface; the bed answers the depth at each point with a
// pressure. All maps of a mounting share the other parameters: the seat, the bearing
// outline (growth of half-width and half-depth against the ruler's, curvature, a radius
// of the front edge and one of the back edge), the stiffness of the bed, the spread of
// pressure on its way to the strip, and the gains of the cells. A reading is the mean
// pressure on a cell's pitch × pitch square times its gain.
//
// The fit is separable least squares: the planes are eliminated map by map (variable
// projection), the shared parameters have priors, and the residuals have Huber's loss
// (Annals of Mathematical Statistics 35 (1964) 73-101). The standard deviations of the
// readings are scaled until they agree with the misfit. Where the model does not hold,
// the covariance that follows from the fit is several times too small. Therefore a term
// for the model's error is added to it (see modelErrors), which was chosen on simulated
// mountings and checked on others (see the tables of this package's tests).
//
// The contact of a hold is the part of the fitted platform that carries more than
// [ContactKPa]. Its share of the bearing outline has an asymmetric interval from Monte
// Carlo draws of the fit's parameters and of the model's errors.
//
// Mountings of one physical shoe share its bearing outline: [FindTogether] estimates the
// seat of each with the outline estimated from the presses of the others. A second press
// after the holds measures how far the strip moved, see [Seat.Shift].
//
// Points are [medial, over] in mm from the centroid of the ruler's outline, pressures
// kPa, rotations from +medial towards +over. Slices over cells are in the order of the
// strip's scan, as in [aplomb/device.Frame.Counts].
package seat
