package main

import (
	"fmt"
	"io"
	"strconv"
	"time"

	"github.com/spf13/cobra"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/deidentify"
	"aplomb/cmd/internal/forms"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
	"aplomb/plots/words"
)

func newDancer(now func() time.Time) *cobra.Command {
	return commandGroup("dancer", "Manage the dancers, each under a code", `
Manage the dancers, each under a code.

A dancer has a code and never a name: keep the list of who is who elsewhere, or
not at all. Everything else is optional.

Consent is what the dancer agrees to: study, that you use the data; sharing,
that they are also passed on without names; withdrawn, that they are no longer
used. All that is computed from the logbook obeys it: see aplomb guide dataset.`, `
  aplomb dancer add D7 --watch left --toe-shape sloping --longest-toe 1
  aplomb dancer edit D7 --note "Achilles, left, since March"
  aplomb dancer edit D7 --consent sharing --consent-date 2026-03-14
  aplomb dancer show D7
  aplomb dancer remove D7`,
		newDancerAdd(now), newDancerList(), newDancerShow(), newDancerEdit(now), newDancerRemove())
}

func newDancerAdd(now func() time.Time) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "add CODE",
		Short: "Add a dancer",
		Long: `Add a dancer under a code, such as D7. The first one creates the logbook.

Values that you do not give stay unknown until aplomb dancer edit adds them.`,
		Example: `  aplomb dancer add D7
  aplomb dancer add D7 --birth-year 2009 --pointe-years 3.5 --watch left \
      --toe-shape sloping --longest-toe 1/2`,
		Args:              exactArgs("the dancer's CODE"),
		ValidArgsFunction: cobra.NoFileCompletions,
	}
	form := forms.Dancer()
	formFlags(cmd, form, form.Fields)
	var folder lookup.Folder
	logbookFlag(cmd, &folder)
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		d := logbook.Dancer{Code: args[0]}
		if err := applyDancer(form, &d, now()); err != nil {
			return err
		}
		if err := logbook.CheckDancer(d); err != nil {
			return usage.New(err)
		}
		if err := confirmCode(cmd, d.Code); err != nil {
			return err
		}
		if err := folder.BeginWith(cmd.ErrOrStderr(), func(l *logbook.Logbook) error { return l.AddDancer(d) }); err != nil {
			return err
		}
		fmt.Fprintf(cmd.OutOrStdout(), "dancer %s added\n", d.Code)
		return nil
	}
	return cmd
}

// applyDancer sets in d what was typed. A consent without a day is dated today.
func applyDancer(form *forms.Form[logbook.Dancer], d *logbook.Dancer, now time.Time) error {
	if err := form.Apply(d); err != nil {
		return err
	}
	today := logbook.DayOf(now)
	if d.BirthYear > now.Year() && form.Has("birth-year") {
		return usage.Errorf("--birth-year %d lies in the future: today is %s", d.BirthYear, today)
	}
	if most := now.Year() - d.BirthYear; d.BirthYear != 0 && d.PointeYears != nil && *d.PointeYears > float64(most) && form.Has("birth-year", "pointe-years") {
		return usage.Errorf("%v years on pointe: born in %d, at most %d", *d.PointeYears, d.BirthYear, most)
	}
	if d.ConsentDay != "" && form.Has("consent-date") {
		if err := d.ConsentDay.CheckPast(today); err != nil {
			return usage.Errorf("--consent-date %w", err)
		}
	}
	switch {
	case form.Has("consent-date") && d.ConsentDay != "" && d.Consent == "":
		return usage.Errorf("--consent-date %s: say what the dancer agrees to as well, as in --consent sharing", d.ConsentDay)
	case !form.Has("consent") || form.Has("consent-date"):
	case d.Consent == "":
		d.ConsentDay = ""
	default:
		d.ConsentDay = today
	}
	return nil
}

// confirmCode asks the user at the terminal whether to keep a code that reads like a
// name, and returns an error unless confirmed. Without a terminal it prints a warning.
func confirmCode(cmd *cobra.Command, code string) error {
	p := console.AtTerminal(cmd.Context(), cmd.ErrOrStderr())
	if p == nil || !device.ReadsLikeName(code) {
		warnOfName(cmd.ErrOrStderr(), code)
		return nil
	}
	fmt.Fprintf(p.Out, "%q reads like a name: recordings and sheets carry it.\n", code)
	yes, err := p.Confirm("Keep it as the code?")
	if err == nil && !yes {
		err = fmt.Errorf("dancer %s was not added: choose a code that tells nobody who it is, such as D7", code)
	}
	return err
}

// warnOfName warns of the code of a dancer that reads like a name.
func warnOfName(w io.Writer, code string) {
	if device.ReadsLikeName(code) {
		text.Warnings(w, []string{text.ReadsLikeName(code)})
	}
}

