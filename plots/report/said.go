package report

import (
	"slices"
	"strconv"
	"strings"

	"aplomb/analyze/advise"
	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/plots/words"
)

// stopOf returns the advice to stop because of pain, "" for none. It stands before
// everything else on a sheet.
func stopOf(d Data) string {
	if d.Comparison.Stop == "" && !d.Seen.Pain {
		return ""
	}
	seen := d.Seen
	seen.Pain = true
	if d.Comparison.Stop != "" {
		seen.Stop = d.Comparison.Stop
	}
	a, err := advise.Next(d.Comparison, "", seen)
	if err != nil {
		return seen.Stop
	}
	return a.Notices[0]
}

// These limits keep the fitting sheet on one A4 page.
const (
	maxChoice  = 100 // characters of the fitter's choice and why
	maxQuoted  = 60  // characters of a note
	maxOneShoe = 140 // characters of what was seen and said of one shoe
)

// choices returns the shoe that the fitter chose and why, a line for each visit with a
// choice.
func choices(visits []measure.Visit) (lines []string) {
	for _, v := range visits {
		if v.Choice == "" {
			continue
		}
		line := say("fitting choice", shortened(v.Choice, 40))
		if v.ChoiceWhy != "" {
			line = say("fitting choice why", shortened(v.Choice, 40), v.ChoiceWhy)
		}
		lines = append(lines, shortened(line, maxChoice))
	}
	return lines
}

// saidOfShoes returns what was seen and said of each shoe, a line a shoe, in the order of
// the recordings.
func saidOfShoes(observations []compare.Observation) (lines []string) {
	var order []string
	all := map[string][]compare.Observation{}
	for _, o := range observations {
		shoe := shoesOf(o.Shoes)
		if all[shoe] == nil {
			order = append(order, shoe)
		}
		all[shoe] = append(all[shoe], o)
	}
	for _, shoe := range order {
		if said := seenIn(all[shoe]); said != "" {
			lines = append(lines, shortened(strings.ToUpper(shoe[:min(1, len(shoe))])+shoe[min(1, len(shoe)):], 40)+": "+shortened(said, maxOneShoe)+".")
		}
	}
	return lines[:min(len(lines), maxWears)]
}

// seenIn returns what was seen and said in recordings of one shoe, each thing once. Notes
// from before the first relevé are about the recording and not about the shoe.
func seenIn(observations []compare.Observation) string {
	var all measure.Remark
	var comforts, quoted []string
	add := func(to *[]string, more ...string) {
		for _, one := range more {
			if !slices.Contains(*to, one) {
				*to = append(*to, one)
			}
		}
	}
	for _, o := range observations {
		for _, n := range o.Notes {
			if n.Releve > 0 {
				add(&quoted, say("quoted", shortened(n.Text, maxQuoted)))
			}
		}
		if r := o.Remark; r != nil {
			add(&all.Saw, r.Saw...)
			add(&all.Pinches, r.Pinches...)
			if r.Note != "" {
				add(&quoted, say("quoted", shortened(r.Note, maxQuoted)))
			}
			if r.Comfort > 0 {
				add(&comforts, strconv.Itoa(r.Comfort))
			}
		}
	}
	parts := words.Seen(measure.Remark{Saw: all.Saw})
	if comforts != nil {
		parts = append(parts, say("comfort", strings.Join(comforts, ", ")))
	}
	parts = append(parts, words.Seen(measure.Remark{Pinches: all.Pinches})...)
	return strings.Join(append(parts, quoted...), "; ")
}

// saidLine is what was said of a visit or of a recording, on the lab sheet.
type saidLine struct {
	Of    string
	Lines []string
}

// said returns all that was said of the visits and the recordings of a comparison.
func said(c *compare.Comparison) (all []saidLine) {
	for _, v := range c.VisitRecords {
		if lines := words.Visit(v); len(lines) > 0 {
			all = append(all, saidLine{say("lab said visit", v.Name), lines})
		}
	}
	for _, o := range c.Observations {
		line := saidLine{Of: joined(o.Recording, shoesOf(o.Shoes))}
		if o.Remark != nil {
			line.Lines = append(line.Lines, words.Remark(*o.Remark))
		}
		for _, n := range o.Notes {
			line.Lines = append(line.Lines, say("lab note", words.Note(n)))
		}
		all = append(all, line)
	}
	return all
}
