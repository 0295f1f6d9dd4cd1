// Package cells finds faults of the cells of a strip in the frames of normal use. A
// [Monitor] takes one frame at a time, uses some hundred bytes per cell and allocates
// nothing for a frame, so that it serves recordings and live strips.
//
// # Dead or unloaded
//
// A cell outside the contact has no reading, and neither has a dead cell. A property of
// contact distinguishes them. Under a rigid platform on an elastic foundation, flat
// or domed, the pressure is a concave function on a
// convex region and zero outside, hence logarithmically concave: between two
// points it is nowhere lower than their geometric mean. A cell's reading is
// that field averaged over a rectangle, and an average of a log-concave
// function over a shifted convex set is again log-concave in the shift
// (Prékopa, On logarithmic concave measures and functions, Acta Scientiarum
// Mathematicarum 34 (1973) 335-343, theorem 6). Three cells in a line therefore obey
//
//	reading in the middle ≥ √(reading on one side × reading on the other)
//
// for any outline and any edge of the contact. A cell far below that bound
// does not respond to the load on its neighbours. The platform of a real shoe has
// pleats, under which the pressure is not concave. A cell therefore counts as dead
// only when it is below the bound by a wide margin in several loads.
//
// Thresholds are our own choice, for the reasons given with them, unless a source
// is cited.
package cells
