package main

import (
	"cmp"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/analyze/plan"
	"aplomb/analyze/study"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
	"aplomb/plots/words"
)

func newStudy(o environment) *cobra.Command {
	return commandGroup("study", "Declare a study, load and check it, compare its shoes", `
Declare a study before its first recording, load its recordings, see what is
missing, and compare shoes over dancers.

The plan is kept in the logbook with the day on which it was declared. After the
first recording it stays: drop-outs are replaced, and everything else is an
amendment with its day and reason.`, `
  aplomb study new spring --dancers D1,D2,D3,D4,D5,D6 --shoes A,B,C --visits 2
  aplomb study status spring
  aplomb fitting --study spring --dancer D1
  aplomb study load spring manifest.csv
  aplomb study check spring
  aplomb study compare spring`,
		newStudyNew(o), newStudyList(), newStudyStatus(), newStudyKey(o), newStudyLoad(o), newStudyCheck(), newStudyCompare(o), newStudyReplace(o), newStudyAmend(o), newStudyRemove())
}

// studyNumbers are the values of the flags for the size of a study.
type studyNumbers struct {
	dancers, shoes, labels           []string
	measure, feet                    string
	visits, mountings, releves, stop int
	seed                             uint64
}

func newStudyNew(o environment) *cobra.Command {
	var n studyNumbers
	cmd := &cobra.Command{
		Use:   "new NAME --dancers D1,D2,… --shoes A,B,…",
		Short: "Declare a study: who tries which shoes, what decides, and when",
		Long: `Declare a study: who tries which shoes in which order, which measure decides,
and when the shoes are compared.

Each dancer gets a row of Williams squares, in which every shoe comes equally
often at each place and directly after each other shoe. In the next mounting,
and in the next visit, the row runs in reverse. Each shoe gets a label, chosen
by the seed, which dancer and fitter see in place of its code: aplomb study key
shows which is which. A shoe has one code for all dancers; where their pairs
differ in size, aplomb shoe edit describes the next one before it is recorded.

--measure is the primary measure: the only one that is tested and called clear.
With --feet both, a dancer's value is the mean of the feet. --stop says after
how many dancers with all recordings the shoes are compared, by default all;
before that, aplomb study compare tells no difference. Dancers who are not in
the logbook yet are added.`,
		Example: `  aplomb study new spring --dancers D1,D2,D3,D4,D5,D6 --shoes A,B,C \
      --visits 2 --mountings 1 --releves 5
  aplomb study new vamp --dancers D1,D2,D3,D4 --shoes A,B --labels K,L \
      --measure contact_share --feet left --stop 4 --seed 11`,
		Args:              exactArgs("the study's NAME"),
		ValidArgsFunction: cobra.NoFileCompletions,
	}
	f := cmd.Flags()
	f.StringArrayVar(&n.dancers, "dancers", nil, "`CODES` of the dancers, with commas between; or once for each")
	f.StringArrayVar(&n.shoes, "shoes", nil, "`CODES` of the shoes, with commas between; or once for each")
	f.StringArrayVar(&n.labels, "labels", nil, "`LABELS` for the shoes; the seed decides which shoe has which; default P, Q, R …")
	n.flags(cmd)
	cmd.Flags().Lookup("stop").Usage += "; default all"
	f.Uint64Var(&n.seed, "seed", 0, "`NUMBER` that decides orders and labels; default random")
	complete(cmd, "dancers", completeCodes(dancerCodes))
	complete(cmd, "shoes", completeCodes(shoeCodes))
	complete(cmd, "labels", cobra.NoFileCompletions)
	complete(cmd, "seed", cobra.NoFileCompletions)
	return onLogbook(cmd, func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		if len(n.dancers) == 0 || len(n.shoes) == 0 {
			return usage.Errorf("--dancers CODES and --shoes CODES say who tries what, such as --dancers D1,D2 --shoes A,B")
		}
		if _, err := l.Study(args[0]); err == nil {
			return fmt.Errorf("study %q: %w: choose another name, or change it with aplomb study amend", args[0], logbook.ErrExists)
		}
		if !cmd.Flags().Changed("seed") {
			n.seed = rand.Uint64N(1_000_000)
		}
		s, balance, err := n.declare(l, args[0], string(logbook.DayOf(o.now())))
		if err != nil {
			return err
		}
		if err := addDancers(cmd, l, s.Rows); err != nil {
			return err
		}
		if err := l.AddStudy(s); err != nil {
			return err
		}
		output.StudyDeclared(cmd.OutOrStdout(), s, balance)
		return nil
	})
}

