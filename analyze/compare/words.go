package compare

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"aplomb/analyze/measure"
	"aplomb/analyze/verdict"
	"aplomb/device"
)

// This file contains the sentences of a comparison, except those of headline.go and
// effort.go.

// SharesText returns a sentence with the shares.
func (r *VarianceShares) SharesText() string {
	var words []string
	for _, p := range r.Parts() {
		words = append(words, p.Of+" "+p.Percent())
	}
	return fmt.Sprintf("What the difference in over from %s to %s on the %s foot, ±%s mm, rests on: %s of the variance. %s",
		r.From, r.To, r.Foot, decimal(r.HalfWidth), joinWords(words), r.effectText())
}

// effectText returns a sentence about the mounting effect.
func (r *VarianceShares) effectText() string {
	return fmt.Sprintf("Mountings differ by %s mm beyond relevés and seat, %s.", decimal(r.MountingEffect.SD), originText(r.MountingEffect))
}

// Percent formats a share, "under 1 %" where it is small.
func (p Part) Percent() string {
	if p.Share < 0.005 {
		return "under 1 %"
	}
	return fmt.Sprintf("%.0f %%", 100*p.Share)
}

// RemediesText returns one or two sentences about the remedies that would make
// the interval narrower and those that would not.
func (r *VarianceShares) RemediesText() string {
	var would, not []string
	for _, m := range r.Remedies {
		if decimal(m.HalfWidth) == decimal(r.HalfWidth) || m.HalfWidth > r.HalfWidth { // fewer degrees of freedom can widen it
			not = append(not, m.Do)
			continue
		}
		verb := "to"
		if would == nil {
			verb = "would bring it to"
		}
		would = append(would, fmt.Sprintf("%s %s ±%s mm", m.Do, verb, decimal(m.HalfWidth)))
	}
	var sentences []string
	if would != nil {
		sentences = append(sentences, sentence(strings.Join(would, ", ")))
	}
	if not != nil {
		sentences = append(sentences, sentence(joinWords(not)+" would not improve it"))
	}
	return strings.Join(sentences, " ")
}

// sentence capitalises s and adds a full stop.
func sentence(s string) string { return capital(s) + "." }

// onFeet names one foot or both: on both feet.
func onFeet(feet []device.Foot) string {
	if len(feet) == 2 {
		return "on both feet"
	}
	return "on the " + feet[0].String() + " foot"
}

// footText returns where the load sits in every shoe on foot f, and how much further
// forward or back than in the first; "" where nothing was measured.
func footText(pools []*pool, labels []string, f device.Foot, claimed claims) string {
	var parts []string
	for _, p := range pools {
		if p.foot != f {
			continue
		}
		v, misses, at := p.verdict()
		sits := verdict.Sits(v, misses, at[0])
		if phraseOf(p) == singlePhrase {
			sits = "sits, in a single relevé"
		}
		var numbers []string
		if v != measure.ToTheSide || len(misses) > 1 {
			numbers = append(numbers, PlaceText(measure.Over, p.summaryOf(measure.Over)))
		}
		if v == measure.ToTheSide || len(misses) > 1 {
			numbers = append(numbers, PlaceText(measure.Medial, p.summaryOf(measure.Medial)))
		}
		parts = append(parts, SitsText(p.name(), sits, numbers, len(parts) > 0))
	}
	if parts == nil {
		return ""
	}
	sentences := []string{capital(f.String()) + " foot: " + strings.Join(parts, " ")}
	for _, other := range labels[1:] {
		if a, b := matchingPools(pools, f, labels[0], other); a != nil {
			sentences = append(sentences, differenceText(a, b, claimed))
		}
	}
	if one, other := othersOf(labels); one != "" {
		if a, b := matchingPools(pools, f, one, other); a != nil {
			sentences = append(sentences, differenceText(a, b, claimed))
		}
	}
	return strings.Join(sentences, " ")
}

// differenceText returns the primary measure of shoe b relative to that of shoe a, in
// words.
func differenceText(a, b *pool, claimed claims) string {
	m := measure.Over
	d, _ := difference(a, b, m, claimed)
	where, amount, ci := "further forward", d.Difference, d.CI95
	if amount < 0 {
		where, amount = "further back", -amount
		if ci != nil {
			ci = &[2]float64{-ci[1], -ci[0]}
		}
	}
	sure := "no interval"
	if ci != nil {
		sure = fmt.Sprintf("95 %% interval %s to %s: %s", decimal(ci[0]), decimal(ci[1]), d.Wording.Judged(ci))
	}
	return fmt.Sprintf("In %s the load sits %s mm %s than in %s (%s).", b.name(), decimal(amount), where, a.name(), sure)
}

// AfterAdjusting is the reason why a difference whose interval excludes 0 is not clear.
const AfterAdjusting = "after adjusting for the number of comparisons"

// Judged returns the wording of a difference; where its interval excludes 0 and it is not
// clear, with the reason.
func (w Wording) Judged(ci *[2]float64) string {
	if w == CouldBeChance && ci != nil && excludesZero(ci) {
		return string(w) + " " + AfterAdjusting
	}
	return string(w)
}

