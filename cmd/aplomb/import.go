package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"slices"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/analyze/provenance"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/files"
	"aplomb/cmd/internal/intake"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
	"aplomb/device/input"
	"aplomb/plots/words"
)

func newImport(o environment) *cobra.Command {
	var s intake.Setup
	var out, started string
	var csv [2]string
	var pressed []string
	var access files.Access
	var unfinished bool
	cmd := &cobra.Command{
		Use:   "import [FILE.csv | FILE.mcap…]",
		Short: "Make a recording from CSV files, or add recordings to the logbook",
		Long: `Make a recording from CSV files, one for each foot, or add recordings to the
logbook.

The first line of a CSV file is t_us,c0,c1,…; every further line is a frame: the
strip's clock in microseconds and the counts of every cell in the order of the
strip's scan, separated by commas, semicolons, tabs or spaces. Two files are
assumed to have the same clock. Every import counts as a new mounting of the
strips, unless --same-mounting-as names a recording after which they were not
taken off.

--press marks a part of the file as a pad press: the platform pressed on 5 to 10
mm of soft foam on a table, the shoe off the foot, and rocked to all sides. It
is not a relevé; it shows where the strip lies.

With --dancer and --visit the recording goes into the logbook and is measured,
as with aplomb record. A CSV file that the visit already has in the same shoe is
refused, because its relevés would count twice; --started with the time of
another recording takes it in all the same. Existing recordings, FILE.mcap, are
copied into it; shoes and strips that it lacks are added from them. The exit
status is 1 if a recording could not be added; the others are added.

--unfinished adds all recordings for the logbook that were cut short, because
the program was killed or the power failed, each to the visit that it names.`,
		Example: `  aplomb import --dancer D7 --visit today --shoe A --left left.csv \
      --right right.csv
  aplomb import --strip left.toml --shoe A.toml --started 2026-03-14T10:00 \
      --out a1.mcap left.csv
  aplomb import --dancer D7 --visit 2026-03-14 a1.mcap a2.mcap b1.mcap b2.mcap
  aplomb import --unfinished`,
		Args:              cobra.ArbitraryArgs,
		ValidArgsFunction: cobra.FixedCompletions([]string{"csv", "mcap"}, cobra.ShellCompDirectiveFilterFileExt),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := checkShare(access, out); err != nil {
				return err
			}
			if unfinished {
				return importUnfinished(cmd, &s.Logbook, args)
			}
			if slices.ContainsFunc(args, intake.IsRecording) {
				return importRecordings(cmd, &s, args, o.now())
			}
			if err := s.CheckTarget(out); err != nil {
				return err
			}
			at, err := intake.ParseStart(started, o.now())
			if err != nil {
				return err
			}
			s.Imported = o.now()
			if err := s.FindVisit(s.Imported); err != nil {
				return err
			}
			m, err := s.Metadata(cmd.Context(), at, [2]bool{csv[device.Left] != "", csv[device.Right] != ""})
			if err != nil {
				return err
			}
			if s.Into == nil { // otherwise the logbook has the code already
				warnOfName(cmd.ErrOrStderr(), m.Dancer)
			}
			if err := intake.Assign(&csv, args, &m); err != nil {
				return err
			}
			presses, err := intake.ParsePresses(pressed, &m)
			if err != nil {
				return err
			}
			return importOne(cmd, &s, csv, m, presses, out, access)
		},
	}
	setupFlags(cmd, &s)
	cmd.Flags().StringVar(&csv[device.Left], "left", "", "CSV `FILE` of the left foot")
	cmd.Flags().StringVar(&csv[device.Right], "right", "", "CSV `FILE` of the right foot")
	cmd.Flags().StringVar(&started, "started", "", "`TIME` when it was recorded, such as 2026-03-14T10:00; default now")
	cmd.Flags().StringVar(&out, "out", "", "recording `FILE` to make; with --visit the logbook takes a copy")
	cmd.Flags().StringArrayVar(&pressed, "press", nil, "pad press `[FOOT:]FROM-TO` in the file, seconds by its clock; once for each")
	shareFlag(cmd, &access)
	cmd.Flags().BoolVar(&unfinished, "unfinished", false, "take in all recordings of the logbook that were cut short")
	complete(cmd, "press", cobra.NoFileCompletions)
	complete(cmd, "left", completeFiles("csv"))
	complete(cmd, "right", completeFiles("csv"))
	complete(cmd, "started", cobra.NoFileCompletions)
	complete(cmd, "out", completeFiles("mcap"))
	return cmd
}