// flags adds the flags that an amendment can change as well.
func (n *studyNumbers) flags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&n.measure, "measure", measure.Over.Symbol(), "primary `MEASURE`: "+strings.Join(study.Primaries(), ", "))
	f.StringVar(&n.feet, "feet", "both", "`FEET` that are recorded: both, left or right")
	f.IntVar(&n.visits, "visits", 1, "`NUMBER` of visits of each dancer")
	f.IntVar(&n.mountings, "mountings", 1, "`NUMBER` of times that the strips are mounted under each shoe in a visit")
	f.IntVar(&n.releves, "releves", 5, "fewest relevés in each mounting, a `NUMBER`")
	f.IntVar(&n.stop, "stop", 0, "`NUMBER` of dancers with all recordings after whom shoes are compared")
	complete(cmd, "measure", completeWords(study.Primaries()...))
	complete(cmd, "feet", completeWords("both", "left", "right"))
	for _, name := range []string{"visits", "mountings", "releves", "stop"} {
		complete(cmd, name, cobra.NoFileCompletions)
	}
}

// declare returns the study specified by the flags, and whether its orders are balanced,
// in words.
func (n *studyNumbers) declare(l *logbook.Logbook, name, day string) (s study.Study, balance string, err error) {
	shoes, err := lookup.Shoes(l, n.shoes)
	if err != nil {
		return s, "", err
	}
	dancers, err := n.listed(l)
	if err != nil {
		return s, "", err
	}
	s = study.Study{Name: name, Declared: day, Seed: n.seed, Visits: n.visits, Mountings: n.mountings, Releves: n.releves, Stop: cmp.Or(n.stop, len(dancers))}
	m, ok := measure.Named(n.measure)
	if !ok {
		return s, "", usage.Errorf("--measure %.40q: one of %s", n.measure, strings.Join(study.Primaries(), ", "))
	}
	s.Measure = m
	if s.Feet, err = plannedFeet(l, n.feet); err != nil {
		return s, "", err
	}
	var labels []string
	for _, one := range n.labels {
		labels = append(labels, lookup.List(one)...)
	}
	if err := checkDescribing(l, labels, shoes); err != nil {
		return s, "", err
	}
	var failed error
	taken := func(label string) bool {
		_, err := l.Shoe(label)
		if err != nil && !errors.Is(err, logbook.ErrNotFound) {
			failed = err
		}
		return err == nil
	}
	s, err = study.New(s, dancers, shoes, labels, taken)
	if failed != nil {
		return s, "", failed
	}
	if err != nil {
		return s, "", usage.New(err)
	}
	orders, err := plan.Williams(shoes, len(dancers), n.seed)
	return s, orders.Text(), err
}

// checkDescribing returns a usage error for a label that is a word by which a shoe of the study
// is described: whoever reads it takes it for that shoe, and the seed may have put it on
// another one.
func checkDescribing(l *logbook.Logbook, labels, shoes []string) error {
	for _, code := range shoes {
		shoe, err := l.Shoe(code)
		if err != nil {
			return err
		}
		for _, label := range labels {
			for _, word := range []string{shoe.Box, shoe.Shank, shoe.ShankLength, shoe.Padding} {
				if word != "" && strings.EqualFold(strings.TrimSpace(label), word) {
					return usage.Errorf("label %s would tell the shoe: a shoe of the study is described by it; choose another", label)
				}
			}
		}
	}
	return nil
}

// listed returns the dancers that were typed, as the logbook writes those that it has.
func (n *studyNumbers) listed(l *logbook.Logbook) (dancers []string, err error) {
	for _, typed := range n.dancers {
		for _, code := range lookup.List(typed) {
			d, err := l.Dancer(code)
			switch {
			case errors.Is(err, logbook.ErrNotFound):
				d.Code = code
			case err != nil:
				return nil, err
			}
			dancers = append(dancers, d.Code)
		}
	}
	return dancers, nil
}

// addDancers adds the dancers of rows who are not in the logbook yet.
func addDancers(cmd *cobra.Command, l *logbook.Logbook, rows []study.Row) error {
	added := 0
	for _, row := range rows {
		_, err := l.Dancer(row.Dancer)
		if errors.Is(err, logbook.ErrNotFound) {
			warnOfName(cmd.ErrOrStderr(), row.Dancer)
			added++
			err = l.AddDancer(logbook.Dancer{Code: row.Dancer})
		}
		if err != nil {
			return err
		}
	}
	if added > 0 {
		fmt.Fprintf(cmd.OutOrStdout(), "%s added to the logbook\n", words.Count(added, "dancer", "dancers"))
	}
	return nil
}

