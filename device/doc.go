// Package device describes what is measured with: the strip of pressure cells,
// the shoe that it is fixed under, the frames that it sends, and the metadata of a
// recording of them.
//
// Axes are those of the shoe, in mm, with the origin at the centroid of the
// platform's outline: medial is positive towards the big toe on either foot, over
// is positive towards the front edge. Points are written [medial, over], and
// rotation is positive from +medial towards +over.
package device
