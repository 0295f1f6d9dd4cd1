package advise

import (
	"fmt"
	"strings"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/analyze/verdict"
)

// This file contains all texts of an advice.

// nothingToChange is the answer where no pattern requires a change.
const nothingToChange = "The measurement gives no reason to change anything."

// notices returns the notices about the advice as a whole. offered reports that it has
// options.
func notices(offered bool) (said []string) {
	if offered {
		said = append(said, "What follows is common practice in the trade; there is no published source for it. These are options to try, not a diagnosis.")
	}
	said = append(said, "Pressure shows where load sits, not what the ankle or the foot does.")
	if offered {
		said = append(said, "Change one thing at a time: only then do the numbers show what it did.")
	}
	return said
}

// notFirst returns the notice that the requested shoe is not the best; best lists those
// that are.
func notFirst(shoe string, best []string) string {
	if len(best) == 1 {
		return fmt.Sprintf("By these numbers shoe %s is better than shoe %s, from which this starts as asked.", best[0], shoe)
	}
	return fmt.Sprintf("Shoe %s, from which this starts as asked, is not in first place; there are %s.", shoe, strings.Join(best, ", "))
}

// sights describes the observed patterns.
var sights = map[Pattern]string{
	Sinks:     "seen by eye: the foot sinks into the box",
	Sickles:   "seen by eye: the foot sickles",
	Bulges:    "seen by eye: the box bulges",
	HeelLoose: "seen by eye: the heel is loose",
}

// texts are the texts of the options, of the measures to watch and of the sign that an
// option helped, by id.
var texts = map[string]struct{ text, watch, sign string }{
	"crown":        {"A higher crown, if this one is low for the foot.", "over should move forward, contact share should grow; make sure that the foot does not sink.", "the weight moves towards the front, and more of the platform carries"},
	"wider":        {"A wider platform.", "over should move towards the centre, contact share should grow; make sure that the foot does not sink.", "the weight comes nearer to the middle, and more of the platform carries"},
	"squarer":      {"A squarer box, less tapered.", "contact share should grow, over move forward; make sure that the foot does not sink.", "the weight moves towards the front, and more of the platform carries"},
	"shank":        {"The shank: softer, three-quarter or harder can each be right; try both ways.", "over, during the rise and in the hold.", "the weight comes nearer to the middle, in the rise and in the hold"},
	"shank length": {"The length of the shank: full or three-quarter.", "over, during the rise and in the hold.", "the weight comes nearer to the middle, in the rise and in the hold"},
	"break":        {"Check where the shank breaks against the arch.", "over, during the rise and in the hold.", "the weight comes nearer to the middle, in the rise and in the hold"},
	"shape":        {"Only after the shank the shape: crown, width, box.", "over, contact share.", "the weight comes nearer to the middle, and more of the platform carries"},
	"wings":        {"The wings: their height on the side that gives way.", "medial; where the load is behind as well, only after over has moved.", "the weight moves away from that side"},
	"width there":  {"The width of the platform on that side.", "medial.", "the weight moves away from that side"},
	"stronger":     {"A stronger shank.", "over should move back, sway should not grow.", "the weight moves towards the back, and the sway does not grow"},
	"longer":       {"A longer shank.", "over should move back, sway should not grow.", "the weight moves towards the back, and the sway does not grow"},
	"vamp":         {"A longer vamp.", "over should move back, sway should not grow.", "the weight moves towards the back, and the sway does not grow"},
	"flat":         {"Check whether the platform is flat, or worn, before trying shoes.", "peak pressure and where it is.", "the pressure has no single peak"},
	"sinking":      {"Check whether the box is too big and the foot sinks into it.", "peak pressure, contact share.", "the pressure has no single peak, and more of the platform carries"},
	"strip":        {"Check whether the strip sits where it should, and mount it again.", "load off the outline.", "all of the weight rests within the platform"},
	"same shoe":    {"The same shoe on both feet first.", "load share, left less right.", "both feet carry about the same weight"},
	"other foot":   {"The foot that is further off may decide which shoe is chosen.", "left less right.", "the feet differ less"},
	"too big":      {"Check whether the box is too big: a narrower width, or a lower crown.", "over and the place of the peak should stay within the hold.", "the weight stays where it is during the hold"},
	"filled":       {"Padding that fills the box, the same on every rise.", "over and the place of the peak should stay within the hold; contact share should not shrink.", "the weight stays where it is during the hold"},
	"softened":     {"Check whether box or shank have softened: a fresher pair.", "over and the place of the peak should stay within the hold.", "the weight stays where it is during the hold"},
	"line":         {"A question for the teacher first: the line from ankle to toes is trained, and no shoe holds it.", "medial, over visits.", "over weeks the weight moves away from the little toe"},
	"length":       {"The length and the heel of the shoe before anything at the box.", "over within the hold; make sure that the heel stays.", "the heel stays in the shoe"},
	"drawstring":   {"Drawstring, ribbons and elastics.", "over within the hold; make sure that the heel stays.", "the heel stays in the shoe"},
	"clinician":    {"If pain goes with it, this is a question for a clinician and not for a shoe.", "load share over visits.", ""},
}

