package main

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"

	"aplomb/cmd/internal/files"
	"aplomb/cmd/internal/manual"
)

// newMan returns the command that writes the manual pages. It is hidden in help, because
// only packagers of the program need it.
func newMan() *cobra.Command {
	return &cobra.Command{
		Use:   "man DIR",
		Short: "Write the manual pages of all commands",
		Long: `Write the manual pages of all commands into a folder, a file each, such as
aplomb-dancer-list.1. The folder is made where there is none; no file in it is
written over. A version of the program gives the same bytes every time.`,
		Example: `  aplomb man share/man/man1
  man -l share/man/man1/aplomb-compare.1`,
		Hidden:            true,
		Args:              exactArgs("the folder DIR"),
		ValidArgsFunction: cobra.FixedCompletions(nil, cobra.ShellCompDirectiveFilterDirs),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := os.MkdirAll(args[0], 0o777); err != nil {
				return err
			}
			for _, c := range cmd.Root().Commands() {
				if c.Name() == "guide" { // it prints its pages itself
					c.RemoveCommand(slices.Clone(c.Commands())...)
				}
			}
			pages, err := manual.Pages(cmd.Root())
			if err != nil {
				return err
			}
			for _, p := range pages {
				if err := files.CheckVacant(filepath.Join(args[0], p.File)); err != nil {
					return err
				}
			}
			for _, p := range pages {
				if err := os.WriteFile(filepath.Join(args[0], p.File), p.Roff, 0o666); err != nil {
					return err
				}
			}
			fmt.Fprintf(cmd.OutOrStdout(), "%d pages in %s\n", len(pages), args[0])
			return nil
		},
	}
}
