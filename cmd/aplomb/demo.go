package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"aplomb/analyze"
	"aplomb/cmd/internal/batch"
	"aplomb/cmd/internal/demo"
	"aplomb/cmd/internal/files"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/text"
	"aplomb/plots"
	"aplomb/plots/report"
	"aplomb/plots/words"
)

func newDemo(o environment) *cobra.Command {
	var out string
	var access files.Access
	var seed uint64
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "See a simulated fitting, from a serial line to the report",
		Long: `See a simulated fitting, from a serial line to the report.

Dancer D7, who does not exist, tries two shoes that do not exist either: A,
tapered and low with a soft shank, and B, squarer and higher with a hard one.
Each shoe is mounted twice. In every mounting each platform is first pressed on
a soft pad, which shows where its strip lies; then come six relevés, and in the
first mounting one more that is aborted. Two simulated strips send all of it
through pseudo-terminals, faster than real time, to the code that records from
real ports. On a system without pseudo-terminals the frames are passed directly;
the files are the same.`,
		Example: `  aplomb demo
  aplomb demo --out fitting --seed 4`,
		Args:              noArgs,
		ValidArgsFunction: cobra.NoFileCompletions,
		RunE: func(cmd *cobra.Command, args []string) error {
			if _, err := os.Lstat(out); err == nil {
				return fmt.Errorf("%s exists: move it away, or choose another folder, such as --out %s-2", out, filepath.Clean(out))
			}
			if err := access.MkdirAll(out); err != nil {
				return err
			}
			if err := runDemo(cmd, o, out, access, seed); err != nil {
				os.RemoveAll(out) // so that the same command can run again
				return fmt.Errorf("%w; what there was of %s has been removed", err, out)
			}
			return nil
		},
	}
	cmd.Flags().StringVar(&out, "out", "aplomb-demo", "folder `DIR` to make")
	cmd.Flags().Uint64Var(&seed, "seed", 1, "`NUMBER` that seeds the random part; the same one gives the same bytes")
	shareFlag(cmd, &access)
	cmd.MarkFlagDirname("out")
	return cmd
}

// demoRises is the number of relevés in each mounting of the demo.
const demoRises = 6

func runDemo(cmd *cobra.Command, o environment, dir string, access files.Access, seed uint64) error {
	stdout := cmd.OutOrStdout()
	paths, err := demo.Record(cmd.Context(), cmd.ErrOrStderr(), dir, seed, demoRises, o.line)
	if err != nil {
		return err
	}
	c, results, err := batch.Compare(cmd.Context(), cmd.ErrOrStderr(), &lookup.Recordings{Paths: paths}, "", analyze.Options{KeepTrace: true})
	if err != nil {
		return err
	}
	output.Comparison(stdout, c)
	fmt.Fprintln(stdout)
	output.Seats(stdout, results)
	if worth := words.SeatWorth(results); worth != "" {
		fmt.Fprintln(stdout, text.Wrap(worth))
	}
	fmt.Fprintln(stdout)
	for _, path := range paths {
		if err := access.Apply(path); err != nil {
			return err
		}
		fmt.Fprintln(stdout, path)
	}
	if _, err := savePictures(cmd, plots.All(results, c), c.Provenance, filepath.Join(dir, "pictures"), "svg", access); err != nil {
		return err
	}
	page := filepath.Join(dir, "report.html")
	err = access.Write(page, func(w io.Writer) error {
		return report.Write(w, report.Data{Results: results, Comparison: c})
	})
	if err != nil {
		return err
	}
	fmt.Fprintf(stdout, "%s: open it in a browser\n", page)
	return nil
}
