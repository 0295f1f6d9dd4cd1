package compare

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
	"aplomb/device"
)

// Rests says what the uncertainty of a difference rests on: the primary
// measure between the two shoes, on the foot, that the answer leans on most.
type VarianceShares struct {
	Foot      device.Foot     `json:"foot"`
	Support   string          `json:"support,omitempty"`
	Rise      string          `json:"rise,omitempty"`
	Measure   measure.Measure `json:"measure"`
	From      string          `json:"from"`
	To        string          `json:"to"`
	HalfWidth float64         `json:"half_width"` // of the 95 % interval

	// Shares of the variance, which add up to 1: the scatter of relevés, with the
	// noise and sway in it; fixing the strips; gains, zeros, blur and grid.
	Dancer   float64 `json:"dancer"`
	Mounting float64 `json:"mounting"`
	Sensor   float64 `json:"sensor"`

	Remedies []Remedy `json:"remedies"` // the most effective first
}

// Remedy is something that would make the interval narrower, as long as the
// numbers stay as they are.
type Remedy struct {
	Do        string  `json:"do"`
	HalfWidth float64 `json:"half_width"` // of the 95 % interval then
}

// moreReleves is how many more relevés a shoe a remedy is: what one asks of a
// dancer without a second thought.
const moreReleves = 3

// worthwhile is how much of the interval may be left for calibrating the strip to be a remedy.
const gainsRemedyBelow = 0.95

// restsOn finds what the answer rests on, nil where there is no difference with
// an interval. Where a shoe is preferred it is the clearest of the differences
// that made it so, otherwise the clearest of all.
func (c *Comparison) decisiveVariance(pools []*pool, labels []string, won wins) *VarianceShares {
	var clearest *VarianceShares
	most := -1.0
	for _, other := range labels[1:] {
		if c.Preferred != "" && c.Preferred != labels[0] && c.Preferred != other {
			continue
		}
		for _, f := range device.Feet {
			a, b := matchingPools(pools, f, labels[0], other)
			if a == nil || c.Preferred != "" && !won[f][[2]string{a.label, b.label}] && !won[f][[2]string{b.label, a.label}] {
				continue
			}
			if r, sure := varianceShares(a, b); r != nil && sure > most {
				clearest, most = r, sure
			}
		}
	}
	return clearest
}

// rests takes apart the primary difference of two pools; sure is its size over
// the half-width of its interval. It is nil where nothing is known of the
// scatter, or nothing is uncertain.
func varianceShares(a, b *pool) (r *VarianceShares, sure float64) {
	m := measure.Over
	from, okA := a.sample(m)
	to, okB := b.sample(m)
	if !okA || !okB {
		return nil, 0
	}
	c := contrastOf(from, to)
	u := stats.Combined(c.components()...)
	if !c.scatterKnown || u == 0 {
		return nil, 0
	}
	share := func(parts []stats.Component) float64 { return math.Pow(stats.Combined(parts...)/u, 2) }
	r = &VarianceShares{
		Foot: a.foot, Support: a.support, Rise: a.rise, Measure: measure.Over, From: a.label, To: b.label,
		HalfWidth: c.halfWidth(), Dancer: share(c.dancer), Mounting: share(c.mounting), Sensor: share(slices.Concat(c.sensor, c.gains)),
	}
	mountings := min(len(from.groups), len(to.groups)) + 1
	r.Remedies = []Remedy{
		{fmt.Sprintf("%d more relevés in each shoe", moreReleves), extendedContrast(from, to, moreReleves, 0).halfWidth()},
		{"mounting the strip " + timesText(mountings) + " under each shoe", extendedContrast(from, to, 0, mountings).halfWidth()},
	}
	if even := c.withoutGains().halfWidth(); even < gainsRemedyBelow*r.HalfWidth {
		r.Remedies = append(r.Remedies, Remedy{"gains of the cells evened out by calibration", even})
	}
	slices.SortStableFunc(r.Remedies, func(a, b Remedy) int { return cmp.Compare(a.HalfWidth, b.HalfWidth) })
	return r, math.Abs(c.difference) / r.HalfWidth
}

// Part is one share of the variance.
type Part struct {
	Of    string
	Share float64 // 0..1
}

// Parts are the shares of the variance, the largest first.
func (r *VarianceShares) Parts() []Part {
	parts := []Part{{"the mounting of the strips", r.Mounting}, {"the dancer", r.Dancer}, {"the sensor", r.Sensor}}
	slices.SortStableFunc(parts, func(a, b Part) int { return cmp.Compare(b.Share, a.Share) })
	return parts
}

// Shares says in a sentence what the difference rests on.
func (r *VarianceShares) SharesText() string {
	words := make([]string, 3)
	for i, p := range r.Parts() {
		words[i] = p.Of + " " + p.Percent()
	}
	return fmt.Sprintf("What the difference in over from %s to %s on the %s foot, ±%s mm, rests on: %s of the variance.",
		r.From, r.To, r.Foot, decimal(r.HalfWidth), joinWords(words))
}

// Percent writes a share that is never quite nothing.
func (p Part) Percent() string {
	if p.Share < 0.005 {
		return "under 1 %"
	}
	return fmt.Sprintf("%.0f %%", 100*p.Share)
}

// Smaller says, in a sentence or two, what would make the interval narrower
// and what would not.
func (r *VarianceShares) RemediesText() string {
	var would, not []string
	for _, m := range r.Remedies {
		if decimal(m.HalfWidth) == decimal(r.HalfWidth) {
			not = append(not, m.Do)
			continue
		}
		verb := "to"
		if would == nil {
			verb = "would bring it to"
		}
		would = append(would, fmt.Sprintf("%s %s ±%s mm", m.Do, verb, decimal(m.HalfWidth)))
	}
	var said []string
	if would != nil {
		said = append(said, sentence(strings.Join(would, ", ")))
	}
	if not != nil {
		said = append(said, sentence(joinWords(not)+" would leave it as it is"))
	}
	return strings.Join(said, " ")
}

func sentence(s string) string { return strings.ToUpper(s[:1]) + s[1:] + "." }
