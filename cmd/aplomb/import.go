package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"aplomb/analyze/logbook"
	"aplomb/device"
	"aplomb/device/recording"
	"aplomb/device/wire"
)

func newImport(o outside) *cobra.Command {
	var s setup
	var out, started string
	var csv [2]string
	cmd := &cobra.Command{
		Use:   "import [FILE.csv | FILE.mcap…]",
		Short: "Make a recording of CSV files, or take recordings into the logbook",
		Long: `Make a recording of CSV files, one a foot; or take recordings into the logbook.

Of a CSV file the first line is t_us,c0,c1,…; then one frame a line: the strip's
clock in microseconds and the counts of every cell in the order of the strip's
scan. Commas, semicolons, tabs or spaces separate. The clocks of two files are
taken to be one. Every import counts as a new mounting of the strips, unless
--same-mounting-as names a recording since which they were not taken off.

With --dancer and --visit the recording goes into the logbook and is measured,
as with aplomb record. Recordings that are there already, FILE.mcap, are copied
into it; shoes and strips that it does not know are added from them.`,
		Example: `  aplomb import --dancer D7 --visit today --shoe A --left left.csv \
      --right right.csv
  aplomb import --strip left.toml --shoe A.toml --started 2026-03-14T10:00 \
      --out a1.mcap left.csv
  aplomb import --dancer D7 --visit 2026-03-14 a1.mcap a2.mcap b1.mcap b2.mcap`,
		Args:              cobra.ArbitraryArgs,
		ValidArgsFunction: cobra.FixedCompletions([]string{"csv", "mcap"}, cobra.ShellCompDirectiveFilterFileExt),
		RunE: func(cmd *cobra.Command, args []string) error {
			if slices.ContainsFunc(args, isRecording) {
				return importRecordings(cmd, &s, args, o.now())
			}
			if err := s.goesSomewhere(out); err != nil {
				return err
			}
			at, err := startedAt(started, o.now())
			if err != nil {
				return err
			}
			s.imported = o.now()
			if err := s.find(s.imported); err != nil {
				return err
			}
			m, err := s.meta(cmd.Context(), at, [2]bool{csv[device.Left] != "", csv[device.Right] != ""})
			if err != nil {
				return err
			}
			if err := assign(&csv, args, &m); err != nil {
				return err
			}
			return importOne(cmd, &s, csv, m, out)
		},
	}
	s.flags(cmd)
	cmd.Flags().StringVar(&csv[device.Left], "left", "", "CSV `FILE` of the left foot")
	cmd.Flags().StringVar(&csv[device.Right], "right", "", "CSV `FILE` of the right foot")
	cmd.Flags().StringVar(&started, "started", "", "`TIME` when it was recorded, such as 2026-03-14T10:00; default now")
	cmd.Flags().StringVar(&out, "out", "", "recording `FILE` to make; with --visit the logbook takes a copy")
	complete(cmd, "left", endingIn("csv"))
	complete(cmd, "right", endingIn("csv"))
	complete(cmd, "started", cobra.NoFileCompletions)
	complete(cmd, "out", endingIn("mcap"))
	return cmd
}

// startedAt reads when something was recorded, by this machine's time zone where
// none is said.
func startedAt(typed string, now time.Time) (time.Time, error) {
	if typed == "" {
		return now, nil
	}
	for _, layout := range []string{"2006-01-02T15:04", time.DateTime, "2006-01-02 15:04", "2006-01-02T15:04:05", time.RFC3339} {
		t, err := time.ParseInLocation(layout, typed, now.Location())
		if err != nil {
			continue
		}
		if t.After(now) {
			return t, misused("--started %s lies in the future", typed)
		}
		return t, nil
	}
	return now, misused("--started %.40q: write it as 2026-03-14T10:00", typed)
}

// importOne makes one recording of CSV files, in the logbook where it has a visit.
func importOne(cmd *cobra.Command, s *setup, csv [2]string, m device.Metadata, out string) error {
	if out != "" {
		if err := vacant(out); err != nil {
			return err
		}
	}
	path := out
	if path == "" {
		err := s.book.with(func(l *logbook.Logbook) error {
			path = l.NewRecordingPath(m.Started)
			return nil
		})
		if err != nil {
			return err
		}
	}
	n, err := importCSV(cmd, csv, m, path)
	var stopped error
	if errors.Is(err, errImportStopped) {
		stopped = fmt.Errorf("%w: the recording holds the %d frames read until then", err, n)
	} else if err != nil {
		return err
	}
	if out != "" {
		fmt.Fprintf(cmd.OutOrStdout(), "%s: %d frames\n", out, n)
	}
	if s.in == nil {
		return stopped
	}
	if err := takeIn(cmd, &s.book, *s.in, path); err != nil {
		return errors.Join(stopped, stays(err, *s.in, path))
	}
	return errors.Join(stopped, sayNext(cmd, &s.book, *s.in))
}

