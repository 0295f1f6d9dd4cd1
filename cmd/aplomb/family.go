package main

import (
	"strings"

	"github.com/spf13/cobra"
)

// family makes a command of commands.
func family(use, short, long, example string, of ...*cobra.Command) *cobra.Command {
	cmd := &cobra.Command{
		Use: use, Short: short, Long: strings.Trim(long, "\n"), Example: strings.Trim(example, "\n"),
		Args:                       cobra.ArbitraryArgs,
		SuggestionsMinimumDistance: 2,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return unknown(cmd, args[0])
			}
			return cmd.Help()
		},
	}
	cmd.AddCommand(of...)
	return cmd
}

// exactly takes so many arguments, each of which what names.
func exactly(what ...string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) < len(what) {
			return misused("%s is missing", what[len(args)])
		}
		if len(args) > len(what) {
			return misused("%q is not expected here", args[len(what)])
		}
		return nil
	}
}
