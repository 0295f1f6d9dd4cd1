package output

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"aplomb/analyze/document"
	"aplomb/analyze/logbook"
	"aplomb/analyze/study"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/text"
	"aplomb/device"
	"aplomb/plots/words"
)

// StudyProgress returns the progress of a study, with its provenance.
func StudyProgress(l *logbook.Logbook, name string) (*study.Progress, error) {
	s, err := l.Study(name)
	if err != nil {
		return nil, lookup.Hint(err, "aplomb study list")
	}
	made, err := l.StudyMade(s.Name)
	if err != nil {
		return nil, err
	}
	all, err := l.StudyRecordings(s.Name)
	if err != nil {
		return nil, err
	}
	withdrawn, err := l.Withdrawn()
	if err != nil {
		return nil, err
	}
	all = slices.DeleteFunc(all, func(r logbook.Recording) bool { return withdrawn[r.Dancer] })
	p := s.Follow(made)
	p.Provenance, err = from(l, all...)
	return &p, err
}

// StudiesJSON returns every study of the logbook with its progress.
func StudiesJSON(l *logbook.Logbook) (*document.Studies, error) {
	all, err := l.Studies()
	if err != nil {
		return nil, err
	}
	list := &document.Studies{Studies: []document.StudySummary{}, Provenance: Provenance()}
	for _, s := range all {
		made, err := l.StudyMade(s.Name)
		if err != nil {
			return nil, err
		}
		p := s.Follow(made)
		list.Studies = append(list.Studies, document.StudySummary{
			Study: s.Name, Declared: s.Declared, Measure: s.Measure, Dancers: s.Dancers(), Complete: p.Complete, Stop: s.Stop,
		})
	}
	return list, nil
}

// StudyDeclared prints a study that was declared.
func StudyDeclared(w io.Writer, s study.Study, balance string) {
	fmt.Fprintf(w, "study %s, declared %s, seed %d\n", s.Name, s.Declared, s.Seed)
	fmt.Fprintln(w, text.Wrap(fmt.Sprintf("%s %s %s, %s of each shoe in a visit, at least %s in each.", s.Decides(), s.Rule(),
		words.Count(s.Visits, "visit", "visits"), words.Count(s.Mountings, "mounting", "mountings"), words.Count(s.Releves, "relevé", "relevés"))))
	headings := []string{"dancer"}
	for i := range s.Shoes {
		headings = append(headings, strconv.Itoa(i+1))
	}
	var rows [][]string
	for _, row := range s.Rows {
		rows = append(rows, append([]string{row.Dancer}, s.Labels(row.Order)...))
	}
	text.Table(w, headings, rows)
	fmt.Fprintln(w, text.Wrap(balance))
	if few := s.TooFew(); few != "" {
		fmt.Fprintln(w, text.Wrap(few))
	}
	fmt.Fprintln(w, text.Wrap(fmt.Sprintf("aplomb study key %s --reason TEXT shows which shoe each label is, to whoever puts the labels on and not to whoever fits.", text.Quoted(s.Name))))
}

// StudyStatus prints what has been recorded for a study and what is missing.
func StudyStatus(w io.Writer, p *study.Progress) {
	fmt.Fprintf(w, "study %s, declared %s, primary measure %s\n", p.Study, p.Declared, p.Measure)
	headings := []string{"row", "dancer", "order"}
	for v := range p.Visits {
		headings = append(headings, fmt.Sprintf("visit %d", v+1))
	}
	var rows [][]string
	for _, d := range p.Dancers {
		row := []string{strconv.Itoa(d.Row), cmp.Or(d.Dancer, "erased"), strings.Join(d.Order, " ")}
		for _, v := range d.Visits {
			row = append(row, fmt.Sprintf("%d of %d", v.Done, v.Planned))
		}
		rows = append(rows, row)
	}
	text.Table(w, headings, rows)
	for _, d := range p.Dancers {
		for _, v := range d.Visits {
			if len(v.Missing) > 0 && v.Done+len(v.Missing) == v.Planned && v.Name != "" {
				fmt.Fprintln(w, text.Wrap(fmt.Sprintf("%s, visit %d (%s): %s", cmp.Or(d.Dancer, "erased"), v.Visit, v.Name, missing(v.Missing))))
			}
		}
	}
	fmt.Fprintln(w, text.Wrap(StudyCompleteness(p)))
	printEarlier(w, p.Before)
	printChanges(w, p.Changes)
}

