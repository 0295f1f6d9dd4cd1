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

// stopOf returns the advice to stop because of pain, "" for none. It is the first text on
// a sheet.
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

// stop is the advice to stop because of pain on the fitting sheet.
type stop struct {
	Why   string // the sentence that says stop
	Known string // pain recorded in the logbook; empty where there is none
	Limit string // the level of pain that is the limit; empty where unknown
}

// newStop returns the advice to stop, nil where there is none.
func newStop(d Data) *stop {
	advice := stopOf(d)
	if advice == "" {
		return nil
	}
	s := &stop{Why: say("fitting stop"), Known: painKnown(d)}
	if why, _, found := strings.Cut(advice+" ", ". "); found && strings.HasPrefix(why, say("fitting stop begins")) {
		s.Why = say("sentence", why)
	}
	if strings.HasSuffix(advice, ")") {
		s.Limit = say("fitting stop limit", measure.StopAtPain, measure.StopAtRise)
	}
	return s
}

// painKnown returns when and where there was pain and in which shoe, as far as recorded
// in the logbook.
func painKnown(d Data) string {
	var parts []string
	for _, v := range d.Comparison.VisitRecords {
		if v.PainBefore != nil {
			before := say("fitting pain before", words.OfTen(v.PainBefore))
			if v.PainWhere != "" {
				before = say("fitting pain where", before, v.PainWhere)
			}
			parts = append(parts, say("sentence", before))
		}
		if v.PainAfter != nil {
			parts = append(parts, say("sentence", say("fitting pain after", words.OfTen(v.PainAfter))))
		}
	}
	for _, o := range d.Comparison.Observations {
		if o.Remark != nil && o.Remark.Pain != nil && *o.Remark.Pain > 0 {
			parts = append(parts, say("sentence", say("fitting pain in", shoesOf(o.Shoes), words.OfTen(o.Remark.Pain))))
		}
	}
	if last := lastStarted(d.Results); last != nil && shoesOf(last.Recording.Shoes) != "" {
		parts = append(parts, say("sentence", say("fitting pain last", shoesOf(last.Recording.Shoes))))
	}
	return shortened(strings.Join(parts, " "), maxPain)
}

// lastStarted returns the recording that began last, nil where there is none with a time.
func lastStarted(results []*measure.Result) (last *measure.Result) {
	for _, r := range results {
		if !r.Meta.Started.IsZero() && (last == nil || !r.Meta.Started.Before(last.Meta.Started)) {
			last = r
		}
	}
	return last
}

// These limits keep the fitting sheet on one A4 or Letter page.
const (
	maxChoice  = 110 // characters of the fitter's choice and why
	maxQuoted  = 60  // characters of a note
	maxOneShoe = 110 // characters of what was seen and said of one shoe
	maxMixed   = 2   // lines of what was seen where the feet wore different shoes
	maxPain    = 220 // characters of what is known of the pain
	maxComfort = 50  // characters of the dancer's comfort in one shoe
)

// choices returns the shoe that the fitter chose and why, a line for each visit with a
// choice.
func choices(visits []measure.Visit) (lines []string) {
	for _, v := range visits {
		if v.Choice == "" {
			continue
		}
		line := say("fitting choice", shortened(v.Choice, maxCode))
		if v.ChoiceWhy != "" {
			line += " " + say("fitting choice why", v.ChoiceWhy)
		}
		lines = append(lines, shortened(line, maxChoice))
	}
	return lines[:min(len(lines), maxDrawn)]
}

// comforts returns the dancer's remarks on each shoe, in the order of the recordings:
// comfort and where it pinches. Where there are more than maxDrawn shoes, each has its
// comfort only.
func comforts(observations []compare.Observation) (texts []string) {
	shoes, all := byShoes(observations)
	var short []string
	for _, shoe := range shoes {
		r := joinRemarks(all[shoe])
		comfort := strings.Join(r.comforts, ", ")
		if len(shoes) > maxDrawn {
			if comfort != "" {
				short = append(short, say("fitting felt short", shortened(strings.TrimPrefix(shoe, say("lab worn", "")), maxCode/2), comfort))
			}
			continue
		}
		var parts []string
		if comfort != "" {
			parts = append(parts, say("of five", comfort))
		}
		parts = append(parts, words.Seen(measure.Remark{Pinches: r.pinches})...)
		if parts != nil {
			texts = append(texts, say("fitting felt", shortened(firstUpper(shoe), maxCode+5), shortened(joined(parts...), maxComfort)))
		}
	}
	if short != nil {
		return []string{joined(short...)}
	}
	return texts
}

// byShoes returns the observations by the shoes of their recordings, as shoesOf names
// them, and these names in the order of the recordings.
func byShoes(observations []compare.Observation) (order []string, all map[string][]compare.Observation) {
	all = map[string][]compare.Observation{}
	for _, o := range observations {
		shoes := shoesOf(o.Shoes)
		if all[shoes] == nil {
			order = append(order, shoes)
		}
		all[shoes] = append(all[shoes], o)
	}
	return order, all
}

// seenIn returns the observations in recordings in which no foot wore a shoe other than
// the one given by its code.
func seenIn(observations []compare.Observation, code string) string {
	_, all := byShoes(observations)
	r := joinRemarks(all[say("lab worn", code)])
	return strings.Join(append(words.Seen(measure.Remark{Saw: r.saw}), r.quoted...), "; ")
}

// seenInMixed returns the observations in recordings in which the feet wore different
// shoes, one line for each pair of shoes.
func seenInMixed(observations []compare.Observation) (lines []string) {
	shoes, all := byShoes(observations)
	for _, pair := range shoes {
		if o := all[pair][0].Shoes; o.Left == nil || o.Right == nil || *o.Left == *o.Right {
			continue
		}
		r := joinRemarks(all[pair])
		if said := append(words.Seen(measure.Remark{Saw: r.saw}), r.quoted...); len(said) > 0 {
			lines = append(lines, shortened(say("fitting felt", firstUpper(pair), strings.Join(said, "; ")), maxOneShoe))
		}
	}
	return lines[:min(len(lines), maxMixed)]
}

// remarks are the remarks on several recordings, without repetition.
type remarks struct{ saw, pinches, comforts, quoted []string }

// joinRemarks returns the observations and remarks in recordings of one shoe. Notes from
// before the first relevé are about the recording and not about the shoe, and so is the
// note that the shoes are on.
func joinRemarks(observations []compare.Observation) (all remarks) {
	add := func(to *[]string, more ...string) {
		for _, one := range more {
			if !slices.Contains(*to, one) {
				*to = append(*to, one)
			}
		}
	}
	for _, o := range observations {
		for _, n := range o.Notes {
			if n.Releve > 0 && n.Text != measure.ShoesOn {
				add(&all.quoted, say("quoted", shortened(n.Text, maxQuoted)))
			}
		}
		if r := o.Remark; r != nil {
			add(&all.saw, r.Saw...)
			add(&all.pinches, r.Pinches...)
			if r.Note != "" {
				add(&all.quoted, say("quoted", shortened(r.Note, maxQuoted)))
			}
			if r.Comfort > 0 {
				add(&all.comforts, strconv.Itoa(r.Comfort))
			}
		}
	}
	return all
}

// saidLine is a line of remarks on a visit or a recording, on the lab sheet.
type saidLine struct {
	Of    string
	Lines []string
}

// remarkLines returns all remarks on the visits and the recordings of a comparison.
func remarkLines(c *compare.Comparison) (all []saidLine) {
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
