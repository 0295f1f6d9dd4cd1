package main

import (
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"aplomb/analyze/logbook"
	"aplomb/analyze/plan"
)

// planned is what a command line says of a plan.
type planned struct {
	shoes              []string
	study              []string
	releves, mountings int
	seed               uint64
}

func newVisitPlan(now func() time.Time) *cobra.Command {
	var b book
	var o whose
	var p planned
	cmd := &cobra.Command{
		Use:   "plan [VISIT] --dancer CODE --shoes A,B,C",
		Short: "Plan in which order shoes are tried, and say what that can show",
		Long: `Plan in which order shoes are tried in a visit, and say before anyone dances
what that can show: the smallest difference in over between two shoes that will
be called clear four times in five, from how well the strip's mounting repeats
and how much this dancer's relevés scatter so far, and what more would buy.

The order is mirrored (A B C, C B A), so that warming up and tiring take no
side; chance says which shoe begins. The plan is kept with the visit, in place
of the one before: record then says what comes next, and aplomb visit show how
far it has come. The shoes have to be in the logbook.

With --study dancers get the rows of Williams squares, in which every shoe
follows every other equally often; nothing is kept.`,
		Example: `  aplomb visit plan --dancer D7 --shoes A,B,C --releves 5 --mountings 2
  aplomb visit plan 2026-03-14 --dancer D7 --shoes A,B --mountings 3 --seed 7
  aplomb visit plan --study D1,D2,D3,D4 --shoes A,B,C,D`,
		Args:              atMostOne,
		ValidArgsFunction: b.codes(visitNames),
	}
	o.flag(cmd, &b)
	f := cmd.Flags()
	f.StringArrayVar(&p.shoes, "shoes", nil, "`CODES` of the shoes, with commas between; or once for each shoe")
	f.IntVar(&p.releves, "releves", 5, "`NUMBER` of relevés in every mounting")
	f.IntVar(&p.mountings, "mountings", 2, "`NUMBER` of times that the strips are mounted under each shoe")
	f.Uint64Var(&p.seed, "seed", 0, "`NUMBER` from which the beginning follows; default by chance")
	f.StringArrayVar(&p.study, "study", nil, "`CODES` of the dancers of a study, who all try the shoes once")
	complete(cmd, "shoes", b.codes(shoeCodes))
	complete(cmd, "study", b.codes(dancerCodes))
	for _, name := range []string{"releves", "mountings", "seed"} {
		complete(cmd, name, cobra.NoFileCompletions)
	}
	b.flag(cmd)
	inLogbook := b.reading(func(cmd *cobra.Command, args []string, l *logbook.Logbook) error {
		v, err := o.visit(cmd, l, args, now)
		if err != nil {
			return err
		}
		return p.forVisit(cmd.OutOrStdout(), l, v)
	})
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		if len(p.shoes) == 0 {
			return misused("--shoes CODES is missing: which shoes are to be tried, such as A,B,C")
		}
		if !cmd.Flags().Changed("seed") {
			p.seed = rand.Uint64N(1_000_000) // short enough to be typed again
		}
		if len(p.study) == 0 {
			return inLogbook(cmd, args)
		}
		for _, name := range []string{"dancer", "releves", "mountings"} {
			if cmd.Flags().Changed(name) {
				return misused("--%s and --study do not go together: a study says only in which order each of its dancers tries the shoes", name)
			}
		}
		if len(args) > 0 {
			return misused("%q is not expected here: a study belongs to no visit", args[0])
		}
		return p.forStudy(cmd.OutOrStdout())
	}
	return cmd
}

// forVisit makes a plan, keeps it with the visit and prints it.
func (p planned) forVisit(w io.Writer, l *logbook.Logbook, v logbook.Visit) error {
	shoes, err := shoesNamed(l, p.shoes)
	if err != nil {
		return err
	}
	made, err := plan.Mirrored(shoes, p.mountings, p.releves, p.seed)
	if err != nil {
		return misuse{err}
	}
	noise, err := l.NoiseOver(v.Dancer)
	if err != nil {
		return err
	}
	if err := l.PutPlan(v.ID, made); err != nil {
		return err
	}
	fmt.Fprintf(w, "plan of visit %s of dancer %s, seed %d\n", v.Name(), v.Dancer, made.Seed)
	for i, s := range made.Steps {
		fmt.Fprintln(w, listItem(fmt.Sprintf("%3d. ", i+1), s.Say()))
	}
	fmt.Fprintf(w, "%s\n\n", wrapped(made.Balance()))
	fmt.Fprintln(w, wrapped(noise.RestsOn()))
	if len(shoes) > 1 {
		printSight(w, made, noise)
	}
	printStop(w, v)
	return nil
}

