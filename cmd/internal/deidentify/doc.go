// Package deidentify writes recordings anew without what names a dancer, so that they can
// be exported and handed on. It pseudonymizes in the sense of ISO 25237:2017 (Health
// informatics, Pseudonymization): whoever has the key can compute which new code belongs
// to which old one, and nobody else can.
//
// Everything of a package follows from its recordings and the few lines about visits and
// dancers beside them. So this package changes those, and the export runs as it does
// otherwise: what is not in the recordings that it is given cannot be in the package.
//
//   - Codes of dancers, shoes and strips, names of mountings, and words that tell
//     conditions apart become new ones, see [Key.code].
//   - All times of a dancer are moved back by one constant that follows from the key, 10 to
//     19 years in whole days and a time of day. Intervals within a dancer stay, weekday,
//     season and hour do not. Moved dates cannot be mistaken for those of the study.
//   - Notes and free words go, unless they are asked for.
//   - The frames keep every count, the strip's clock and the number of each frame, so that
//     what is measured in them stays the same.
//
// What may still identify a dancer is listed in words.go, and written into every package.
package deidentify
