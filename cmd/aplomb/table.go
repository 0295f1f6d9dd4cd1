package main

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"aplomb/plots/words"
)

// table prints rows under headings, in columns.
func table(w io.Writer, headings []string, rows [][]string) {
	var b strings.Builder
	t := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	for _, row := range append([][]string{headings}, rows...) {
		for i, cell := range row {
			row[i] = strings.NewReplacer("\n", " ", "\t", " ").Replace(cell)
		}
		fmt.Fprintln(t, strings.Join(row, "\t"))
	}
	t.Flush()
	for line := range strings.Lines(b.String()) {
		fmt.Fprintln(w, strings.TrimRight(line, " \n")) // empty cells at the end of a row leave blanks
	}
}

// facts prints what is known, a line each; what is "" is not.
func facts(w io.Writer, pairs ...string) {
	for i := 0; i+1 < len(pairs); i += 2 {
		if pairs[i+1] != "" {
			fmt.Fprintf(w, "  %-16s %s\n", pairs[i], pairs[i+1])
		}
	}
}

// known prints a number with its unit, "" for 0.
func known(v float64, unit string) string {
	if v == 0 {
		return ""
	}
	return strings.TrimSpace(trimmed(v) + " " + unit)
}

// trimmed prints a number without needless decimals.
func trimmed(v float64) string {
	return strings.TrimSuffix(strings.TrimRight(words.Number(v, 2), "0"), ".")
}
