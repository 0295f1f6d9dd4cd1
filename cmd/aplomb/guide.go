package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	pages "aplomb/cmd/aplomb/guide"
	"aplomb/cmd/internal/usage"
)

// newGuidePages makes the command that prints the pages of package guide.
func newGuidePages() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "guide [PAGE]",
		Short: "Read the long help: fittings, the clinic, studies, files, numbers",
		Long: `Read the long help, page by page. Without a page, list them.

The pages are plain text and work without a network.`,
		Example: `  aplomb guide
  aplomb guide fitting
  aplomb guide numbers | less`,
		Args:                       cobra.ArbitraryArgs,
		SuggestionsMinimumDistance: 2,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return listPages(cmd.OutOrStdout())
			}
			if near := cmd.SuggestionsFor(args[0]); len(near) > 0 {
				return usage.Errorf("no page %q: did you mean %q?", args[0], near[0])
			}
			return usage.Errorf("no page %q: there are %s", args[0], strings.Join(pageNames(), ", "))
		},
	}
	for _, p := range pages.Pages() {
		cmd.AddCommand(&cobra.Command{
			Use:   p.Name,
			Short: p.Title,
			Long:  p.Title + ".",
			Args:  noArgs,
			RunE: func(cmd *cobra.Command, args []string) error {
				_, err := io.WriteString(cmd.OutOrStdout(), p.Text())
				return err
			},
		})
	}
	return cmd
}

// listPages prints each page with what it is about.
func listPages(w io.Writer) error {
	for _, p := range pages.Pages() {
		if _, err := fmt.Fprintf(w, "%-11s%s\n", p.Name, p.Title); err != nil {
			return err
		}
	}
	_, err := fmt.Fprintln(w, "\naplomb guide PAGE prints one.")
	return err
}

func pageNames() (names []string) {
	for _, p := range pages.Pages() {
		names = append(names, p.Name)
	}
	return names
}
