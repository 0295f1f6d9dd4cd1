package main

import (
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/batch"
	"aplomb/cmd/internal/forms"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/plots/words"
)

func newVisit(now func() time.Time) *cobra.Command {
	return commandGroup("visit", "Manage dancers' visits, and plan the order of shoes", `
Manage dancers' visits with their conditions and pain, and plan the order in
which shoes are tried.

A visit is named by its day, 2026-03-14, and the second on that day
2026-03-14-2; last is the dancer's last visit, today the last one of today.
Recordings of a visit inherit its support, rise, position, floor and body
mass.`, `
  aplomb visit add --dancer D7 --support barre --rise roll-up --pain-before 1
  aplomb visit plan --dancer D7 --shoes A,B,C --releves 5 --mountings 2
  aplomb visit edit --dancer D7 --pain-after 2
  aplomb visit show --dancer D7`,
		newVisitAdd(now), newVisitPlan(now), newVisitList(), newVisitShow(now), newVisitEdit(now), newVisitRemove(now))
}

func newVisitAdd(now func() time.Time) *cobra.Command {
	var o visitFlag
	var date string
	cmd := &cobra.Command{
		Use:   "add --dancer CODE",
		Short: "Add a visit of a dancer",
		Long: `Add a visit of a dancer, today or on an earlier day. Values that you do
not give stay unknown until aplomb visit edit adds them.

If pain is 4 of 10 or more, or rises by 2 within a visit, Aplomb says to stop
and hand over to the dancer's clinician. Both limits are our own cautious
default.

Mark a visit as baseline if nothing should have changed since the one before, or
until the next. From such visits aplomb track estimates how well measures
repeat.`,
		Example: `  aplomb visit add --dancer D7
  aplomb visit add --dancer D7 --support barre --rise roll-up --position first \
      --floor vinyl --mass-kg 52 --pain-before 1
  aplomb visit add --dancer D7 --date 2026-03-14 --baseline`,
		Args:              noArgs,
		ValidArgsFunction: cobra.NoFileCompletions,
	}
	o.add(cmd)
	cmd.Flags().StringVar(&date, "date", "", "`DAY` of the visit, such as 2026-03-14; default today")
	complete(cmd, "date", cobra.NoFileCompletions)
	form := forms.Visit()
	formFlags(cmd, form, form.Fields)
	cmd.Flags().Lookup("baseline").NoOptDefVal = "yes"
	return onLogbook(cmd, func(cmd *cobra.Command, _ []string, l *logbook.Logbook) error {
		if err := requireFlags(cmd, "dancer"); err != nil {
			return err
		}
		day, err := pastDay(date, now())
		if err != nil {
			return err
		}
		v := logbook.Visit{Dancer: o.dancer, Day: day}
		if err := form.Apply(&v); err != nil {
			return err
		}
		if v, err = l.AddVisit(v); err != nil {
			return lookup.Hint(err, "aplomb dancer list")
		}
		if v, err = l.Visit(v.ID); err != nil { // with the dancer's code as the logbook writes it
			return err
		}
		output.Stop(cmd.OutOrStdout(), v.Advice())
		fmt.Fprintf(cmd.OutOrStdout(), "visit %s of dancer %s added\n", v.Name(), v.Dancer)
		if v.Number > 1 {
			fmt.Fprintf(cmd.ErrOrStderr(), "It is number %d of that day: if it is one too many, aplomb visit remove %s --dancer %s takes it out again.\n", v.Number, v.Name(), text.Quoted(v.Dancer))
		}
		return nil
	})
}

// pastDay reads a day on which a visit can have been, today where none is typed.
func pastDay(typed string, now time.Time) (logbook.Day, error) {
	today := logbook.DayOf(now)
	if typed == "" {
		return today, nil
	}
	day, err := logbook.ParseDay(typed)
	if err != nil {
		return "", usage.Errorf("--date %.40q: write it as 2026-03-14", typed)
	}
	if err := day.CheckPast(today); err != nil {
		return "", usage.Errorf("--date %w", err)
	}
	return day, nil
}

