package plan

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"aplomb/analyze/mounting"
	"aplomb/device"
)

// This file contains all texts of a plan.

// RestTime is the rest between rounds: our own choice.
const RestTime = 2 * time.Minute

// restWords is RestTime in words.
const restWords = "two minutes"

// Text returns what to do in a step.
func (s Step) Text() string {
	var b strings.Builder
	if s.Rest {
		b.WriteString("Rest for " + restWords + ". ")
	}
	switch {
	case s.SameShoe:
		fmt.Fprintf(&b, "Keep %s on, but take the strip off and fix it again", s.Shoe)
	case s.Mounting > 1:
		fmt.Fprintf(&b, "Put %s on again and fix the strip again", s.Shoe)
	default:
		fmt.Fprintf(&b, "Put %s on and fix the strip", s.Shoe)
	}
	fmt.Fprintf(&b, ": mounting %d, %s.", s.Mounting, plural(s.Releves, "relevé"))
	return b.String()
}

// Balance returns whether the effects of warming up and tiring cancel.
func (p Plan) Balance() string {
	switch {
	case len(p.Shoes) == 1:
		return "One shoe: there is nothing to compare it with."
	case p.Uneven == 0:
		return "Every shoe comes as early as late: steady warming up or tiring cancels."
	case p.Mountings == 1:
		return fmt.Sprintf("Each shoe is worn once, the last %s after the first: warming up or tiring does not cancel and cannot be told from the shoes. Mount each shoe twice.",
			plural(len(p.Shoes)-1, "step"))
	}
	return fmt.Sprintf("With an odd number of mountings and an even number of shoes warming up or tiring cancels but for 1/%d of a step. One mounting more or less would cancel it.", p.Mountings)
}

// Text returns the detectable difference, in mm.
func (s DetectableDifference) Text() string {
	each := fmt.Sprintf("%s a shoe, %s each", plural(s.Mountings, "mounting"), plural(s.Releves, "relevé"))
	if math.IsInf(s.Difference, 1) {
		return each + ": no interval, so no difference can be called clear."
	}
	return fmt.Sprintf("%s: a true difference of %.1f mm will be called clear four times in five (standard uncertainty %.1f mm).", each, s.Difference, s.U)
}

// RestsOn returns the sources of the numbers behind a detectable difference, in
// mm.
func (n Noise) RestsOn() string {
	dancer := fmt.Sprintf("Relevés scatter by %.1f mm, from this dancer's relevés so far (%.0f degrees of freedom)", n.Scatter, n.ScatterDOF)
	if n.ScatterDOF == 0 {
		dancer = fmt.Sprintf("Relevés are assumed to scatter by %.1f mm, our assumption", n.Scatter)
	}
	which := "this strip"
	if n.Strip != "" {
		which = "strip " + n.Strip
	}
	strip := fmt.Sprintf("a new mounting adds %.1f mm, as measured for %s", n.Seat, which)
	switch {
	case n.Pressed:
		strip = fmt.Sprintf("a new mounting of %s with a pad press adds %.1f mm, as those so far", which, n.Seat)
	case n.Assumed:
		strip = fmt.Sprintf("a new mounting is assumed to add %.1f mm, our assumption", n.Seat)
		if n.Strip != "" {
			strip += " for " + which
		}
	}
	strip += fmt.Sprintf("; besides, mountings differ by %.1f mm, %s", n.Effect.SD, effectFrom[n.Effect.From])
	if n.Sensor >= 0.05 { // else it reads 0.0
		strip += fmt.Sprintf("; the strip itself adds up to %.1f mm to a difference, by the measured relevés", n.Sensor)
	}
	return dancer + "; " + strip + "."
}

// effectFrom describes what a mounting effect is estimated from.
var effectFrom = map[mounting.Origin]string{
	mounting.OfDancer:  "as this dancer's have",
	mounting.OfLogbook: "as those in the logbook have",
	mounting.Assumed:   "our assumption",
}

