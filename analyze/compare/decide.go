package compare

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"aplomb/analyze/measure"
	"aplomb/analyze/verdict"
	"aplomb/device"
	"aplomb/device/platform"
)

// decide determines the preferred shoe, if there is one, and writes the reasons,
// or what further measurements would decide, in sentences.
func (c *Comparison) decide(pools []*pool, labels []string, claimed claims, won wins) {
	for _, f := range device.Feet {
		if s := footText(pools, labels, f, claimed); s != "" {
			c.Findings = append(c.Findings, s)
		}
	}
	for _, label := range labels {
		if feet := won.preferredOn(labels, label); len(feet) > 0 {
			c.Preferred = label
			how := "nearer to over the box"
			if isOver(pools, label, feet) {
				how = "over the box"
			}
			c.Answer = fmt.Sprintf("Shoe %s gets the dancer %s on %s.", label, how, footWords(feet))
		}
	}
	if len(labels) > 1 && c.Preferred == "" {
		c.Answer = "No shoe is clearly the better one."
		c.Findings = append(c.Findings, effortTexts(pools, labels, claimed)...)
	}
	c.Why = strings.TrimSpace(c.Answer + " " + strings.Join(c.Findings, " "))
}

// preferredOn returns the feet on which a shoe beats another, provided that it is
// better than every other shoe; nil otherwise.
func (w wins) preferredOn(labels []string, label string) (feet []device.Foot) {
	for _, other := range labels {
		switch {
		case other == label:
		case !w.better(label, other):
			return nil
		default:
			feet = append(feet, w.feet(label, other)...)
		}
	}
	slices.Sort(feet)
	return slices.Compact(feet)
}

// verdict returns the verdict on the pooled mean centre of pressure, the directions in
// which it misses the kern (see verdict.Directions), and its position, mm.
func (p *pool) verdict() (measure.Verdict, []measure.Direction, platform.Point) {
	over, medial := p.summaryOf(measure.Over), p.summaryOf(measure.Medial)
	v, _, misses := p.judge(over, medial)
	return v, verdict.Directions(v, misses, medial.Mean), platform.Point{medial.Mean, over.Mean}
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

// isOver reports whether a shoe is over the box on all these feet.
func isOver(pools []*pool, label string, feet []device.Foot) bool {
	for _, p := range pools {
		if v, _, _ := p.verdict(); p.label == label && v != measure.OverTheBox && slices.Contains(feet, p.foot) {
			return false
		}
	}
	return true
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