func newStudyList() *cobra.Command {
	cmd := &cobra.Command{Short: "List the studies", Example: "  aplomb study list\n  aplomb study list --json | jq '.studies[].study'"}
	headings := []string{"study", "declared", "dancers", "complete", "compared after", "primary measure"}
	return listCommand(cmd, "no studies: aplomb study new NAME declares one", headings, func(l *logbook.Logbook) (rows [][]string, err error) {
		list, err := output.StudiesJSON(l)
		if err != nil {
			return nil, err
		}
		for _, p := range list.Studies {
			rows = append(rows, []string{p.Study, p.Declared, fmt.Sprint(len(p.Dancers)), fmt.Sprint(p.Complete), fmt.Sprint(p.Stop), p.Measure.Symbol()})
		}
		return rows, nil
	}, output.StudiesJSON)
}

func newStudyStatus() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "status NAME",
		Short: "List what is recorded and what is missing, by dancer and visit",
		Long: `Say what is recorded and what is missing, by dancer and visit, and how far the
study is from being compared. Shoes have their labels; the order is that of the
first round, and every second round runs in reverse.

A mounting counts once each foot of the study has the declared number of relevés
in it.`,
		Example: `  aplomb study status spring
  aplomb study status spring --json | jq '.dancers[] | select(.complete | not)'`,
		Args:              exactArgs("the study's NAME"),
		ValidArgsFunction: completeCodes(studyNames),
	}
	asJSON := jsonFlag(cmd)
	return onLogbook(cmd, func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		p, err := output.StudyProgress(l, args[0])
		if err != nil {
			return err
		}
		if *asJSON {
			return output.JSON(cmd.OutOrStdout(), p)
		}
		output.StudyStatus(cmd.OutOrStdout(), p)
		return nil
	})
}

func newStudyKey(o environment) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "key NAME",
		Short: "Show which shoe each label is, and keep that it was shown",
		Long: `Show which shoe each label is, for the person who puts labels on shoes or
prepares a manifest. The logbook keeps the day and the reason: whoever fits the
dancers does not look.`,
		Example:           `  aplomb study key spring --reason "labels go on the shoes"`,
		Args:              exactArgs("the study's NAME"),
		ValidArgsFunction: completeCodes(studyNames),
	}
	reason := reasonFlag(cmd)
	return onLogbook(cmd, func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		s, err := findStudy(l, args[0])
		if err == nil {
			err = requireReason(cmd)
		}
		if err == nil {
			err = l.NoteStudy(s.Name, study.Change{Day: string(logbook.DayOf(o.now())), Kind: study.KeyShown, What: study.KeyWasShown, Reason: *reason})
		}
		if err != nil {
			return err
		}
		shoes := slices.SortedFunc(slices.Values(s.Shoes), func(a, b study.Shoe) int { return cmp.Compare(a.Label, b.Label) })
		var rows [][]string
		for _, shoe := range shoes {
			rows = append(rows, []string{shoe.Label, shoe.Code})
		}
		text.Table(cmd.OutOrStdout(), []string{"label", "shoe"}, rows)
		return nil
	})
}

