package compare

import (
	"math"
	"strings"

	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
	"aplomb/analyze/verdict"
	"aplomb/device"
	"aplomb/device/platform"
)

// decide determines the preferred shoe, if there is one, and writes the headline, a
// finding for each foot, and one about properties that changed together.
func (c *Comparison) decide(pools []*pool, labels []string, claimed claims, won wins) {
	for _, label := range labels {
		if won.isBest(labels, label) {
			c.Preferred = label
		}
	}
	c.Answer = c.headline(pools, labels, claimed, won)
	for _, f := range device.Feet {
		if s := footText(pools, labels, f, claimed); s != "" {
			c.Findings = append(c.Findings, s)
		}
	}
	c.Findings = append(c.Findings, jointChangeTexts(c.Changes)...)
	c.Why = strings.TrimSpace(c.Answer + " " + strings.Join(c.Findings, " "))
}

// isBest reports whether a shoe is better than every other, of which there is at least
// one.
func (w wins) isBest(labels []string, label string) bool {
	for _, other := range labels {
		if other != label && !w.better(label, other) {
			return false
		}
	}
	return len(labels) > 1
}

// judgement is the verdict on the pooled mean centre of pressure.
type judgement struct {
	verdict measure.Verdict
	misses  []measure.Direction // see verdict.Directions
	at      platform.Point      // mm
}

// verdict returns the verdict on the pooled mean centre of pressure, the directions in
// which it misses the kern (see verdict.Directions), and its position, mm. It is computed
// once, so the pool must be complete.
func (p *pool) verdict() (measure.Verdict, []measure.Direction, platform.Point) {
	if p.judged == nil {
		over, medial := p.summaryOf(measure.Over), p.summaryOf(measure.Medial)
		v, _, misses := p.judge(over, medial)
		p.judged = &judgement{v, verdict.Directions(v, misses, medial.Mean), platform.Point{medial.Mean, over.Mean}}
	}
	return p.judged.verdict, p.judged.misses, p.judged.at
}

// judge returns the verdict on the summaries of over and medial, as verdict.Judge does. The
// verdict of a single relevé, whose scatter is not known, is about that relevé and not about
// the shoe.
func (p *pool) judge(over, medial Summary) (v measure.Verdict, inside float64, misses []measure.Direction) {
	at, u, dof := meanPlace(over, medial)
	return verdict.Judge(p.platform.Kern, at, u, dof)
}

// meanPlace returns the mean centre of pressure, mm, its standard uncertainties, mm, and their
// degrees of freedom: the smaller of both axes', +Inf where unlimited.
func meanPlace(over, medial Summary) (at, u platform.Point, dof float64) {
	dof = math.Inf(1)
	for _, s := range []Summary{over, medial} {
		if s.DOF != nil {
			dof = min(dof, *s.DOF)
		}
	}
	return platform.Point{medial.Mean, over.Mean}, platform.Point{medial.U, over.U}, dof
}

// Region95 returns the 95 % region of the shoe's mean centre of pressure, as half-widths
// along medial and over, mm, of the ellipse about the mean (see stats.MeanEllipse95). The
// uncertainties are those of Measures: scatter of the relevés, the mountings' seats and
// the mounting effect, the bearing outline that all mountings have in common, and the
// sensor. Errors along the two axes are treated as uncorrelated, as for the verdict:
// where the ellipse lies inside the kern, the verdict is over the box. ok is false where
// a coordinate has no interval.
func (f *ShoeFoot) Region95() (half platform.Point, ok bool) {
	over, medial := f.Measures[measure.Over], f.Measures[measure.Medial]
	if over.CI95 == nil || medial.CI95 == nil {
		return half, false
	}
	_, u, dof := meanPlace(over, medial)
	e := stats.MeanEllipse95([2]float64(u), dof)
	if e.AngleRad == 0 {
		return platform.Point{e.SemiMajor, e.SemiMinor}, true
	}
	return platform.Point{e.SemiMinor, e.SemiMajor}, true
}

// Ring returns the ellipse about the shoe's mean centre of pressure that corresponds to
// the verdict, as half-widths along medial and over, mm (see verdict.Ring). It is smaller
// than the 95 % region, which covers both axes jointly. ok is false where a coordinate
// has no interval.
func (f *ShoeFoot) Ring() (half platform.Point, ok bool) {
	over, medial := f.Measures[measure.Over], f.Measures[measure.Medial]
	if over.CI95 == nil || medial.CI95 == nil {
		return half, false
	}
	_, u, dof := meanPlace(over, medial)
	return verdict.Ring(u, dof), true
}

// summaryOf returns the summary of a measure.
func (p *pool) summaryOf(m measure.Measure) Summary {
	s, _ := p.sample(m)
	return s.summary()
}

// matchingPools returns the pools of two shoes on foot f under the same conditions; nil
// where there are none.
func matchingPools(pools []*pool, f device.Foot, a, b string) (pa, pb *pool) {
	for _, x := range pools {
		for _, y := range pools {
			if x.label == a && y.label == b && x.foot == f && (x.comparable(y) || x == y) {
				return x, y
			}
		}
	}
	return nil, nil
}