func (o option) text(seen Observations) string {
	t := texts[o.id].text
	if o.id == "crown" && seen.LowCrown {
		t = "A higher crown: this one was seen to be low for the foot."
	}
	return t
}

func (o option) watch() string { return texts[o.id].watch }

func (o option) sign() string { return texts[o.id].sign }

const (
	openBehind = "whether the load is behind as well is too close to call: more relevés, or another mounting, before the side is worked on"
	openWhole  = "whether the whole platform carries load is too close to call: if it does, the shank comes before shape; more relevés, or another mounting, would tell"
)

func openVerdict(releves int) string {
	if releves == 1 {
		return "one relevé does not tell: measure more before changing anything"
	}
	return "inside or outside the kern is too close to call: measure more, best in another mounting, before changing anything"
}

// sawPlace describes the position of the load on one foot.
func sawPlace(s compare.ShoeFoot) string {
	return fmt.Sprintf("%s foot: %s (probability of lying inside the kern %.0f %%), over %s mm, medial %s mm",
		s.Foot, whereText(s), 100*s.PInside, signed(s.Measures[measure.Over].Mean, 1), signed(s.Measures[measure.Medial].Mean, 1))
}

// whereText describes the position of the load relative to the kern.
func whereText(s compare.ShoeFoot) string {
	return verdict.AgainstKern(s.Verdict, s.Misses, s.Measures[measure.Medial].Mean)
}

// sawPatch describes position and contact; peak is the ratio of peak to mean
// pressure, 0 to leave it out.
func sawPatch(s compare.ShoeFoot, peak float64) string {
	said := sawPlace(s)
	if share := s.Measures[measure.ContactShare]; share.N > 0 {
		said += fmt.Sprintf("; %.0f %% of the platform carries load", 100*share.Mean)
	}
	if third := s.Measures[measure.BackThird]; third.N > 0 {
		said += fmt.Sprintf(", the back third %.0f %% of it", 100*third.Mean)
	}
	if peak > 0 {
		said += fmt.Sprintf(", peak pressure %.1f times that of an even load", peak)
	}
	return said
}

func placesText(left, right compare.ShoeFoot) string {
	return fmt.Sprintf("left is %s, right is %s", whereText(left), whereText(right))
}

func sawLoad(share compare.Summary) string {
	return fmt.Sprintf("the left foot carries %.0f %% of the load", 100*share.Mean)
}

// sawSinking describes how the load moves within the hold.
func sawSinking(s compare.ShoeFoot, moved []measure.Measure) string {
	var said []string
	for _, m := range moved {
		said = append(said, fmt.Sprintf("%s %s mm", strings.TrimSuffix(m.Describe().Label, " within the hold"), signed(s.Measures[m].Mean, 1)))
	}
	return fmt.Sprintf("%s foot: the load moves within the hold (%s), as where a foot sinks into the box", s.Foot, strings.Join(said, ", "))
}

// evidence describes the result of one shoe for an option. others are the properties that
// changed in addition to the option's.
func evidence(change compare.Change, changed []compare.Property, d compare.Difference, others []compare.Property) string {
	var what []string
	for _, p := range changed {
		what = append(what, fmt.Sprintf("%s %s to %s", compare.PropertyText(p.Name), p.From, p.To))
	}
	only := ", and nothing else that was entered"
	if others != nil {
		only = ", changed together with " + compare.PropertyTexts(others)
	}
	m := d.Measure.Describe()
	return fmt.Sprintf("%s to %s: %s%s; %s moved by %s: %s",
		change.From, change.To, strings.Join(what, ", "), only, m.Label, strings.TrimSpace(signed(d.Difference, m.Decimals)+" "+m.Unit), d.Wording)
}

// signed formats a number with its sign and a true minus sign; a number that
// rounds to 0 has no sign.
func signed(v float64, decimals int) string {
	s := fmt.Sprintf("%+.*f", decimals, v)
	if strings.Trim(s, "+-0.") == "" {
		return s[1:]
	}
	return strings.Replace(s, "-", "−", 1)
}