func newStudyReplace(o environment) *cobra.Command {
	var from, by string
	var row int
	cmd := &cobra.Command{
		Use:   "replace NAME --dancer CODE --by CODE --reason TEXT",
		Short: "Give the row of a dancer who dropped out to another one",
		Long: `Give the row of a dancer who dropped out to another one: the same order under
the same labels. What was recorded of the first stays in the logbook and is in
the study no more. For a dancer who was erased, --row says which row.`,
		Example: `  aplomb study replace spring --dancer D3 --by D21 --reason "moved away"
  aplomb study replace spring --row 3 --by D21 --reason "erased on request"`,
		Args:              exactArgs("the study's NAME"),
		ValidArgsFunction: completeCodes(studyNames),
	}
	f := cmd.Flags()
	f.StringVar(&from, "dancer", "", "`CODE` of the dancer who dropped out")
	f.IntVar(&row, "row", 0, "`NUMBER` of the row, where its dancer was erased")
	f.StringVar(&by, "by", "", "`CODE` of the dancer who takes the row")
	reason := reasonFlag(cmd)
	complete(cmd, "dancer", completeCodes(dancerCodes))
	complete(cmd, "by", completeCodes(dancerCodes))
	complete(cmd, "row", cobra.NoFileCompletions)
	return onLogbook(cmd, func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		if err := cmp.Or(requireFlags(cmd, "by"), requireReason(cmd)); err != nil {
			return err
		}
		s, err := findStudy(l, args[0])
		if err != nil {
			return err
		}
		c := study.Change{Day: string(logbook.DayOf(o.now())), Kind: study.DropOut, Row: row, To: by, Reason: *reason}
		switch {
		case (from == "") == (row == 0):
			return usage.Errorf("--dancer CODE says who dropped out; or --row NUMBER, where the dancer was erased")
		case from != "":
			c.Row = 1 + slices.IndexFunc(s.Rows, func(r study.Row) bool { return r.Dancer != "" && strings.EqualFold(r.Dancer, from) })
			if c.Row == 0 {
				return usage.Errorf("--dancer %.60q: nobody of study %s: aplomb study status %s shows who is", from, s.Name, text.Quoted(s.Name))
			}
			c.From = s.Rows[c.Row-1].Dancer
		case row < 1 || row > len(s.Rows):
			return usage.Errorf("--row %d: 1 to %d", row, len(s.Rows))
		case s.Rows[row-1].Dancer != "":
			return usage.Errorf("--row %d: dancer %s has it: --dancer %s says that the dancer dropped out", row, s.Rows[row-1].Dancer, text.Quoted(s.Rows[row-1].Dancer))
		}
		if err := addDancers(cmd, l, []study.Row{{Dancer: by}}); err != nil {
			return err
		}
		if err := l.ReplaceInStudy(s.Name, c); err != nil {
			return err
		}
		fmt.Fprintln(cmd.OutOrStdout(), text.Wrap(c.Text()))
		return nil
	})
}

func newStudyAmend(o environment) *cobra.Command {
	var n studyNumbers
	cmd := &cobra.Command{
		Use:   "amend NAME --reason TEXT",
		Short: "Change a declared study, and keep what was changed, when and why",
		Long: `Change the numbers of a declared study, or add dancers. What is not typed stays.
The logbook keeps what was changed, the day and the reason, and says so wherever
the study is shown. Shoes, labels and orders stay as they were declared.`,
		Example: `  aplomb study amend spring --stop 18 --reason "the floor is renewed in May"
  aplomb study amend spring --dancers D21,D22 --reason "two more have come"`,
		Args:              exactArgs("the study's NAME"),
		ValidArgsFunction: completeCodes(studyNames),
	}
	cmd.Flags().StringArrayVar(&n.dancers, "dancers", nil, "`CODES` of dancers who are added")
	complete(cmd, "dancers", completeCodes(dancerCodes))
	n.flags(cmd)
	hideDefaults(cmd, "measure", "feet", "visits", "mountings", "releves") // what is not given stays
	reason := reasonFlag(cmd)
	return onLogbook(cmd, func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		if err := requireReason(cmd); err != nil {
			return err
		}
		s, err := findStudy(l, args[0])
		if err != nil {
			return err
		}
		before := len(s.Rows)
		changes, err := n.amend(cmd, l, &s)
		if err != nil {
			return err
		}
		if len(changes) == 0 {
			return usage.Errorf("nothing to change: say what, as in --stop 18")
		}
		c := study.Change{Day: string(logbook.DayOf(o.now())), Kind: study.Amendment, What: strings.Join(changes, "; "), Reason: *reason}
		if err := s.Check(); err != nil {
			return usage.New(err)
		}
		if err := addDancers(cmd, l, s.Rows[before:]); err != nil {
			return err
		}
		if err := l.AmendStudy(s, c); err != nil {
			return err
		}
		fmt.Fprintln(cmd.OutOrStdout(), text.Wrap("amended: "+c.What))
		return nil
	})
}

