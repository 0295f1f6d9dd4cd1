package output

import (
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/text"
)

// Version is one version of a shoe or a strip.
type Version struct {
	Number  int
	Current bool
	Facts   []string            // name and value in turn, the same names in every version
	Made    []logbook.Recording // with this version
}

// Versions prints versions with the recordings made with each, and what changed from
// one to the next.
func Versions(w io.Writer, all []Version) {
	if len(all) == 1 && len(all[0].Made) == 0 {
		fmt.Fprintln(w, "  no recordings were made with it")
		return
	}
	var rows [][]string
	for i, s := range all {
		name, changes := strconv.Itoa(s.Number), ""
		if s.Current && len(all) > 1 {
			name += ", now"
		}
		if i > 0 {
			changes = changed(all[i-1].Facts, s.Facts)
		}
		rows = append(rows, []string{name, days(s.Made), text.Numbers(s.Made), changes})
	}
	headings := []string{"version", "recorded", "recordings", "what changed"}
	if len(rows) == 1 {
		headings = headings[:3]
	}
	fmt.Fprintln(w)
	text.Table(w, headings, rows)
}

// changed describes the differences between two lists of the same facts: the first
// differences in full, the others by name.
func changed(before, after []string) string {
	const inFull = 50
	var changes []string
	for i := 0; i+1 < len(after); i += 2 {
		switch name, was, is := after[i], before[i+1], after[i+1]; {
		case was == is:
		case len(strings.Join(changes, "")) > inFull:
			changes = append(changes, name)
		case is == "":
			changes = append(changes, name+" no longer said")
		case was == "":
			changes = append(changes, name+" "+is)
		default:
			changes = append(changes, fmt.Sprintf("%s %s (was %s)", name, is, was))
		}
	}
	if len(changes) == 0 {
		return "details"
	}
	return strings.Join(changes, "; ")
}

// Versioned returns the name of an item, with its version where there are several.
func Versioned(code string, version, versions int) string {
	if versions == 1 {
		return code
	}
	return fmt.Sprintf("%s, version %d", code, version)
}

// Keeping prints that recordings keep the version with which they were made.
func Keeping(w io.Writer, made []logbook.Recording, version int) {
	if len(made) == 1 {
		fmt.Fprintf(w, "recording %d keeps version %d, with which it was made\n", made[0].ID, version)
	} else if len(made) > 1 {
		fmt.Fprintf(w, "recordings %s keep version %d, with which they were made\n", text.Numbers(made), version)
	}
}

// InUse adds to the error logbook.ErrInUse the recordings made with an item, and what to
// do instead; it returns other errors unchanged.
func InUse(err error, what string, made []logbook.Recording, instead string) error {
	if !errors.Is(err, logbook.ErrInUse) {
		return err
	}
	return fmt.Errorf("%s stays: %w (%s): %s", what, logbook.ErrInUse, text.Numbers(made), instead)
}

// days returns the day on which recordings were made, or the first and the last.
func days(recordings []logbook.Recording) string {
	if len(recordings) == 0 {
		return ""
	}
	first, last := string(recordings[0].Day), string(recordings[len(recordings)-1].Day)
	if first == last {
		return first
	}
	return first + " to " + last
}
