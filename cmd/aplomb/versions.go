package main

import (
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"aplomb/analyze/logbook"
)

// state is one version of a shoe or a strip, for printing.
type state struct {
	version int
	now     bool
	facts   []string // name and value in turn, the same names in every version
	made    []logbook.Recording
}

// printStates lists versions with the recordings made with each, and what was
// changed from one to the next.
func printStates(w io.Writer, states []state) {
	if len(states) == 1 && len(states[0].made) == 0 {
		fmt.Fprintln(w, "  no recordings were made with it")
		return
	}
	var rows [][]string
	for i, s := range states {
		name, changes := strconv.Itoa(s.version), ""
		if s.now && len(states) > 1 {
			name += ", now"
		}
		if i > 0 {
			changes = changed(states[i-1].facts, s.facts)
		}
		rows = append(rows, []string{name, days(s.made), numbersOf(s.made), changes})
	}
	headings := []string{"version", "recorded", "recordings", "what changed"}
	if len(rows) == 1 {
		headings = headings[:3]
	}
	fmt.Fprintln(w)
	table(w, headings, rows)
}

// changed says what differs between two lists of the same facts, at some length
// for the first ones.
func changed(before, after []string) string {
	const enough = 50
	var said []string
	for i := 0; i+1 < len(after); i += 2 {
		switch name, was, is := after[i], before[i+1], after[i+1]; {
		case was == is:
		case len(strings.Join(said, "")) > enough:
			said = append(said, name)
		case is == "":
			said = append(said, name+" no longer said")
		case was == "":
			said = append(said, name+" "+is)
		default:
			said = append(said, fmt.Sprintf("%s %s (was %s)", name, is, was))
		}
	}
	if len(said) == 0 {
		return "details"
	}
	return strings.Join(said, "; ")
}

// versioned names a thing, with its version where it has had several.
func versioned(code string, version, versions int) string {
	if versions == 1 {
		return code
	}
	return fmt.Sprintf("%s, version %d", code, version)
}

// madeIn returns the recordings in which what was under a foot is what is says.
func madeIn(recordings []logbook.Recording, is func(*logbook.RecordedFoot) bool) (made []logbook.Recording) {
	for _, r := range recordings {
		for _, foot := range r.Feet {
			if foot != nil && is(foot) {
				made = append(made, r)
				break
			}
		}
	}
	return made
}

// printKeeping says that recordings keep the version they were made with.
func printKeeping(w io.Writer, made []logbook.Recording, version int) {
	if len(made) == 1 {
		fmt.Fprintf(w, "recording %d keeps version %d, with which it was made\n", made[0].ID, version)
	} else if len(made) > 1 {
		fmt.Fprintf(w, "recordings %s keep version %d, with which they were made\n", numbersOf(made), version)
	}
}

// inUse says of what cannot be removed which recordings were made with it, and
// what to do instead.
func inUse(err error, what string, made []logbook.Recording, instead string) error {
	if !errors.Is(err, logbook.ErrInUse) {
		return err
	}
	return fmt.Errorf("%s stays: %w (%s): %s", what, logbook.ErrInUse, numbersOf(made), instead)
}

// days says on which days recordings were made, from the first to the last.
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

// numbersOf lists the numbers of recordings, such as 1 to 4, 7.
func numbersOf(recordings []logbook.Recording) string {
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
