// Package sim is a strip that does not exist: a dancer's feet, the contact of
// a rigid platform with the floor, cells with the faults cells have, and a
// pseudo-terminal to read them from as from a real port.
//
// A Session is a device.Source and knows the truth behind its frames; Serve
// sends its frames down a Line. Everything drawn at random comes from one
// number, so the same Setup gives the same frames.
//
// The package checks the rest of the program's plumbing. It cannot validate
// the analysis, which is checked against formulas and data of others.
package sim
