package compare

import (
	"errors"
	"fmt"
	"reflect"
	"slices"

	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/analyze/provenance"
	"aplomb/analyze/scale"
	"aplomb/device"
)

// Options change how shoes are compared.
type Options struct {
	// Base is the code or label of the shoe with which the others are compared; "" stands
	// for the first in the results.
	Base string
	// Earlier are relevés of other recordings, of this dancer and others, from which
	// mounting effects are estimated. They contribute to the uncertainty, and not to any
	// mean.
	Earlier []mounting.Row
	// Kept reports that Earlier also contains the relevés of the results.
	Kept bool
	// Pool is the pool of Earlier, where many comparisons share it and Kept is true; nil
	// computes it.
	Pool *mounting.Pool
	// Checks are the checks of strips with known weights from the logbook. They cause
	// warnings; nothing is corrected by them.
	Checks []scale.Check
	// Pain reports that the dancer's pain is a reason to stop: texts then suggest no
	// further measurement.
	Pain bool
	// Practice includes recordings of practice, for the summary of one recording.
	Practice bool
}

// ErrPractice is returned where there is nothing to compare, because all recordings were
// made with live feedback to the dancer.
var ErrPractice = errors.New("nothing to compare: with live feedback it is practice, which says nothing about a shoe (aplomb analyze shows each recording)")

