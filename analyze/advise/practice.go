package advise

import (
	"math"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
)

// options are what common practice offers for a pattern, in the order in which
// it would look at them while no shoe has shown anything.
type options []option

// option is something to try or to look at.
type option struct {
	id         string   // of its texts
	properties []string // of the shoe that it changes, as compare names them; none where it is a look at something
	toward     float64  // +1 more of it, −1 less, 0 where either way can be right
	aim        aim
	later      bool // only once those before it have moved the load
}

// aim is the measure that should move, and which way.
type aim struct {
	measure measure.Measure
	way     float64 // +1 up, −1 down
}

var (
	forward   = aim{measure.Over, +1}
	backward  = aim{measure.Over, -1}
	bigToe    = aim{measure.Medial, +1}
	littleToe = aim{measure.Medial, -1}
	moreArea  = aim{measure.ContactShare, +1}
)

// practice is common practice in the trade; there is no published source.
var practice = map[Pattern]options{
	Behind: {
		{id: "crown", properties: []string{compare.Crown}, toward: +1, aim: forward},
		{id: "wider", properties: []string{compare.PlatformWidth}, toward: +1, aim: forward},
		{id: "squarer", properties: []string{compare.Box, compare.Squareness}, toward: +1, aim: forward},
		{id: "shank", properties: []string{compare.Shank, compare.ShankLength}, aim: forward},
	},
	BehindBulging: {
		{id: "wider", properties: []string{compare.PlatformWidth}, toward: +1, aim: moreArea},
		{id: "squarer", properties: []string{compare.Box, compare.Squareness}, toward: +1, aim: moreArea},
	},
	BehindWhole: {
		{id: "shank", properties: []string{compare.Shank}, aim: forward},
		{id: "shank length", properties: []string{compare.ShankLength}, aim: forward},
		{id: "break", aim: forward},
		{id: "shape", properties: []string{compare.Crown, compare.PlatformWidth, compare.Box, compare.Squareness}, toward: +1, aim: forward, later: true},
	},
	BehindLittleToe: {
		{id: "crown", properties: []string{compare.Crown}, toward: +1, aim: forward},
		{id: "squarer", properties: []string{compare.Box, compare.Squareness}, toward: +1, aim: forward},
		{id: "shank", properties: []string{compare.Shank, compare.ShankLength}, aim: forward},
		{id: "wings", properties: []string{compare.Wings}, aim: bigToe, later: true},
		{id: "wider", properties: []string{compare.PlatformWidth}, toward: +1, aim: bigToe, later: true},
	},
	LittleToe: {
		{id: "wings", properties: []string{compare.Wings}, aim: bigToe},
		{id: "wider", properties: []string{compare.PlatformWidth}, toward: +1, aim: bigToe},
	},
	BigToe: {
		{id: "wings", properties: []string{compare.Wings}, aim: littleToe},
		{id: "width there", properties: []string{compare.PlatformWidth}, aim: littleToe},
	},
	TooFarOver: {
		{id: "stronger", properties: []string{compare.Shank}, toward: +1, aim: backward},
		{id: "longer", properties: []string{compare.ShankLength}, toward: +1, aim: backward},
		{id: "vamp", properties: []string{compare.Vamp}, toward: +1, aim: backward},
	},
	SmallPatch: {{id: "flat"}, {id: "sinking"}, {id: "strip"}},
	OneFoot:    {{id: "same shoe"}, {id: "weaker side"}, {id: "clinician"}},
}

// first counts the options that come before those for later.
func (os options) countFirst() int {
	for i, o := range os {
		if o.later {
			return i
		}
	}
	return len(os)
}

// What a shoe tried adds to an option, and half of it, rounded towards nothing,
// where more than the option's property changed: it cannot be told then which did it.
const (
	scoreHelped   = 2
	scoreOtherWay = 1 // clearly the wrong way, where either change can be right
	scoreNoEffect = -1
	scoreHurt     = -2
)

// weigh adds up what the shoes tried say of an option for shoe s. Each that
// differs from the first in the option's property speaks for it where the aim
// moved clearly the right way, or clearly the wrong way with the property changed
// the other way; against it where it moved clearly the wrong way, or where the
// interval says that not even half of what is missing was moved. An interval
// wider than that says nothing.
func scoreOption(c *compare.Comparison, s compare.ShoeFoot, o option) (score int, because []string) {
	for _, change := range c.Changes {
		changed := o.changed(change)
		if len(changed) == 0 {
			continue
		}
		way := o.aim.way
		if o.toward != 0 {
			way *= o.toward * math.Copysign(1, changed[0].By)
		}
		for _, d := range change.Moved {
			if d.Foot != s.Foot || d.Support != s.Support || d.Rise != s.Rise || d.Measure != o.aim.measure || d.CI95 == nil {
				continue
			}
			alone := len(change.Properties) == len(changed)
			most := max(way*d.CI95[0], way*d.CI95[1]) // that it may have moved the right way
			says := 0
			switch {
			case d.Wording == compare.Clear && way*d.Difference > 0:
				says = scoreHelped
			case d.Wording == compare.Clear && o.toward == 0:
				says = scoreOtherWay
			case d.Wording == compare.Clear:
				says = scoreHurt
			case most < distanceToAim(s, o.aim)/2:
				says = scoreNoEffect
			}
			if !alone {
				says /= 2
			}
			score += says
			because = append(because, evidence(change, changed, d, alone))
		}
	}
	return score, because
}

// changed returns the option's properties that a change of shoe changed, all of
// them the same way, or none.
func (o option) changed(change compare.Change) (out []compare.Property) {
	for _, p := range change.Properties {
		for _, name := range o.properties {
			if p.Name != name || o.toward != 0 && p.By == 0 {
				continue
			}
			if o.toward != 0 && len(out) > 0 && (p.By > 0) != (out[0].By > 0) {
				return nil
			}
			out = append(out, p)
		}
	}
	return out
}

// missing is how far the shoe's mean lies from where it should be.
func distanceToAim(s compare.ShoeFoot, a aim) float64 {
	mean := s.Measures[a.measure].Mean
	if a.measure == measure.ContactShare {
		return max(0, wholeShare-mean)
	}
	return math.Abs(mean) // from the centre of the platform
}
