package text

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"aplomb/analyze/logbook"
)

// RecordingName returns the number of a recording with dancer, visit and shoes, such
// as 12 (D7, 2026-03-14, shoe A).
func RecordingName(r logbook.Recording) string {
	return fmt.Sprintf("%d (%s, %s, shoe %s)", r.ID, r.Dancer, r.VisitName, ShoesOf(r))
}

// ShoesOf returns the codes of the shoes of a recording, one where both feet wore the
// same.
func ShoesOf(r logbook.Recording) string {
	return EachFoot(r, func(f *logbook.RecordedFoot) string { return f.Shoe })
}

// EachFoot joins what of returns for both feet of a recording, once where it is the
// same.
func EachFoot(r logbook.Recording, of func(*logbook.RecordedFoot) string) string {
	var said []string
	for _, f := range r.Feet {
		if f != nil && !slices.Contains(said, of(f)) {
			said = append(said, of(f))
		}
	}
	return strings.Join(said, " / ")
}

// Numbers returns the numbers of recordings, such as 1 to 4, 7.
func Numbers(recordings []logbook.Recording) string {
	var said []string
	for i := 0; i < len(recordings); {
		first, last := i, i
		for last+1 < len(recordings) && recordings[last+1].ID == recordings[last].ID+1 {
			last++
		}
		i = last + 1
		one := strconv.FormatInt(recordings[first].ID, 10)
		switch last - first {
		case 0:
		case 1:
			one += ", " + strconv.FormatInt(recordings[last].ID, 10)
		default:
			one += " to " + strconv.FormatInt(recordings[last].ID, 10)
		}
		said = append(said, one)
	}
	return strings.Join(said, ", ")
}