func printEarlier(w io.Writer, recordings int) {
	if said := study.EarlierThanDeclared(recordings); said != "" {
		fmt.Fprintln(w, text.Wrap(said))
	}
}

// missing lists mountings that are missing.
func missing(all []study.Missing) string {
	var said []string
	for _, m := range all {
		one := fmt.Sprintf("%s, mounting %d", m.Label, m.Mounting)
		if m.Has != "" {
			one += " (" + m.Has + ")"
		}
		said = append(said, one)
	}
	return "missing " + strings.Join(said, "; ")
}

// StudyCompleteness returns what is missing for comparing a study.
func StudyCompleteness(p *study.Progress) string {
	said := fmt.Sprintf("%d of %s all recordings; the shoes are compared after %d", p.Complete, words.Count(len(p.Dancers), "dancer has", "dancers have"), p.Stop)
	if p.Reached {
		return said + ": that is reached."
	}
	return said + "."
}

func printChanges(w io.Writer, all []study.ChangeRecord) {
	for _, c := range all {
		said := fmt.Sprintf("%s, %s: %s", c.Day, c.Kind, c.Text)
		if c.Reason != "" {
			said += " (" + c.Reason + ")"
		}
		fmt.Fprintln(w, text.Wrap(said))
	}
}

// CheckStudy returns the faults of the recordings of a study. faults are those of the
// files of recordings, by number.
func CheckStudy(l *logbook.Logbook, s study.Study, all []logbook.Recording, faults map[int64]string) (*document.StudyChecked, error) {
	p, err := StudyProgress(l, s.Name)
	if err != nil {
		return nil, err
	}
	c := &document.StudyChecked{Study: s.Name, Recordings: []document.StudyFault{}, Provenance: p.Provenance}
	visits, err := l.StudyVisits(s.Name)
	if err != nil {
		return nil, err
	}
	usual := mostly(all)
	for _, d := range p.Dancers {
		for _, v := range d.Visits {
			c.Mountings += v.Planned
			c.Missing += v.Planned - v.Done
		}
	}
	for _, r := range all {
		at := slices.IndexFunc(visits, func(v logbook.Visit) bool { return v.ID == r.VisitID })
		d, err := l.Dancer(r.Dancer)
		if err != nil {
			return nil, err
		}
		if d.Consent == logbook.ConsentWithdrawn || s.Row(r.Dancer) == 0 {
			c.LeftOut++
			continue
		}
		c.Checked++
		one := document.StudyFault{Number: r.ID, Dancer: r.Dancer, Visit: r.VisitName, OfStudy: visits[at].OfStudy, Label: shoesOf(s, r), What: []string{}}
		if faults[r.ID] != "" {
			one.What = append(one.What, faults[r.ID])
		}
		if one.OfStudy > s.Visits {
			one.What = append(one.What, fmt.Sprintf("of visit %d, and the study has %d of each dancer: it does not count", one.OfStudy, s.Visits))
		}
		one.What = append(one.What, wrongWith(s, r)...)
		one.What = append(one.What, unusual(r, usual)...)
		one.What = append(one.What, notesOn(p, r)...)
		if len(one.What) > 0 {
			c.Recordings = append(c.Recordings, one)
		}
	}
	return c, nil
}

// shoesOf names the shoes of a recording by their labels.
func shoesOf(s study.Study, r logbook.Recording) string {
	return text.EachFoot(r, func(f *logbook.RecordedFoot) string { return s.Label(f.Shoe) })
}

// wrongWith returns the differences between a recording and the declaration of the study.
func wrongWith(s study.Study, r logbook.Recording) (what []string) {
	for _, f := range device.Feet {
		switch foot := r.Feet[f]; {
		case foot == nil && s.Feet[f]:
			what = append(what, fmt.Sprintf("no %s foot", f))
		case foot != nil && s.Label(foot.Shoe) == foot.Shoe:
			what = append(what, fmt.Sprintf("shoe %s on the %s foot, which is not in the study", foot.Shoe, f))
		}
	}
	if r.Feedback != "" && r.Feedback != device.Feedbacks[0] {
		what = append(what, "feedback "+r.Feedback+" to the dancer")
	}
	switch {
	case r.Remark.Rejected():
		what = append(what, "not used: "+r.Remark.Decision)
	case r.Measures == logbook.Stale:
		what = append(what, "measured with another algorithm or before a correction")
	case r.Measures == logbook.NotMeasured:
		what = append(what, "not measured")
	}
	return what
}

