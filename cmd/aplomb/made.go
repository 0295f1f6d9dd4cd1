package main

import (
	"bytes"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/files"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
)

// onStdout is the value of --out that stands for standard output.
const onStdout = "-"

// pageOptions specify the output of a page: a file, its readers and whether to open it,
// or standard output.
type pageOptions struct {
	out    string // file, or onStdout
	access files.Access
	open   bool
}

// check returns an error where the page cannot be written. It is called before the work.
func (p *pageOptions) check() error {
	if p.out != onStdout {
		return files.CheckPage(p.out)
	}
	for _, flag := range []struct {
		name  string
		given bool
	}{{"open", p.open}, {"share", p.access.Shared}} {
		if flag.given {
			return usage.Errorf("--%s is for a file: with --out %s there is none", flag.name, onStdout)
		}
	}
	return nil
}

// write writes the page with the function write. Nothing else is written to standard
// output then, and nothing at all where write fails.
func (p *pageOptions) write(cmd *cobra.Command, write func(io.Writer) error) error {
	stdout := cmd.OutOrStdout()
	if p.out == onStdout {
		var page bytes.Buffer
		if err := write(&page); err != nil {
			return err
		}
		if _, err := output.Beneath(stdout).Write(page.Bytes()); err != nil {
			return fmt.Errorf("the page could not be written: %w", err)
		}
		return nil
	}
	if err := p.access.Write(p.out, write); err != nil {
		return err
	}
	fmt.Fprintln(stdout, p.out)
	if p.open {
		openMade(cmd, p.out)
	}
	return nil
}

// openFlag adds the flag that opens the output of cmd.
func openFlag(cmd *cobra.Command, open *bool, what string) {
	cmd.Flags().BoolVar(open, "open", false, "open "+what+" with its usual program, if standard output is a terminal")
}

// openMade opens a file or folder that was written. Where that fails it prints the
// reason; the command succeeds nevertheless.
func openMade(cmd *cobra.Command, path string) {
	why := fmt.Errorf("standard output is no terminal")
	if console.IsTerminal(output.Beneath(cmd.OutOrStdout())) {
		why = console.OpenFile(cmd.Context(), path)
	}
	if why != nil {
		fmt.Fprintln(cmd.ErrOrStderr(), text.Wrap(fmt.Sprintf("%s is made, and not opened: %v", path, why)))
	}
}
