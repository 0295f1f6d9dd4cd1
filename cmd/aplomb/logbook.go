package main

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"

	"github.com/spf13/cobra"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/batch"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/text"
	"aplomb/plots/words"
)

func newLogbook(o environment) *cobra.Command {
	return commandGroup("logbook", "Manage the logbook: location, integrity, backups, repair", `
Manage the logbook: its location, its integrity, backups, and repair.

It is one folder that only its owner can read: a database, with the recordings
beside it. --logbook DIR names it, or APLOMB_LOGBOOK; else it is aplomb in the
user's data folder.`, `
  aplomb logbook where
  aplomb logbook check
  aplomb logbook backup /media/usb/logbook-2026-03-14
  aplomb logbook rebuild
  aplomb logbook measure
  aplomb logbook relabel 12 --shoe B`,
		newLogbookWhere(), newLogbookCheck(), newLogbookMeasure(), newLogbookBackup(), newLogbookBackups(), newLogbookRebuild(), newLogbookRelabel(o), newLogbookErase())
}

func newLogbookWhere() *cobra.Command {
	var b lookup.Folder
	cmd := &cobra.Command{
		Use:               "where",
		Short:             "Show where the logbook is and what it contains",
		Example:           `  aplomb logbook where`,
		Args:              noArgs,
		ValidArgsFunction: cobra.NoFileCompletions,
		RunE: func(cmd *cobra.Command, _ []string) error {
			dir, err := b.Dir()
			if err != nil {
				return err
			}
			if dir, err = filepath.Abs(dir); err != nil {
				return err
			}
			w := cmd.OutOrStdout()
			fmt.Fprintln(w, dir) // printed before opening, which may fail
			info, err := os.Stat(dir)
			isFile := err == nil && !info.IsDir() // Open says so
			if !isFile && !logbook.Exists(dir) && logbook.CheckDatabase(dir) == nil {
				fmt.Fprintln(w, "  no logbook yet: aplomb dancer add CODE begins one")
				return nil
			}
			l, err := b.Open()
			if err != nil {
				return err
			}
			return errors.Join(output.Contents(w, l), l.Close())
		},
	}
	logbookFlag(cmd, &b)
	return cmd
}

func newLogbookCheck() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "check",
		Short: "Check the integrity of the logbook",
		Long: `Check the integrity of the logbook: the database and its references, every byte
of every recording, files that are in no visit, and who may read it. Nothing is
changed. The exit status is 1 if something is wrong; recordings in progress are
listed and count as right.

Whether a recording can be trusted is another question: aplomb check FILE.mcap.`,
		Example:           `  aplomb logbook check`,
		Args:              noArgs,
		ValidArgsFunction: cobra.NoFileCompletions,
	}
	asJSON := jsonFlag(cmd)
	return onLogbook(cmd, func(cmd *cobra.Command, _ []string, l *logbook.Logbook) error {
		findings, err := l.Check(cmd.Context())
		if *asJSON {
			if err != nil {
				return err
			}
			checked, err := output.LogbookCheckJSON(l, findings)
			if err = printJSON(cmd)(checked, err); err == nil && !checked.Whole {
				return errNo
			}
			return err
		}
		for _, f := range findings {
			fmt.Fprintln(cmd.OutOrStdout(), f)
		}
		if err != nil {
			return err
		}
		if slices.ContainsFunc(findings, func(f logbook.Finding) bool { return !f.Fine }) {
			return errNo
		}
		h, err := l.Contents()
		if err != nil {
			return err
		}
		fmt.Fprintf(cmd.OutOrStdout(), "%s: whole; %s\n", l.Dir(), output.ContentsLine(h))
		return nil
	})
}

func newLogbookMeasure() *cobra.Command {
	var dancer string
	cmd := &cobra.Command{
		Use:   "measure",
		Short: "Recompute measures of another algorithm",
		Long: `Measure the recordings of the logbook that have no measures or stale
ones, computed by another algorithm than this program's. Until then track, plans
and the progress sheet leave them out. Recordings of dancers who have withdrawn
their consent are not measured.

If interrupted, the command keeps what is done and continues from there next
time. The exit status is 1 if a recording cannot be measured.`,
		Example: `  aplomb logbook measure
  aplomb logbook measure --dancer D7`,
		Args:              noArgs,
		ValidArgsFunction: cobra.NoFileCompletions,
	}
	cmd.Flags().StringVar(&dancer, "dancer", "", "only recordings of the dancer of that `CODE`")
	complete(cmd, "dancer", completeCodes(dancerCodes))
	return onLogbook(cmd, func(cmd *cobra.Command, _ []string, l *logbook.Logbook) error {
		if err := l.Writable(); err != nil {
			return err
		}
		var f logbook.Filter
		if dancer != "" {
			d, err := lookup.Dancer(l, dancer)
			if err := cmp.Or(err, lookup.CheckConsent(d)); err != nil {
				return err
			}
			f.Dancer = d.Code
		}
		failed, err := batch.MeasureDue(cmd.Context(), cmd.OutOrStdout(), cmd.ErrOrStderr(), l, f)
		if err == nil && failed > 0 {
			err = errNo
		}
		return err
	})
}

