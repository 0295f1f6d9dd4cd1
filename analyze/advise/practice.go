package advise

import (
	"math"
	"slices"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
)

// options are the options for a pattern, in the order of common practice without evidence
// from shoes.
type options []option

// option is something to try or to examine.
type option struct {
	id         string   // key of its texts
	properties []string // properties of the shoe that it changes, named as in compare; none for something to examine
	toward     float64  // +1 for more, −1 for less, 0 where both can be right
	aim        aim
	later      bool // only after the options before it have moved the load
}

// aim is the measure that should change, and its direction.
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

// practice is common practice in the trade; no published source exists.
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
	OneFoot:    {{id: "same shoe"}, {id: "other foot"}, {id: "clinician"}},
	Sinks:      {{id: "too big"}, {id: "filled"}, {id: "softened"}},
	Sickles: {
		{id: "line"},
		{id: "wings", properties: []string{compare.Wings}, aim: bigToe},
	},
	Bulges: {
		{id: "wider", properties: []string{compare.PlatformWidth}, toward: +1, aim: moreArea},
		{id: "squarer", properties: []string{compare.Box, compare.Squareness}, toward: +1, aim: moreArea},
	},
	HeelLoose: {{id: "length"}, {id: "drawstring"}},
}

// countFirst returns the number of options before those for later.
func (os options) countFirst() int {
	for i, o := range os {
		if o.later {
			return i
		}
	}
	return len(os)
}

// Scores that one measured shoe adds to an option. A shoe in which other properties
// changed as well adds nothing, because the effects cannot be separated.
const (
	scoreHelped   = 2
	scoreOtherWay = 1 // clearly the wrong way, for an option where either change can be right
	scoreNoEffect = -1
	scoreHurt     = -2
)

// scoreOption sums the evidence of the shoes measured so far for an option for shoe s. A
// shoe that differs from the first in the option's property supports the option where the
// measure of its aim moved clearly in the right direction, or clearly in the wrong
// direction with the opposite change of the property. It counts against the option where
// the measure moved clearly in the wrong direction, or where its interval excludes a
// movement of half of the distance to the aim. A wider interval is no evidence, and
// neither is a shoe in which other properties changed together with the option's.
func scoreOption(c *compare.Comparison, s compare.ShoeFoot, o option) (out Option) {
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
			if d.Foot != s.Foot || d.Conditions != s.Conditions || d.Measure != o.aim.measure || d.CI95 == nil {
				continue
			}
			others := besides(change.Properties, changed)
			most := max(way*d.CI95[0], way*d.CI95[1]) // largest movement in the right direction within the interval
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
			if others != nil {
				says = 0
			}
			out.Score += says
			out.Because = append(out.Because, evidence(change, changed, d, others))
			for _, p := range others {
				if name := compare.PropertyText(p.Name); !slices.Contains(out.Together, name) {
					out.Together = append(out.Together, name)
				}
			}
		}
	}
	return out
}

// besides returns the properties in all that are not in some.
func besides(all, some []compare.Property) (others []compare.Property) {
	for _, p := range all {
		if !slices.Contains(some, p) {
			others = append(others, p)
		}
	}
	return others
}

// changed returns the option's properties in which two shoes differ, if they all
// differ in the same direction.
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

// distanceToAim returns the distance of the shoe's mean from its aim, in the unit of the
// measure.
func distanceToAim(s compare.ShoeFoot, a aim) float64 {
	mean := s.Measures[a.measure].Mean
	if a.measure == measure.ContactShare {
		return max(0, wholeShare-mean)
	}
	return math.Abs(mean) // the centre of the platform
}
