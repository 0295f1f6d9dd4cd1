package compare

import (
	"math"
	"strings"

	"aplomb/analyze/measure"
	"aplomb/analyze/verdict"
	"aplomb/device"
	"aplomb/device/platform"
)

// decide determines the preferred shoe, if there is one, and writes the headline, a finding
// for each foot, and one about what changed together.
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
	c.Findings = append(c.Findings, togetherTexts(c.Changes)...)
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
// which it misses the kern (see verdict.Directions), and its position, mm. The pool is
// complete by then: it is judged once.
func (p *pool) verdict() (measure.Verdict, []measure.Direction, platform.Point) {
	if p.judged == nil {
		over, medial := p.summaryOf(measure.Over), p.summaryOf(measure.Medial)
		v, _, misses := p.judge(over, medial)
		p.judged = &judgement{v, verdict.Directions(v, misses, medial.Mean), platform.Point{medial.Mean, over.Mean}}
	}
	return p.judged.verdict, p.judged.misses, p.judged.at
}

// judge returns the verdict on the summaries of over and medial, as verdict.Judge does.
func (p *pool) judge(over, medial Summary) (v measure.Verdict, inside float64, misses []measure.Direction) {
	dof := math.Inf(1)
	for _, s := range []Summary{over, medial} {
		if s.DOF != nil {
			dof = min(dof, *s.DOF)
		}
	}
	return verdict.Judge(p.platform.Kern, platform.Point{medial.Mean, over.Mean}, platform.Point{medial.U, over.U}, dof)
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

func abs(x float64) float64 {
	if x < 0 {
		return -x
	}
	return x
}
