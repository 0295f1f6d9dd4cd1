package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// someRecordings takes one recording or more.
func someRecordings(cmd *cobra.Command, args []string) error {
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
		if f := cmd.Flags().Lookup(name); f.Value.String() == "" {
			value, usage := pflag.UnquoteUsage(f)
			return misused("--%s %s is missing: %s", name, value, usage)
		}
	}
	return nil
}

// endingIn completes names of files with that ending.
func endingIn(ending string) cobra.CompletionFunc {
	return cobra.FixedCompletions([]string{ending}, cobra.ShellCompDirectiveFilterFileExt)
}

// complete says what may stand after a flag.
func complete(cmd *cobra.Command, flag string, with cobra.CompletionFunc) {
	if err := cmd.RegisterFlagCompletionFunc(flag, with); err != nil {
		panic(err) // there is no such flag
	}
}

// oneOf completes the words given.
func oneOf(words ...string) cobra.CompletionFunc {
	return cobra.FixedCompletions(words, cobra.ShellCompDirectiveNoFileComp)
}

// explainFlag says what is wrong with a flag, and what was probably meant.
func explainFlag(cmd *cobra.Command, err error) error {
	var unknown *pflag.NotExistError
	var invalid *pflag.InvalidValueError
	switch {
	case errors.As(err, &invalid):
		f := invalid.GetFlag()
		_, usage := pflag.UnquoteUsage(f)
		return fmt.Errorf("--%s %q is no %s: %s", f.Name, invalid.GetValue(), kindOf(f), usage)
	case errors.As(err, &unknown):
		if near := nearest(cmd, unknown.GetSpecifiedName()); near != "" {
			return fmt.Errorf("%w: did you mean --%s?", err, near)
		}
	}
	return err
}

func kindOf(f *pflag.Flag) string {
	switch f.Value.Type() {
	case "int", "uint64":
		return "whole number"
	case "float64":
		return "number"
	case "duration":
		return "length of time, such as 30s or 1m30s"
	case "bool":
		return "true or false"
	}
	return f.Value.Type()
}

// nearest returns the flag that name is most like, "" where it is like none.
func nearest(cmd *cobra.Command, name string) string {
	best, least := "", 3
	cmd.Flags().VisitAll(func(f *pflag.Flag) {
		d := edits(name, f.Name)
		if d >= 3 && strings.HasPrefix(f.Name, name) {
			d = 2 // typed in part
		}
		if d < least && d <= (len(f.Name)+1)/3 {
			best, least = f.Name, d
		}
	})
	return best
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