// conditions are the conditions of a recording that are constant within a study. Shoes
// are identified with their versions, so that a new measurement in between is detected.
var conditions = []struct {
	name string
	of   func(logbook.Recording) string
}{
	{"support", func(r logbook.Recording) string { return r.Support }},
	{"rise", func(r logbook.Recording) string { return r.Rise }},
	{"position", func(r logbook.Recording) string { return r.Position }},
	{"floor", func(r logbook.Recording) string { return r.Floor }},
	{"left strip", func(r logbook.Recording) string { return stripOf(r, device.Left) }},
	{"right strip", func(r logbook.Recording) string { return stripOf(r, device.Right) }},
}

func stripOf(r logbook.Recording, f device.Foot) string {
	if r.Feet[f] == nil {
		return ""
	}
	return r.Feet[f].Strip
}

// mostly returns the most frequent value of each condition, and of the version of each shoe.
func mostly(all []logbook.Recording) map[string]string {
	count := map[string]map[string]int{}
	add := func(name, value string) {
		if count[name] == nil {
			count[name] = map[string]int{}
		}
		count[name][value]++
	}
	for _, r := range all {
		for _, c := range conditions {
			add(c.name, c.of(r))
		}
		for _, f := range r.Feet {
			if f != nil {
				add("shoe "+f.Shoe, strconv.Itoa(f.ShoeVersion))
			}
		}
	}
	usual := map[string]string{}
	for name, values := range count {
		most := 0
		for value, n := range values {
			if n > most || n == most && value < usual[name] {
				usual[name], most = value, n
			}
		}
	}
	return usual
}

// unusual returns the conditions in which a recording differs from most.
func unusual(r logbook.Recording, usual map[string]string) (what []string) {
	for _, c := range conditions {
		if is := c.of(r); is != usual[c.name] && !(c.name == "left strip" && r.Feet[device.Left] == nil) && !(c.name == "right strip" && r.Feet[device.Right] == nil) {
			what = append(what, fmt.Sprintf("%s: %s, mostly %s", c.name, cmp.Or(is, "not stated"), cmp.Or(usual[c.name], "not stated")))
		}
	}
	for f, foot := range r.Feet {
		if foot != nil && usual["shoe "+foot.Shoe] != strconv.Itoa(foot.ShoeVersion) {
			what = append(what, fmt.Sprintf("the shoe of the %s foot is described otherwise than mostly", device.Foot(f)))
		}
	}
	return what
}

// notesOn returns the notes on a recording in the plan of its visit.
func notesOn(p *study.Progress, r logbook.Recording) (what []string) {
	prefix := fmt.Sprintf("recording %d: ", r.ID)
	for _, d := range p.Dancers {
		for _, v := range d.Visits {
			for _, n := range v.Notes {
				if said, ok := strings.CutPrefix(n, prefix); ok && d.Dancer == r.Dancer {
					what = append(what, said)
				}
			}
		}
	}
	return what
}

// StudyChecked prints the faults of the recordings of a study.
func StudyChecked(w io.Writer, c *document.StudyChecked) {
	for _, r := range c.Recordings {
		fmt.Fprintf(w, "recording %d, %s, visit %d, %s: %s\n", r.Number, r.Dancer, r.OfStudy, r.Label, strings.Join(r.What, "; "))
	}
	said := fmt.Sprintf("%s checked, %d not right", words.Count(c.Checked, "recording", "recordings"), len(c.Recordings))
	fmt.Fprintf(w, "%s; %d of %d mountings missing\n", said, c.Missing, c.Mountings)
	if c.LeftOut > 0 {
		fmt.Fprintf(w, "%s of dancers who dropped out or withdrew left out\n", words.Count(c.LeftOut, "recording", "recordings"))
	}
}

