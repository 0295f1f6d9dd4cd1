// Package deidentify writes recordings again without data that identify a dancer, so that
// they can be exported and passed on. It pseudonymizes in the sense of ISO 25237:2017
// (Health informatics, Pseudonymization): with the key the new code for an old one can be
// computed, and without the key it cannot.
//
// A package is derived entirely from its recordings and a few data about visits and
// dancers. Therefore this package changes those, and the export runs as usual: what is
// not in the recordings that it is given cannot be in the package.
//
//   - Codes of dancers, shoes and strips, names of mountings, and free words that
//     distinguish conditions are replaced by new ones, see [Key.code].
//   - All times of a dancer are moved back by one constant that follows from the key,
//     10 to 19 years in whole days and a time of day. Intervals within a dancer are
//     unchanged; weekday, season and hour are not. Moved dates cannot be mistaken for
//     those of the study.
//   - Notes and free text are removed, unless they are requested.
//   - The frames keep every count, the strip's clock and the number of each frame, so
//     that measurements do not change.
//
// The remaining data that may identify a dancer are listed in words.go, and written into
// every package.
package deidentify