// importOne makes one recording from CSV files, and adds it to the logbook where a visit
// was given.
func importOne(cmd *cobra.Command, s *intake.Setup, csv [2]string, m device.Metadata, presses []intake.Press, out string, access files.Access) error {
	if out != "" {
		if err := files.CheckVacant(out); err != nil {
			return err
		}
	}
	var sums map[device.Foot]string
	if s.Into != nil {
		var err error
		if sums, err = sourcesOf(cmd.Context(), csv); err != nil {
			return err
		}
		if err := s.Logbook.With(func(l *logbook.Logbook) error { return checkSources(cmd, l, *s.Into, csv, sums, m) }); err != nil {
			return err
		}
	}
	path := out
	if path == "" {
		err := s.Logbook.With(func(l *logbook.Logbook) error {
			path = l.NewRecordingPath(m.Started)
			return l.Writable()
		})
		if err != nil {
			return err
		}
	}
	n, err := intake.ImportCSV(cmd.Context(), csv, m, presses, path, console.NewProgress(cmd.ErrOrStderr()))
	var stopped error
	if errors.Is(err, intake.ErrStopped) {
		stopped = fmt.Errorf("%w: the recording holds the %d frames read until then", err, n)
	} else if err != nil {
		return err
	}
	if out != "" {
		if err := access.Apply(out); err != nil {
			return errors.Join(stopped, err)
		}
		fmt.Fprintf(cmd.OutOrStdout(), "%s: %d frames\n", out, n)
	}
	if s.Into == nil {
		return stopped
	}
	r, _, err := addToLogbook(cmd, &s.Logbook, *s.Into, path, false)
	if r.ID != 0 && stopped == nil { // it is in the logbook, also where it cannot be measured
		err = cmp.Or(err, s.Logbook.With(func(l *logbook.Logbook) error { return l.PutSources(r.ID, sums) }))
	}
	if err != nil {
		switch {
		case r.ID != 0:
		case out == "" && errors.Is(err, logbook.ErrNotFound): // another program has erased it since
			err = cmp.Or(os.Remove(path), fmt.Errorf("visit %s of dancer %s is %w any more: nothing is imported", s.Into.Name(), s.Into.Dancer, logbook.ErrNotFound))
		case out == "" && errors.Is(err, logbook.ErrExists):
			err = cmp.Or(os.Remove(path), err)
		default:
			err = intake.LeftAt(err, *s.Into, path)
		}
		return errors.Join(stopped, err)
	}
	return errors.Join(stopped, printNext(cmd, &s.Logbook, *s.Into))
}

// sourcesOf returns the SHA-256 of CSV files by foot, without those of pipes.
func sourcesOf(ctx context.Context, csv [2]string) (map[device.Foot]string, error) {
	sums := map[device.Foot]string{}
	for _, f := range device.Feet {
		if csv[f] == "" || input.CheckKind(csv[f]) != nil {
			continue
		}
		sum, _, err := provenance.SHA256(ctx, csv[f])
		if err != nil {
			return nil, err
		}
		sums[f] = sum
	}
	return sums, nil
}

// checkSources warns where the logbook has a recording of one of the CSV files, because its
// relevés then count twice. It returns an error where that recording is of the same visit and
// shoe and no other time was stated.
func checkSources(cmd *cobra.Command, l *logbook.Logbook, into logbook.Visit, csv [2]string, sums map[device.Foot]string, m device.Metadata) error {
	known, err := l.Sources()
	if err != nil {
		return err
	}
	for _, f := range device.Feet {
		id, is := known[sums[f]]
		if !is {
			continue
		}
		r, err := l.Recording(id)
		if err != nil {
			return err
		}
		if there := r.Feet[f]; r.VisitID == into.ID && there != nil && there.Shoe == m.Sides[f].Shoe.Code && !cmd.Flags().Changed("started") {
			return fmt.Errorf("%s: %w as recording %d, of this visit and shoe: aplomb logbook relabel %d corrects that one, aplomb logbook erase %d takes it out", csv[f], logbook.ErrExists, id, id, id)
		}
		fmt.Fprintf(cmd.ErrOrStderr(), "warning: %s is in the logbook already, as recording %d of dancer %s, %s: the same relevés count twice\n", csv[f], id, r.Dancer, r.VisitName)
	}
	return nil
}