// amend changes a study as specified by the flags, and describes the changes.
func (n *studyNumbers) amend(cmd *cobra.Command, l *logbook.Logbook, s *study.Study) (changes []string, err error) {
	typed := cmd.Flags().Changed
	number := func(flag, name string, was *int, is int) {
		if typed(flag) && *was != is {
			changes = append(changes, fmt.Sprintf("%s %d, before %d", name, is, *was))
			*was = is
		}
	}
	number("stop", "dancers after whom shoes are compared:", &s.Stop, n.stop)
	number("visits", "visits:", &s.Visits, n.visits)
	number("mountings", "mountings of each shoe in a visit:", &s.Mountings, n.mountings)
	number("releves", "fewest relevés in each mounting:", &s.Releves, n.releves)
	if typed("measure") && n.measure != s.Measure.Symbol() {
		m, ok := measure.Named(n.measure)
		if !ok {
			return nil, usage.Errorf("--measure %.40q: one of %s", n.measure, strings.Join(study.Primaries(), ", "))
		}
		changes = append(changes, fmt.Sprintf("primary measure: %s, before %s", m, s.Measure))
		s.Measure = m
	}
	if typed("feet") {
		feet, err := plannedFeet(l, n.feet)
		if err != nil {
			return nil, err
		}
		if feet != s.Feet {
			changes = append(changes, fmt.Sprintf("feet: %s, before %s", feetName(feet), feetName(s.Feet)))
			s.Feet = feet
		}
	}
	added, err := n.listed(l)
	if err != nil || len(added) == 0 {
		return changes, err
	}
	var shoes []string
	for _, shoe := range s.Shoes {
		shoes = append(shoes, shoe.Code)
	}
	orders, err := plan.Williams(shoes, len(s.Rows)+len(added), s.Seed)
	if err != nil {
		return nil, usage.New(err)
	}
	for _, d := range added {
		if s.Row(d) > 0 || s.Replaced(d) != "" {
			return nil, usage.Errorf("--dancers %s: has or had a row of study %s", text.Quoted(d), s.Name)
		}
		s.Rows = append(s.Rows, study.Row{Dancer: d, Order: orders.Orders[len(s.Rows)]})
	}
	return append(changes, words.Count(len(added), "row added", "rows added")), nil
}

// feetName names the feet of a study as --feet does.
func feetName(feet [2]bool) string {
	for _, f := range device.Feet {
		if !feet[f] {
			return f.Other().String()
		}
	}
	return "both"
}

func newStudyRemove() *cobra.Command {
	cmd := &cobra.Command{
		Use:               "remove NAME",
		Short:             "Remove a study that nothing was recorded for",
		Long:              "Remove a study that nothing was recorded for. After its first recording a study\nstays: aplomb study amend changes it. It stays as well while a visit of it has\nbegun, as in a fitting under way; aplomb visit remove removes a visit in which\nnothing was recorded.",
		Example:           "  aplomb study remove spring",
		Args:              exactArgs("the study's NAME"),
		ValidArgsFunction: completeCodes(studyNames),
	}
	return onLogbook(cmd, func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		err := l.RemoveStudy(args[0])
		if errors.Is(err, logbook.ErrInUse) {
			err = fmt.Errorf("%w: it stays; aplomb study amend %s changes it and keeps why", err, text.Quoted(args[0]))
		}
		if errors.Is(err, logbook.ErrBegun) {
			err = &console.Remedy{Err: fmt.Errorf("%w, and what is recorded in it would be in no study", err), Do: "end the fitting, and remove the visit with aplomb visit remove, or keep the study"}
		}
		if err = lookup.Hint(err, "aplomb study list"); err == nil {
			fmt.Fprintf(cmd.OutOrStdout(), "study %s removed\n", args[0])
		}
		return err
	})
}

// requireReason returns a usage error where no reason was typed, or a too long one.
func requireReason(cmd *cobra.Command) error {
	if err := requireFlags(cmd, "reason"); err != nil {
		return err
	}
	if err := device.CheckLength(cmd.Flag("reason").Value.String()); err != nil {
		return usage.Errorf("--reason: %w", err)
	}
	return nil
}

// reasonFlag adds --reason to a command.
func reasonFlag(cmd *cobra.Command) *string {
	reason := cmd.Flags().String("reason", "", "why, in words: a `TEXT` that is kept with the study")
	complete(cmd, "reason", cobra.NoFileCompletions)
	return reason
}

// findStudy returns the study that was named.
func findStudy(l *logbook.Logbook, name string) (study.Study, error) {
	s, err := l.Study(name)
	return s, lookup.Hint(err, "aplomb study list")
}

// studyNames completes names of studies.
func studyNames(_ *cobra.Command, l *logbook.Logbook) (names []string, err error) {
	all, err := l.Studies()
	for _, s := range all {
		names = append(names, s.Name)
	}
	return names, err
}
