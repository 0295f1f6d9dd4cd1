package words

import (
	"fmt"
	"strings"

	"aplomb/analyze/measure"
	"aplomb/device"
)

// Note returns a note with its time and relevé, such as "12.4 s, in relevé 3: ribbon came
// undone".
func Note(n measure.Note) string {
	when := Number(n.TimeS, 1) + " s"
	switch {
	case n.Releve == 0:
		when += ", before the first relevé"
	case n.During:
		when += fmt.Sprintf(", in relevé %d", n.Releve)
	default:
		when += fmt.Sprintf(", after relevé %d", n.Releve)
	}
	return when + ": " + n.Text
}

// Remark returns the remark on a recording in one line.
func Remark(r measure.Remark) string {
	parts := Seen(r)
	if r.Pain != nil {
		parts = append(parts, "pain "+OfTen(r.Pain))
	}
	if r.Decision != "" {
		parts = append(parts, "decided: "+r.Decision)
	}
	return strings.Join(parts, "; ")
}

// Seen returns the observations in a recording, the comfort of the shoe and where it
// pinched, as far as known.
func Seen(r measure.Remark) (parts []string) {
	if len(r.Saw) > 0 {
		parts = append(parts, strings.Join(r.Saw, ", "))
	}
	if r.Note != "" {
		parts = append(parts, "“"+r.Note+"”")
	}
	if r.Comfort > 0 {
		parts = append(parts, fmt.Sprintf("comfort %d of 5", r.Comfort))
	}
	if len(r.Pinches) > 0 {
		parts = append(parts, "pinches at "+strings.Join(r.Pinches, ", "))
	}
	return parts
}

// OfTen writes pain on its scale, "" where unknown.
func OfTen(pain *int) string {
	if pain == nil {
		return ""
	}
	return fmt.Sprintf("%d of 10", *pain)
}

// SingleLeg writes the rises on one leg, by foot; "" where unknown.
func SingleLeg(counts measure.PerFoot[int]) string {
	var feet []string
	for _, f := range device.Feet {
		if n := counts.Of(f); n != nil {
			feet = append(feet, fmt.Sprintf("%s %d", f, *n))
		}
	}
	return strings.Join(feet, ", ")
}

// Visit returns the statements about a visit, one per line, without the advice to stop.
func Visit(v measure.Visit) (lines []string) {
	add := func(label, said string) {
		if said != "" {
			lines = append(lines, label+": "+said)
		}
	}
	choice := v.Choice
	if v.ChoiceWhy != "" {
		choice += " (" + v.ChoiceWhy + ")"
	}
	add("the fitter's choice", choice)
	add("pain before", OfTen(v.PainBefore))
	add("where", v.PainWhere)
	add("pain after", OfTen(v.PainAfter))
	add("rises on one leg", SingleLeg(v.SingleLeg))
	add("warmed up", v.WarmUp)
	if v.MaxRises > 0 {
		add("most rises", fmt.Sprint(v.MaxRises))
	}
	add("note", v.Note)
	return lines
}
