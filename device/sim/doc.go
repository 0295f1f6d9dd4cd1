// Package sim simulates strips: the feet of a dancer, the contact of a rigid platform with
// an elastic floor, cells with the faults that cells have, and a pseudo-terminal from which
// frames are read as from a serial port.
//
// A Session is a device.Source that also knows the true values behind its frames. Serve
// sends its frames down a Line. All random numbers come from one seed, so the same Setup
// gives the same frames. A Session may contain pad presses, and its platforms may be rounded,
// domed or pleated; see Setup and Physics.
//
// A Mounting gives pressure maps instead of frames: a strip under such a platform, a pad
// press, and holds, with the true seat, centres of pressure and contact shares. Scenarios
// lists the physics that it is used with.
//
// The package tests everything around the analysis. It cannot validate the analysis
// itself, which is checked against formulas and published data.
package sim
