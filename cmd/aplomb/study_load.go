package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"aplomb/analyze/check"
	"aplomb/analyze/logbook"
	"aplomb/analyze/study"
	"aplomb/cmd/internal/batch"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/manifest"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/text"
	"aplomb/plots/words"
)

func newStudyLoad(o environment) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "load NAME MANIFEST.csv",
		Short: "Load the recordings of a study from a table",
		Long: `Take in the recordings of a study from a table in CSV (RFC 4180), one line a
recording. Its first line names the columns, in any order:

` + manifestColumns() + `
dancer, visit, one of shoe and label, and files are needed. Files are named from
the folder of the table.

All of it is checked before anything is taken in, and every problem is named
with its line. Recordings are then made side by side, taken in and measured. If
that is stopped, what was taken in stays: the same command takes in the rest,
because the logbook knows the files by their SHA-256.`,
		Example: `  aplomb study load spring manifest.csv
  head -3 manifest.csv
  dancer,visit,day,shoe,left,right,support,rise
  D1,1,2026-03-14,A,raw/d1a_l.csv,raw/d1a_r.csv,barre,roll-up
  D1,1,2026-03-14,B,raw/d1b_l.csv,raw/d1b_r.csv,barre,roll-up`,
		Args: exactArgs("the study's NAME", "the table, MANIFEST.csv"),
		ValidArgsFunction: func(cmd *cobra.Command, args []string, typed string) ([]string, cobra.ShellCompDirective) {
			if len(args) == 0 {
				return completeCodes(studyNames)(cmd, args, typed)
			}
			return []string{"csv"}, cobra.ShellCompDirectiveFilterFileExt
		},
	}
	var folder lookup.Folder
	logbookFlag(cmd, &folder)
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		var s study.Study
		err := folder.With(func(l *logbook.Logbook) (err error) {
			s, err = findStudy(l, args[0])
			return cmp.Or(err, l.Writable())
		})
		if err != nil {
			return err
		}
		out, stderr := cmd.OutOrStdout(), cmd.ErrOrStderr()
		done, err := manifest.Load(cmd.Context(), stderr, folder, s, args[1], o.now())
		if done.Taken+done.Known+done.Bad > 0 {
			fmt.Fprintf(out, "%s loaded, %d were there before\n", words.Count(done.Taken, "recording", "recordings"), done.Known)
		}
		if err != nil {
			return err
		}
		failed, err := measureStudy(cmd.Context(), stderr, &folder, s.Name)
		if err != nil {
			return err
		}
		if err := folder.With(func(l *logbook.Logbook) error { return printCompleteness(out, l, s.Name) }); err != nil {
			return err
		}
		if failed+done.Bad > 0 {
			return errNo
		}
		return nil
	}
	return cmd
}

// manifestColumns lists the columns of a manifest.
func manifestColumns() string {
	var b strings.Builder
	for _, c := range manifest.Columns {
		fmt.Fprintf(&b, "  %-12s %s\n", c.Name, c.Holds)
	}
	return b.String()
}

// measureStudy measures the recordings of a study whose measures are stale or missing, and
// returns how many could not be measured.
func measureStudy(ctx context.Context, w io.Writer, folder *lookup.Folder, name string) (failed int, err error) {
	err = folder.With(func(l *logbook.Logbook) error {
		all, err := l.StudyRecordings(name)
		if err == nil {
			failed, err = batch.MeasureThese(ctx, io.Discard, w, l, all)
		}
		return err
	})
	return failed, err
}

// printCompleteness prints what is missing for comparing a study.
func printCompleteness(w io.Writer, l *logbook.Logbook, name string) error {
	p, err := output.StudyProgress(l, name)
	if err == nil {
		fmt.Fprintln(w, text.Wrap(output.StudyCompleteness(p)))
	}
	return err
}

func newStudyCheck() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "check NAME",
		Short: "Check the recordings of a study against its declaration",
		Long: `Say which recordings of a study are not right, and a
summary. A recording is not right if aplomb check does not trust it, if it is
not measured, if it was made with another shoe, without a foot of the study, out
of the order of its row, with fewer relevés than declared, with feedback to the
dancer, or if support, rise, floor, position, strip or shoe differ from what
they mostly are. Shoes have their labels. Dancers who dropped out or withdrew
their consent are left out.

The exit status is 1 if a recording is not right.`,
		Example: `  aplomb study check spring
  aplomb study check spring --json | jq '.recordings[].what'`,
		Args:              exactArgs("the study's NAME"),
		ValidArgsFunction: completeCodes(studyNames),
	}
	asJSON := jsonFlag(cmd)
	return onLogbook(cmd, func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		s, err := findStudy(l, args[0])
		if err != nil {
			return err
		}
		all, err := l.StudyRecordings(s.Name)
		if err != nil {
			return err
		}
		var paths []string
		for _, r := range all {
			paths = append(paths, r.Path)
		}
		faults := map[int64]string{}
		err = batch.Check(cmd.Context(), cmd.ErrOrStderr(), paths, func(i int, r *check.Report, err error) error {
			switch {
			case err != nil:
				faults[all[i].ID] = console.Explain(err)
			case !r.Trusted || !r.Whole:
				faults[all[i].ID] = r.Summary()
			}
			return nil
		})
		if err != nil {
			return err
		}
		checked, err := output.CheckStudy(l, s, all, faults)
		if err != nil {
			return err
		}
		if *asJSON {
			err = output.JSON(cmd.OutOrStdout(), checked)
		} else {
			output.StudyChecked(cmd.OutOrStdout(), checked)
		}
		if err == nil && len(checked.Recordings) > 0 {
			err = errNo
		}
		return err
	})
}

