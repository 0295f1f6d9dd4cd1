// Package device knows the things on the floor: the strip of pressure cells,
// the shoe it is fixed under, and the frames that come from it.
//
// Axes are those of the shoe, in mm, origin at the centroid of the platform's
// outline: medial is positive towards the big toe on either foot, over is
// positive towards the front edge. Points are written [medial, over] and
// rotation is positive from +medial towards +over.
package device
