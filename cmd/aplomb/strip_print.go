package main

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"aplomb/device"
)

// filesOfSteps completes names of what a step may be read from.
func filesOfSteps(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	return []string{"mcap", "csv"}, cobra.ShellCompDirectiveFilterFileExt
}

// printCells prints a number for each cell where the cell lies, the front at the
// top, and row and column as check counts them.
func printCells(out io.Writer, s *device.Strip, values []float64, decimals int) {
	at := make([][]float64, s.Rows)
	for row := range at {
		at[row] = make([]float64, s.Cols)
	}
	for k, v := range values {
		row, col := s.RowCol(k)
		at[row][col] = v
	}
	t := newTable(out)
	for row := s.Rows - 1; row >= 0; row-- {
		fmt.Fprintf(t, "row %d\t", row+1)
		for _, v := range at[row] {
			fmt.Fprintf(t, "%.*f\t", decimals, v)
		}
		fmt.Fprintln(t)
	}
	fmt.Fprint(t, "column\t")
	for col := range s.Cols {
		fmt.Fprintf(t, "%d\t", col+1)
	}
	fmt.Fprintln(t)
	t.Flush()
}

func newTable(out io.Writer) *tabwriter.Writer {
	return tabwriter.NewWriter(out, 0, 0, 2, ' ', tabwriter.AlignRight)
}

// percent writes a fraction with so many decimals.
func percent(fraction float64, decimals int) string {
	return fmt.Sprintf("%.*f %%", decimals, 100*fraction)
}

// either joins words as a person does.
func either(words ...string) string {
	last := len(words) - 1
	return strings.Join(words[:last], ", ") + " or " + words[last]
}
