// Package logbook stores dancers, visits, shoes, strips and the recordings made with
// them, and the measures of every recording.
//
// A logbook is one folder: an SQLite database, logbook.sqlite, and the recordings beside
// it in recordings/. Only the owner can read the files that the package makes. A backup
// is such a folder as well.
//
//   - A dancer has a code. There is no field for a name.
//   - Codes are any printable text, compared without case, Unicode form and spacing,
//     so that D7, d7 and D７ are one dancer. No path contains a code: the names of
//     recordings are generated.
//   - Shoes and strips have versions. A version without recordings is changed in
//     place; otherwise an edit creates a new version, and every recording refers to
//     the version with which it was made.
//   - The description of a recording in the database is a copy of that in its file,
//     so Rebuild can restore it from the files alone.
//   - Wrong metadata of a recording are corrected in a file beside it (package
//     correction). The rows have the corrected values; backups, Rebuild and erasure
//     include the file.
//   - Measures are rows of name, value and uncertainty. A recording has the algorithm
//     that computed its measures (package provenance). Measures of another algorithm
//     than this program's are stale: they are shown, and take part in nothing that is
//     computed from several recordings. They can be replaced at any time.
//   - A recording has an identity that follows from its frames and events. The
//     logbook does not add the same recording twice, also not from another file.
//   - A recording has a number, which is written into its file when it is added. A
//     number is never reused for another recording: the number of an erased recording
//     is not given again, and Rebuild assigns a new number where the former one is
//     not known.
//   - A logbook that cannot be written is read from a copy of its database in memory,
//     and nothing in its folder changes.
//   - A change is made completely or not at all, also when the power fails. Two
//     programs can use one logbook; one waits up to fifteen seconds for the other.
//   - DeleteDancer leaves nothing of a dancer in the folder, also not in unused pages
//     of the database. It removes files without overwriting them, because overwriting
//     does not reach all copies on flash memory. Encrypt the disk where that is not
//     enough.
//
// An error is one line, names the folder or file, and matches one of the Err values with
// errors.Is.
package logbook
