package advise

import (
	"fmt"
	"strings"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/analyze/verdict"
)

// This file holds all texts of an advice.

// notices returns the notices about the advice as a whole.
func notices(seen Observations) (said []string) {
	if seen.Pain {
		said = append(said, "There is pain: stop here and hand over to the dancer's clinician. No shoe is tried against pain.")
	}
	return append(said,
		"What follows is common practice in the trade; there is no published source for it. These are options to try, not a diagnosis.",
		"Pressure shows where load sits, not what the ankle or the foot does.",
		"Change one thing at a time: only then do the numbers show what it did.")
}

// texts are the texts of the options and of the measures to watch, by id.
var texts = map[string]struct{ text, watch string }{
	"crown":        {"A higher crown, if this one is low for the foot.", "over should move forward, contact share should grow; see that the foot does not sink."},
	"wider":        {"A wider platform.", "over should move towards the centre, contact share should grow; see that the foot does not sink."},
	"squarer":      {"A squarer box, less tapered.", "contact share should grow, over move forward; see that the foot does not sink."},
	"shank":        {"The shank: softer, three-quarter or harder can each be right; try both ways.", "over, during the rise and in the hold."},
	"shank length": {"The length of the shank: full or three-quarter.", "over, during the rise and in the hold."},
	"break":        {"Look where the shank breaks against the arch.", "over, during the rise and in the hold."},
	"shape":        {"Only after the shank the shape: crown, width, box.", "over, contact share."},
	"wings":        {"The wings: their height on the side that gives way.", "medial; where the load is behind as well, only after over has moved."},
	"width there":  {"The width of the platform on that side.", "medial."},
	"stronger":     {"A stronger shank.", "over should move back, sway should not grow."},
	"longer":       {"A longer shank.", "over should move back, sway should not grow."},
	"vamp":         {"A longer vamp.", "over should move back, sway should not grow."},
	"flat":         {"Look whether the platform is flat, or worn, before trying shoes.", "peak pressure and where it is."},
	"sinking":      {"Look whether the box is too big and the foot sinks into it.", "peak pressure, contact share."},
	"strip":        {"Look whether the strip sits where it should, and mount it again.", "load off the outline."},
	"same shoe":    {"The same shoe on both feet first.", "load share, left less right."},
	"weaker side":  {"The weaker side may set the choice of shoe.", "left less right."},
	"clinician":    {"If pain goes with it, this is a question for a clinician and not for a shoe.", "load share over visits."},
}

func (o option) text(seen Observations) string {
	t := texts[o.id].text
	if o.id == "crown" && seen.LowCrown {
		t = "A higher crown: this one was seen to be low for the foot."
	}
	return t
}

func (o option) watch() string { return texts[o.id].watch }

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
	return fmt.Sprintf("%s foot: %s (probability of standing inside the kern %.0f %%), over %s mm, medial %s mm",
		s.Foot, whereText(s), 100*s.PInside, signed(s.Measures[measure.Over].Mean, 1), signed(s.Measures[measure.Medial].Mean, 1))
}

// whereText says where the load lies against the kern.
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

func sawFeet(left, right compare.ShoeFoot) string {
	return fmt.Sprintf("left is %s, right is %s", whereText(left), whereText(right))
}

func sawLoad(share compare.Summary) string {
	return fmt.Sprintf("the left foot carries %.0f %% of the load", 100*share.Mean)
}

// evidence describes what one shoe showed for an option.
func evidence(change compare.Change, changed []compare.Property, d compare.Difference, alone bool) string {
	var what []string
	for _, p := range changed {
		what = append(what, fmt.Sprintf("%s %s to %s", property(p.Name), p.From, p.To))
	}
	only := ", and nothing else that was entered"
	if !alone {
		only = ", and something else as well"
	}
	m := d.Measure.Describe()
	return fmt.Sprintf("%s to %s: %s%s; %s moved by %s: %s",
		change.From, change.To, strings.Join(what, ", "), only, m.Label, strings.TrimSpace(signed(d.Difference, m.Decimals)+" "+m.Unit), d.Wording)
}

var propertyWords = map[string]string{
	compare.PlatformWidth: "platform width (mm)", compare.PlatformDepth: "platform depth (mm)",
	compare.Squareness: "squareness of the platform", compare.Box: "box", compare.Crown: "crown (mm)",
	compare.Shank: "shank", compare.ShankLength: "shank length", compare.Vamp: "vamp (mm)",
	compare.Wings: "wings (mm)", compare.Padding: "padding", compare.HoursWorn: "hours worn",
}

// property returns the name of a property for people.
func property(name string) string { return propertyWords[name] }

// signed formats a number with its sign and a true minus sign; a number that
// rounds to 0 has no sign.
func signed(v float64, decimals int) string {
	s := fmt.Sprintf("%+.*f", decimals, v)
	if strings.Trim(s, "+-0.") == "" {
		return s[1:]
	}
	return strings.Replace(s, "-", "−", 1)
}
