package main

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"aplomb/analyze/logbook"
	"aplomb/plots/words"
)

func newLogbook() *cobra.Command {
	return family("logbook", "Look after the logbook: where it is, whether it is whole, backups", `
Look after the logbook: where it is, whether it is whole, backups, and what to
do when it is damaged.

It is one folder that its owner alone can read: a database, and the recordings
beside it. --logbook DIR names it, or APLOMB_LOGBOOK; else it is aplomb in the
user's data folder.`, `
  aplomb logbook where
  aplomb logbook check
  aplomb logbook backup /media/usb/logbook-2026-03-14
  aplomb logbook rebuild`,
		newLogbookWhere(), newLogbookCheck(), newLogbookBackup(), newLogbookBackups(), newLogbookRebuild(), newLogbookErase())
}

func newLogbookWhere() *cobra.Command {
	var b book
	cmd := &cobra.Command{
		Use:               "where",
		Short:             "Say where the logbook is and what it holds",
		Example:           `  aplomb logbook where`,
		Args:              none,
		ValidArgsFunction: cobra.NoFileCompletions,
		RunE: func(cmd *cobra.Command, _ []string) error {
			dir, err := b.dir()
			if err != nil {
				return err
			}
			if dir, err = filepath.Abs(dir); err != nil {
				return err
			}
			w := cmd.OutOrStdout()
			fmt.Fprintln(w, dir) // said before it is opened: that may be what fails
			if !logbook.Exists(dir) && logbook.Bereft(dir) == nil {
				fmt.Fprintln(w, "  no logbook yet: aplomb dancer add CODE begins one")
				return nil
			}
			l, err := b.open()
			if err != nil {
				return err
			}
			return errors.Join(printHoldings(w, l), l.Close())
		},
	}
	b.flag(cmd)
	return cmd
}

func printHoldings(w io.Writer, l *logbook.Logbook) error {
	h, err := l.Holdings()
	if err != nil {
		return err
	}
	facts(w, "holds", holdingWords(h), "size", fmt.Sprintf("%.1f MB of recordings", float64(h.Bytes)/1e6))
	backups, err := l.Backups()
	if err != nil {
		return err
	}
	said := "none"
	if n := len(backups); n > 0 {
		last := backups[n-1]
		said = fmt.Sprintf("%d, the last one on %s in %s", n, last.Made.Local().Format(time.DateOnly), last.Path)
	}
	facts(w, "backups", said)
	return nil
}

func holdingWords(h logbook.Holdings) string {
	return strings.Join([]string{
		words.Count(h.Dancers, "dancer", "dancers"), words.Count(h.Visits, "visit", "visits"), words.Count(h.Shoes, "shoe", "shoes"),
		words.Count(h.Strips, "strip", "strips"), words.Count(h.Recordings, "recording", "recordings"),
	}, ", ")
}

func newLogbookCheck() *cobra.Command {
	var b book
	cmd := &cobra.Command{
		Use:   "check",
		Short: "Say whether the logbook is whole",
		Long: `Say whether the logbook is whole: the database, what its rows point at, every
byte of every recording, files that are in no visit, and who may read it all.
Nothing is changed. Exit status 1 where something is found.

Whether a recording can be trusted is another question: aplomb check FILE.mcap.`,
		Example:           `  aplomb logbook check`,
		Args:              none,
		ValidArgsFunction: cobra.NoFileCompletions,
	}
	b.flag(cmd)
	cmd.RunE = b.reading(func(cmd *cobra.Command, _ []string, l *logbook.Logbook) error {
		findings, err := l.Check()
		for _, f := range findings {
			fmt.Fprintln(cmd.OutOrStdout(), f)
		}
		if err != nil {
			return err
		}
		if len(findings) > 0 {
			return errNo
		}
		h, err := l.Holdings()
		if err != nil {
			return err
		}
		fmt.Fprintf(cmd.OutOrStdout(), "%s: whole; %s\n", l.Dir(), holdingWords(h))
		return nil
	})
	return cmd
}

func newLogbookBackup() *cobra.Command {
	var b book
	cmd := &cobra.Command{
		Use:   "backup DIR",
		Short: "Copy the logbook with its recordings into a new folder",
		Long: `Copy the logbook with its recordings into a new folder, best on another disk. It
is a logbook in turn: --logbook DIR looks into it, and copied back it is the
logbook again.

A backup holds the dancers too. The logbook remembers where it went, so that
aplomb dancer remove can name the backups that still hold a dancer.`,
		Example:           `  aplomb logbook backup /media/usb/logbook-2026-03-14`,
		Args:              exactly("the new folder DIR"),
		ValidArgsFunction: cobra.FixedCompletions(nil, cobra.ShellCompDirectiveFilterDirs),
	}
	b.flag(cmd)
	cmd.RunE = b.reading(func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		if err := l.Backup(args[0]); err != nil {
			return err
		}
		h, err := l.Holdings()
		if err != nil {
			return err
		}
		fmt.Fprintf(cmd.OutOrStdout(), "%s holds all of it: %s\n", args[0], holdingWords(h))
		fmt.Fprintln(cmd.OutOrStdout(), "It holds the dancers too: erasing one in the logbook erases nothing there.")
		return nil
	})
	return cmd
}