// othersOf returns the second and third of three shoes, "" for another number.
func othersOf(labels []string) (one, other string) {
	if len(labels) != 3 {
		return "", ""
	}
	return labels[1], labels[2]
}

// SitsText returns the sentence about where the load sits in a shoe; sits is as verdict.Sits
// has it, numbers are as PlaceText has them. Where it follows a sentence about another shoe,
// it does not name the load again.
func SitsText(shoe, sits string, numbers []string, follows bool) string {
	the, where := "the load", sits
	if follows {
		the = "it"
		if rest, over := strings.CutPrefix(sits, "sits over"); over {
			where = "is over" + rest
		}
	}
	text := fmt.Sprintf("in %s %s %s, %s.", shoe, the, where, strings.Join(numbers, " and "))
	if follows {
		return capital(text)
	}
	return text
}

// PlaceText returns the distance of a mean of over or medial, mm, from the centre of the
// platform in words, with its 95 % interval.
func PlaceText(m measure.Measure, s Summary) string {
	low, high := "behind", "in front of"
	if m == measure.Medial {
		low, high = "to the little-toe side of", "to the big-toe side of"
	}
	side := func(v float64) string {
		if v < 0 {
			return low
		}
		return high
	}
	end := func(v float64) string { return strings.TrimSuffix(side(v), " of") }
	size := func(v float64) string { return decimal(max(v, -v)) }
	sure := "no interval"
	if ci := s.CI95; ci != nil {
		near, far := ci[0], ci[1]
		if s.Mean < 0 {
			near, far = far, near
		}
		sure = fmt.Sprintf("95 %% interval %s to %s", size(near), size(far))
		if ci[0] < 0 && ci[1] > 0 {
			sure = fmt.Sprintf("95 %% interval from %s %s to %s %s", size(near), end(near), size(far), end(far))
		}
	}
	return fmt.Sprintf("%s mm %s the centre (%s)", size(s.Mean), side(s.Mean), sure)
}

// decimal formats x with one decimal and a true minus sign, and never −0.0.
func decimal(x float64) string {
	s := strings.TrimPrefix(fmt.Sprintf("%.1f", x), "-")
	if x < 0 && s != "0.0" {
		return "−" + s
	}
	return s
}

// Apart returns the conditions in which c differs from others, each with its value, such
// as "floor wood, fixing not stated"; "" where there are none.
func Apart(c measure.Conditions, others []measure.Conditions) string {
	differing := c.Differing(others...)
	var names []string
	for _, one := range c.List() {
		if slices.Contains(differing, one.Name) {
			names = append(names, one.Name+" "+cmp.Or(one.Value, "not stated"))
		}
	}
	return strings.Join(names, ", ")
}

// ApartOtherwise is Apart without support and rise, for texts that always name these.
func ApartOtherwise(c measure.Conditions, others []measure.Conditions) string {
	others = slices.Clone(others)
	for i := range others {
		others[i].Support, others[i].Rise = c.Support, c.Rise
	}
	return Apart(c, others)
}

// timesText returns "twice" or "n times".
func timesText(n int) string {
	if n == 2 {
		return "twice"
	}
	return fmt.Sprintf("%d times", n)
}

// joinWords joins words with commas and "and".
func joinWords(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

var propertyWords = map[string]string{
	PlatformWidth: "platform width (mm)", PlatformDepth: "platform depth (mm)",
	Squareness: "squareness of the platform", Box: "box", Crown: "crown (mm)",
	Shank: "shank", ShankLength: "shank length", Vamp: "vamp (mm)",
	Wings: "wings (mm)", Padding: "padding", HoursWorn: "hours worn",
}

// PropertyText returns the name of a property of a shoe for people, with its unit.
func PropertyText(name string) string { return propertyWords[name] }

// PropertyTexts lists the names of properties, without units.
func PropertyTexts(all []Property) string {
	var names []string
	for _, p := range all {
		names = append(names, strings.TrimSuffix(PropertyText(p.Name), " (mm)"))
	}
	return joinWords(names)
}

// jointChangeTexts returns sentences about the shoes that differ clearly from the first in
// over or medial and in several properties: the difference cannot be attributed to any
// one of them.
func jointChangeTexts(changes []Change) (texts []string) {
	var properties []string
	to := map[string][]string{}
	for _, change := range changes {
		moved := slices.ContainsFunc(change.Moved, func(d Difference) bool {
			return d.Wording == Clear && (d.Measure == measure.Over || d.Measure == measure.Medial)
		})
		if !moved || len(change.Properties) < 2 {
			continue
		}
		what := PropertyTexts(change.Properties)
		if to[what] == nil {
			properties = append(properties, what)
		}
		to[what] = append(to[what], change.To)
	}
	for _, what := range properties {
		texts = append(texts, fmt.Sprintf("From %s to %s these changed together: %s. The difference cannot be attributed to any one of them.", changes[0].From, listed(to[what]), what))
	}
	return texts
}
