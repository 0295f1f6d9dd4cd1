package main

import (
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"aplomb/analyze"
	"aplomb/analyze/kept"
	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/plots/words"
)

func newAnalyze(o outside) *cobra.Command {
	c := choosing(o)
	var asJSON, budgets bool
	cmd := &cobra.Command{
		Use:   "analyze [FILE.mcap…]",
		Short: "Measure every relevé in recordings",
		Long: `Measure every relevé in recordings.

over is positive towards the front edge of the platform, medial towards the big
toe; 0, 0 is the centroid of the platform. ± is one standard uncertainty,
mounting included. The verdict says whether the centre of pressure is inside the
kern, the region where a flat platform carries load all over.

Recordings are files, or those in the logbook that --dancer, --visit and --shoe
choose. What is found in these is put into the logbook in place of what an older
version of this program found.`,
		Example: `  aplomb analyze a1.mcap
  aplomb analyze --dancer D7 --visit last
  aplomb analyze a1.mcap --budget
  aplomb analyze a1.mcap b1.mcap --json | jq '.releves[].over_mm'`,
		Args:              c.args,
		ValidArgsFunction: endingIn("mcap"),
		RunE: func(cmd *cobra.Command, args []string) error {
			p, err := c.pick(args)
			if err != nil {
				return err
			}
			results, err := analyzeAll(cmd, &p, analyze.Options{KeepBudget: budgets})
			if err != nil {
				return err
			}
			for i, r := range results {
				if asJSON {
					words.Fill(r)
					if err := writeJSON(cmd.OutOrStdout(), r); err != nil {
						return err
					}
					continue
				}
				if i > 0 {
					fmt.Fprintln(cmd.OutOrStdout())
				}
				printResult(cmd.OutOrStdout(), p.title(i, r), r)
				if budgets {
					printBudgets(cmd.OutOrStdout(), r.Releves)
				}
			}
			return renew(cmd, &c.book, p, results)
		},
	}
	c.flags(cmd)
	cmd.Flags().BoolVar(&budgets, "budget", false, "add what makes the numbers uncertain, source by source")
	cmd.Flags().BoolVar(&asJSON, "json", false, "JSON Lines, one object a recording")
	return cmd
}

// renew puts what was found in recordings of the logbook into it.
func renew(cmd *cobra.Command, b *book, p picked, results []*measure.Result) error {
	if len(p.entries) == 0 {
		return nil
	}
	stale := 0
	err := b.with(func(l *logbook.Logbook) error {
		for i, r := range p.entries {
			found := kept.Releves(results[i])
			if r.Measured != version && kept.Risen(found) > 0 {
				stale++
			}
			if err := l.PutMeasures(r.ID, version, found); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("the measures in the logbook stay as they were: %w", err)
	}
	fmt.Fprintf(cmd.ErrOrStderr(), "measures of %s put into the logbook; stale were those of %d\n", words.Count(len(p.entries), "recording", "recordings"), stale)
	return nil
}

// analyzeAll analyzes recordings in turn. Those that were named must all succeed.
// Of those that the logbook chose one that cannot be measured is left out of p,
// with a warning: it must not keep a dancer from every answer.
func analyzeAll(cmd *cobra.Command, p *picked, opt analyze.Options) ([]*measure.Result, error) {
	opt.Version = version
	progress := newProgress(cmd.ErrOrStderr())
	defer progress.clear()
	var results []*measure.Result
	done := picked{pain: p.pain}
	for i, path := range p.paths {
		if err := cmd.Context().Err(); err != nil {
			return nil, err
		}
		progress.show("analyzing %s (%d of %d)", path, i+1, len(p.paths))
		r, err := analyze.File(cmd.Context(), path, opt)
		if err != nil && i < len(p.entries) {
			progress.clear()
			id := p.entries[i].ID
			if len(results) == 0 && i == len(p.paths)-1 {
				return nil, fmt.Errorf("recording %d cannot be measured: %w", id, err)
			}
			printWarnings(cmd.ErrOrStderr(), []string{fmt.Sprintf("recording %d is left out (aplomb logbook check says more, aplomb logbook erase %d takes it out for good): %s", id, id, explain(err))})
			continue
		}
		if err != nil {
			return nil, err
		}
		results = append(results, r)
		done.paths = append(done.paths, path)
		if i < len(p.entries) {
			done.entries = append(done.entries, p.entries[i])
		}
	}
	*p = done
	p.name(results)
	return results, nil
}

// writeJSON writes v as one line.
func writeJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	return e.Encode(v)
}

func printResult(w io.Writer, title string, r *measure.Result) {
	fmt.Fprintln(w, title)
	if len(r.Releves) == 0 {
		fmt.Fprintln(w, "no relevé in it")
	} else {
		printReleves(w, r.Releves)
	}
	printWarnings(w, words.Warnings(r.Warnings))
	printDoubts(w, r.Releves)
}

func printReleves(w io.Writer, releves []measure.Releve) {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	// What follows the last tab is no cell, so that it stays on the left.
	fmt.Fprintln(t, "n\tfoot\tstart s\thold s\tload N\tover mm\tmedial mm\tcontact\tload share\t  verdict")
	for _, one := range releves {
		fmt.Fprintf(t, "%d\t%s\t%.2f\t", one.N, one.Foot, one.StartS)
		if one.Status != measure.Measured {
			fmt.Fprintf(t, "\t\t\t\t\t\t  %s\n", one.Status)
			continue
		}
		share := ""
		if one.LoadShare != nil {
			share = fmt.Sprintf("%.2f", *one.LoadShare)
		}
		fmt.Fprintf(t, "%.2f\t%.0f\t%s ± %.1f\t%s ± %.1f\t%s\t%s\t  %s\n", one.HoldS, one.LoadN,
			words.Number(one.OverMM, 1), one.UOverMM, words.Number(one.MedialMM, 1), one.UMedialMM,
			words.DisplayOf(measure.ContactShare).Value(one.ContactShare), share, verdict(&one))
	}
	t.Flush()
	fmt.Fprintln(w, "± is one standard uncertainty")
}

// verdict says where the dancer stood, and whether that counts.
func verdict(one *measure.Releve) string {
	text := words.Verdict(one.Verdict, one.MedialMM)
	if one.Discarded {
		text += ", discarded"
	}
	return text
}

// printDoubts says what is to be known of single relevés, each thing once.
func printDoubts(w io.Writer, releves []measure.Releve) {
	type doubt struct {
		text string
		foot device.Foot
	}
	about := map[doubt][]string{}
	var order []doubt
	for _, one := range releves {
		for _, text := range words.Warnings(one.Warnings) {
			d := doubt{text, one.Foot}
			if about[d] == nil {
				order = append(order, d)
			}
			about[d] = append(about[d], strconv.Itoa(one.N))
		}
	}
	for _, d := range order {
		fmt.Fprintf(w, "%s, relevé %s: %s\n", d.foot, strings.Join(about[d], ", "), d.text)
	}
}

func printWarnings(w io.Writer, warnings []string) {
	for _, text := range warnings {
		fmt.Fprintln(w, "warning:", text)
	}
}