// importRecordings adds recordings that exist already to the logbook.
func importRecordings(cmd *cobra.Command, s *intake.Setup, paths []string, now time.Time) error {
	for _, path := range paths {
		if !intake.IsRecording(path) {
			return usage.Errorf("%s: recordings and CSV files are imported each on their own", path)
		}
	}
	if s.Visit == "" {
		return usage.Errorf("--visit VISIT is missing: the visit of the dancer that the recordings were made in")
	}
	if err := onlyFlags(cmd, "a recording says that itself, and aplomb logbook relabel corrects it", "dancer", "visit", "logbook"); err != nil {
		return err
	}
	if err := s.FindVisit(now); err != nil {
		return err
	}
	var bad error
	for _, path := range paths {
		if err := cmd.Context().Err(); err != nil {
			return err
		}
		err := cmp.Or(logbook.CheckEnded(path), intake.CheckFrames(cmd.Context(), path))
		if err == nil {
			_, _, err = addToLogbook(cmd, &s.Logbook, *s.Into, path, false)
		}
		if cmd.Context().Err() != nil || err != nil && len(paths) == 1 {
			return err
		}
		if err != nil { // the others are imported nevertheless
			fmt.Fprintf(cmd.ErrOrStderr(), "aplomb: %s\n", console.Explain(err))
			bad = errNo
		}
	}
	return cmp.Or(printNext(cmd, &s.Logbook, *s.Into), bad)
}

// onlyFlags returns a usage error for a flag that is not one of names; why is the reason.
func onlyFlags(cmd *cobra.Command, why string, names ...string) (err error) {
	cmd.Flags().Visit(func(f *pflag.Flag) {
		if err == nil && !slices.Contains(names, f.Name) && f.Name != "quiet" {
			err = usage.Errorf("--%s: %s", f.Name, why)
		}
	})
	return err
}

// importUnfinished imports the recordings of the logbook that were cut short. It reports
// one that cannot be imported and continues with the others.
func importUnfinished(cmd *cobra.Command, folder *lookup.Folder, args []string) error {
	if err := cmp.Or(noArgs(cmd, args), onlyFlags(cmd, "a recording says that itself", "unfinished", "logbook")); err != nil {
		return err
	}
	n, err := addAllUnfinished(cmd, folder)
	if err != nil {
		return err
	}
	recent := 0
	err = folder.With(func(l *logbook.Logbook) (err error) {
		recent, err = l.JustFinished()
		return err
	})
	switch {
	case err != nil:
		return err
	case recent > 0:
		fmt.Fprintf(cmd.OutOrStdout(), "%s finished less than a minute ago: if no program takes it in, say this again in a minute\n", words.Count(recent, "recording", "recordings"))
	case n == 0:
		fmt.Fprintln(cmd.OutOrStdout(), "no recording was left unfinished")
	}
	return nil
}

// addAllUnfinished imports the recordings of the logbook that were cut short, and returns
// their number. The error is errNo where one could not be imported, which was reported.
func addAllUnfinished(cmd *cobra.Command, folder *lookup.Folder) (n int, err error) {
	folder.Remarks = nil // they are being imported
	var paths []string
	err = folder.With(func(l *logbook.Logbook) (err error) {
		if err := l.RemoveCutCopies(); err != nil {
			return err
		}
		paths, err = l.Unfinished()
		return err
	})
	if err != nil {
		return 0, err
	}
	failed := false
	for _, path := range paths {
		if err := cmd.Context().Err(); err != nil {
			return 0, err
		}
		why := addUnfinished(cmd, folder, path)
		var removed bool
		err := folder.With(func(l *logbook.Logbook) (err error) {
			removed, err = l.RemoveLeftover(cmd.Context(), path)
			return err
		})
		switch {
		case removed:
			fmt.Fprintf(cmd.OutOrStdout(), "%s is removed: nothing is in it that the logbook does not have\n", path)
		case why != nil || err != nil:
			failed = true
			fmt.Fprintf(cmd.ErrOrStderr(), "aplomb: %s\n", console.Explain(cmp.Or(why, err)))
		}
	}
	if failed {
		return len(paths), errNo
	}
	return len(paths), nil
}

// addUnfinished adds an unfinished recording of the logbook to the visit that it names.
func addUnfinished(cmd *cobra.Command, folder *lookup.Folder, path string) error {
	if err := intake.CheckFrames(cmd.Context(), path); err != nil {
		return err
	}
	var v logbook.Visit
	err := folder.With(func(l *logbook.Logbook) (err error) {
		v, err = l.VisitOf(cmd.Context(), path)
		return err
	})
	if errors.Is(err, logbook.ErrNotFound) {
		return fmt.Errorf("%w: aplomb import FILE --dancer CODE --visit VISIT takes it in, or remove the file", err)
	}
	if err != nil {
		return err
	}
	_, _, err = addToLogbook(cmd, folder, v, path, false)
	return err
}

// setupFlags adds the flags of record and import for strips, shoes, dancer and
// conditions.
func setupFlags(cmd *cobra.Command, s *intake.Setup) {
	cmd.Flags().StringArrayVar(&s.Strips, "strip", nil, "`STRIP` under a foot, by name or file; once for each")
	complete(cmd, "strip", completeOrFiles("toml", completeCodes(stripNames)))
	labelFlags(cmd, s)
}

