// Package manifest loads the recordings of a study from a table with one line per
// recording. All lines are checked before anything is added to the logbook, and
// recordings that were added before are not added again.
package manifest

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/intake"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
	"aplomb/device/input"
)

// maxSize is the largest manifest that is read, bytes.
const maxSize = 64 << 20

// Columns of a manifest.
const (
	colDancer    = "dancer"
	colVisit     = "visit"
	colDay       = "day"
	colShoe      = "shoe"
	colLabel     = "label"
	colMounting  = "mounting"
	colLeft      = "left"
	colRight     = "right"
	colRecording = "recording"
	colStarted   = "started"
)

// Column is a column of a manifest with its content.
type Column struct {
	Name, Holds string
	set         func(*intake.Setup, string) error // nil for those that the package reads itself
}

// Columns are all possible columns of a manifest.
var Columns = []Column{
	{Name: colDancer, Holds: "code of the dancer"},
	{Name: colVisit, Holds: "number of the dancer's visit in the study, from 1"},
	{Name: colDay, Holds: "day of the visit, such as 2026-03-14"},
	{Name: colShoe, Holds: "code of the shoe; or label"},
	{Name: colLabel, Holds: "label of the shoe in the study; or shoe"},
	{Name: colMounting, Holds: "number of the mounting in this visit under this shoe; else 1"},
	{Name: colLeft, Holds: "CSV file of the left foot"},
	{Name: colRight, Holds: "CSV file of the right foot"},
	{Name: colRecording, Holds: "recording that exists already, .mcap, in place of left and right"},
	{Name: colStarted, Holds: "when it was recorded, 2026-03-14T10:00; else a minute apart"},
	{Name: "left_strip", Holds: "strip under the left foot; else the logbook's only one"},
	{Name: "right_strip", Holds: "strip under the right foot"},
	{Name: "left_press", Holds: "pad presses in that file, FROM-TO in s, blanks between"},
	{Name: "right_press", Holds: "pad presses in the file of the right foot"},
	{"support", "barre, hand or none", func(s *intake.Setup, v string) error { s.Support = v; return nil }},
	{"rise", "roll-up, spring or step", func(s *intake.Setup, v string) error { s.Rise = v; return nil }},
	{"position", "of the feet, such as first", func(s *intake.Setup, v string) error { s.Position = v; return nil }},
	{"floor", "what the floor is made of", func(s *intake.Setup, v string) error { s.Floor = v; return nil }},
	{"feedback", "what the dancer saw of the numbers: none or after", func(s *intake.Setup, v string) error { s.Feedback = v; return nil }},
	{"fixing", "how the strips were fixed", func(s *intake.Setup, v string) error { s.Fixing = v; return nil }},
	{"padding", "between foot and shoe", func(s *intake.Setup, v string) error { s.Padding = []string{v}; return nil }},
	{"marks", "marks in the shoes on the left and the right foot, 1,2 or 2,1", func(s *intake.Setup, v string) error { s.Marks = v; return nil }},
	{"mass_kg", "the dancer's body mass", func(s *intake.Setup, v string) (err error) { s.MassKG, err = text.ParseNumber(v); return err }},
}

// Line is one recording of a manifest.
type Line struct {
	N        int    // in the file, from 1
	Dancer   string // code as the logbook writes it
	Visit    int    // of the study, from 1
	Day      logbook.Day
	Shoe     string // code
	Mounting int
	CSV      [2]string // by device.Foot; "" where there is none
	File     string    // recording that exists already; "" where there are CSV files
	Started  time.Time // zero until it is known

	setup     intake.Setup
	presses   []string
	strips    [2]string              // by device.Foot, as they were typed
	described []string               // columns that describe the recording and are not empty
	sums      map[device.Foot]string // SHA-256 of the files
	visit     string                 // that the recording names; "" where it names none
	known     int64                  // number of the recording that was made of it before; 0 for none
	begun     string                 // as it was typed

	badVisit bool   // the visit is no number, which is already reported
	replaced string // who has the row of a dancer who dropped out; "" for dancers of the study
}

// source is a file of a line with its foot, NoFoot for a recording.
type source struct {
	foot device.Foot
	path string
}

// files returns the files of a line, the left foot first.
func (l *Line) files() (files []source) {
	if l.File != "" {
		return []source{{device.NoFoot, l.File}}
	}
	for _, f := range device.Feet {
		if l.CSV[f] != "" {
			files = append(files, source{f, l.CSV[f]})
		}
	}
	return files
}

// Problem is a problem of a line.
type Problem struct {
	Line int
	What string
}

// Table is a manifest that was read.
type Table struct {
	Lines    []*Line
	Problems []Problem
	ByLabel  bool // shoes are named by their labels
}

