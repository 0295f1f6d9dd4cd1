package output

import (
	"fmt"
	"io"
	"strings"

	"aplomb/analyze/measure"
	"aplomb/analyze/reliability"
	"aplomb/cmd/internal/text"
	"aplomb/plots/words"
)

// Reliability prints the reliability of a measure.
func Reliability(w io.Writer, r *reliability.Reliability) {
	fmt.Fprintf(w, "%s: how well it repeats\n", words.DisplayOf(r.Measure).Title)
	if r.NotBaseline > 0 {
		fmt.Fprintln(w, text.Wrap(fmt.Sprintf("Left out: %s of dancers who have others marked as baseline.", words.Count(r.NotBaseline, "visit", "visits"))))
	}
	for i := range r.Feet {
		f := &r.Feet[i]
		fmt.Fprintf(w, "\n%s\n", text.Wrap(f.Name()+": "+countsOf(f)))
		printComponents(w, r.Measure, f)
		printRepetitions(w, r.Measure, f)
		printRefused(w, f.Refused)
	}
}

// printRefused prints the results that cannot be given, grouped by reason.
func printRefused(w io.Writer, all []measure.Refusal) {
	of := map[string][]string{}
	for _, no := range all {
		of[no.Why] = append(of[no.Why], no.Of)
	}
	for _, no := range all {
		if names := of[no.Why]; names != nil {
			fmt.Fprintln(w, text.Wrap("Not given: "+strings.Join(names, ", ")+". Why: "+no.Why+"."))
			delete(of, no.Why)
		}
	}
}

// countsOf describes the amount of data behind a foot's numbers.
func countsOf(f *reliability.Foot) string {
	return strings.Join([]string{
		words.Count(f.Dancers, "dancer", "dancers"), words.Count(f.Shoes, "shoe worn", "shoes worn"), words.Count(f.Visits, "visit", "visits"),
		words.Count(f.Mountings, "mounting", "mountings"), words.Count(f.Strips, "strip", "strips"), words.Count(f.Releves, "relevé", "relevés"),
	}, ", ")
}

func printComponents(w io.Writer, m measure.Measure, f *reliability.Foot) {
	if len(f.Components) == 0 {
		return
	}
	show := words.DisplayOf(m)
	var rows [][]string
	for _, c := range f.Components {
		rows = append(rows, []string{c.Name(), show.Fine(c.SD), show.FineInterval(c.CI95), words.Number(100*c.Share, 0) + " %", words.Number(c.DOF, 1)})
	}
	text.Table(w, []string{"scatter of", "SD", "95 % interval", "of the variance", "degrees of freedom"}, rows)
}

func printRepetitions(w io.Writer, m measure.Measure, f *reliability.Foot) {
	show := words.DisplayOf(m)
	if s := f.SEM; s != nil {
		fmt.Fprintln(w, text.Wrap(fmt.Sprintf("Standard error of measurement between %s: %s (95 %% interval %s, degrees of freedom %s). Minimal detectable change: %s.",
			f.Between, show.Fine(s.SEM), show.FineInterval(s.CI95), words.Number(s.DOF, 0), show.Fine(s.MDC95))))
	}
	if f.Rows == nil {
		return
	}
	of := "dancers"
	if f.Rows.Of == reliability.OfShoe {
		of = "shoes of one dancer"
	}
	said := fmt.Sprintf("%d %s, %d %s each", f.Rows.N, of, f.Rows.Columns, f.Between)
	if f.Rows.LeftOut > 0 {
		said += fmt.Sprintf("; %d with fewer left out", f.Rows.LeftOut)
	}
	var rows [][]string
	for _, i := range f.ICC {
		rows = append(rows, []string{i.Kind, words.Number(i.Value, 2), words.Number(i.CI95[0], 2) + " to " + words.Number(i.CI95[1], 2)})
	}
	if len(rows) > 0 {
		text.Table(w, []string{"", "ICC", "95 % interval", said}, rows)
	}
	if a := f.Agreement; a != nil {
		fmt.Fprintln(w, text.Wrap(fmt.Sprintf("First less second: bias %s (%s), 95 %% limits of agreement %s (%s) and %s (%s), from %s.",
			show.Fine(a.Bias), show.FineInterval(a.BiasCI), show.Fine(a.Lower), show.FineInterval(a.LowCI), show.Fine(a.Upper), show.FineInterval(a.UpCI), words.Count(a.N, "pair", "pairs"))))
	}
}