func newLogbookBackup() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "backup DIR",
		Short: "Copy the logbook with its recordings into a new folder",
		Long: `Copy the logbook with its recordings into a new folder, best on another
disk. The copy is itself a logbook: --logbook DIR opens it, and copied back it
replaces the original.

A backup holds the dancers too. The logbook remembers where it is, so that
aplomb dancer remove can name the backups that still hold a dancer. The remains
of an interrupted backup are removed.`,
		Example:           `  aplomb logbook backup /media/usb/logbook-2026-03-14`,
		Args:              exactArgs("the new folder DIR"),
		ValidArgsFunction: cobra.FixedCompletions(nil, cobra.ShellCompDirectiveFilterDirs),
	}
	return onLogbook(cmd, func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		before, err := l.Backups()
		if err != nil {
			return err
		}
		if err := l.Backup(cmd.Context(), args[0]); err != nil {
			return err
		}
		for _, b := range before {
			if _, err := os.Lstat(b.Unfinished()); b.State == logbook.BackupUnfinished && errors.Is(err, fs.ErrNotExist) {
				fmt.Fprintf(cmd.OutOrStdout(), "%s is removed: a backup that was cut short\n", b.Unfinished())
			}
		}
		h, err := l.Contents()
		if err != nil {
			return err
		}
		absent, err := l.NotIn(args[0])
		if err != nil {
			return err
		}
		what := "all of it"
		if len(absent) > 0 {
			what = "what could be copied"
		}
		fmt.Fprintf(cmd.OutOrStdout(), "%s holds %s: %s\n", args[0], what, output.ContentsLine(h))
		fmt.Fprintln(cmd.OutOrStdout(), "It holds the dancers too: erasing a dancer in the logbook does not erase them there.")
		if len(absent) > 0 {
			return fmt.Errorf("the files of %s are not in the backup, such as that of recording %d: aplomb logbook check says why and what to do",
				words.Count(len(absent), "recording", "recordings"), absent[0].ID)
		}
		return nil
	})
}

func newLogbookBackups() *cobra.Command {
	var forget string
	cmd := &cobra.Command{
		Use:   "backups",
		Short: "List the backups that were made, or forget one that was destroyed",
		Example: `  aplomb logbook backups
  aplomb logbook backups --forget /media/usb/logbook-2026-03-14`,
		Args:              noArgs,
		ValidArgsFunction: cobra.NoFileCompletions,
	}
	cmd.Flags().StringVar(&forget, "forget", "", "`DIR` of a backup that was destroyed; nothing there is changed")
	cmd.MarkFlagDirname("forget")
	return onLogbook(cmd, func(cmd *cobra.Command, _ []string, l *logbook.Logbook) error {
		w := cmd.OutOrStdout()
		if forget != "" {
			if err := l.ForgetBackup(forget); err != nil {
				return lookup.Hint(err, "aplomb logbook backups")
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
			path, state := one.Path, string(one.State)
			switch one.State {
			case logbook.BackupUnfinished:
				path, state = one.Unfinished(), "unfinished: it was cut short; the next aplomb logbook backup removes it"
			case logbook.BackupRunning:
				path = one.Unfinished()
			}
			rows = append(rows, []string{one.Made.Local().Format("2006-01-02 15:04"), path, state})
		}
		text.Table(w, []string{"made", "folder", ""}, rows)
		return nil
	})
}

func newLogbookRebuild() *cobra.Command {
	var b lookup.Folder
	cmd := &cobra.Command{
		Use:   "rebuild",
		Short: "Rebuild the database from the recordings if it is damaged",
		Long: `Make a new database from the recordings if it is damaged, missing or
empty. This restores what the recordings hold: number, dancer, visit, mounting,
shoe, strip, conditions. What they do not hold is listed. A backup has more, so
use one if there is one. A damaged database is set aside and not removed.

A database that is whole stays, and recordings beside it that are in no visit
are added to it, as after a new logbook was begun by mistake beside the
recordings of another.

A recording keeps its number if its file has it, as every file added by this
version of the program or a later one does, or if the former database can still
be read. Otherwise it gets a number that no recording has had, and a table lists
them. The exit status is 1 if a file could not be added.`,
		Example:           `  aplomb logbook rebuild`,
		Args:              noArgs,
		ValidArgsFunction: cobra.NoFileCompletions,
		RunE: func(cmd *cobra.Command, _ []string) error {
			dir, err := b.Dir()
			if err != nil {
				return err
			}
			made, err := logbook.Rebuild(cmd.Context(), dir)
			if err != nil {
				return err
			}
			output.Rebuilt(cmd.OutOrStdout(), dir, made)
			if len(made.Skipped) > 0 {
				return errNo
			}
			return nil
		},
	}
	logbookFlag(cmd, &b)
	return cmd
}

func newLogbookErase() *cobra.Command {
	var yes bool
	cmd := &cobra.Command{
		Use:   "erase NUMBER",
		Short: "Erase a recording with its measures",
		Long: `Erase a recording with its file and its measures, such as one that was
made by mistake. It cannot be undone, and backups are not touched. On a terminal
you type the number again to confirm; a script uses --yes.`,
		Example: `  aplomb logbook erase 12
  aplomb logbook erase 12 --yes`,
		Args:              exactArgs("the recording's NUMBER"),
		ValidArgsFunction: cobra.NoFileCompletions,
	}
	cmd.Flags().BoolVar(&yes, "yes", false, "do not ask")
	return onLogbook(cmd, func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		r, err := lookup.Recording(l, args[0])
		if err != nil {
			return err
		}
		if !yes {
			e := erasure{
				what: fmt.Sprintf("recording %d", r.ID), warning: fmt.Sprintf("This erases recording %s for good.", text.RecordingName(r)),
				asks: "To erase, type its number again:", kind: "number", name: strconv.FormatInt(r.ID, 10),
			}
			if err := e.confirm(cmd); err != nil {
				return err
			}
		}
		if err := l.RemoveRecording(r.ID); err != nil {
			return err
		}
		fmt.Fprintf(cmd.OutOrStdout(), "recording %s erased\n", text.RecordingName(r))
		return nil
	})
}
