package output

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"text/tabwriter"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/cmd/internal/text"
	"aplomb/device"
	"aplomb/plots/words"
)

// Comparison prints the answer of a comparison, and the tables behind it. A warning that
// may have changed the answer follows the sentence about its foot, or else the headline.
func Comparison(w io.Writer, c *compare.Comparison) {
	changing := measure.OfClass(c.Warnings, measure.ChangesAnswer)
	about := func(foot string) {
		for _, one := range changing {
			if one.Foot == foot {
				text.Warnings(w, []string{words.Warning(one)})
			}
		}
	}
	if c.Answer != "" {
		fmt.Fprintln(w, text.Wrap(c.Answer))
	}
	about("")
	told := map[string]bool{}
	for _, finding := range c.Findings {
		fmt.Fprintln(w, text.Wrap(finding))
		for _, f := range device.Feet {
			if strings.HasPrefix(strings.ToLower(finding), f.String()+" foot:") {
				about(f.String())
				told[f.String()] = true
			}
		}
	}
	for _, f := range device.Feet {
		if !told[f.String()] {
			about(f.String())
		}
	}
	if len(c.Shoes) > 0 {
		fmt.Fprintln(w)
		printShoes(w, c)
		fmt.Fprintln(w)
		printDifferences(w, c)
	}
	if c.RestsOn != nil {
		fmt.Fprintln(w)
		fmt.Fprintln(w, text.Wrap(c.RestsOn.SharesText()))
		if !c.Pain {
			fmt.Fprintln(w, text.Wrap(c.RestsOn.RemediesText()))
		}
	}
	printRecord(w, c.Warnings)
}

// headline lists the measures that are printed; JSON contains all.
var headline = []measure.Measure{measure.Over, measure.Medial, measure.ContactShare, measure.Load}

func printShoes(w io.Writer, c *compare.Comparison) {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "shoe\tfoot\trelevés\tmountings\tover\tmedial\tcontact share\tload\tverdict")
	for _, s := range c.Shoes {
		fmt.Fprintf(t, "%s%s\t%s\t%d\t%d", s.Shoe, conditionsOfRow(c, s), s.Foot, s.N, s.Mountings)
		for _, name := range headline {
			mean := s.Measures[name]
			fmt.Fprintf(t, "\t%s", words.DisplayOf(name).PlusMinus(mean.Mean, mean.CI95))
		}
		fmt.Fprintf(t, "\t%s\n", words.Verdict(s.Verdict, s.Misses, s.Measures[measure.Medial].Mean))
	}
	t.Flush()
	fmt.Fprintln(w, "± is the half-width of the 95 % interval")
}

// conditionsOfRow returns in brackets the conditions in which rows of one shoe and foot
// differ, "" where there are none.
func conditionsOfRow(c *compare.Comparison, s compare.ShoeFoot) string {
	var under []measure.Conditions
	for _, other := range c.Shoes {
		if other.Shoe == s.Shoe && other.Foot == s.Foot {
			under = append(under, other.Conditions)
		}
	}
	return inBrackets(compare.Apart(s.Conditions, under))
}

// inBrackets returns " (text)", "" where there is none.
func inBrackets(text string) string {
	if text == "" {
		return ""
	}
	return " (" + text + ")"
}

func printDifferences(w io.Writer, c *compare.Comparison) {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	defer t.Flush()
	var under []measure.Conditions
	for _, s := range c.Shoes {
		under = append(under, s.Conditions)
	}
	for _, d := range c.Differences {
		if slices.Contains(headline, d.Measure) {
			fmt.Fprintf(t, "%s − %s%s\t%s\t%s\t%s\t%s\n", d.To, d.From, inBrackets(compare.Apart(d.Conditions, under)), d.Foot, words.DisplayOf(d.Measure).Title,
				words.DisplayOf(d.Measure).Difference(d.Difference, d.CI95), d.Wording)
		}
	}
	for _, d := range c.Feet {
		if slices.Contains(headline, d.Measure) {
			fmt.Fprintf(t, "left − right%s\t%s\t%s\t%s\t%s\n", inBrackets(compare.Apart(d.Conditions, under)), d.Shoe, words.DisplayOf(d.Measure).Title,
				words.DisplayOf(d.Measure).Difference(d.Difference, d.CI95), d.Wording)
		}
	}
}

// Summary prints a line for each foot: how many relevés, over with the half-width of
// its 95 % interval where it has one, and the verdict.
func Summary(w io.Writer, c *compare.Comparison) {
	if len(c.Shoes) == 0 {
		fmt.Fprintln(w, c.Why)
	}
	for _, s := range c.Shoes {
		over, known := s.Measures[measure.Over], " (95 %)"
		if over.CI95 == nil {
			known = " (one relevé has no interval)"
		}
		fmt.Fprintf(w, "%-6s %s, over %s%s, %s\n", s.Foot.String()+":", words.Count(s.N, "relevé", "relevés"),
			words.DisplayOf(measure.Over).PlusMinus(over.Mean, over.CI95), known, words.Verdict(s.Verdict, s.Misses, s.Measures[measure.Medial].Mean))
	}
}