// Text returns whether a study is balanced.
func (s Study) Text() string {
	if s.Balanced {
		return "Every shoe comes equally often at each place and directly after each other shoe."
	}
	return fmt.Sprintf("Not balanced: places and followers come equally often with %d dancers or a multiple.", s.Square)
}

// plural returns a number with its noun in singular or plural.
func plural(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// Text returns what was recorded for a step, "" where nothing was.
func (t StepProgress) Text() string {
	if len(t.Recordings) == 0 {
		return ""
	}
	said := "recording " + strings.Join(t.Recordings, ", ")
	switch feet := t.known(); {
	case len(feet) == 1:
		said += ": " + plural(t.Releves[feet[0]], "relevé")
	case len(feet) == 2 && t.Releves[0] == t.Releves[1]:
		said += ": " + plural(t.Releves[0], "relevé")
	case len(feet) == 2:
		said += fmt.Sprintf(": %d relevés left, %d right", t.Releves[0], t.Releves[1])
	}
	return said
}

// known returns the feet that have to be recorded where the numbers of their relevés are
// known, none where one is not.
func (t StepProgress) known() (feet []device.Foot) {
	for _, f := range device.Feet {
		if t.Feet[f] && t.Releves[f] < 0 {
			return nil
		}
		if t.Feet[f] {
			feet = append(feet, f)
		}
	}
	return feet
}

// Count returns the relevés of a step against those planned, such as
// "left 2 of 3, right 3 of 3".
func (t StepProgress) Count(planned int) string {
	var feet []string
	for _, f := range device.Feet {
		if t.Feet[f] {
			n := "?"
			if t.Releves[f] >= 0 {
				n = strconv.Itoa(t.Releves[f])
			}
			feet = append(feet, fmt.Sprintf("%s %s of %d", f, n, planned))
		}
	}
	return strings.Join(feet, ", ")
}

// Lines returns the progress and the next step, one line each.
func (c Progress) Lines() []string {
	steps := len(c.Plan.Steps)
	if c.Next == steps {
		return []string{fmt.Sprintf("the plan is done, %d of %d", steps, steps)}
	}
	var lines []string
	s := c.Plan.Steps[c.Next]
	if s.Rest {
		lines = append(lines, "rest for "+restWords)
	}
	do := fmt.Sprintf("shoe %s, mount the strips again", s.Shoe)
	switch begun := c.Steps[c.Next]; {
	case len(begun.Recordings) > 0:
		lines = nil
		do = fmt.Sprintf("shoe %s has %s: go on in that mounting, or mount the strips again", s.Shoe, begun.Count(s.Releves))
	case c.Next == 0:
		do = fmt.Sprintf("shoe %s, mount the strips", s.Shoe)
	case s.SameShoe:
		do = fmt.Sprintf("shoe %s stays on, mount the strips again", s.Shoe)
	}
	return append(lines, fmt.Sprintf("next: %s (%d of %d)", do, c.Next+1, steps))
}

// unplanned returns the note for a recording that counts for no step.
func (p Plan) unplanned(shoe string) string {
	if slices.Contains(p.Shoes, shoe) {
		return fmt.Sprintf("shoe %s once more than planned; the plan goes on", shoe)
	}
	return fmt.Sprintf("shoe %s is not in the plan, which goes on", shoe)
}

// outOfOrder returns the note for step at recorded when step next was planned.
func (p Plan) outOfOrder(at, next int) string {
	return fmt.Sprintf("shoe %s where shoe %s was next; it counts as %d of %d, and the plan goes on",
		p.Steps[at].Shoe, p.Steps[next].Shoe, at+1, len(p.Steps))
}

// tooFew returns the note for a mounting with fewer relevés than planned.
func (t *StepProgress) tooFew(planned int) string {
	return t.Count(planned) + ": the step is not done yet"
}

// Notes for recordings that do not count.
const (
	rejected        = "not used; it is kept"
	nothingMeasured = "no relevé measured: it does not count; it is kept"
)
