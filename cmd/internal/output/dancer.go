package output

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/text"
	"aplomb/device"
	"aplomb/plots/words"
)

// Dancer prints what is known of a dancer.
func Dancer(w io.Writer, d logbook.Dancer) {
	fmt.Fprintf(w, "dancer %s\n", d.Code)
	born, years := "", ""
	if d.BirthYear > 0 {
		born = strconv.Itoa(d.BirthYear)
	}
	if d.PointeYears != nil {
		years = text.Trimmed(*d.PointeYears)
	}
	text.Facts(w, "born", born, "years on pointe", years, "watched side", d.Watched,
		"left foot", footWords(d.Feet[device.Left]), "right foot", footWords(d.Feet[device.Right]), "consent", consentWords(d), "note", d.Note)
}

// consentWords describes the consent of a dancer and its date, "" where none is recorded.
func consentWords(d logbook.Dancer) string {
	if d.ConsentDay == "" {
		return d.Consent
	}
	return d.Consent + ", " + string(d.ConsentDay)
}

// footWords describes a foot, "" where nothing is recorded.
func footWords(f logbook.Foot) string {
	var said []string
	if f.ToeShape != "" {
		said = append(said, f.ToeShape+" toes")
	}
	if f.LongestToe > 0 {
		said = append(said, "longest toe "+strconv.Itoa(f.LongestToe))
	}
	if f.Width != "" {
		said = append(said, f.Width)
	}
	if f.Compressibility != "" {
		said = append(said, f.Compressibility+" compressibility")
	}
	return strings.Join(said, ", ")
}

// Erasure prints to out what was erased with a dancer, and to stderr what still contains
// data of the dancer.
func Erasure(out, stderr io.Writer, code string, gone logbook.Erasure) {
	fmt.Fprintf(out, "dancer %s erased, with %s\n", code, words.Count(gone.Recordings, "recording", "recordings"))
	for _, path := range gone.Copies {
		fmt.Fprintf(out, "%s held the dancer and was removed\n", path)
	}
	StillHeld(stderr, code, gone)
}

// StillHeld prints what still contains data of an erased dancer, or may do so.
func StillHeld(stderr io.Writer, code string, gone logbook.Erasure) {
	for _, path := range gone.Unread {
		fmt.Fprintf(stderr, "warning: %s belongs to no visit and cannot be read: whose it is nobody knows; remove it yourself if in doubt\n", path)
	}
	for _, path := range gone.Elsewhere {
		fmt.Fprintf(stderr, "warning: %s still holds the dancer: a recording of the logbook was a symbolic link to it; remove it yourself\n", path)
	}
	for _, path := range gone.Carrying {
		fmt.Fprintf(stderr, "warning: %s is of another dancer since it was corrected and still carries the code %s, which it was made under\n", path, code)
	}
	for _, held := range gone.Backups {
		if held.Why == "" {
			fmt.Fprintf(stderr, "warning: the backup %s still holds the dancer: aplomb dancer remove %s --logbook %s erases there too\n", held.Path, text.Quoted(code), text.Quoted(held.Path))
		} else {
			fmt.Fprintf(stderr, "warning: the backup %s may still hold the dancer: %s\n", held.Path, held.Why)
		}
	}
}
