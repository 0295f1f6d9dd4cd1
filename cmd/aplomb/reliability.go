package main

import (
	"cmp"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"aplomb/analyze"
	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/analyze/reliability"
	"aplomb/cmd/internal/batch"
	"aplomb/cmd/internal/files"
	"aplomb/cmd/internal/history"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/plots"
)

func newReliability(o environment) *cobra.Command {
	of := history.Repetitions{Choice: lookup.Choice{Now: o.now()}}
	var out, format string
	var access files.Access
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "reliability [FILE.mcap…]",
		Short: "Estimate how well a measure repeats: ICC, error, agreement",
		Long: `Estimate how well a measure repeats, on each foot.

  scatter of      the variance that dancers, shoes, days, mountings, strips and
                  relevés each add, by restricted maximum likelihood, with 95 %
                  intervals by its profile; groups may differ in size
  standard error  of measurement: by how much repetitions scatter about their
                  mean, with its degrees of freedom; the minimal detectable
                  change is t·√2 times that
  ICC             intraclass correlations of one measurement: (1,1), (2,1) and
                  (3,1) of Shrout and Fleiss, with 95 % intervals
  agreement       bias of the first repetition less the second, and its 95 %
                  limits of agreement, each with a 95 % interval

A repetition is the mean of a visit if a dancer came twice in one shoe,
otherwise the mean of a mounting within one visit; --between chooses. A day is a
visit of one dancer in one shoe. If visits of a dancer are marked as baseline,
the dancer's other visits do not count. Practice with live feedback never
counts.

ICC and agreement use one row for each dancer. If a dancer has several shoes, or
one shoe under several conditions, choose one with --shoe; for a single dancer
each shoe has a row. A row with fewer repetitions than most is left out, and of
longer rows only the first repetitions count. What cannot be estimated is listed
with the reason: the variance of a level that never repeats is part of that of
the level above it.

Recordings are files, or those in the logbook that --study, --dancer, --visit
and --shoe choose; without any of these, all of the logbook. Dancers who have
withdrawn their consent are left out. --out DIR draws the components and the
agreement.

` + text.Wrap("The measures: "+strings.Join(history.MeasureNames(), ", ")+"."),
		Example: `  aplomb reliability
  aplomb reliability --shoe A --measure contact_share --foot left
  aplomb reliability --dancer D7 --between mountings
  aplomb reliability --study spring --shoe A
  aplomb reliability --shoe A --out pictures
  aplomb reliability --json | jq '.feet[].sem'`,
		Args:              func(_ *cobra.Command, args []string) error { return of.Check(args) },
		ValidArgsFunction: completeFiles("mcap"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if !slices.Contains(plots.Formats, format) {
				return usage.Errorf("--format %q: one of %s", format, strings.Join(plots.Formats, ", "))
			}
			r, p, err := reliabilityOf(cmd, &of, args)
			if err != nil {
				return err
			}
			if asJSON {
				err = output.JSON(cmd.OutOrStdout(), r)
			} else {
				output.Reliability(cmd.OutOrStdout(), r)
			}
			if err != nil || out == "" {
				return cmp.Or(err, incomplete(p))
			}
			if asJSON {
				cmd.SetOut(cmd.ErrOrStderr()) // the paths of pictures are no JSON
			}
			_, err = savePictures(cmd, plots.Reliability(r), r.Provenance, out, format, access)
			return cmp.Or(err, incomplete(p))
		},
	}
	f := cmd.Flags()
	f.StringVar(&of.Dancer, "dancer", "", "`CODE` of a dancer: recordings of theirs, from the logbook")
	f.StringVar(&of.Visit, "visit", "", "only those of one `VISIT` of the dancer: today, last or its name")
	f.StringVar(&of.Shoe, "shoe", "", "`CODE` of a shoe: recordings in it, from the logbook")
	f.StringVar(&of.Study, "study", "", "`NAME` of a study: its recordings, from the logbook")
	f.StringVar(&of.Symbol, "measure", measure.Over.Symbol(), "`MEASURE` that is repeated")
	f.StringVar(&of.Foot, "foot", "", "only the left or the right `FOOT`")
	f.StringVar(&of.Between, "between", "", "set `WHAT` against each other: visits or mountings")
	f.StringVar(&out, "out", "", "`DIR` to put the pictures in")
	f.StringVar(&format, "format", "svg", "`FORMAT` of the pictures: "+strings.Join(plots.Formats, ", "))
	f.BoolVar(&asJSON, "json", false, "one JSON object")
	logbookFlag(cmd, &of.Folder)
	shareFlag(cmd, &access)
	cmd.MarkFlagDirname("out")
	complete(cmd, "dancer", completeCodes(dancerCodes))
	complete(cmd, "visit", completeCodes(visitNames))
	complete(cmd, "shoe", completeCodes(shoeCodes))
	complete(cmd, "study", completeCodes(studyNames))
	complete(cmd, "measure", completeWords(history.MeasureNames()...))
	complete(cmd, "foot", completeWords("left", "right"))
	complete(cmd, "between", completeWords(string(reliability.Visits), string(reliability.Mountings)))
	complete(cmd, "format", completeWords(plots.Formats...))
	return cmd
}

// reliabilityOf returns the reliability in files, or in what is chosen from the logbook. p are
// the files.
func reliabilityOf(cmd *cobra.Command, of *history.Repetitions, args []string) (r *reliability.Reliability, p lookup.Recordings, err error) {
	if len(args) > 0 {
		p.Paths = args
		results, err := batch.Analyze(cmd.Context(), cmd.ErrOrStderr(), &p, analyze.Options{})
		if err != nil {
			return nil, p, err
		}
		r, err = of.InFiles(results)
		return r, p, err
	}
	err = of.Folder.With(func(l *logbook.Logbook) error {
		if err := batch.MeasureReadOnly(cmd.Context(), cmd.ErrOrStderr(), l, logbook.Filter{}); err != nil {
			return err
		}
		var leftOut []string
		r, leftOut, err = of.InLogbook(l)
		text.Warnings(cmd.ErrOrStderr(), leftOut)
		return err
	})
	return r, p, err
}
