package main

import (
	"fmt"
	"io"
	"os"
	"slices"

	"github.com/spf13/cobra"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/intake"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/device/recording"
)

func newLogbookRelabel(o environment) *cobra.Command {
	s := &intake.Relabel{}
	cmd := &cobra.Command{
		Use:   "relabel NUMBER… | FILE.mcap…",
		Short: "Correct a recording's shoe, dancer, mounting or conditions",
		Long: `Correct the shoe, dancer, mounting or conditions of recordings, or record
that the cables of the two strips were exchanged. The recording and its id stay
as they are. The correction is a file beside it, named by the id, which every
command reads. It keeps all corrections; aplomb show prints what was recorded,
what counts now, and when it was corrected. See also aplomb guide files.

Measures computed before the correction become stale: aplomb logbook measure
computes them again. An empty text, such as --floor "", means not stated. --undo
withdraws all corrections of a recording.

A recording of another dancer moves to the visit of that dancer on the same
day; --visit names another visit. A shoe is taken as the logbook or its file
describes it now.

--swap-feet is for exchanged cables: frames of the left foot become those of the
right one and vice versa. Strips and shoes stay with their feet. It is not for a
left strip under a right shoe.

Without anything to correct, the logbook reads the correction file beside the
recording again, for example after it was restored.`,
		Example: `  aplomb logbook relabel 12 13 --shoe B
  aplomb logbook relabel 12 --dancer D8 --visit 2026-03-14
  aplomb logbook relabel 12 --new-mounting
  aplomb logbook relabel 12 --undo
  aplomb logbook relabel a1.mcap --left-shoe B.toml`,
		Args:              requireRecordings,
		ValidArgsFunction: completeOrFiles("mcap", completeCodes(recordingNumbers)),
		RunE: func(cmd *cobra.Command, args []string) error {
			s.Given = func(flag string) bool { return cmd.Flags().Changed(flag) }
			s.Now = o.now()
			if err := s.Check(); err != nil {
				return err
			}
			if slices.ContainsFunc(args, intake.IsRecording) {
				return relabelFiles(cmd, s, args)
			}
			return s.Logbook.With(func(l *logbook.Logbook) error { return relabelNumbers(cmd, s, l, args) })
		},
	}
	labelFlags(cmd, &s.Setup)
	cmd.Flags().BoolVar(&s.NewMounting, "new-mounting", false, "the strips were taken off before this recording")
	cmd.Flags().BoolVar(&s.SwapFeet, "swap-feet", false, "the cables of the two strips were exchanged; --swap-feet=false: they were not")
	cmd.Flags().BoolVar(&s.Undo, "undo", false, "withdraw all corrections: what was recorded counts")
	return cmd
}

// relabelNumbers corrects recordings of the logbook.
func relabelNumbers(cmd *cobra.Command, s *intake.Relabel, l *logbook.Logbook, numbers []string) error {
	var all []logbook.Recording
	for _, number := range numbers {
		r, err := lookup.Recording(l, number)
		if err != nil {
			return err
		}
		all = append(all, r)
	}
	w := cmd.OutOrStdout()
	for i, before := range all {
		if err := cmd.Context().Err(); err != nil {
			return err
		}
		r, err := s.Recording(cmd.Context(), l, before)
		if err != nil {
			return err
		}
		all[i] = r
		if err := printCorrected(w, cmd, "recording "+text.RecordingName(r), r.Path); err != nil {
			return err
		}
	}
	warnOfMountings(cmd, l, all)
	var told []string // dancers
	for _, r := range all {
		if r.Measures == logbook.Current || slices.Contains(told, r.Dancer) {
			continue
		}
		told = append(told, r.Dancer)
		d, err := l.Dancer(r.Dancer)
		if err != nil {
			return err
		}
		if err := lookup.CheckConsent(d); err != nil {
			text.Warnings(cmd.ErrOrStderr(), []string{console.Explain(err)})
			continue
		}
		fmt.Fprintf(w, "aplomb logbook measure --dancer %s measures again what is stale now\n", text.Quoted(r.Dancer))
	}
	return nil
}

// relabelFiles corrects recordings outside of the logbook.
func relabelFiles(cmd *cobra.Command, s *intake.Relabel, paths []string) error {
	if s.Given("visit") && (s.Visit == "last" || s.Visit == "today") {
		return usage.Errorf("--visit %s: of a file outside of the logbook, write the visit's name, such as 2026-03-14", s.Visit)
	}
	for _, path := range paths {
		if !intake.IsRecording(path) {
			return usage.Errorf("%.40q: numbers of the logbook and files are corrected each on their own", path)
		}
		if number, err := numberOf(&s.Logbook, path); err != nil {
			return err
		} else if number != 0 {
			return usage.Errorf("%s is recording %d of the logbook: aplomb logbook relabel %d", path, number, number)
		}
	}
	for _, path := range paths {
		if _, err := s.File(cmd.Context(), path); err != nil {
			return err
		}
		if err := printCorrected(cmd.OutOrStdout(), cmd, path, path); err != nil {
			return err
		}
	}
	return nil
}

// numberOf returns the number of the recording whose file in the logbook is at path, 0
// for a file outside the logbook.
func numberOf(folder *lookup.Folder, path string) (number int64, err error) {
	if !folder.Exists() {
		return 0, nil
	}
	err = folder.With(func(l *logbook.Logbook) error {
		all, err := l.Recordings(logbook.Filter{})
		for _, r := range all {
			if sameFile(r.Path, path) {
				number = r.ID
			}
		}
		return err
	})
	return number, err
}

func sameFile(a, b string) bool {
	infoA, errA := os.Stat(a)
	infoB, errB := os.Stat(b)
	return errA == nil && errB == nil && os.SameFile(infoA, infoB)
}

// printCorrected prints the corrections in force of the recording at path.
func printCorrected(w io.Writer, cmd *cobra.Command, name, path string) error {
	r, err := recording.Open(cmd.Context(), path)
	if err != nil {
		return err
	}
	defer r.Close()
	said := ""
	if c := r.Correction(); c != nil {
		said = c.Summary(r.Recorded())
	}
	if said == "" {
		said = "what was recorded counts"
	} else {
		said = "corrected on " + said
	}
	fmt.Fprintf(w, "%s: %s\n", name, said)
	return nil
}

// warnOfMountings warns of recordings in the same mounting as a corrected one but with
// another shoe.
func warnOfMountings(cmd *cobra.Command, l *logbook.Logbook, corrected []logbook.Recording) {
	others, err := l.Recordings(logbook.Filter{})
	if err != nil {
		return
	}
	warned := map[int64]bool{}
	for _, r := range corrected {
		for _, other := range others {
			for f, one := range r.Feet {
				with := other.Feet[f]
				if one == nil || with == nil || other.ID == r.ID || warned[other.ID] || one.Mounting == "" || one.Strip != with.Strip || one.Mounting != with.Mounting || one.Shoe == with.Shoe {
					continue
				}
				warned[other.ID] = true
				text.Warnings(cmd.ErrOrStderr(), []string{fmt.Sprintf("recording %d is of the same mounting and has shoe %s: aplomb logbook relabel %d corrects it too, or relabel %d --new-mounting says that it was another mounting",
					other.ID, with.Shoe, other.ID, r.ID)})
			}
		}
	}
}
