package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
)

// commandGroup returns a command that only groups other commands, such as dancer.
func commandGroup(use, short, long, example string, of ...*cobra.Command) *cobra.Command {
	cmd := &cobra.Command{
		Use: use, Short: short, Long: strings.Trim(long, "\n"), Example: strings.Trim(example, "\n"),
		Args:                       cobra.ArbitraryArgs,
		SuggestionsMinimumDistance: 2,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return unknownCommand(cmd, args[0])
			}
			return cmd.Help()
		},
	}
	cmd.AddCommand(of...)
	return cmd
}

// exactArgs returns a check for one argument for each name in what. Its usage error
// names the first argument that is missing.
func exactArgs(what ...string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) < len(what) {
			return usage.Errorf("%s is missing", what[len(args)])
		}
		if len(args) > len(what) {
			return usage.Errorf("%q is not expected here", args[len(what)])
		}
		return nil
	}
}

// listCommand makes cmd a list command. It prints a table of items in the logbook,
// a row each. Where there are none it prints the text empty on standard error. With --json
// it prints what object returns.
func listCommand[T any](cmd *cobra.Command, empty string, headings []string, rows func(*logbook.Logbook) ([][]string, error), object func(*logbook.Logbook) (T, error)) *cobra.Command {
	cmd.Use, cmd.Args, cmd.ValidArgsFunction = "list", noArgs, cobra.NoFileCompletions
	asJSON := jsonFlag(cmd)
	return onLogbook(cmd, func(cmd *cobra.Command, _ []string, l *logbook.Logbook) error {
		if *asJSON {
			return printJSON(cmd)(object(l))
		}
		all, err := rows(l)
		if err != nil {
			return err
		}
		if len(all) == 0 {
			fmt.Fprintln(cmd.ErrOrStderr(), empty)
			return nil
		}
		text.Table(cmd.OutOrStdout(), headings, all)
		return nil
	})
}

// versionedKind is a kind of item in the logbook that has versions: shoes or
// strips. Recordings keep the version that they were made with.
type versionedKind struct {
	kind string
	of   func(*logbook.RecordedFoot) (code string, version int)
}

var (
	shoes  = versionedKind{"shoe", func(f *logbook.RecordedFoot) (string, int) { return f.Shoe, f.ShoeVersion }}
	strips = versionedKind{"strip", func(f *logbook.RecordedFoot) (string, int) { return f.Strip, f.StripVersion }}
)

// listHint adds to an error that an item does not exist the command that lists all
// items of the kind.
func (v versionedKind) listHint(err error) error { return lookup.Hint(err, "aplomb "+v.kind+" list") }

// recordingsWith returns the recordings that were made with a version of an item,
// or with any of its versions where version is 0.
func (v versionedKind) recordingsWith(l *logbook.Logbook, code string, version int) ([]logbook.Recording, error) {
	all, err := l.Recordings(logbook.Filter{})
	return slices.DeleteFunc(all, func(r logbook.Recording) bool {
		return !slices.ContainsFunc(r.Feet[:], func(f *logbook.RecordedFoot) bool {
			if f == nil {
				return false
			}
			c, n := v.of(f)
			return c == code && (version == 0 || n == version)
		})
	}), err
}

// printVersion prints the version of an item after an edit.
func (v versionedKind) printVersion(w io.Writer, code string, before, now int) {
	if now == before {
		fmt.Fprintf(w, "%s %s changed\n", v.kind, code)
	} else {
		fmt.Fprintf(w, "%s %s, version %d from now on\n", v.kind, code, now)
	}
}

// printKeeping prints which recordings keep the earlier version of an item after an edit
// has made a new one.
func (v versionedKind) printKeeping(w io.Writer, l *logbook.Logbook, code string, before, now int) error {
	if now == before {
		return nil
	}
	made, err := v.recordingsWith(l, code, before)
	if err == nil {
		output.Keeping(w, made, before)
	}
	return err
}

// removeCommand makes cmd a remove command for an item without recordings. find returns
// its code in the logbook's spelling; instead is the alternative for an item with
// recordings.
func (v versionedKind) removeCommand(cmd *cobra.Command, instead string, find func(*logbook.Logbook, string) (code string, err error), remove func(*logbook.Logbook, string) error) *cobra.Command {
	return onLogbook(cmd, func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		code, err := find(l, args[0])
		if err != nil {
			return v.listHint(err)
		}
		made, err := v.recordingsWith(l, code, 0)
		if err != nil {
			return err
		}
		if err := remove(l, code); err != nil {
			return output.InUse(err, v.kind+" "+code, made, instead)
		}
		fmt.Fprintf(cmd.OutOrStdout(), "%s %s removed\n", v.kind, code)
		return nil
	})
}

// erasure describes what is erased permanently once the user has typed its name for
// confirmation.
type erasure struct {
	what, warning string
	asks, kind    string // the question for the name, and what the name is: a code or a number
	name          string
}

// confirm asks the person at the terminal for the name, and returns an error unless
// it is typed.
func (e erasure) confirm(cmd *cobra.Command) error {
	p := console.AtTerminal(cmd.Context(), cmd.ErrOrStderr())
	if p == nil {
		return usage.Errorf("%s stays: nobody is there to ask; --yes erases without asking", e.what)
	}
	fmt.Fprintln(p.Out, e.warning)
	typed, err := p.Ask(e.asks)
	if err == nil && typed != e.name {
		err = fmt.Errorf("%s stays: %q is another %s", e.what, typed, e.kind)
	}
	return err
}
