// Aplomb measures whether a pointe shoe gets its dancer over the box.
package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"slices"
	"syscall"

	"github.com/spf13/cobra"

	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/software"
	"aplomb/cmd/internal/usage"
	"aplomb/plots/words"
)

func main() { os.Exit(program(realEnvironment(), os.Stderr)) }

// program runs the command line of the process and returns the exit status. Everything
// but results goes to stderr. The first signal cancels the context of the command, which
// then completes its output; a second signal ends the process at once.
//
// A closed terminal sends a signal as well (SIGHUP), often more than once, so that its
// repetition does not end the process. A program started with nohup does not get it.
func program(o environment, stderr io.Writer) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	if !signal.Ignored(syscall.SIGHUP) {
		var forget context.CancelFunc
		ctx, forget = signal.NotifyContext(ctx, syscall.SIGHUP)
		defer forget()
	}
	context.AfterFunc(ctx, stop)
	return o.run(ctx, os.Args[1:], os.Stdout, stderr)
}

// Exit statuses.
const (
	exitDone   = 0
	exitNo     = 1 // the answer is no, or the work failed
	exitMisuse = 2 // the command line is not valid
)

// run runs one command line and returns the exit status. Results go to stdout,
// everything else to stderr.
func (o environment) run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	root := newRoot(o)
	root.SetArgs(args)
	out := output.NewChecked(stdout)
	root.SetOut(out)
	root.SetErr(stderr)
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error {
		if cmd == root {
			name := firstWord(args)
			if found, _, _ := root.Find([]string{name}); name != "" && found == root {
				return unknownCommand(root, name) // an unknown command matters more than its flags
			}
		}
		return usage.New(explainFlag(cmd, err))
	})
	ran, err := root.ExecuteContextC(ctx)
	if err == nil || errors.Is(err, errNo) {
		err = cmp.Or(out.Err(), err)
	}
	var m usage.Error
	misused := errors.As(err, &m)
	status := exitNo
	if misused {
		status = exitMisuse
	}
	switch {
	case err == nil:
		return exitDone
	case errors.Is(err, errNo):
		return exitNo
	case asksForJSON(ran, args):
		output.JSON(stderr, output.ErrorJSON(err, ran.CommandPath(), misused, status))
	case misused:
		fmt.Fprintf(stderr, "aplomb: %s (see %s --help)\n", console.Explain(err), ran.CommandPath())
	default:
		fmt.Fprintf(stderr, "aplomb: %s\n", console.Explain(err))
	}
	return status
}

// asksForJSON reports whether the command line of cmd has --json, where cmd supports it.
// An invalid flag before it ends the parsing of flags, so the arguments are inspected
// too.
func asksForJSON(cmd *cobra.Command, args []string) bool {
	f := cmd.Flags().Lookup("json")
	switch {
	case f == nil:
		return false
	case f.Changed:
		return f.Value.String() == "true"
	}
	return slices.Contains(args, "--json")
}

func newRoot(o environment) *cobra.Command {
	root := &cobra.Command{
		Use:   "aplomb",
		Short: "Measure whether a pointe shoe gets its dancer over the box",
		Long: `Aplomb measures whether a pointe shoe gets its dancer over the box.

A strip of pressure cells under each platform is read over a serial line. For
every relevé aplomb finds where the load sits on the platform and how much of
the platform carries it, and compares shoes, and left with right.

It measures and never diagnoses. Pain means stop; have a barre or a spotter;
licensed practice and local rules come first.`,
		Example: `  aplomb demo
  aplomb fitting --rehearse
  aplomb fitting --dancer D7 --shoes A,B --left /dev/ttyUSB0 \
      --right /dev/ttyUSB1

  aplomb record --dancer D7 --visit today --shoe A --left /dev/ttyUSB0 \
      --right /dev/ttyUSB1
  aplomb compare --dancer D7 --visit today
  aplomb report --dancer D7 --visit today --sheet fitting --out D7.html

  aplomb record --shoe A.toml --strip left.toml --strip right.toml \
      --left /dev/ttyUSB0 --right /dev/ttyUSB1 --dancer D7 --out a1.mcap
  aplomb compare a1.mcap a2.mcap b1.mcap b2.mcap`,
		Version:                    software.This().String(),
		SilenceErrors:              true,
		SilenceUsage:               true,
		SuggestionsMinimumDistance: 2,
		Args:                       cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return unknownCommand(cmd, args[0])
			}
			return cmd.Help()
		},
	}
	root.PersistentFlags().Bool("quiet", false, "show no progress; works with every command, before or after it")
	root.PersistentPreRunE = func(cmd *cobra.Command, _ []string) error {
		quiet, err := cmd.Flags().GetBool("quiet")
		if quiet {
			root.SetErr(console.Quiet{Writer: root.ErrOrStderr()})
		}
		return err
	}
	root.SetVersionTemplate("aplomb {{.Version}}\n" + words.Validated + "\n")
	root.AddCommand(
		newFitting(o), newRecord(o), newCompare(o), newNext(o), newReport(o), newPlot(o),
		newVisit(o.now), newTrack(), newShow(), newImport(o), newCheck(o), newAnalyze(o), newReliability(o), newStudy(o), newExport(o), newReproduce(), newFields(),
		newStrip(), newAgree(), newPorts(o), newSim(), newDancer(o.now), newShoe(), newLogbook(o),
		newDemo(o), newGuidePages(), newMan(),
	)
	addHelp(root)
	return root
}
