// Package logbook keeps dancers, visits, shoes, strips and the recordings made
// with them, and the measures of every recording.
//
// A logbook is one folder: an SQLite database, logbook.sqlite, and the recordings
// beside it in recordings/. Only the owner can read what the package makes. A
// backup is such a folder as well.
//
//   - A dancer has a code. There is no field for a name.
//   - Codes are any printable text, compared without case, Unicode form and
//     spacing, so that D7, d7 and D７ are one dancer. No path contains a code:
//     the names of recordings are generated.
//   - Shoes and strips have versions. One that no recording was made with is
//     changed in place; otherwise an edit makes another version, and every
//     recording refers to the version that it was made with.
//   - The logbook takes from a recording what the file says, and Rebuild restores
//     that much from the files alone.
//   - What a recording says wrongly of itself is corrected in a file beside it (package
//     correction). Rows follow the correction, backups, Rebuild and erasure take it along.
//   - Measures are rows of name, value and uncertainty. A recording has the
//     algorithm that computed its measures (package provenance). Measures of
//     another algorithm than this program's are stale: they are shown, and take
//     part in nothing that is computed from several recordings. They can be put
//     again at any time.
//   - A recording has an identity that follows from its frames and events. The
//     logbook does not take the same recording twice, also not in another file.
//   - A recording has a number, which its file carries from the moment when it is
//     taken in. A number never comes to mean another recording: that of one that was
//     erased does not come back, and Rebuild gives a recording another number where it
//     is not known which one it had.
//   - A logbook that cannot be written is read from a copy of its database in memory,
//     and nothing in its folder changes.
//   - A change is made completely or not at all, also when the power fails. Two
//     programs can use one logbook; one waits up to five seconds for the other.
//   - DeleteDancer leaves nothing of a dancer in the folder, also not in unused
//     pages of the database. It removes files without overwriting them, because
//     overwriting does not reach all copies on flash memory. Encrypt the disk
//     where that is not enough.
//
// An error is one line, names the folder or file, and can be told apart with
// errors.Is and the Err values.
package logbook
