package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// files takes one recording or more.
func files(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return misused("name at least one recording, such as a1.mcap")
	}
	return nil
}

// none takes no arguments.
func none(cmd *cobra.Command, args []string) error {
	if len(args) > 0 {
		return misused("%q is not expected here", args[0])
	}
	return nil
}

// needed asks for flags that have no default.
func needed(cmd *cobra.Command, names ...string) error {
	for _, name := range names {
		if !cmd.Flags().Changed(name) {
			return misused("--%s is missing: %s", name, cmd.Flags().Lookup(name).Usage)
		}
	}
	return nil
}

// suggestFlag adds to an unknown flag the one that was probably meant.
func suggestFlag(cmd *cobra.Command, err error) error {
	typed, ok := strings.CutPrefix(err.Error(), "unknown flag: --")
	if !ok {
		return err
	}
	best, least := "", 3
	cmd.Flags().VisitAll(func(f *pflag.Flag) {
		if d := edits(typed, f.Name); d < least || (strings.HasPrefix(f.Name, typed) && least == 3) {
			best, least = f.Name, d
		}
	})
	if best == "" {
		return err
	}
	return fmt.Errorf("%w: did you mean --%s?", err, best)
}

// edits is the number of letters to change, add or leave out between a and b.
func edits(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(a); i++ {
		diagonal := row[0]
		row[0] = i
		for j := 1; j <= len(b); j++ {
			change := diagonal
			if a[i-1] != b[j-1] {
				change++
			}
			diagonal = row[j]
			row[j] = min(change, row[j]+1, row[j-1]+1)
		}
	}
	return row[len(b)]
}