func newLogbookBackups() *cobra.Command {
	var b book
	var forget string
	cmd := &cobra.Command{
		Use:   "backups",
		Short: "List the backups that were made, or forget one that was destroyed",
		Example: `  aplomb logbook backups
  aplomb logbook backups --forget /media/usb/logbook-2026-03-14`,
		Args:              none,
		ValidArgsFunction: cobra.NoFileCompletions,
	}
	cmd.Flags().StringVar(&forget, "forget", "", "`DIR` of a backup that was destroyed; what is there stays as it is")
	cmd.MarkFlagDirname("forget")
	b.flag(cmd)
	cmd.RunE = b.reading(func(cmd *cobra.Command, _ []string, l *logbook.Logbook) error {
		w := cmd.OutOrStdout()
		if forget != "" {
			if err := l.ForgetBackup(forget); err != nil {
				return listed(err, "aplomb logbook backups")
			}
			fmt.Fprintf(w, "backup %s forgotten\n", forget)
			return nil
		}
		all, err := l.Backups()
		if err != nil {
			return err
		}
		if len(all) == 0 {
			fmt.Fprintln(cmd.ErrOrStderr(), "no backup yet: aplomb logbook backup DIR makes one")
			return nil
		}
		var rows [][]string
		for _, one := range all {
			there := ""
			if !logbook.Exists(one.Path) {
				there = "not there now"
			}
			rows = append(rows, []string{one.Made.Local().Format("2006-01-02 15:04"), one.Path, there})
		}
		table(w, []string{"made", "folder", ""}, rows)
		return nil
	})
	return cmd
}

func newLogbookRebuild() *cobra.Command {
	var b book
	cmd := &cobra.Command{
		Use:   "rebuild",
		Short: "Make the database anew from the recordings, where it is damaged",
		Long: `Make a new database from the recordings, where it is damaged or gone. What the
recordings carry comes back: dancer, visit, mounting, shoe, strip, conditions;
what they do not is listed. A backup has more: use that one if there is one.

A damaged database is set aside and not removed; one that is whole stays.`,
		Example:           `  aplomb logbook rebuild`,
		Args:              none,
		ValidArgsFunction: cobra.NoFileCompletions,
		RunE: func(cmd *cobra.Command, _ []string) error {
			dir, err := b.dir()
			if err != nil {
				return err
			}
			made, err := logbook.Rebuild(dir)
			if err != nil {
				return err
			}
			printRebuilt(cmd.OutOrStdout(), dir, made)
			return nil
		},
	}
	b.flag(cmd)
	return cmd
}

func printRebuilt(w io.Writer, dir string, r logbook.Rebuilt) {
	fmt.Fprintf(w, "%s rebuilt: %s\n", dir, holdingWords(r.Holdings))
	if r.Aside != "" {
		fmt.Fprintf(w, "the database before is set aside as %s\n", r.Aside)
	}
	fmt.Fprintln(w, "\nlost, as no recording carries it:")
	for _, what := range r.Lost {
		fmt.Fprintln(w, listItem("  - ", what))
	}
	if len(r.Skipped) > 0 {
		fmt.Fprintln(w, "\nnot taken in:")
		for _, f := range r.Skipped {
			fmt.Fprintf(w, "  - %s\n", f)
		}
	}
}

func newLogbookErase() *cobra.Command {
	var b book
	var yes bool
	cmd := &cobra.Command{
		Use:   "erase NUMBER",
		Short: "Erase a recording with its measures",
		Long: `Erase a recording with its file and its measures, such as one that was made by
mistake. It cannot be undone; backups are not touched. On a terminal the number
has to be typed again; a script says --yes.`,
		Example: `  aplomb logbook erase 12
  aplomb logbook erase 12 --yes`,
		Args:              exactly("the recording's NUMBER"),
		ValidArgsFunction: cobra.NoFileCompletions,
	}
	cmd.Flags().BoolVar(&yes, "yes", false, "do not ask")
	b.flag(cmd)
	cmd.RunE = b.reading(func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		r, err := recordingNumbered(l, args[0])
		if err != nil {
			return err
		}
		if !yes {
			a := newAsker(cmd)
			if a == nil {
				return misused("recording %d stays: nobody is there to ask; --yes erases without asking", r.ID)
			}
			fmt.Fprintf(a.to, "This erases recording %s for good.\n", recordingWords(r))
			answer, err := a.ask("To erase, type its number again:")
			if err != nil {
				return err
			}
			if answer != strconv.FormatInt(r.ID, 10) {
				return fmt.Errorf("recording %d stays: %q is another number", r.ID, answer)
			}
		}
		if err := l.RemoveRecording(r.ID); err != nil {
			return err
		}
		fmt.Fprintf(cmd.OutOrStdout(), "recording %s erased\n", recordingWords(r))
		return nil
	})
	return cmd
}
