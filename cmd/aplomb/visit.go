package main

import (
	"fmt"
	"io"
	"strings"
	"time"
	"unicode"

	"github.com/spf13/cobra"

	"aplomb/analyze/logbook"
	"aplomb/plots/words"
)

func newVisit(now func() time.Time) *cobra.Command {
	return family("visit", "Keep when dancers came, and in which order shoes are tried", `
Keep when dancers came, under what conditions and with how much pain, and plan
in which order shoes are tried.

A visit goes by its day, 2026-03-14, the second that day by 2026-03-14-2; last
is the dancer's last one, today the last one of today. Recordings of a visit
take over what it says of support, rise, position, floor and body mass.`, `
  aplomb visit add --dancer D7 --support barre --rise roll-up --pain-before 1
  aplomb visit plan --dancer D7 --shoes A,B,C --releves 5 --mountings 2
  aplomb visit edit --dancer D7 --pain-after 2
  aplomb visit show --dancer D7`,
		newVisitAdd(now), newVisitPlan(now), newVisitList(), newVisitShow(now), newVisitEdit(now), newVisitRemove(now))
}

// whose is the dancer whose visits a command line means.
type whose struct{ dancer string }

func (o *whose) flag(cmd *cobra.Command, b *book) {
	cmd.Flags().StringVar(&o.dancer, "dancer", "", "the dancer's `CODE`")
	complete(cmd, "dancer", b.codes(dancerCodes))
}

// visit finds the visit that the arguments name, the last one where they name none.
func (o *whose) visit(cmd *cobra.Command, l *logbook.Logbook, args []string, now func() time.Time) (logbook.Visit, error) {
	if err := needed(cmd, "dancer"); err != nil {
		return logbook.Visit{}, err
	}
	name := "last"
	if len(args) > 0 {
		name = args[0]
	}
	return findVisit(l, o.dancer, name, now())
}

// findVisit finds a visit of a dancer: the last one, the last one of today, or
// the one of that name.
func findVisit(l *logbook.Logbook, dancer, name string, now time.Time) (logbook.Visit, error) {
	all, err := l.Visits(dancer)
	if err != nil {
		return logbook.Visit{}, listed(err, "aplomb dancer list")
	}
	switch name {
	case "last":
		if len(all) == 0 {
			return logbook.Visit{}, fmt.Errorf("dancer %s has no visit yet: aplomb visit add --dancer %s adds one", dancer, asTyped(dancer))
		}
		return all[len(all)-1], nil
	case "today":
		today := logbook.DayOf(now)
		for i := len(all) - 1; i >= 0; i-- {
			if all[i].Day == today {
				return all[i], nil
			}
		}
		return logbook.Visit{}, fmt.Errorf("dancer %s has no visit today, %s: aplomb visit add --dancer %s adds one", dancer, today, asTyped(dancer))
	}
	v, err := l.VisitNamed(dancer, name)
	return v, listed(err, "aplomb visit list --dancer "+asTyped(dancer))
}

// asTyped returns a code as a shell takes it.
func asTyped(code string) string {
	odd := func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r) && !strings.ContainsRune("-_./", r)
	}
	if !strings.ContainsFunc(code, odd) {
		return code
	}
	return "'" + strings.ReplaceAll(code, "'", `'\''`) + "'"
}

// atMostOne takes one argument or none.
func atMostOne(cmd *cobra.Command, args []string) error {
	if len(args) > 1 {
		return misused("%q is not expected here", args[1])
	}
	return nil
}

