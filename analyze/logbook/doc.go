// Package logbook keeps who wore what when, and where the recording is.
//
// A logbook is one folder: an SQLite database, logbook.sqlite, and the
// recordings beside it in recordings/. The owner alone can read what the package
// makes. A backup is such a folder as well.
//
//   - Dancers go by a code. There is no field for a name.
//   - Codes are any printable text, compared without case, Unicode form and
//     spacing, so that D7, d7 and D７ are one dancer. They never stand in a path:
//     recordings get generated names.
//   - Shoes and strips have versions. What no recording was made with is changed
//     in place; after that an edit makes another version, and every recording
//     keeps pointing at what was true.
//   - Of a recording the logbook takes what the file says; Rebuild restores that
//     much from the files alone.
//   - Measures are rows of name, value, uncertainty and the version of the
//     program that computed them. They can be put again at any time.
//   - A change is whole or not made at all, also when the power fails. Two
//     programs may use one logbook; one waits up to five seconds for the other.
//   - DeleteDancer leaves nothing of a dancer in the folder, not in unused pages
//     either. It removes files without writing over them: on flash that would
//     promise more than it does. Whoever needs more encrypts the disk.
//
// Errors are one line, name the folder or file, and can be told apart with
// errors.Is and the Err values.
package logbook