// labelFlags adds the flags for metadata of a recording that can be corrected.
func labelFlags(cmd *cobra.Command, s *intake.Setup) {
	f := cmd.Flags()
	f.StringVar(&s.Dancer, "dancer", "", "the dancer's `CODE`, never a name")
	f.StringVar(&s.Visit, "visit", "", "`VISIT` of the dancer that it goes into: today, last or its name")
	f.StringVar(&s.Shoe, "shoe", "", "`SHOE` on every recorded foot, by code or file")
	f.StringVar(&s.LeftShoe, "left-shoe", "", "`SHOE` of the left foot")
	f.StringVar(&s.RightShoe, "right-shoe", "", "`SHOE` of the right foot")
	f.StringVar(&s.Support, "support", "", "`WHAT` the dancer holds on to: barre, hand or none")
	f.StringVar(&s.Rise, "rise", "", "`HOW` the dancer rises: roll-up, spring or step")
	f.StringVar(&s.Position, "position", "", "`POSITION` of the feet, such as first or parallel")
	f.StringVar(&s.Floor, "floor", "", "`WHAT` the floor is made of")
	f.StringVar(&s.Feedback, "feedback", "", "`WHAT` the dancer sees of the numbers: none, after or live (practice only)")
	f.StringVar(&s.Marks, "marks", "", "`MARKS`, 1 or 2, in the shoes on the left and the right foot, such as 1,2")
	f.StringArrayVar(&s.Padding, "padding", nil, "`[FOOT:]WHAT` is between foot and shoe, such as gel or left:gel; once for each")
	f.StringVar(&s.Fixing, "fixing", "", "`HOW` the strips are fixed to the shoes, such as cover or tape (see aplomb guide fixing)")
	f.Float64Var(&s.MassKG, "mass-kg", 0, "the dancer's body mass in `KG`")
	f.StringVar(&s.SameMounting, "same-mounting-as", "", "`RECORDING` after which no strip was taken off: number, last or file")
	logbookFlag(cmd, &s.Logbook)
	for _, name := range []string{"shoe", "left-shoe", "right-shoe"} {
		complete(cmd, name, completeOrFiles("toml", completeCodes(shoeCodes)))
	}
	complete(cmd, "dancer", completeCodes(dancerCodes))
	complete(cmd, "visit", completeCodes(visitNames))
	for _, name := range []string{"position", "floor", "mass-kg", "padding"} {
		complete(cmd, name, cobra.NoFileCompletions)
	}
	complete(cmd, "same-mounting-as", completeFiles("mcap"))
	complete(cmd, "fixing", completeWords("cover", "tape", "elastic"))
	complete(cmd, "marks", completeWords("1,2", "2,1"))
	complete(cmd, "feedback", completeWords(device.Feedbacks[:]...))
	complete(cmd, "support", completeWords(logbook.Supports[:]...))
	complete(cmd, "rise", completeWords(logbook.Rises[:]...))
}

// addToLogbook adds a recording to a visit, measures it, and prints a summary.
// fresh means that the recording was just made: where it cannot be added, the error
// says where its file is.
func addToLogbook(cmd *cobra.Command, folder *lookup.Folder, v logbook.Visit, path string, fresh bool) (r logbook.Recording, result *measure.Result, err error) {
	if r, err = intake.Add(cmd.Context(), folder, v, path); err != nil {
		if fresh {
			err = intake.LeftAt(err, v, path)
		}
		return r, nil, err
	}
	output.Stop(cmd.OutOrStdout(), v.Advice())
	fmt.Fprintf(cmd.OutOrStdout(), "recording %d in the logbook: %s, %s, shoe %s\n", r.ID, r.Dancer, r.VisitName, text.ShoesOf(r))
	if !v.Day.Around(r.Started) {
		text.Warnings(cmd.ErrOrStderr(), []string{fmt.Sprintf("recording %d was made on %s, which is not the visit's day", r.ID, logbook.DayOf(r.Started))})
	}
	result, c, err := intake.Measure(cmd.Context(), folder, r)
	if err != nil {
		return r, nil, err
	}
	output.Summary(cmd.OutOrStdout(), c)
	output.Warnings(cmd.ErrOrStderr(), result.Warnings)
	return r, result, nil
}

// printNext prints how the last recording deviated from the visit's plan, and the
// next step of the plan.
func printNext(cmd *cobra.Command, folder *lookup.Folder, v logbook.Visit) error {
	return folder.With(func(l *logbook.Logbook) error {
		return cmp.Or(output.Deviation(cmd.OutOrStdout(), l, v), output.Next(cmd.OutOrStdout(), l, v))
	})
}
