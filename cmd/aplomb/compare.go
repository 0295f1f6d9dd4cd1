package main

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"
	"text/tabwriter"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"aplomb/analyze"
	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/plots/words"
)

func newCompare(o outside) *cobra.Command {
	from := choosing(o)
	var base string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "compare [FILE.mcap…]",
		Short: "Set shoe against shoe and left against right",
		Long: `Set shoe against shoe and left against right, over recordings of one dancer.

The 95 % interval decides what is said of a difference:
  clear                                the interval leaves 0 out
  smaller than mounting repeatability  it would with the strip seated alike
  could be chance                      neither
A shoe is preferred only if it gets the dancer over the box and the other does
not, or both miss on the same side and one is clearly nearer.

Recordings are files, or those in the logbook that --dancer, --visit and --shoe
choose. The others are set against the shoe of the first recording, which in a
fitting is the one worn on arrival, unless --base names another.`,
		Example: `  aplomb compare --dancer D7 --visit today
  aplomb compare a1.mcap a2.mcap b1.mcap b2.mcap
  aplomb compare *.mcap --base A --json`,
		Args:              from.args,
		ValidArgsFunction: endingIn("mcap"),
		RunE: func(cmd *cobra.Command, args []string) error {
			p, err := from.pick(args)
			if err != nil {
				return err
			}
			c, _, err := compareAll(cmd, &p, base, analyze.Options{})
			if err != nil {
				return err
			}
			if asJSON {
				c.Texts = words.Warnings(c.Warnings)
				return writeJSON(cmd.OutOrStdout(), c)
			}
			printComparison(cmd.OutOrStdout(), c)
			printNumbers(cmd.OutOrStdout(), p)
			return nil
		},
	}
	from.flags(cmd)
	baseFlag(cmd, &from.book, &base)
	cmd.Flags().BoolVar(&asJSON, "json", false, "one JSON object")
	return cmd
}

func baseFlag(cmd *cobra.Command, b *book, base *string) {
	cmd.Flags().StringVar(base, "base", "", "the `SHOE` to set the others against; default that of the first recording")
	complete(cmd, "base", b.codes(shoeCodes))
}

// printNumbers says which recordings of the logbook an answer is from.
func printNumbers(w io.Writer, p picked) {
	if text := p.numbers(); text != "" {
		fmt.Fprintln(w, wrapped(text))
	}
}

func compareAll(cmd *cobra.Command, p *picked, base string, opt analyze.Options) (*compare.Comparison, []*measure.Result, error) {
	results, err := analyzeAll(cmd, p, opt)
	if err != nil {
		return nil, nil, err
	}
	c, err := compare.Of(results, p.spelt(base))
	return c, results, err
}

func printComparison(w io.Writer, c *compare.Comparison) {
	if c.Answer != "" {
		fmt.Fprintln(w, wrapped(c.Answer))
	}
	for _, said := range c.Findings {
		fmt.Fprintln(w, wrapped(said))
	}
	if len(c.Shoes) > 0 {
		fmt.Fprintln(w)
		printShoes(w, c)
		fmt.Fprintln(w)
		printDifferences(w, c)
	}
	if c.RestsOn != nil {
		fmt.Fprintln(w)
		fmt.Fprintln(w, wrapped(c.RestsOn.Shares()))
		fmt.Fprintln(w, wrapped(c.RestsOn.Smaller()))
	}
	printWarnings(w, words.Warnings(c.Warnings))
}

// headline names the measures that the terminal shows; --json has all.
var headline = []measure.Measure{measure.Over, measure.Medial, measure.ContactShare, measure.Load}

func printShoes(w io.Writer, c *compare.Comparison) {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "shoe\tfoot\trelevés\tmountings\tover\tmedial\tcontact share\tload\tverdict")
	for _, s := range c.Shoes {
		fmt.Fprintf(t, "%s%s\t%s\t%d\t%d", s.Shoe, conditions(c, s), s.Foot, s.N, s.Mountings)
		for _, name := range headline {
			mean := s.Measures[name]
			fmt.Fprintf(t, "\t%s", words.DisplayOf(name).PlusMinus(mean.Mean, mean.CI95))
		}
		fmt.Fprintf(t, "\t%s\n", words.Verdict(s.Verdict, s.Measures[measure.Medial].Mean))
	}
	t.Flush()
	fmt.Fprintln(w, "± is the half-width of the 95 % interval")
}

// conditions tells the rows of one shoe apart where it was danced under several.
func conditions(c *compare.Comparison, s compare.ShoeFoot) string {
	for _, other := range c.Shoes {
		if other.Shoe == s.Shoe && other.Foot == s.Foot && (other.Support != s.Support || other.Rise != s.Rise) {
			return fmt.Sprintf(" (support %s, rise %s)", cmp.Or(s.Support, "not said"), cmp.Or(s.Rise, "not said"))
		}
	}
	return ""
}

func printDifferences(w io.Writer, c *compare.Comparison) {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	defer t.Flush()
	for _, d := range c.Differences {
		if slices.Contains(headline, d.Measure) {
			fmt.Fprintf(t, "%s − %s\t%s\t%s\t%s\t%s\n", d.To, d.From, d.Foot, words.DisplayOf(d.Measure).Title,
				words.DisplayOf(d.Measure).Difference(d.Difference, d.CI95), d.Wording)
		}
	}
	for _, d := range c.Feet {
		if slices.Contains(headline, d.Measure) {
			fmt.Fprintf(t, "left − right\t%s\t%s\t%s\t%s\n", d.Shoe, words.DisplayOf(d.Measure).Title,
				words.DisplayOf(d.Measure).Difference(d.Difference, d.CI95), d.Wording)
		}
	}
}

// wrapped breaks text into lines that a terminal has room for.
func wrapped(text string) string {
	const width = 80
	var b strings.Builder
	column := 0
	words := strings.Fields(text)
	for i, word := range words {
		n := utf8.RuneCountInString(word)
		room := n
		if i+1 < len(words) && strings.HasPrefix(words[i+1], "%") { // stays with its number
			room += 1 + utf8.RuneCountInString(words[i+1])
		}
		switch {
		case column == 0:
		case column+1+room > width:
			b.WriteByte('\n')
			column = 0
		default:
			b.WriteByte(' ')
			column++
		}
		b.WriteString(word)
		column += n
	}
	return b.String()
}