// Results compares the shoes in results, all of one dancer. It returns an error
// without results, for results of several dancers, and for a base that is not among
// them.
func Results(results []*measure.Result, opt Options) (*Comparison, error) {
	base := opt.Base
	if len(results) == 0 {
		return nil, errors.New("no recording to compare")
	}
	c := &Comparison{Pain: opt.Pain, Shoes: []ShoeFoot{}, Differences: []Difference{}, Feet: []FeetDiff{}, Warnings: []measure.Warning{}, Texts: []string{}}
	if !opt.Practice {
		if results = c.withoutPractice(results); len(results) == 0 {
			return nil, ErrPractice
		}
	}
	c.Provenance = provenance.Of(results)
	if err := c.checkOneDancer(results); err != nil {
		return nil, err
	}
	results = c.withoutRepeats(results)
	c.addNotes(results)
	c.poolMountings(results, opt)
	pools := c.pool(results)
	if len(pools) == 0 {
		c.Answer = c.withStop("No relevé could be measured.")
		c.Why = c.Answer
		return c, nil
	}
	c.poolDays(pools, results)
	labels := labelsOf(pools)
	if base != "" {
		i := slices.IndexFunc(labels, func(l string) bool { return l == base || codeOf(l) == base })
		if i < 0 {
			return nil, fmt.Errorf("--base %s: no such shoe in these recordings; there are %s", base, joinWords(labels))
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
	claimed := claimsOf(pools, scalesMoved(results, opt.Checks))
	for _, to := range labels[1:] {
		c.Differences = append(c.Differences, differences(pools, claimed, labels[0], to)...)
	}
	if one, other := othersOf(labels); one != "" {
		c.Between = slices.DeleteFunc(differences(pools, claimed, one, other), func(d Difference) bool { return d.Measure != measure.Over })
	}
	for _, label := range labels {
		c.Feet = append(c.Feet, feetDiffs(pools, label)...)
	}
	wordFeet(c.Feet)
	won := findWins(pools, labels, claimed)
	if len(labels) > 2 {
		c.Against, c.Ranking = againstFirst(c.Differences), won.rank(labels)
	}
	c.addNotCompared(pools, labels)
	c.Changes = c.changes(labels)
	c.decide(pools, labels, claimed, won)
	c.RestsOn = c.decisiveVariance(pools, labels, won)
	c.Trends = visitTrends(results, pools, labels)
	c.addCorrections(results)
	c.addScatterWarning()
	c.addWarnings(pools)
	c.addCalibrationWarnings(results)
	c.addScaleWarnings(results, opt.Checks)
	return c, nil
}

// poolMountings estimates the mounting effects from the repeated mountings in results and
// in earlier recordings.
func (c *Comparison) poolMountings(results []*measure.Result, opt Options) {
	rows, earlier := mounting.Rows(results), opt.Earlier
	for i := range rows {
		rows[i].Dancer = c.Dancer
	}
	all := earlier
	if !opt.Kept {
		all = slices.Concat(rows, earlier)
	}
	pool := opt.Pool
	if pool == nil {
		pool = mounting.New(all)
	}
	c.Mountings = map[measure.Measure]mounting.Effect{}
	for _, m := range measure.All() {
		c.Mountings[m] = pool.Effect(c.Dancer, m)
	}
	others, listed := c.usesOthers(), map[string]bool{}
	if c.Provenance != nil {
		for _, input := range c.Provenance.Inputs {
			listed[input.ID] = true
		}
	}
	for _, r := range earlier {
		if (r.Dancer == c.Dancer || others) && !listed[r.Recording] {
			listed[r.Recording] = true
			c.Earlier = append(c.Earlier, r.Recording)
		}
	}
	c.scatter = mounting.New(rows).Scatter(c.Dancer, measure.Over, measure.Medial)
}

// usesOthers reports whether a mounting effect is estimated from other dancers as well.
func (c *Comparison) usesOthers() bool {
	for _, e := range c.Mountings {
		if e.Others {
			return true
		}
	}
	return false
}

// addCorrections adds warnings that name the recordings whose metadata were corrected.
func (c *Comparison) addCorrections(results []*measure.Result) {
	for _, r := range results {
		for _, w := range r.Warnings {
			if w.Code == measure.Corrected {
				w.Values.File = r.Recording.File
				c.add(w)
			}
		}
	}
}

// addScatterWarning adds a warning where the centre of pressure scatters between the
// mountings compared by more than relevés, seats and the assumed mounting effect predict.
func (c *Comparison) addScatterWarning() {
	if c.scatter.Larger() {
		c.warn(measure.MountingsScatter, measure.Values{MM: c.scatter.Observed, ExpectedMM: c.scatter.Expected})
	}
}

// warn adds a warning unless the comparison already has it.
func (c *Comparison) warn(code measure.Code, v measure.Values) { c.add(measure.Warn(code, v)) }

// warnOn adds a warning about one foot.
func (c *Comparison) warnOn(f device.Foot, code measure.Code, v measure.Values) {
	c.add(measure.Warn(code, v).On(f))
}

// add adds a warning unless the comparison already has it.
func (c *Comparison) add(w measure.Warning) {
	if !slices.ContainsFunc(c.Warnings, func(o measure.Warning) bool { return reflect.DeepEqual(o, w) }) {
		c.Warnings = append(c.Warnings, w)
	}
}

// checkOneDancer returns an error for recordings of different dancers.
func (c *Comparison) checkOneDancer(results []*measure.Result) error {
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
		c.warn(measure.DancerAssumed, measure.Values{Dancer: c.Dancer})
	}
	return nil
}

// withoutPractice drops recordings in which the dancer saw the numbers while she stood,
// because live feedback changes how she stands.
func (c *Comparison) withoutPractice(results []*measure.Result) (kept []*measure.Result) {
	for _, r := range results {
		if r.Meta.Feedback == device.FeedbackLive {
			c.warn(measure.PracticeLeftOut, measure.Values{File: r.Recording.File})
			continue
		}
		kept = append(kept, r)
	}
	return kept
}

// withoutRepeats drops recordings that are listed twice. Of a recording and its damaged
// copy it keeps the undamaged one.
func (c *Comparison) withoutRepeats(results []*measure.Result) []*measure.Result {
	var kept []*measure.Result
	for _, r := range results {
		same := slices.IndexFunc(kept, func(k *measure.Result) bool {
			return !r.Meta.Started.IsZero() && k.Meta.Started.Equal(r.Meta.Started) && (sameLog(k, r) || (isDamaged(k) || isDamaged(r)) && sameMountings(k, r))
		})
		if same >= 0 {
			if isDamaged(kept[same]) && !isDamaged(r) {
				kept[same], r = r, kept[same]
			}
			c.warn(measure.RecordingTwice, measure.Values{File: r.Recording.File})
			continue
		}
		kept = append(kept, r)
	}
	return kept
}

// sameLog reports whether two results have the same numbers of frames and
// relevés.
func sameLog(a, b *measure.Result) bool {
	for _, f := range device.Feet {
		x, y := a.Recording.Feet.Of(f), b.Recording.Feet.Of(f)
		if (x == nil) != (y == nil) || (x != nil && (x.Frames != y.Frames || x.SpanS != y.SpanS)) {
			return false
		}
	}
	return len(a.Releves) == len(b.Releves)
}

// isDamaged reports whether parts of the recording may be missing.
func isDamaged(r *measure.Result) bool {
	return slices.ContainsFunc(r.Warnings, func(w measure.Warning) bool {
		return w.Code == measure.RecordingDamaged || w.Code == measure.RecordingCut
	})
}

// sameMountings reports whether two results are of the same strips in the same mountings
// under the same shoes.
func sameMountings(a, b *measure.Result) bool {
	for _, f := range device.Feet {
		x, y := a.Meta.Sides[f], b.Meta.Sides[f]
		if (x == nil) != (y == nil) || x != nil && (x.Mounting != y.Mounting || x.Strip.Name != y.Strip.Name || x.Shoe.Code != y.Shoe.Code) {
			return false
		}
	}
	return true
}

// addWarnings adds the warnings that limit the comparison.
func (c *Comparison) addWarnings(pools []*pool) {
	var conditions []measure.Conditions
	strips := [2]map[string]bool{{}, {}}
	for _, p := range pools {
		conditions = append(conditions, p.conditions)
		if len(p.marks) > 1 {
			c.warnOn(p.foot, measure.SeveralMarks, measure.Values{Shoe: p.label})
		}
		if len(p.releves) == 1 {
			c.warnOn(p.foot, measure.OneReleve, measure.Values{Shoe: p.label})
		}
		if p.aborted > 0 {
			c.warnOn(p.foot, measure.AbortedLeftOut, measure.Values{Shoe: p.label, N: p.aborted})
		}
		for _, d := range p.warnings {
			of := measure.Warn(measure.OfReleves, measure.Values{Shoe: p.label, N: d.n, Of: len(p.releves), Because: &d.Warning}).On(p.foot)
			of.Class = d.Class
			c.add(of)
		}
		for _, s := range p.strips {
			strips[p.foot][s.Name] = true
			if p.rests(measure.EvidenceAssumed) && s.Mount.SeatMountings == 0 {
				c.warn(measure.SeatAssumed, measure.Values{Strip: s.Name, MM: s.Mount.SeatSDMM})
			}
			if p.rests(measure.EvidenceHolds) {
				c.warn(measure.SeatFromHolds, measure.Values{Strip: s.Name})
			}
		}
	}
	for _, f := range device.Feet {
		if len(strips[f]) > 1 {
			c.warnOn(f, measure.SeveralStrips, measure.Values{})
		}
		if !slices.ContainsFunc(pools, func(p *pool) bool { return p.foot == f }) {
			c.warnOn(f, measure.FootNotMeasured, measure.Values{})
		}
	}
	for _, d := range c.Trends {
		if d.Wording == Clear && !c.scatter.Larger() {
			c.add(d.warning(c.Shoes[0].Shoe))
		}
	}
	names := pools[0].conditions.Differing(conditions...)
	if slices.Contains(names, "floor") {
		c.warn(measure.SeveralFloors, measure.Values{})
	}
	if names != nil {
		c.warn(measure.SeveralConditions, measure.Values{Properties: names})
	}
}

// addNotCompared warns of shoes that were not worn on a foot under any common conditions,
// and names the conditions with the smallest difference.
func (c *Comparison) addNotCompared(pools []*pool, labels []string) {
	for i, from := range labels {
		for _, to := range labels[i+1:] {
			for _, f := range device.Feet {
				if a, _ := matchingPools(pools, f, from, to); a != nil {
					continue
				}
				var least []string
				for _, a := range conditionsOf(pools, from, f) {
					for _, b := range conditionsOf(pools, to, f) {
						if names := a.Differing(b); least == nil || len(names) < len(least) {
							least = names
						}
					}
				}
				if least != nil {
					c.warnOn(f, measure.NotCompared, measure.Values{Shoe: from, To: to, Properties: least})
				}
			}
		}
	}
}
