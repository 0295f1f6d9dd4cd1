package compare

import (
	"fmt"
	"slices"
	"strings"

	"aplomb/analyze/measure"
	"aplomb/analyze/verdict"
	"aplomb/device"
	"aplomb/device/platform"
)

// decide names the shoe that gets the dancer over the box, if one does, and
// says why, or what it would take to know, in plain sentences.
func (c *Comparison) decide(pools []*pool, labels []string, won wins) {
	for _, f := range device.Feet {
		if s := c.footText(pools, labels, f); s != "" {
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
		c.Findings = append(c.Findings, effortTexts(pools, labels)...)
	}
	c.Why = strings.TrimSpace(c.Answer + " " + strings.Join(c.Findings, " "))
}

func footWords(feet []device.Foot) string {
	if len(feet) == 2 {
		return "both feet"
	}
	return "the " + feet[0].String() + " foot"
}

// preferredOn returns the feet on which label beats another shoe, provided that
// it is better than every other.
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

// verdict judges the pooled centre of pressure.
func (p *pool) verdict() (measure.Verdict, platform.Point) {
	over, medial := p.summaryOf(measure.Over), p.summaryOf(measure.Medial)
	at := platform.Point{medial.Mean, over.Mean}
	v, _ := verdict.Judge(p.platform.Kern, at, platform.Point{medial.U, over.U})
	return v, at
}

func (p *pool) summaryOf(m measure.Measure) Summary {
	s, _ := p.sample(m)
	return s.summary()
}

func isOver(pools []*pool, label string, feet []device.Foot) bool {
	for _, p := range pools {
		if v, _ := p.verdict(); p.label == label && v != measure.OverTheBox && slices.Contains(feet, p.foot) {
			return false
		}
	}
	return true
}

// alike returns the pools of two shoes on foot f under the same support and rise.
func matchingPools(pools []*pool, f device.Foot, a, b string) (pa, pb *pool) {
	for _, x := range pools {
		for _, y := range pools {
			if x.label == a && y.label == b && x.foot == f && y.foot == f && x.support == y.support && x.rise == y.rise {
				return x, y
			}
		}
	}
	return nil, nil
}

// stand says where every shoe has the dancer on foot f, and how much further
// forward or back than in the first, "" where nothing was measured.
func (c *Comparison) footText(pools []*pool, labels []string, f device.Foot) string {
	var parts []string
	for _, p := range pools {
		if p.foot != f {
			continue
		}
		v, at := p.verdict()
		number := "over " + meanText(p.summaryOf(measure.Over))
		if v == measure.ToTheSide {
			number = "medial " + meanText(p.summaryOf(measure.Medial))
		}
		parts = append(parts, fmt.Sprintf("%s %s (%s)", p.label, verdictText(v, at), number))
	}
	if parts == nil {
		return ""
	}
	name := f.String()
	said := []string{strings.ToUpper(name[:1]) + name[1:] + " foot: " + strings.Join(parts, "; ") + "."}
	for _, other := range labels[1:] {
		if a, b := matchingPools(pools, f, labels[0], other); a != nil {
			said = append(said, c.differenceText(a, b))
		}
	}
	return strings.Join(said, " ")
}

// move says how far the primary measure moves from shoe a to shoe b.
func (c *Comparison) differenceText(a, b *pool) string {
	m := measure.Over
	d, _ := difference(a, b, m)
	where, amount, ci := "further forward", d.Difference, d.CI95
	if amount < 0 {
		where, amount = "further back", -amount
		if ci != nil {
			ci = &[2]float64{-ci[1], -ci[0]}
		}
	}
	sure := "no interval"
	if ci != nil {
		sure = fmt.Sprintf("95 %% interval %s to %s: %s", decimal(ci[0]), decimal(ci[1]), d.Wording)
		if d.Wording == Clear && c.adjusted(d) != Clear {
			sure += " by itself, but not among so many shoes"
		}
	}
	return fmt.Sprintf("In %s the load sits %s mm %s than in %s (%s).", b.label, decimal(amount), where, a.label, sure)
}

// adjusted returns the wording of a difference of the primary measure among all
// shoes tried, which with two is its own.
func (c *Comparison) adjusted(d Difference) Wording {
	for _, a := range c.Against {
		if a.To == d.To && a.Foot == d.Foot && a.Support == d.Support && a.Rise == d.Rise {
			return a.Wording
		}
	}
	return d.Wording
}

// phrase says a verdict as the end of a sentence that begins with a shoe.
func verdictText(v measure.Verdict, at platform.Point) string {
	switch v {
	case measure.OverTheBox:
		return "is over the box"
	case measure.PulledBack:
		return "stands behind the kern, pulled back"
	case measure.TooFarOver:
		return "stands in front of the kern, too far over"
	case measure.ToTheSide:
		if at[0] > 0 {
			return "loads the big-toe side"
		}
		return "loads the little-toe side"
	}
	return "is too close to the kern's edge to call"
}

// measured writes a mean in mm with its 95 % interval.
func meanText(s Summary) string {
	if s.CI95 == nil {
		return signed(s.Mean) + " mm, no interval"
	}
	return fmt.Sprintf("%s mm, 95 %% interval %s to %s", signed(s.Mean), signed(s.CI95[0]), signed(s.CI95[1]))
}

// signed writes x with its sign, one decimal and a true minus.
func signed(x float64) string {
	s := decimal(x)
	if x > 0 && s != "0.0" {
		return "+" + s
	}
	return s
}

// decimal writes x with one decimal and a true minus, and never −0.0.
func decimal(x float64) string {
	s := strings.TrimPrefix(fmt.Sprintf("%.1f", x), "-")
	if x < 0 && s != "0.0" {
		return "−" + s
	}
	return s
}

func abs(x float64) float64 {
	if x < 0 {
		return -x
	}
	return x
}