func newStudyCompare(o environment) *cobra.Command {
	var interim bool
	cmd := &cobra.Command{
		Use:   "compare NAME",
		Short: "Compare the shoes of a study over dancers",
		Long: `Compare the shoes of a study over dancers, once the declared number of dancers
have all recordings.

A dancer's value in a shoe is the mean over feet, visits, mountings and relevés,
each level with equal weights. For each pair of shoes: the Hodges-Lehmann
estimate of the difference with its exact interval, and the sign-flip test over
all 2ⁿ arrangements of the dancers' signs (200,000 random ones above 20 dancers,
with the standard error of p). p is adjusted over the pairs by Holm's procedure.
Only the primary measure is tested and gets a wording; the other declared
measures have estimate and interval.

The last table sets the primary measure against what is known of the shoes: how
much it changes with one more of a property, dancer by dancer. It says what went
together and no cause.

--interim compares earlier, under labels and without a wording. The logbook
keeps that, with the reason: a look at the data before the end makes a later p
smaller than it should be. The first comparison after the declared number is
kept as well. If the plan was amended after a comparison, no difference is
called clear.

Numbers are those that aplomb logbook measure keeps; none of them may be stale.`,
		Example: `  aplomb study compare spring
  aplomb study compare spring --json | jq '.pairs[] | {to, estimate, p_holm}'
  aplomb study compare spring --interim --reason "the monitor asked"`,
		Args:              exactArgs("the study's NAME"),
		ValidArgsFunction: completeCodes(studyNames),
	}
	asJSON := jsonFlag(cmd)
	cmd.Flags().BoolVar(&interim, "interim", false, "compare before the declared number of dancers; this is kept with the study")
	reason := reasonFlag(cmd)
	return onLogbook(cmd, func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		s, err := findStudy(l, args[0])
		if err != nil {
			return err
		}
		if interim {
			if err := requireReason(cmd); err != nil {
				return err
			}
		}
		if err := batch.MeasureReadOnly(cmd.Context(), cmd.ErrOrStderr(), l, logbook.Filter{Study: s.Name}); err != nil {
			return err
		}
		in, leftOut, err := studyInput(l, s)
		if err != nil {
			return err
		}
		text.Warnings(cmd.ErrOrStderr(), leftOut)
		c, err := s.Compare(in, interim)
		if errors.Is(err, study.ErrTooEarly) {
			return &console.Remedy{Err: err, Do: fmt.Sprintf("aplomb study status %s says what is missing; --interim --reason TEXT compares now, and that is kept", text.Quoted(s.Name))}
		}
		if err != nil {
			return err
		}
		today := string(logbook.DayOf(o.now()))
		switch {
		case c.Interim:
			err = l.NoteStudy(s.Name, study.Change{Day: today, Kind: study.Interim, What: in.Progress.InterimLook(), Reason: *reason})
		case !s.Compared():
			err = l.NoteStudy(s.Name, study.Change{Day: today, Kind: study.KeyShown, What: study.ComparedInFull})
			if errors.Is(err, logbook.ErrReadOnly) {
				err = nil // a copy can be compared
			}
		}
		if err != nil {
			return err
		}
		c.Provenance = in.Progress.Provenance
		if *asJSON {
			return output.JSON(cmd.OutOrStdout(), c)
		}
		output.StudyComparison(cmd.OutOrStdout(), s, c)
		return nil
	})
}

// studyInput returns the input for comparing a study. leftOut lists its recordings that are
// not measured. Stale measures are an error, because a comparison without them differs from
// one of all recordings.
func studyInput(l *logbook.Logbook, s study.Study) (in study.Input, leftOut []string, err error) {
	p, err := output.StudyProgress(l, s.Name)
	if err != nil {
		return in, nil, err
	}
	in.Progress = *p
	if in.Visits, in.Rows, err = l.StudyRows(s); err != nil {
		return in, nil, err
	}
	for _, shoe := range s.Shoes {
		known, err := l.Shoe(shoe.Code)
		if err != nil {
			return in, nil, err
		}
		in.Shoes = append(in.Shoes, known.Shoe)
	}
	all, err := l.StudyRecordings(s.Name)
	stale, without := 0, 0
	for _, r := range all {
		switch {
		case r.Remark.Rejected():
		case r.Measures == logbook.Stale:
			stale++
		case r.Measures == logbook.NotMeasured:
			without++
		}
	}
	if err == nil && stale > 0 {
		err = &console.Remedy{Err: fmt.Errorf("study %s: measures of %s are stale", s.Name, words.Count(stale, "recording", "recordings")), Do: "aplomb logbook measure measures them again"}
	}
	if without > 0 {
		leftOut = append(leftOut, fmt.Sprintf("left out, not measured: %s; aplomb logbook measure measures them", words.Count(without, "recording", "recordings")))
	}
	return in, leftOut, err
}