func newVisitEdit(now func() time.Time) *cobra.Command {
	var o visitFlag
	cmd := &cobra.Command{
		Use:   "edit [VISIT] --dancer CODE",
		Short: "Change the fields of a visit, such as the pain after it",
		Long: `Change the fields of a visit, by default the dancer's last one.

` + editing + `
Dancer and day cannot be changed, and recordings keep their own conditions.`,
		Example: `  aplomb visit edit --dancer D7 --pain-after 3
  aplomb visit edit 2026-03-14 --dancer D7 --baseline=no --note ""`,
		Args:              atMostOneArg,
		ValidArgsFunction: completeCodes(visitNames),
	}
	o.add(cmd)
	form := forms.Visit()
	formFlags(cmd, form, form.Fields)
	cmd.Flags().Lookup("baseline").NoOptDefVal = "yes"
	return onLogbook(cmd, func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		if !form.Any() {
			return usage.Errorf("nothing to change: name a value, such as --pain-after 3")
		}
		v, err := o.find(cmd, l, args, now)
		if err != nil {
			return err
		}
		if err := form.Apply(&v); err != nil {
			return err
		}
		if err := l.EditVisit(v); err != nil {
			return err
		}
		output.Visit(cmd.OutOrStdout(), v)
		return nil
	})
}

func newVisitList() *cobra.Command {
	var o visitFlag
	cmd := &cobra.Command{
		Use:   "list [--dancer CODE]",
		Short: "List the visits, the last one first",
		Example: `  aplomb visit list
  aplomb visit list --dancer D7`,
		Args:              noArgs,
		ValidArgsFunction: cobra.NoFileCompletions,
	}
	o.add(cmd)
	asJSON := jsonFlag(cmd)
	return onLogbook(cmd, func(cmd *cobra.Command, _ []string, l *logbook.Logbook) error {
		codes := []string{o.dancer}
		if o.dancer == "" {
			var err error
			if codes, err = dancerCodes(cmd, l); err != nil {
				return err
			}
		}
		var visits []logbook.Visit
		for _, code := range codes {
			theirs, err := l.Visits(code)
			if err != nil {
				return lookup.Hint(err, "aplomb dancer list")
			}
			visits = append(visits, theirs...)
		}
		if *asJSON {
			return printJSON(cmd)(output.VisitsJSON(l, o.dancer, output.LastFirst(visits)))
		}
		if len(visits) == 0 {
			fmt.Fprintln(cmd.ErrOrStderr(), "no visit yet: aplomb visit add --dancer CODE adds one")
			return nil
		}
		return output.Visits(cmd.OutOrStdout(), l, o.dancer, output.LastFirst(visits))
	})
}

func newVisitShow(now func() time.Time) *cobra.Command {
	var o visitFlag
	cmd := &cobra.Command{
		Use:   "show [VISIT] --dancer CODE",
		Short: "Show a visit with its recordings and the progress of its plan",
		Example: `  aplomb visit show --dancer D7
  aplomb visit show 2026-03-14 --dancer D7`,
		Args:              atMostOneArg,
		ValidArgsFunction: completeCodes(visitNames),
	}
	o.add(cmd)
	asJSON := jsonFlag(cmd)
	return onLogbook(cmd, func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		v, err := o.find(cmd, l, args, now)
		if err != nil {
			return err
		}
		if err := batch.MeasureReadOnly(cmd.Context(), cmd.ErrOrStderr(), l, logbook.Filter{VisitID: v.ID}); err != nil {
			return err
		}
		if *asJSON {
			return printJSON(cmd)(output.VisitJSON(l, v))
		}
		return output.VisitWithRecordings(cmd.OutOrStdout(), l, v)
	})
}

func newVisitRemove(now func() time.Time) *cobra.Command {
	var o visitFlag
	cmd := &cobra.Command{
		Use:   "remove VISIT --dancer CODE",
		Short: "Remove a visit in which nothing was recorded",
		Long: `Remove a visit in which nothing was recorded, with its plan. Where there are
recordings, move them to another visit first (aplomb logbook relabel NUMBER
--visit VISIT), or erase those that are not to be kept (aplomb logbook erase).`,
		Example:           `  aplomb visit remove 2026-03-14-2 --dancer D7`,
		Args:              exactArgs("the VISIT, such as 2026-03-14 or last,"),
		ValidArgsFunction: completeCodes(visitNames),
	}
	o.add(cmd)
	return onLogbook(cmd, func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		v, err := o.find(cmd, l, args, now)
		if err != nil {
			return err
		}
		made, err := l.Recordings(logbook.Filter{VisitID: v.ID})
		if err != nil {
			return err
		}
		if len(made) > 0 {
			return fmt.Errorf("visit %s of dancer %s stays, with %s in it: aplomb logbook erase %d erases the first",
				v.Name(), v.Dancer, words.Count(len(made), "recording", "recordings"), made[0].ID)
		}
		if err := l.RemoveVisit(v.ID); err != nil {
			return err
		}
		fmt.Fprintf(cmd.OutOrStdout(), "visit %s of dancer %s removed\n", v.Name(), v.Dancer)
		return nil
	})
}