// isRecording says whether what was typed is a recording by its name.
func isRecording(typed string) bool {
	return strings.HasSuffix(typed, ".mcap") || strings.HasSuffix(typed, ".mcap.part")
}

// importRecordings takes recordings into the logbook as they are.
func importRecordings(cmd *cobra.Command, s *setup, paths []string, now time.Time) error {
	for _, path := range paths {
		if !isRecording(path) {
			return misused("%s: recordings and CSV files are imported each on their own", path)
		}
	}
	if s.visit == "" {
		return misused("--visit VISIT is missing: the visit of the dancer that the recordings were made in")
	}
	var said []string
	cmd.Flags().Visit(func(f *pflag.Flag) {
		if !slices.Contains([]string{"dancer", "visit", "logbook"}, f.Name) {
			said = append(said, f.Name)
		}
	})
	if len(said) > 0 {
		return misused("--%s: a recording says that itself", said[0])
	}
	if err := s.find(now); err != nil {
		return err
	}
	for _, path := range paths {
		if err := cmd.Context().Err(); err != nil {
			return err
		}
		if err := hasFrames(cmd.Context(), path); err != nil {
			return err
		}
		if err := takeIn(cmd, &s.book, *s.in, path); err != nil {
			return err
		}
	}
	return sayNext(cmd, &s.book, *s.in)
}

// hasFrames reports a recording without a frame, as one is that was cut short
// at once: nothing can ever be measured in it.
func hasFrames(ctx context.Context, path string) error {
	r, err := recording.Open(ctx, path)
	if err != nil {
		return err
	}
	defer r.Close()
	var f device.Frame
	if err := r.Next(&f); errors.Is(err, io.EOF) {
		return fmt.Errorf("%s: no frame in it: there is nothing to take in", path)
	}
	return nil // what else is wrong with it does not make it worthless
}

// assign finds the CSV file of each foot that has a strip. Where a single file
// is named without its foot, the one strip tells.
func assign(csv *[2]string, args []string, m *device.Metadata) error {
	named := csv[device.Left] != "" || csv[device.Right] != ""
	switch {
	case len(args) > 1 || (len(args) == 1 && named):
		return misused("name one CSV file, or one each with --left and --right")
	case len(args) == 0 && !named:
		return misused("name a CSV file, or one each with --left and --right")
	case len(args) == 1:
		if m.Sides[device.Left] != nil && m.Sides[device.Right] != nil {
			return misused("two strips and one CSV file: name its foot with --left or --right, and the other's too")
		}
		f := device.Left
		if m.Sides[device.Left] == nil {
			f = device.Right
		}
		csv[f] = args[0]
	}
	for _, f := range device.Feet {
		if csv[f] != "" && m.Sides[f] == nil {
			return misused("--%s %s: no --strip for the %s foot", f, csv[f], f)
		}
	}
	for _, f := range device.Feet {
		if m.Sides[f] == nil {
			continue
		}
		if csv[f] == "" {
			return misused("strip %s is for the %s foot, but there is no --%s FILE.csv", m.Sides[f].Strip.Name, f, f)
		}
		m.Sides[f].Format = "csv"
	}
	return nil
}

// errImportStopped means that a signal ended an import, whose file was finished.
var errImportStopped = errors.New("stopped before the end of the CSV")

// importCSV writes the frames of both files to out and returns how many they
// are. When the command's context is done it finishes the file with the frames
// read until then, if any, and returns errImportStopped. Any other error leaves
// no file.
func importCSV(cmd *cobra.Command, csv [2]string, m device.Metadata, out string) (frames int, err error) {
	var src device.Source
	for _, f := range device.Feet {
		if csv[f] == "" {
			continue
		}
		file, err := wire.OpenCSV(cmd.Context(), csv[f], m.Sides[f].Strip, m.Started.UnixNano())
		if err != nil {
			return 0, err
		}
		defer file.Close()
		if src == nil {
			src = file
		} else {
			src = device.Merge(src, file)
		}
	}
	w, err := recording.CreateDirect(out, m)
	if err != nil {
		return 0, err
	}
	progress := newProgress(cmd.ErrOrStderr())
	defer progress.clear()
	var frame device.Frame
	for {
		var err error
		if frames%10_000 == 0 {
			err = cmd.Context().Err()
			progress.show("importing: %d frames", frames)
		}
		if err == nil {
			err = src.Next(&frame)
		}
		if err == nil {
			err = w.Write(&frame)
		}
		switch {
		case err == nil:
			frames++
		case errors.Is(err, io.EOF):
			return frames, w.Close()
		case errors.Is(err, context.Canceled) && frames > 0:
			return frames, cmp.Or(w.Close(), errImportStopped)
		default:
			w.Discard()
			return 0, err
		}
	}
}
