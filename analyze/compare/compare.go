package compare

import (
	"errors"
	"fmt"
	"slices"

	"aplomb/analyze"
	"aplomb/device"
)

// Of compares the shoes in results, all of one dancer. base is the code or
// label of the shoe the others are set against; "" means the first one met.
func Of(results []*analyze.Result, base string) (*Comparison, error) {
	if len(results) == 0 {
		return nil, errors.New("no recording to compare")
	}
	c := &Comparison{Shoes: []ShoeFoot{}, Differences: []Difference{}, Feet: []FeetDiff{}, Warnings: []string{}}
	if err := c.oneDancer(results); err != nil {
		return nil, err
	}
	results = c.withoutRepeats(results)
	pools := c.pool(results)
	if len(pools) == 0 {
		c.Why = "No relevé could be measured."
		c.Findings = []string{c.Why}
		return c, nil
	}
	labels := labelsOf(pools)
	if base != "" {
		i := slices.IndexFunc(labels, func(l string) bool { return l == base || codeOf(l) == base })
		if i < 0 {
			return nil, fmt.Errorf("--base %s: no such shoe in these recordings; there are %s", base, list(labels))
		}
		labels = append([]string{labels[i]}, slices.Delete(slices.Clone(labels), i, i+1)...)
	}
	slices.SortStableFunc(pools, func(a, b *pool) int {
		if d := slices.Index(labels, a.label) - slices.Index(labels, b.label); d != 0 {
			return d
		}
		return int(a.foot) - int(b.foot)
	})
	for _, p := range pools {
		c.Shoes = append(c.Shoes, p.summary())
	}
	for _, to := range labels[1:] {
		c.Differences = append(c.Differences, differences(pools, labels[0], to)...)
	}
	for _, label := range labels {
		c.Feet = append(c.Feet, feetOf(pools, label)...)
	}
	won := winsOf(pools, labels)
	if len(labels) > 2 {
		c.Against, c.Ranking = against(c.Differences), won.rank(labels)
	}
	c.decide(pools, labels, won)
	c.RestsOn = c.restsOn(pools, labels, won)
	c.Changes = c.changes(labels)
	c.Drift = drifts(results, pools, labels)
	c.doubt(pools)
	c.calibrations(results)
	return c, nil
}

func (c *Comparison) warn(format string, args ...any) {
	if w := fmt.Sprintf(format, args...); !slices.Contains(c.Warnings, w) {
		c.Warnings = append(c.Warnings, w)
	}
}

// oneDancer refuses recordings of different dancers.
func (c *Comparison) oneDancer(results []*analyze.Result) error {
	unnamed := false
	for _, r := range results {
		d := r.Recording.Dancer
		switch {
		case d == "":
			unnamed = true
		case c.Dancer == "":
			c.Dancer = d
		case c.Dancer != d:
			return fmt.Errorf("recordings of different dancers, %s and %s (%s): compare one dancer at a time", c.Dancer, d, r.Recording.File)
		}
	}
	if unnamed && c.Dancer != "" {
		c.warn("a recording names no dancer and is taken for one of %s", c.Dancer)
	}
	return nil
}

// withoutRepeats drops a recording that is there twice.
func (c *Comparison) withoutRepeats(results []*analyze.Result) []*analyze.Result {
	var kept []*analyze.Result
	for _, r := range results {
		same := slices.ContainsFunc(kept, func(k *analyze.Result) bool {
			return !r.Meta.Started.IsZero() && k.Meta.Started.Equal(r.Meta.Started) && sameLog(k, r)
		})
		if same {
			c.warn("%s is the same recording as another and counts once", r.Recording.File)
			continue
		}
		kept = append(kept, r)
	}
	return kept
}

func sameLog(a, b *analyze.Result) bool {
	for _, f := range device.Feet {
		x, y := a.Recording.Feet.Of(f), b.Recording.Feet.Of(f)
		if (x == nil) != (y == nil) || (x != nil && (x.Frames != y.Frames || x.SpanS != y.SpanS)) {
			return false
		}
	}
	return len(a.Releves) == len(b.Releves)
}

// doubt gathers what makes the comparison less than it seems.
func (c *Comparison) doubt(pools []*pool) {
	type key struct{ support, rise string }
	conditions := map[key]bool{}
	strips, floors := [2]map[string]bool{{}, {}}, map[string]bool{}
	for _, p := range pools {
		conditions[key{p.support, p.rise}] = true
		if len(p.releves) == 1 {
			c.warn("%s %s: one relevé only: nothing says how it scatters, so there is no interval", p.label, p.foot)
		}
		if p.aborted > 0 {
			c.warn("%s %s: %d aborted relevé(s) left out", p.label, p.foot, p.aborted)
		}
		for _, text := range p.doubtOrder {
			c.warn("%s %s: %s (%d of %d relevés)", p.label, p.foot, text, p.doubts[text], len(p.releves))
		}
		for _, s := range p.strips {
			strips[p.foot][s.Name] = true
			if s.Mount.SeatMountings == 0 {
				c.warn("strip %s: its mounting repeatability of %.1f mm is our assumption, not measured", s.Name, s.Mount.SeatSDMM)
			}
		}
		for _, f := range p.floors {
			floors[f] = true
		}
	}
	for _, f := range device.Feet {
		if len(strips[f]) > 1 {
			c.warn("%s: several strips: contact share compares only on the same strip model", f)
		}
		if !slices.ContainsFunc(pools, func(p *pool) bool { return p.foot == f }) {
			c.warn("no relevé of the %s foot was measured: left and right cannot be compared", f)
		}
	}
	for _, d := range c.Drift {
		if d.Wording == Clear {
			c.warn("%s", d.say(c.Shoes[0].Shoe))
		}
	}
	if len(floors) > 1 {
		c.warn("several floors: contact share compares only on the same floor")
	}
	if len(conditions) > 1 {
		c.warn("recordings under different support or rise are kept apart and not compared with each other")
	}
}
