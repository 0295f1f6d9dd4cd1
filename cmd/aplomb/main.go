// Aplomb measures whether a pointe shoe gets its dancer over the box.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"

	"github.com/spf13/cobra"
)

// version is that of the program; a release sets it with -ldflags "-X main.version=…".
var version = "0.1.0-dev"

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	os.Exit(run(ctx, os.Args[1:], os.Stdout, os.Stderr))
}

// What a command ends with.
const (
	exitDone   = 0
	exitNo     = 1 // the answer is no, or the work failed
	exitMisuse = 2
)

// errNo ends a command whose answer is no and has been printed.
var errNo = errors.New("the answer is no")

// misuse marks an error in what was typed.
type misuse struct{ error }

func (m misuse) Unwrap() error { return m.error }

func misused(format string, args ...any) error { return misuse{fmt.Errorf(format, args...)} }

// run is the whole program. Results go to stdout, everything else to stderr.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	root := newRoot()
	root.SetArgs(args)
	root.SetOut(stdout)
	root.SetErr(stderr)
	ran, err := root.ExecuteContextC(ctx)
	var m misuse
	switch {
	case err == nil:
		return exitDone
	case errors.Is(err, errNo):
		return exitNo
	case errors.As(err, &m):
		fmt.Fprintf(stderr, "aplomb: %s (%s --help)\n", oneLine(err), ran.CommandPath())
		return exitMisuse
	}
	fmt.Fprintf(stderr, "aplomb: %s\n", oneLine(err))
	return exitNo
}

func oneLine(err error) string { return strings.Join(strings.Fields(err.Error()), " ") }

func newRoot() *cobra.Command {
	root := &cobra.Command{
		Use:   "aplomb",
		Short: "Measure whether a pointe shoe gets its dancer over the box",
		Long: `Aplomb measures whether a pointe shoe gets its dancer over the box.

A strip of pressure cells under each platform is read over a serial line. For
every relevé aplomb finds where the load sits on the platform and how much of
the platform carries it, and sets shoe against shoe and left against right.

It measures and never diagnoses. Pain means stop; have a barre or a spotter;
licensed practice and local rules come first.`,
		Example: `  aplomb demo
  aplomb record --shoe A.toml --strip left.toml --strip right.toml \
      --left /dev/ttyUSB0 --right /dev/ttyUSB1 --dancer D7 --out a1.mcap
  aplomb compare a1.mcap a2.mcap b1.mcap b2.mcap
  aplomb report a1.mcap a2.mcap b1.mcap b2.mcap --out report.html`,
		Version:       version,
		SilenceErrors: true,
		SilenceUsage:  true,
		Args:          cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return cmd.Help()
			}
			return unknown(cmd, args[0])
		},
	}
	root.SetVersionTemplate("aplomb {{.Version}}\n")
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error { return misuse{suggestFlag(cmd, err)} })
	root.AddCommand(
		newDemo(), newPorts(), newSim(), newRecord(), newImport(),
		newCheck(), newAnalyze(), newCompare(), newPlot(), newReport(),
	)
	return root
}

// unknown answers a command that does not exist, with the one that was probably meant.
func unknown(root *cobra.Command, name string) error {
	if near := root.SuggestionsFor(name); len(near) > 0 {
		return misused("unknown command %q: did you mean %q?", name, near[0])
	}
	return misused("unknown command %q", name)
}