// Read reads a manifest: a table in CSV (RFC 4180), whose first line names the columns,
// in any order. Paths are relative to the folder of the manifest. It returns an error
// where the table itself cannot be read; single lines have problems.
func Read(ctx context.Context, path string) (t Table, err error) {
	data, err := input.ReadFile(ctx, path, maxSize)
	if err != nil {
		return t, err
	}
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	if !utf8.Valid(data) {
		return t, fmt.Errorf("%s: not UTF-8: save it as CSV in UTF-8", path)
	}
	r := csv.NewReader(bytes.NewReader(data))
	r.FieldsPerRecord = -1
	header, err := r.Read()
	if errors.Is(err, io.EOF) {
		return t, fmt.Errorf("%s: empty: the first line names the columns, such as dancer,visit,day,shoe,left,right", path)
	}
	if err == nil {
		err = checkHeader(header)
	}
	if err != nil {
		return t, fmt.Errorf("%s: %w", path, quotes(err))
	}
	t.ByLabel = slices.Contains(header, colLabel)
	for {
		record, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return t, fmt.Errorf("%s: %w", path, quotes(err))
		}
		n, _ := r.FieldPos(0)
		if len(record) != len(header) {
			t.Problems = append(t.Problems, Problem{n, fmt.Sprintf("%d fields, and the first line names %d columns", len(record), len(header))})
			continue
		}
		l := &Line{N: n, Mounting: 1}
		for i, v := range record {
			if v = strings.TrimSpace(v); v != "" {
				if err := l.set(header[i], v, filepath.Dir(path)); err != nil {
					t.Problems = append(t.Problems, Problem{n, fmt.Sprintf("%s %.80q: %v", header[i], v, err)})
				}
			}
		}
		t.Lines = append(t.Lines, l)
	}
	if len(t.Lines)+len(t.Problems) == 0 {
		return t, fmt.Errorf("%s: no line under the names of the columns", path)
	}
	return t, nil
}

// quotes replaces the error of a table with misplaced quotation marks by one for people.
func quotes(err error) error {
	if e := (*csv.ParseError)(nil); errors.As(err, &e) {
		return fmt.Errorf("line %d: a quotation mark is not closed, or stands within a field", e.StartLine)
	}
	return err
}

// checkHeader returns an error for columns that no manifest has, that come twice or that are
// missing. It writes the names as the package knows them.
func checkHeader(header []string) error {
	var names []string
	for _, c := range Columns {
		names = append(names, c.Name)
	}
	for i, typed := range header {
		name := strings.ToLower(strings.TrimSpace(typed))
		switch {
		case len(header) == 1 && strings.ContainsAny(name, ";\t"):
			return errors.New("no commas between the columns: save it as CSV with commas")
		case name == "":
			return fmt.Errorf("column %d has no name: name it or remove it", i+1)
		case !slices.Contains(names, name):
			if near := usage.Nearest(name, names); near != "" {
				return fmt.Errorf("column %.40q: did you mean %q?", typed, near)
			}
			return fmt.Errorf("column %.40q: one of %s", typed, strings.Join(names, ", "))
		case slices.Contains(header[:i], name):
			return fmt.Errorf("column %s is there twice", name)
		}
		header[i] = name
	}
	has := func(name string) bool { return slices.Contains(header, name) }
	switch {
	case !has(colDancer) || !has(colVisit):
		return errors.New("the columns dancer and visit are needed")
	case has(colShoe) == has(colLabel):
		return errors.New("one of the columns shoe and label is needed")
	case !has(colLeft) && !has(colRight) && !has(colRecording):
		return errors.New("left and right for CSV files, or recording, is needed")
	}
	return nil
}

// set sets one field.
func (l *Line) set(column, v, dir string) (err error) {
	file := func() string {
		if filepath.IsAbs(v) {
			return v
		}
		return filepath.Join(dir, v)
	}
	switch column {
	case colDancer:
		l.Dancer = v
	case colVisit:
		l.Visit, err = whole(v)
		l.badVisit = err != nil
	case colMounting:
		l.Mounting, err = whole(v)
	case colDay:
		l.Day, err = logbook.ParseDay(v)
	case colShoe, colLabel:
		l.Shoe = v
	case colLeft:
		l.CSV[device.Left] = file()
	case colRight:
		l.CSV[device.Right] = file()
	case colRecording:
		l.File = file()
	case colStarted:
		l.described, l.begun = append(l.described, column), v
	case "left_strip", "right_strip":
		l.described, l.setup.Strips = append(l.described, column), append(l.setup.Strips, v)
		f, _ := device.ParseFoot(strings.TrimSuffix(column, "_strip"))
		l.strips[f] = v
	case "left_press", "right_press":
		l.described = append(l.described, column)
		for _, one := range strings.Fields(v) {
			l.presses = append(l.presses, strings.TrimSuffix(column, "_press")+":"+one)
		}
	default:
		l.described = append(l.described, column)
		for _, c := range Columns {
			if c.Name == column {
				err = c.set(&l.setup, v)
			}
		}
	}
	return err
}

// whole reads a number from 1.
func whole(v string) (int, error) {
	n, err := strconv.Atoi(v)
	if err != nil || n < 1 {
		return 0, errors.New("a number from 1")
	}
	return n, nil
}
