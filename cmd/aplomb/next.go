package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"aplomb/analyze"
	"aplomb/analyze/advise"
)

func newNext(o outside) *cobra.Command {
	from := choosing(o)
	var base, shoe string
	var seen advise.Observations
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "next [FILE.mcap…]",
		Short: "Offer what to look at next, by what the shoes tried have shown",
		Long: `Offer what to look at next, over recordings of one dancer.

Where the numbers of a shoe show a pattern, common practice in the trade has
options for it. No published source stands behind any of them. What the shoes
tried so far have shown ranks them; each says what to watch for in the numbers.
Where the numbers do not decide, nothing is offered but to measure more.

It starts from the shoe that is preferred, or stands best, unless --shoe names
one. Three things only an eye can see: say them with --bulging, --low-crown and
--pain. With pain nothing is offered: stop, and hand over to the dancer's
clinician. In the logbook the pain of the visit says so too.

Recordings are files, or those in the logbook that --dancer and --visit choose.`,
		Example: `  aplomb next --dancer D7 --visit today
  aplomb next a1.mcap a2.mcap b1.mcap b2.mcap
  aplomb next *.mcap --shoe A --low-crown`,
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
			seen.Pain = seen.Pain || p.pain
			a, err := advise.Next(c, p.spelt(shoe), seen)
			if err != nil {
				return err
			}
			if asJSON {
				return writeJSON(cmd.OutOrStdout(), a)
			}
			printAdvice(cmd.OutOrStdout(), a)
			if len(p.entries) > 0 {
				fmt.Fprintln(cmd.OutOrStdout())
			}
			printNumbers(cmd.OutOrStdout(), p)
			return nil
		},
	}
	from.flagsButShoe(cmd)
	baseFlag(cmd, &from.book, &base)
	f := cmd.Flags()
	f.StringVar(&shoe, "shoe", "", "the `SHOE` to start from")
	f.BoolVar(&seen.Bulging, "bulging", false, "the foot bulges over the sides of the box")
	f.BoolVar(&seen.LowCrown, "low-crown", false, "the box is low for the foot")
	f.BoolVar(&seen.Pain, "pain", false, "the dancer is in pain")
	f.BoolVar(&asJSON, "json", false, "one JSON object")
	complete(cmd, "shoe", from.book.codes(shoeCodes))
	return cmd
}

func printAdvice(w io.Writer, a *advise.Advice) {
	fmt.Fprintf(w, "starting from shoe %s\n", a.Shoe)
	for _, n := range a.Notices {
		fmt.Fprintln(w, wrapped(n))
	}
	for _, f := range a.Findings {
		fmt.Fprintf(w, "\n%s\n", wrapped(f.Saw))
		for _, text := range f.Open {
			fmt.Fprintln(w, indented(text, "  "))
		}
		for i, o := range f.Options {
			fmt.Fprintln(w, indented(fmt.Sprintf("%d. %s", i+1, o.Text), "  "))
			for _, because := range o.Because {
				fmt.Fprintln(w, indented(because, "     "))
			}
			fmt.Fprintln(w, indented("watch: "+o.Watch, "     "))
		}
	}
}

// indented wraps text and sets every line in by the same.
func indented(text, by string) string {
	return by + strings.ReplaceAll(wrapped(text), "\n", "\n"+by)
}
