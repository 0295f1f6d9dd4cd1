// Package cells finds faults of the cells of a strip from the frames that it sends
// in use. A [Monitor] takes one frame at a time, holds some hundred bytes a cell
// and allocates nothing for a frame, so that it serves recordings and live strips.
//
// # Dead or unloaded
//
// A cell outside the contact reads nothing, and so does a dead cell. A property of
// contact tells them apart. Under a rigid platform on an elastic foundation, flat
// or domed, the pressure is a concave function on a
// convex region and nothing outside, hence logarithmically concave: between two
// points it is nowhere lower than their geometric mean. A cell's reading is
// that field averaged over a rectangle, and an average of a log-concave
// function over a shifted convex set is again log-concave in the shift
// (Prékopa, On logarithmic concave measures and functions, Acta Scientiarum
// Mathematicarum 34 (1973) 335-343, theorem 6). So three cells in a line obey
//
//	reading in the middle ≥ √(reading on one side × reading on the other)
//
// whatever the outline and the edge of the contact are. A cell far below that bound
// does not respond to the load on its neighbours. The platform of a real shoe has
// pleats, under which the pressure is not concave. A cell therefore counts as dead
// only when it is below the bound by a wide margin in several loads.
//
// Thresholds are our own choice, for the reasons given with them, unless a source
// is cited.
package cells
