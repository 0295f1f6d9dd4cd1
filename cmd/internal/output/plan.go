package output

import (
	"errors"
	"fmt"
	"io"
	"strconv"

	"aplomb/analyze/logbook"
	"aplomb/analyze/plan"
	"aplomb/cmd/internal/text"
	"aplomb/plots/words"
)

// Detectable prints the smallest difference that a plan can detect, and how more
// recordings would change it.
func Detectable(w io.Writer, p plan.Plan, n plan.Noise) {
	fmt.Fprintln(w, text.Wrap(p.DetectableDifference(n).Text()))
	fmt.Fprintln(w, "More would buy:")
	for _, s := range p.Alternatives(n) {
		fmt.Fprintln(w, text.Item("  - ", s.Text()))
	}
}

// printPlan prints the plan of a visit, if it has one, with the recordings made for it.
func printPlan(w io.Writer, l *logbook.Logbook, v logbook.Visit) error {
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
		done := c.Steps[i].Text()
		switch {
		case i == c.Next && done == "":
			done = "next"
		case i == c.Next:
			done = "next, not done yet: " + done
		case done != "" && !c.Steps[i].Done:
			done = "not done yet: " + done
		}
		rows = append(rows, []string{strconv.Itoa(i + 1), s.Shoe, strconv.Itoa(s.Mounting), strconv.Itoa(s.Releves), done})
	}
	text.Table(w, []string{"", "shoe", "mounting", "relevés", "recorded"}, rows)
	for _, n := range c.Notes {
		fmt.Fprintf(w, "recording %s: %s\n", n.Recording, n.Text)
	}
	return nil
}

// Deviation prints how the last recording of a visit deviated from the plan.
func Deviation(w io.Writer, l *logbook.Logbook, v logbook.Visit) error {
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

// Next prints the rises of a visit that has a limit of them, and the next step of its
// plan; nothing without limit and plan.
func Next(w io.Writer, l *logbook.Logbook, v logbook.Visit) error {
	if v.MaxRises > 0 {
		rises, err := l.RisesOfVisit(v.ID)
		if err != nil {
			return err
		}
		if said := words.Count(rises, "rise", "rises") + " so far"; rises < v.MaxRises {
			fmt.Fprintf(w, "%s; the limit of this visit is %d\n", said, v.MaxRises)
		} else {
			fmt.Fprintf(w, "%s: the limit of this visit, %d, is reached; no more rises\n", said, v.MaxRises)
		}
	}
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
	for _, line := range c.Lines() {
		fmt.Fprintln(w, line)
	}
	return nil
}

// Stop prints the advice to stop because of pain, where there is any. It is always
// printed first.
func Stop(w io.Writer, advice string) {
	if advice != "" {
		fmt.Fprintf(w, "%s\n\n", text.Wrap(advice))
	}
}