// visitFlags are what can be said of a visit.
func visitFlags(cmd *cobra.Command) *settings[logbook.Visit] {
	s := &settings[logbook.Visit]{}
	s.word(cmd, "support", "`WHAT` the dancer holds on to", logbook.Supports[:], func(v *logbook.Visit) *string { return &v.Support })
	s.word(cmd, "rise", "`HOW` the dancer rises", logbook.Rises[:], func(v *logbook.Visit) *string { return &v.Rise })
	s.text(cmd, "position", "`POSITION` of the feet, such as first or parallel", func(v *logbook.Visit) *string { return &v.Position })
	s.text(cmd, "floor", "`WHAT` the floor is made of", func(v *logbook.Visit) *string { return &v.Floor })
	s.number(cmd, "mass-kg", "the dancer's body mass in `KG`", func(v *logbook.Visit) *float64 { return &v.MassKG })
	pain := func(name, usage string, of func(*logbook.Visit) **int) {
		s.flag(cmd, name, usage, nil, func(v *logbook.Visit, typed string) error {
			*of(v) = nil
			if typed == "" {
				return nil
			}
			n, err := whole(typed)
			*of(v) = &n
			return err
		})
	}
	pain("pain-before", "pain before, `0..10`, 0 is none", func(v *logbook.Visit) **int { return &v.PainBefore })
	pain("pain-after", "pain after, `0..10`", func(v *logbook.Visit) **int { return &v.PainAfter })
	s.flag(cmd, "baseline", "`YES` or no: between baseline visits nothing should have changed", []string{"yes", "no"}, func(v *logbook.Visit, typed string) error {
		switch typed {
		case "yes", "true":
			v.Baseline = true
		case "no", "false", "":
			v.Baseline = false
		default:
			return fmt.Errorf("%.40q: yes or no", typed)
		}
		return nil
	})
	cmd.Flags().Lookup("baseline").NoOptDefVal = "yes"
	s.text(cmd, "note", "free `TEXT`, without a name in it", func(v *logbook.Visit) *string { return &v.Note })
	return s
}

func newVisitAdd(now func() time.Time) *cobra.Command {
	var b book
	var o whose
	var date string
	cmd := &cobra.Command{
		Use:   "add --dancer CODE",
		Short: "Add a visit of a dancer",
		Long: `Add a visit of a dancer, today or on a day that was. What is not said stays
unknown; aplomb visit edit says it later.

Where pain is 4 of 10 or more, or rises by 2 within a visit, the answer is to
stop and hand over to the dancer's clinician: our own cautious default.

A visit is a baseline where nothing should have changed since the one before, or
until the next: from such visits aplomb track knows how well measures repeat.`,
		Example: `  aplomb visit add --dancer D7
  aplomb visit add --dancer D7 --support barre --rise roll-up --position first \
      --floor vinyl --mass-kg 52 --pain-before 1
  aplomb visit add --dancer D7 --date 2026-03-14 --baseline`,
		Args:              none,
		ValidArgsFunction: cobra.NoFileCompletions,
	}
	o.flag(cmd, &b)
	cmd.Flags().StringVar(&date, "date", "", "`DAY` of the visit, such as 2026-03-14; default today")
	complete(cmd, "date", cobra.NoFileCompletions)
	said := visitFlags(cmd)
	b.flag(cmd)
	cmd.RunE = b.reading(func(cmd *cobra.Command, _ []string, l *logbook.Logbook) error {
		if err := needed(cmd, "dancer"); err != nil {
			return err
		}
		day, err := pastDay(date, now())
		if err != nil {
			return err
		}
		v := logbook.Visit{Dancer: o.dancer, Day: day}
		if err := said.apply(&v); err != nil {
			return err
		}
		if v, err = l.AddVisit(v); err != nil {
			return listed(err, "aplomb dancer list")
		}
		if v, err = l.Visit(v.ID); err != nil { // the dancer's code as it is written
			return err
		}
		fmt.Fprintf(cmd.OutOrStdout(), "visit %s of dancer %s added\n", v.Name(), v.Dancer)
		if v.Number > 1 {
			fmt.Fprintf(cmd.ErrOrStderr(), "It is number %d of that day: if it is one too many, aplomb visit remove %s --dancer %s takes it out again.\n", v.Number, v.Name(), asTyped(v.Dancer))
		}
		printStop(cmd.OutOrStdout(), v)
		return nil
	})
	return cmd
}

// pastDay reads a day that is not to come, today where none is typed.
func pastDay(typed string, now time.Time) (logbook.Day, error) {
	today := logbook.DayOf(now)
	if typed == "" {
		return today, nil
	}
	day, err := logbook.ParseDay(typed)
	if err != nil {
		return "", misused("--date %.40q: write it as 2026-03-14", typed)
	}
	if day > today {
		return "", misused("--date %s lies in the future: today is %s", day, today)
	}
	return day, nil
}

