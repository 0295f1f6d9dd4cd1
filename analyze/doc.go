// Package analyze measures a recording: every relevé with its centre of
// pressure, contact share, sway and verdict, each with its uncertainty.
//
// File does this in several passes. The first reads the frames and keeps 24 bytes
// of each and a pressure map for every tenth of a second under load (package
// trace). The next ones find the relevés (package releve), and correct the mean map
// of every hold and measure it with its uncertainty (package hold). Results are
// data of package measure.
package analyze