// StudyComparison prints the shoes of a study compared over dancers.
func StudyComparison(w io.Writer, s study.Study, c *study.Comparison) {
	show := words.DisplayOf(c.Measure)
	fmt.Fprintln(w, text.Wrap(fmt.Sprintf("%s in study %s, declared %s. %s", show.Title, c.Study, c.Declared, s.Decides())))
	if c.Interim {
		fmt.Fprintln(w, text.Wrap(fmt.Sprintf("INTERIM: %d of %d dancers are complete. Shoes are under their labels, nothing is called clear, and the logbook keeps that it was looked at.", c.Complete, c.Stop)))
	} else {
		fmt.Fprintln(w, text.Wrap(fmt.Sprintf("%s complete, compared after %d.", words.Count(c.Complete, "dancer is", "dancers are"), c.Stop)))
	}
	if c.ChangedAfterLook && !c.Interim {
		fmt.Fprintln(w, text.Wrap(study.AfterLook))
	}
	printEarlier(w, c.Before)
	var rows [][]string
	for _, o := range c.Shoes {
		row := []string{o.Shoe, o.Label, strconv.Itoa(o.Dancers), "–", "–"}
		if o.Mean != nil {
			row[3] = strings.TrimSpace(words.Number(*o.Mean*show.Scale, show.Decimals+1) + " " + show.Unit)
		}
		if o.SD != nil {
			row[4] = show.Fine(*o.SD)
		}
		rows = append(rows, row)
	}
	text.Table(w, []string{"shoe", "label", "dancers", "mean", "SD between dancers"}, rows)
	fmt.Fprintln(w)
	rows = nil
	for _, p := range c.Pairs {
		row := append([]string{p.To + " less " + p.From}, shiftCells(p.Shift, signed(show, 1), show.DiffUnit)...)
		rows = append(rows, append(row, pValue(p.P, p.PSE), pValue(p.PHolm, 0), string(p.Wording)))
	}
	text.Table(w, []string{"difference", "dancers", "estimate", "95 % interval", "p", "p, Holm", ""}, rows)
	printOther(w, c)
	printProperties(w, c)
	printRefused(w, c.LeftOut)
	printChanges(w, c.Changes)
}

// shiftCells returns the number of dancers, the estimate with its unit, and its interval.
func shiftCells(s study.Shift, number func(float64) string, unit string) []string {
	cells := []string{strconv.Itoa(s.Dancers), "–", "–"}
	if s.Estimate != nil {
		cells[1] = strings.TrimSpace(number(*s.Estimate) + " " + unit)
	}
	if s.CI95 != nil {
		cells[2] = number(s.CI95[0]) + " to " + number(s.CI95[1])
	}
	return cells
}

// signed returns a function that writes a difference, with more decimals than a value.
func signed(show words.Display, more int) func(float64) string {
	return func(v float64) string { return words.Signed(v*show.Scale, show.Decimals+more) }
}

// pValue writes a p-value with its standard error, where it has one.
func pValue(p *float64, se float64) string {
	switch {
	case p == nil:
		return "–"
	case *p < 0.0005:
		return "< 0.001"
	case se >= 0.0005:
		return words.Number(*p, 3) + " ± " + words.Number(se, 3)
	}
	return words.Number(*p, 3)
}

func printOther(w io.Writer, c *study.Comparison) {
	if len(c.Other) == 0 {
		return
	}
	fmt.Fprintln(w, "\nThe other declared measures, without a test:")
	var rows [][]string
	for _, o := range c.Other {
		show := words.DisplayOf(o.Measure)
		rows = append(rows, append([]string{show.Label, o.To + " less " + o.From}, shiftCells(o.Shift, signed(show, 1), show.DiffUnit)...))
	}
	text.Table(w, []string{"measure", "difference", "dancers", "estimate", "95 % interval"}, rows)
}

func printProperties(w io.Writer, c *study.Comparison) {
	if len(c.Properties) == 0 {
		return
	}
	show := words.DisplayOf(c.Measure)
	fmt.Fprintf(w, "\n%s, change with one more of what describes a shoe:\n", show.Title)
	var rows [][]string
	for _, p := range c.Properties {
		row := []string{p.Of, fmt.Sprintf("%s to %s %s", words.Number(p.Least, 1), words.Number(p.Most, 1), p.Unit), strconv.Itoa(p.Shoes)}
		rows = append(rows, append(row, shiftCells(p.Shift, signed(show, slopeDecimals(p.Shift, show)), strings.TrimSpace(show.DiffUnit+" a "+p.Unit))...))
	}
	text.Table(w, []string{"property", "from", "shoes", "dancers", "estimate", "95 % interval"}, rows)
	fmt.Fprintln(w, text.Wrap(study.Cause))
}

// slopeDecimals returns the number of additional decimals of a slope: two, or as many as it
// takes for two significant digits, because the slope over an area in mm² is small.
func slopeDecimals(s study.Shift, show words.Display) int {
	more := 2
	if s.Estimate == nil || *s.Estimate == 0 {
		return more
	}
	for more < 5 && math.Abs(*s.Estimate)*show.Scale < math.Pow10(1-show.Decimals-more) {
		more++
	}
	return more
}
