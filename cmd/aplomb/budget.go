package main

import (
	"fmt"
	"io"
	"math"
	"text/tabwriter"

	"aplomb/analyze/budget"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/plots/words"
)

// printBudgets prints, for each foot, the budgets of one relevé, the root mean
// square of all where there are several.
func printBudgets(w io.Writer, releves []measure.Releve) {
	for _, f := range device.Feet {
		of := map[measure.Measure][]measure.Budget{}
		n := 0
		for _, one := range releves {
			if one.Foot != f || one.Status != measure.Measured {
				continue
			}
			n++
			for name, b := range one.Budget {
				of[name] = append(of[name], b)
			}
		}
		if n > 0 {
			printBudget(w, f, n, of)
		}
	}
}

func printBudget(w io.Writer, foot device.Foot, n int, of map[measure.Measure][]measure.Budget) {
	which := "its relevé"
	if n > 1 {
		which = fmt.Sprintf("a relevé, root mean square of %d", n)
	}
	fmt.Fprintf(w, "\n%s foot: uncertainty of %s\n", foot, which)
	all := make([]measure.Budget, len(measure.Budgeted))
	for i, name := range measure.Budgeted {
		all[i] = budget.Typical(of[name])
	}
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	row := func(head string, cells func(b measure.Budget, scale float64) (u, share string)) {
		fmt.Fprintf(t, "%-18s", head) // on the left, unlike the numbers
		for i, b := range all {
			scale := 1.0
			if measure.Budgeted[i] == measure.ContactShare {
				scale = 100
			}
			u, share := cells(b, scale)
			fmt.Fprintf(t, "\t%s\t%s", u, share)
		}
		fmt.Fprintln(t, "\t")
	}
	fmt.Fprintf(t, "%-18s\tover mm\t\tmedial mm\t\tcontact points\t\tload N\t\t\n", "")
	for i, l := range all[0].Sources {
		row(string(l.Source), func(b measure.Budget, scale float64) (string, string) {
			if b.Sources[i].U == 0 {
				return "–", ""
			}
			return significant(scale * b.Sources[i].U), fmt.Sprintf("%.0f %%", 100*b.Sources[i].Share)
		})
	}
	row("all", func(b measure.Budget, scale float64) (string, string) { return significant(scale * b.U), "" })
	row("degrees of freedom", func(b measure.Budget, _ float64) (string, string) { return freedom(float64(b.DOF)), "" })
	row("95 % interval, ±", func(b measure.Budget, scale float64) (string, string) { return significant(scale * b.Expanded), "" })
	t.Flush()
	for _, l := range all[0].Sources {
		fmt.Fprintf(w, "%s (type %s, %s): %s\n", l.Source, l.Type, l.Distribution, l.Basis)
	}
}

// significant writes an uncertainty with about two digits that count.
func significant(u float64) string {
	switch {
	case u >= 10:
		return words.Number(u, 0)
	case u >= 1:
		return words.Number(u, 1)
	}
	return words.Number(u, 2)
}

func freedom(dof float64) string {
	if math.IsInf(dof, 0) || dof > 1000 {
		return "∞"
	}
	return words.Number(math.Floor(dof), 0)
}
