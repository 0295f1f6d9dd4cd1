package reproduce

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"aplomb/cmd/internal/export"
	"aplomb/plots/words"
)

// Warnings returns the faults of the package, one line each.
func (r *Report) Warnings() []string {
	var all []string
	for _, f := range r.Faults {
		switch f.Kind {
		case Missing:
			all = append(all, f.Path+" is missing")
		case Altered:
			all = append(all, f.Path+" was altered: its checksum is not that in "+export.SumsFile)
		case Unlisted:
			all = append(all, f.Path+" is not in "+export.SumsFile+": it would correct a recording, so that is left out")
		case Unreadable:
			all = append(all, f.Path+" cannot be read: "+f.Why)
		}
	}
	if r.Algorithms[0] != r.Algorithms[1] {
		all = append(all, fmt.Sprintf("the numbers were computed by version %s with algorithm %s, and this program, %s, has algorithm %s: any number can differ; that version reproduces them", r.Then.Version, r.Algorithms[0], r.Now.Version, r.Algorithms[1]))
	}
	return all
}

// Write writes every difference and then how many values are the same.
func (r *Report) Write(w io.Writer, quick bool) {
	for _, d := range r.Differences {
		fmt.Fprintln(w, d)
	}
	fmt.Fprintf(w, "%s in %s; %s.\n", words.Count(r.Files, "file", "files"), export.SumsFile, r.faults())
	if quick {
		return
	}
	fmt.Fprintf(w, "%s again, %s compared, %d of them the same byte by byte.\n", words.Count(r.Recordings, "recording measured", "recordings measured"), words.Count(r.Tables, "table", "tables"), r.Identical)
	fmt.Fprintf(w, "%s are the same; %s.\n", r.Same, words.Count(len(r.Differences), "difference", "differences"))
	if !r.Exact() {
		fmt.Fprintf(w, "The package was computed on %s, and this program runs on %s:\n%s but within %g of their value or unit.\n",
			orUnknown(r.Then.Architecture), r.Now.Architecture, words.Count(r.Close, "number counts as the same that is not equal,", "numbers count as the same that are not equal,"), Tolerance)
	}
	if r.LeftOut > 0 {
		fmt.Fprintf(w, "%s left out, because it or another of its visit is missing or altered.\n%s rest on them, all comparisons among these, and are not compared.\n", words.Count(r.LeftOut, "recording is", "recordings are"), r.Left)
	}
}

// faults counts the faults in words.
func (r *Report) faults() string {
	if len(r.Faults) == 0 {
		return "all as they were written"
	}
	return words.Count(len(r.Faults), "is missing or altered", "are missing or altered")
}

// Failure returns in a few words why the package is not reproduced.
func (r *Report) Failure() string {
	var all []string
	if n := len(r.Differences); n > 0 {
		all = append(all, words.Count(n, "difference", "differences"))
	}
	if n := len(r.Faults); n > 0 {
		all = append(all, words.Count(n, "file", "files")+" missing or altered")
	}
	if r.Algorithms[0] != r.Algorithms[1] {
		all = append(all, "another algorithm")
	}
	return strings.Join(all, ", ")
}

func (v Values) String() string {
	return words.Count(v.Numbers, "number", "numbers") + " and " + words.Count(v.Others, "other value", "other values")
}

// String returns the difference in one line.
func (d Difference) String() string {
	at := d.File
	if d.Row != "" {
		at += ", " + d.Row
	}
	switch {
	case d.Row == "":
		return at + ": computed otherwise"
	case d.Field == "" && d.To == nil:
		return at + ": in the package only"
	case d.Field == "":
		return at + ": computed, and not in the package"
	}
	line := fmt.Sprintf("%s: %s is %s, computed %s", at, d.Field, written(d.From), written(d.To))
	if by, ok := d.By(); ok {
		line += fmt.Sprintf(", by %.3g", by)
		if d.Unit != "" {
			line += " " + d.Unit
		}
	}
	return line
}

// By returns the computed value minus that in the package; ok is false unless both are
// numbers.
func (d Difference) By() (by float64, ok bool) {
	from, before := numberOf(d.From)
	to, now := numberOf(d.To)
	return to - from, before && now
}

func numberOf(v any) (float64, bool) {
	switch v := v.(type) {
	case float64:
		return v, true
	case int64:
		return float64(v), true
	}
	return 0, false
}

// written returns a value for people.
func written(v any) string {
	switch v := v.(type) {
	case nil:
		return "absent"
	case string:
		return strconv.Quote(v)
	}
	return Text(v)
}

// Text returns a value as a table in CSV has it, "" for none.
func Text(v any) string {
	switch v := v.(type) {
	case nil:
		return ""
	case float64:
		return strconv.FormatFloat(v, 'g', -1, 64)
	}
	return fmt.Sprint(v)
}

func orUnknown(architecture string) string {
	if architecture == "" {
		return "an unknown processor"
	}
	return architecture
}