func newDancerEdit(now func() time.Time) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "edit CODE",
		Short: "Change the description of a dancer",
		Long: `Change the description of a dancer.

` + editing + `
` + codeStays + `

With --consent withdrawn no result is made of the dancer's recordings any more,
neither alone nor together with those of others, and nothing is recorded. It
erases nothing: aplomb dancer remove does. Data sets that were handed on before
still hold what they held.`,
		Example: `  aplomb dancer edit D7 --watch right
  aplomb dancer edit D7 --note ""`,
		Args:              exactArgs("the dancer's CODE"),
		ValidArgsFunction: completeCodes(dancerCodes),
	}
	form := forms.Dancer()
	formFlags(cmd, form, form.Fields)
	return onLogbook(cmd, func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		if !form.Any() {
			return usage.Errorf("nothing to change: say what, as in --watch left")
		}
		d, err := lookup.Dancer(l, args[0])
		if err != nil {
			return err
		}
		if err := applyDancer(form, &d, now()); err != nil {
			return err
		}
		if err := l.EditDancer(d); err != nil {
			return err
		}
		output.Dancer(cmd.OutOrStdout(), d)
		return nil
	})
}

func newDancerList() *cobra.Command {
	cmd := &cobra.Command{Short: "List the dancers", Example: "  aplomb dancer list\n  aplomb dancer list --json | jq '.dancers[].dancer'"}
	headings := []string{"dancer", "watched", "visits", "last visit", "consent", "note"}
	return listCommand(cmd, "no dancers: aplomb dancer add CODE adds one", headings, func(l *logbook.Logbook) (rows [][]string, err error) {
		all, err := l.Dancers()
		if err != nil {
			return nil, err
		}
		for _, d := range all {
			visits, err := l.Visits(d.Code)
			if err != nil {
				return nil, err
			}
			last := ""
			if len(visits) > 0 {
				last = visits[len(visits)-1].Name()
			}
			rows = append(rows, []string{d.Code, d.Watched, strconv.Itoa(len(visits)), last, d.Consent, d.Note})
		}
		return rows, nil
	}, output.DancersJSON)
}

func newDancerShow() *cobra.Command {
	var keyFile string
	cmd := &cobra.Command{
		Use:   "show CODE",
		Short: "Show what is known of a dancer, and the visits",
		Example: `  aplomb dancer show D7
  aplomb dancer show D7 --key ~/study.key`,
		Args:              exactArgs("the dancer's CODE"),
		ValidArgsFunction: completeCodes(dancerCodes),
	}
	cmd.Flags().StringVar(&keyFile, "key", "", "say the code too that the dancer has in packages de-identified with `KEYFILE`")
	asJSON := jsonFlag(cmd)
	return onLogbook(cmd, func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		d, err := lookup.Dancer(l, args[0])
		if err != nil {
			return err
		}
		code := ""
		if keyFile != "" {
			key, err := deidentify.ReadKey(cmd.Context(), keyFile)
			if err != nil {
				return err
			}
			code = key.DancerCode(d.Code)
		}
		if *asJSON {
			return printJSON(cmd)(output.DancerJSON(l, d, code))
		}
		output.Dancer(cmd.OutOrStdout(), d)
		text.Facts(cmd.OutOrStdout(), "de-identified", code)
		visits, err := l.Visits(d.Code)
		if err != nil || len(visits) == 0 {
			return err
		}
		fmt.Fprintln(cmd.OutOrStdout())
		return output.Visits(cmd.OutOrStdout(), l, d.Code, visits)
	})
}

func newDancerRemove() *cobra.Command {
	var yes, end bool
	cmd := &cobra.Command{
		Use:   "remove CODE",
		Short: "Erase a dancer with everything of theirs",
		Long: `Erase a dancer with everything of theirs: visits, recordings and their files,
measures, and the pages of the database that they stood in. It cannot be undone.

Backups are not touched; those that still hold the dancer are named. Files are
removed and not written over: whoever needs more than that encrypts the disk.
While a recording of the dancer runs, nothing is erased; --end-recordings ends
it first, as Ctrl-C does there, and erases it too.
On a terminal the code has to be typed again; a script says --yes.`,
		Example: `  aplomb dancer remove D7
  aplomb dancer remove D7 --yes`,
		Args:              exactArgs("the dancer's CODE"),
		ValidArgsFunction: completeCodes(dancerCodes),
	}
	cmd.Flags().BoolVar(&yes, "yes", false, "do not ask")
	cmd.Flags().BoolVar(&end, "end-recordings", false, "end recordings of the dancer that are running now")
	return onLogbook(cmd, func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		d, err := lookup.Dancer(l, args[0])
		if err != nil {
			return err
		}
		if !yes {
			e, err := dancerErasure(l, d.Code)
			if err != nil {
				return err
			}
			if err := e.confirm(cmd); err != nil {
				return err
			}
		}
		if end {
			if err := l.EndRecordings(cmd.Context(), d.Code); err != nil {
				return err
			}
		}
		gone, err := l.DeleteDancer(cmd.Context(), d.Code)
		if err != nil {
			output.StillHeld(cmd.ErrOrStderr(), d.Code, gone)
			return err
		}
		output.Erasure(cmd.OutOrStdout(), cmd.ErrOrStderr(), d.Code, gone)
		return nil
	})
}

// dancerErasure describes what is erased with a dancer, for the person to confirm.
func dancerErasure(l *logbook.Logbook, code string) (erasure, error) {
	recordings, err := l.Recordings(logbook.Filter{Dancer: code})
	if err != nil {
		return erasure{}, err
	}
	visits, err := l.Visits(code)
	return erasure{
		what: "dancer " + code,
		warning: fmt.Sprintf("This erases dancer %s, %s, %s and all that was measured, for good.", code,
			words.Count(len(visits), "visit", "visits"), words.Count(len(recordings), "recording", "recordings")),
		asks: "To erase, type the code again:", kind: "code", name: code,
	}, err
}
