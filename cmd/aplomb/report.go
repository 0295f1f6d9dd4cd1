package main

import (
	"cmp"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"aplomb/analyze"
	"aplomb/analyze/advise"
	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/cmd/internal/batch"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/files"
	"aplomb/cmd/internal/history"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/plots"
	"aplomb/plots/report"
)

var sheets = []string{"lab", "fitting", "progress"}

func newReport(o environment) *cobra.Command {
	from := &lookup.Choice{Now: o.now()}
	var page pageOptions
	var base, sheet string
	var unit text.Unit
	cmd := &cobra.Command{
		Use:   "report [FILE.mcap…]",
		Short: "Write the fitting's report, one HTML file",
		Long: `Write the fitting's report, one HTML file.

  --sheet lab       everything: the answer, the pictures, the tables, how it was
                    measured, and what it cannot say; prints on A4 and Letter
  --sheet fitting   one A4 or Letter page in plain words, for dancer and teacher
  --sheet progress  two pages for the physiotherapist: where the load sits now,
                    whether it changed by more than visits vary when nothing
                    has, left against right; then statistics and visits

--unit inch gives the dimensions of shoes in inches; measures stay in mm.

An earlier report of that name is replaced. Only you can read the file, unless
you use --share. --out - writes the page to standard output; a file of that name
is ./-.

` + chosenRecordingsByDay + `
The progress sheet covers all visits of a dancer, with their pain.`,
		Example: `  aplomb report a1.mcap a2.mcap b1.mcap b2.mcap --out report.html
  aplomb report --dancer D7 --visit last --out report.html --open
  aplomb report a1.mcap --out a1.html
  aplomb report *.mcap --sheet fitting --out fitting.html
  aplomb report --dancer D7 --sheet progress --out progress.html
  aplomb report march/*.mcap april/*.mcap --sheet progress --out progress.html`,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := requireFlags(cmd, "out"); err != nil {
				return err
			}
			if !slices.Contains(sheets, sheet) {
				return usage.Errorf("--sheet %q: one of %s", sheet, strings.Join(sheets, ", "))
			}
			if err := page.check(); err != nil {
				return err
			}
			if sheet == "progress" {
				d, p, err := progress(cmd, from, args)
				if err != nil {
					return err
				}
				output.Stop(cmd.ErrOrStderr(), d.Stop())
				return cmp.Or(page.write(cmd, func(w io.Writer) error { return report.WriteProgress(w, d) }), incomplete(p))
			}
			p, err := from.Find(args)
			if err != nil {
				return err
			}
			c, results, err := batch.Compare(cmd.Context(), cmd.ErrOrStderr(), &p, base, analyze.Options{KeepTrace: sheet == "lab"})
			if err != nil {
				return err
			}
			output.Stop(cmd.ErrOrStderr(), p.Stop)
			d := report.Data{Results: results, Comparison: c, Inches: unit == "inch", Seen: advise.Observations{Pain: p.Stop != "", Stop: p.Stop, Saw: p.Saw()}}
			write := report.Write
			if sheet == "fitting" {
				write = report.WriteFitting
			}
			return cmp.Or(page.write(cmd, func(w io.Writer) error { return write(w, d) }), incomplete(p))
		},
	}
	choiceFlags(cmd, from)
	cmd.Flags().StringVar(&page.out, "out", "", "HTML `FILE` to write; - for standard output")
	cmd.Flags().StringVar(&sheet, "sheet", "lab", "which `SHEET`: "+strings.Join(sheets, ", "))
	unitFlag(cmd, &unit, "`UNIT` of the dimensions of shoes")
	complete(cmd, "sheet", completeWords(sheets...))
	baseFlag(cmd, &base)
	openFlag(cmd, &page.open, "the page")
	shareFlag(cmd, &page.access)
	complete(cmd, "out", completeFiles("html"))
	return cmd
}

