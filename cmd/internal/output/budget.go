package output

import (
	"fmt"
	"io"
	"math"
	"text/tabwriter"

	"aplomb/analyze/budget"
	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/plots/words"
)

// Budgets prints the uncertainty budgets of each foot: those of its relevé, or root
// mean squares over its relevés.
func Budgets(w io.Writer, releves []measure.Releve) {
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
			which := "its relevé"
			if n > 1 {
				which = fmt.Sprintf("a relevé, root mean square of %d", n)
			}
			fmt.Fprintf(w, "\n%s foot: uncertainty of %s\n", f, which)
			all := make([]measure.Budget, len(measure.Budgeted))
			for i, name := range measure.Budgeted {
				all[i] = budget.Typical(of[name])
			}
			printBudget(w, all)
		}
	}
}

// MeanBudgets prints the budgets of the means over relevés as statements about each shoe
// and foot.
func MeanBudgets(w io.Writer, c *compare.Comparison) {
	for _, s := range c.Shoes {
		all := make([]measure.Budget, 0, len(measure.Budgeted))
		for _, name := range measure.Budgeted {
			if b := s.Measures[name].Budget; b != nil {
				all = append(all, *b)
			}
		}
		if len(all) == len(measure.Budgeted) {
			fmt.Fprintf(w, "\n%s foot: uncertainty of the mean of %s, as what it says of shoe %s\n", s.Foot, words.Count(s.N, "relevé", "relevés"), s.Shoe)
			printBudget(w, all)
		}
	}
}

// printBudget prints budgets in the order of measure.Budgeted, which have the same sources.
func printBudget(w io.Writer, all []measure.Budget) {
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

// significant writes an uncertainty with about two significant digits.
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