func printSight(w io.Writer, p plan.Plan, n plan.Noise) {
	fmt.Fprintln(w, wrapped(p.DetectableDifference(n).Say()))
	fmt.Fprintln(w, "More would buy:")
	for _, s := range p.Alternatives(n) {
		fmt.Fprintln(w, listItem("  - ", s.Say()))
	}
}

// listItem wraps text behind a mark.
func listItem(mark, text string) string {
	by := strings.Repeat(" ", len(mark))
	return mark + strings.TrimPrefix(indented(text, by), by)
}

// shoesNamed finds the shoes that were typed, with commas between or not, as the
// logbook writes them.
func shoesNamed(l *logbook.Logbook, typed []string) (codes []string, err error) {
	for _, one := range typed {
		names := []string{one}
		if _, err := l.Shoe(one); errors.Is(err, logbook.ErrNotFound) { // or it is a code with a comma in it
			names = listOf(one)
		}
		for _, name := range names {
			s, err := l.Shoe(name)
			if err != nil {
				return nil, listed(err, "aplomb shoe list")
			}
			codes = append(codes, s.Code)
		}
	}
	return codes, nil
}

// listOf takes a list with commas apart.
func listOf(typed string) (all []string) {
	for _, one := range strings.Split(typed, ",") {
		all = append(all, strings.TrimSpace(one))
	}
	return all
}

// forStudy prints the order of the shoes for each dancer.
func (p planned) forStudy(w io.Writer) error {
	var dancers, shoes []string
	for _, one := range p.study {
		dancers = append(dancers, listOf(one)...)
	}
	for _, one := range p.shoes {
		shoes = append(shoes, listOf(one)...)
	}
	for i, d := range dancers {
		if d == "" {
			return misused("--study %s: a dancer without a code", strings.Join(p.study, ","))
		}
		for _, other := range dancers[:i] {
			if d == other {
				return misused("--study %s: dancer %s is named twice", strings.Join(p.study, ","), d)
			}
		}
	}
	study, err := plan.Williams(shoes, len(dancers), p.seed)
	if err != nil {
		return misuse{err}
	}
	headings := []string{"dancer"}
	for i := range shoes {
		headings = append(headings, strconv.Itoa(i+1))
	}
	var rows [][]string
	for i, order := range study.Orders {
		rows = append(rows, append([]string{dancers[i]}, order...))
	}
	fmt.Fprintf(w, "order of the shoes, seed %d\n", p.seed)
	table(w, headings, rows)
	fmt.Fprintln(w, wrapped(study.Say()))
	return nil
}

// showPlan prints the plan of a visit with what was recorded for it; nothing
// where there is none.
func showPlan(w io.Writer, l *logbook.Logbook, v logbook.Visit) error {
	c, err := l.PlanProgress(v.ID)
	if errors.Is(err, logbook.ErrNotFound) {
		return nil
	}
	if err != nil {
		return err
	}
	fmt.Fprintf(w, "\nplan, %d of %d done, seed %d\n", c.Done(), len(c.Steps), c.Plan.Seed)
	var rows [][]string
	for i, s := range c.Plan.Steps {
		done := c.Steps[i].Say()
		if i == c.Next {
			done = "next"
		}
		rows = append(rows, []string{strconv.Itoa(i + 1), s.Shoe, strconv.Itoa(s.Mounting), strconv.Itoa(s.Releves), done})
	}
	table(w, []string{"", "shoe", "mounting", "relevés", "recorded"}, rows)
	for _, n := range c.Notes {
		fmt.Fprintf(w, "recording %s: %s\n", n.Recording, n.Text)
	}
	return nil
}

// tellAstray says of the last recording of a visit where it left the plan.
func tellAstray(w io.Writer, l *logbook.Logbook, v logbook.Visit) error {
	made, err := l.Recordings(logbook.Filter{VisitID: v.ID})
	if err != nil || len(made) == 0 {
		return err
	}
	c, err := l.PlanProgress(v.ID)
	if errors.Is(err, logbook.ErrNotFound) {
		return nil
	}
	for _, n := range c.Notes {
		if n.Recording == strconv.FormatInt(made[len(made)-1].ID, 10) {
			fmt.Fprintf(w, "recording %s: %s\n", n.Recording, n.Text)
		}
	}
	return err
}

// tellNext says what the plan of a visit has next; nothing where there is no plan.
func tellNext(w io.Writer, l *logbook.Logbook, v logbook.Visit) error {
	c, err := l.PlanProgress(v.ID)
	if errors.Is(err, logbook.ErrNotFound) {
		return nil
	}
	if err != nil {
		return err
	}
	if v.Advice() != "" && c.Next < len(c.Steps) {
		fmt.Fprintf(w, "the plan waits, %d of %d done: there is pain\n", c.Done(), len(c.Steps))
		return nil
	}
	for _, line := range c.Say() {
		fmt.Fprintln(w, line)
	}
	return nil
}