// progress returns the content of the progress sheet of files, or of a dancer in the
// logbook, and the files.
func progress(cmd *cobra.Command, from *lookup.Choice, args []string) (d report.ProgressData, p lookup.Recordings, err error) {
	for _, name := range []string{"base", "unit"} {
		if cmd.Flags().Changed(name) {
			return d, p, usage.Errorf("--%s: not with --sheet progress, which compares no shoes and has no dimensions of them", name)
		}
	}
	switch {
	case from.Visit != "" && from.Visit != lookup.AllVisits:
		return d, p, usage.Errorf("--visit %s: a progress sheet is over visits", from.Visit)
	case len(args) == 0 && from.Dancer == "":
		return d, p, usage.Errorf("--sheet progress needs --dancer CODE too")
	case len(args) == 0:
		err = from.Folder.With(func(l *logbook.Logbook) (err error) {
			if err := batch.MeasureReadOnly(cmd.Context(), cmd.ErrOrStderr(), l, logbook.Filter{}); err != nil {
				return err
			}
			var leftOut []string
			d, leftOut, err = history.Query{Dancer: from.Dancer, Shoe: from.Shoe}.Progress(l)
			text.Warnings(cmd.ErrOrStderr(), leftOut)
			return err
		})
	default:
		var results []*measure.Result
		p.Paths = args
		results, err = batch.Analyze(cmd.Context(), cmd.ErrOrStderr(), &p, analyze.Options{})
		if err == nil {
			d, err = history.ProgressOf(results)
		}
	}
	return d, p, err
}

func newPlot(o environment) *cobra.Command {
	from := &lookup.Choice{Now: o.now()}
	var out, format, base string
	var access files.Access
	var open bool
	cmd := &cobra.Command{
		Use:   "plot [FILE.mcap…]",
		Short: "Draw platforms, comparisons of shoes and of feet, and traces",
		Long: `Draw what was measured.

  place           where the load sits in each shoe, and how sure that is
  against-kern    the same with two shoes or more over one another
  platforms       the pressure under each platform, and every relevé
  shoes-FOOT      the shoes compared
  feet-SHOE       left compared with right
  wear-SHOE       the place of every relevé in a shoe, and its sway
  ladder          three shoes or more against the first
  trace-FILE      load and over against time, one recording

Pictures of these names in DIR are replaced. Each carries a title, a
description and the provenance of its numbers, and the same numbers give the
same file. Only you can read them, unless you use --share. --open opens DIR, or
the picture where there is only one.

` + chosenRecordingsByDay,
		Example: `  aplomb plot a1.mcap a2.mcap b1.mcap b2.mcap --out pictures
  aplomb plot --dancer D7 --visit last --out pictures
  aplomb plot a1.mcap --out pictures --format png`,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := requireFlags(cmd, "out"); err != nil {
				return err
			}
			if !slices.Contains(plots.Formats, format) {
				return usage.Errorf("--format %q: one of %s", format, strings.Join(plots.Formats, ", "))
			}
			p, err := from.Find(args)
			if err != nil {
				return err
			}
			c, results, err := batch.Compare(cmd.Context(), cmd.ErrOrStderr(), &p, base, analyze.Options{KeepTrace: true})
			if err != nil {
				return err
			}
			output.Stop(cmd.ErrOrStderr(), p.Stop)
			made, err := savePictures(cmd, plots.All(results, c), c.Provenance, out, format, access)
			if err != nil {
				return err
			}
			if open && len(made) == 1 {
				openMade(cmd, made[0])
			} else if open {
				openMade(cmd, out)
			}
			return incomplete(p)
		},
	}
	choiceFlags(cmd, from)
	cmd.Flags().StringVar(&out, "out", "", "`DIR` to put the pictures in")
	cmd.Flags().StringVar(&format, "format", "svg", "`FORMAT` of the pictures: "+strings.Join(plots.Formats, ", "))
	baseFlag(cmd, &base)
	openFlag(cmd, &open, "the pictures")
	shareFlag(cmd, &access)
	cmd.MarkFlagDirname("out")
	complete(cmd, "format", completeWords(plots.Formats...))
	return cmd
}

// savePictures draws pictures into a folder, and returns where.
func savePictures(cmd *cobra.Command, pictures []plots.Named, from *measure.Provenance, dir, format string, access files.Access) (made []string, err error) {
	if err := access.MkdirAll(dir); err != nil {
		return nil, err
	}
	progress := console.NewProgress(cmd.ErrOrStderr())
	defer progress.Clear()
	for _, p := range pictures {
		if err := cmd.Context().Err(); err != nil {
			return made, err
		}
		path := filepath.Join(dir, p.Name+"."+format)
		progress.Show("drawing %s", path)
		err := access.Write(path, func(w io.Writer) error { return plots.Write(w, p.Picture, format, from) })
		if err != nil {
			return made, err
		}
		progress.Clear()
		fmt.Fprintln(cmd.OutOrStdout(), path)
		made = append(made, path)
	}
	return made, nil
}
