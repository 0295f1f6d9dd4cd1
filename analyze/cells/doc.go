// Package cells finds what is wrong with the cells of a strip from the frames
// that it sends while a dancer uses it. It takes one frame at a time, holds
// some hundred bytes a cell and allocates nothing for a frame, so that the same
// Watch serves a recording and a strip that is being read.
//
// # Silent, or only not loaded
//
// A cell beyond the patch of contact reads nothing, and rightly so. What tells
// a dead cell from it is a property of contact itself. Under a rigid platform
// on an elastic bed, flat or domed, the pressure is a concave function on a
// convex region and nothing outside, hence logarithmically concave: between two
// points it is nowhere lower than their geometric mean. A cell's reading is
// that field averaged over a rectangle, and an average of a log-concave
// function over a shifted convex set is again log-concave in the shift
// (Prékopa, On logarithmic concave measures and functions, Acta Scientiarum
// Mathematicarum 34 (1973) 335-343; from memory). So three cells in a line obey
//
//	reading in the middle ≥ √(reading on one side × reading on the other)
//
// wherever outline and contact end, and without knowing where they do. A cell
// far below that bound does not feel what its neighbours feel; a cell at the
// end of such a line far above it, reading ² ÷ reading, shows load where none
// can be. The platform of a real shoe is pleated, and a pleat is no concave
// body. So a bound has to be missed by a wide margin, and again and again,
// before a cell is called dead.
//
// Thresholds stand with the reasons for them. None is from a published source,
// unless it says so: they are our own choice.
package cells
