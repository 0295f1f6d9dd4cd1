package output

import (
	"fmt"
	"io"

	"aplomb/analyze/advise"
	"aplomb/cmd/internal/text"
)

// Advice prints what to look at next, with the findings that it follows from.
func Advice(w io.Writer, a *advise.Advice) {
	if len(a.Findings) > 0 {
		fmt.Fprintf(w, "starting from shoe %s\n", a.Shoe)
	}
	if a.Answer != "" {
		fmt.Fprintln(w, text.Wrap(a.Answer))
	}
	for _, n := range a.Notices {
		fmt.Fprintln(w, text.Wrap(n))
	}
	for _, f := range a.Findings {
		fmt.Fprintf(w, "\n%s\n", text.Wrap(f.Saw))
		for _, said := range f.Open {
			fmt.Fprintln(w, text.Indent(said, "  "))
		}
		for i, o := range f.Options {
			fmt.Fprintln(w, text.Item(fmt.Sprintf("  %d. ", i+1), o.Text))
			for _, because := range o.Because {
				fmt.Fprintln(w, text.Indent(because, "     "))
			}
			fmt.Fprintln(w, text.Indent("watch: "+o.Watch, "     "))
		}
	}
}