// printStop says to stop where the visit's pain asks for it.
func printStop(w io.Writer, v logbook.Visit) {
	if advice := v.Advice(); advice != "" {
		fmt.Fprintf(w, "\n%s\n", wrapped(advice))
	}
}

func newVisitEdit(now func() time.Time) *cobra.Command {
	var b book
	var o whose
	cmd := &cobra.Command{
		Use:   "edit [VISIT] --dancer CODE",
		Short: "Change what is known of a visit, such as the pain after it",
		Long: `Change what is known of a visit, the dancer's last one where none is named. What
is not typed stays as it is; an empty value, as in --note "", takes back what
was said. Dancer and day stay, and so does what recordings say of themselves.`,
		Example: `  aplomb visit edit --dancer D7 --pain-after 3
  aplomb visit edit 2026-03-14 --dancer D7 --baseline=no --note ""`,
		Args:              atMostOne,
		ValidArgsFunction: b.codes(visitNames),
	}
	o.flag(cmd, &b)
	said := visitFlags(cmd)
	b.flag(cmd)
	cmd.RunE = b.reading(func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		if !said.any() {
			return misused("nothing to change: say what, as in --pain-after 3")
		}
		v, err := o.visit(cmd, l, args, now)
		if err != nil {
			return err
		}
		if err := said.apply(&v); err != nil {
			return err
		}
		if err := l.EditVisit(v); err != nil {
			return err
		}
		printVisit(cmd.OutOrStdout(), v)
		return nil
	})
	return cmd
}

func newVisitList() *cobra.Command {
	var b book
	var o whose
	cmd := &cobra.Command{
		Use:   "list [--dancer CODE]",
		Short: "List the visits, the last one first",
		Example: `  aplomb visit list
  aplomb visit list --dancer D7`,
		Args:              none,
		ValidArgsFunction: cobra.NoFileCompletions,
	}
	o.flag(cmd, &b)
	b.flag(cmd)
	cmd.RunE = b.reading(func(cmd *cobra.Command, _ []string, l *logbook.Logbook) error {
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
				return listed(err, "aplomb dancer list")
			}
			visits = append(visits, theirs...)
		}
		if len(visits) == 0 {
			fmt.Fprintln(cmd.ErrOrStderr(), "no visit yet: aplomb visit add --dancer CODE adds one")
			return nil
		}
		return listVisits(cmd.OutOrStdout(), l, o.dancer, lastFirst(visits))
	})
	return cmd
}

func newVisitShow(now func() time.Time) *cobra.Command {
	var b book
	var o whose
	cmd := &cobra.Command{
		Use:   "show [VISIT] --dancer CODE",
		Short: "Show a visit with its recordings and how far its plan has come",
		Example: `  aplomb visit show --dancer D7
  aplomb visit show 2026-03-14 --dancer D7`,
		Args:              atMostOne,
		ValidArgsFunction: b.codes(visitNames),
	}
	o.flag(cmd, &b)
	b.flag(cmd)
	cmd.RunE = b.reading(func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		v, err := o.visit(cmd, l, args, now)
		if err != nil {
			return err
		}
		return showVisit(cmd.OutOrStdout(), l, v)
	})
	return cmd
}

func newVisitRemove(now func() time.Time) *cobra.Command {
	var b book
	var o whose
	cmd := &cobra.Command{
		Use:   "remove VISIT --dancer CODE",
		Short: "Remove a visit in which nothing was recorded",
		Long: `Remove a visit in which nothing was recorded, with its plan. Where there are
recordings, erase those first that are not to be kept (aplomb logbook erase).`,
		Example:           `  aplomb visit remove 2026-03-14-2 --dancer D7`,
		Args:              exactly("the VISIT, such as 2026-03-14 or last,"),
		ValidArgsFunction: b.codes(visitNames),
	}
	o.flag(cmd, &b)
	b.flag(cmd)
	cmd.RunE = b.reading(func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		v, err := o.visit(cmd, l, args, now)
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
	return cmd
}
