package compare

import (
	"fmt"
	"reflect"
	"slices"
	"strings"

	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/analyze/sensor"
	"aplomb/device"
)

// pool holds the measured relevés of one shoe on one foot under the same conditions.
type pool struct {
	label      string
	foot       device.Foot
	conditions measure.Conditions
	apart      string // conditions in which it differs from other pools of its shoe and foot, see Apart

	shoe     device.Shoe    // as it is worn
	strips   []device.Strip // one of each name
	contents []string       // of the strips, one of each, see sensor.Content
	marks    []int          // of the physical shoes of the pair that were worn, one of each
	platform measure.Platform

	effects   map[measure.Measure]mounting.Effect
	days      map[measure.Measure]mounting.Effect // nil where all relevés of the comparison are of one visit
	releves   []measure.Releve
	mounting  []int          // by relevé, numbered from 0
	source    []int          // by relevé, the number of its recording
	visit     []string       // by relevé
	seats     []device.Strip // by relevé, its strip with its seat
	mountings int
	aborted   int

	warnings []countedWarning
	judged   *judgement // nil until it is computed
}

// pool groups the relevés. Shoes are distinguished by their description and by the
// padding in them, not by their code: one code with several descriptions becomes
// code#1, code#2, with a warning. Hours worn are a property of the visit: a shoe that
// differs between visits in nothing else stays one shoe.
func (c *Comparison) pool(results []*measure.Result) []*pool {
	visits := visitsOf(results)
	label := c.labels(results, visits)
	var pools []*pool
	mountings := map[*pool][]string{}
	for i, r := range results {
		for _, f := range device.Feet {
			side := r.Meta.Sides[f]
			if side == nil || r.Platforms.Of(f) == nil {
				continue
			}
			l, conditions := label[content(side)], measure.ConditionsOf(&r.Meta, f)
			at := slices.IndexFunc(pools, func(p *pool) bool {
				return p.label == l && p.foot == f && p.conditions == conditions
			})
			if at < 0 {
				at = len(pools)
				pools = append(pools, &pool{
					label: l, foot: f, conditions: conditions,
					shoe: *side.Worn(), platform: *r.Platforms.Of(f), effects: c.Mountings,
				})
			}
			p := pools[at]
			if !slices.ContainsFunc(p.strips, func(s device.Strip) bool { return s.Name == side.Strip.Name }) {
				p.strips = append(p.strips, *side.Strip)
			}
			if k := sensor.Content(side.Strip); !slices.Contains(p.contents, k) {
				p.contents = append(p.contents, k)
			}
			if !slices.Contains(p.marks, side.Mark) {
				p.marks = append(p.marks, side.Mark)
			}
			name := side.Mounting
			if name == "" {
				name = fmt.Sprintf("recording %d", i) // without a name it counts as a mounting of its own
			}
			name = visits[i] + ", " + name
			m := slices.Index(mountings[p], name)
			if m < 0 {
				m = len(mountings[p])
				mountings[p] = append(mountings[p], name)
			}
			p.addReleves(r, i, f, m, visits[i])
		}
	}
	pools = slices.DeleteFunc(pools, func(p *pool) bool {
		if len(p.releves) == 0 {
			c.warnOn(p.foot, measure.NothingMeasured, measure.Values{Shoe: p.label})
		}
		return len(p.releves) == 0
	})
	for _, p := range pools {
		p.apart = Apart(p.conditions, conditionsOf(pools, p.label, p.foot))
	}
	return pools
}

// conditionsOf returns the conditions under which a shoe was measured on a foot.
func conditionsOf(pools []*pool, label string, f device.Foot) (all []measure.Conditions) {
	for _, p := range pools {
		if p.label == label && p.foot == f {
			all = append(all, p.conditions)
		}
	}
	return all
}

// comparable reports whether two pools are of different shoes on one foot under the
// same conditions.
func (p *pool) comparable(q *pool) bool {
	return p.label != q.label && p.foot == q.foot && p.conditions == q.conditions
}

// name returns the label of the shoe, with the conditions where there are several pools
// of it on the foot.
func (p *pool) name() string {
	if p.apart == "" {
		return p.label
	}
	return p.label + " (" + p.apart + ")"
}

// addReleves adds the relevés of foot f in recording number i, made in mounting
// m of a visit.
func (p *pool) addReleves(r *measure.Result, i int, f device.Foot, m int, visit string) {
	seat := seated(r.Meta.Sides[f].Strip, r.Seats.Of(f))
	for _, one := range r.Releves {
		if one.Foot != f {
			continue
		}
		if one.Status != measure.Measured && !one.Discarded {
			p.aborted++
		}
		if !one.Counts() {
			continue
		}
		p.releves = append(p.releves, one)
		p.mounting = append(p.mounting, m)
		p.source = append(p.source, i)
		p.visit = append(p.visit, visit)
		p.seats = append(p.seats, seat)
		p.mountings = max(p.mountings, m+1)
		for _, w := range one.Warnings {
			p.countWarning(w)
		}
	}
}

// rests reports whether the seat of the strip was found from this evidence in any of the
// relevés.
func (p *pool) rests(on measure.Evidence) bool {
	return slices.ContainsFunc(p.releves, func(r measure.Releve) bool {
		return slices.ContainsFunc(r.Effects, func(e measure.Effect) bool { return e.Evidence == on })
	})
}

// countedWarning is a warning about relevés with their number.
type countedWarning struct {
	measure.Warning
	n int
}

// countWarning counts a warning about a relevé. Warnings that a strip covers only part of
// the platform count as one, with the smallest covered share of all mountings.
func (p *pool) countWarning(w measure.Warning) {
	w.Foot, w.Releve = "", 0
	i := slices.IndexFunc(p.warnings, func(d countedWarning) bool {
		return reflect.DeepEqual(d.Warning, w) || w.Code == measure.StripSmall && d.Code == w.Code && d.Values.Strip == w.Values.Strip
	})
	if i < 0 {
		i = len(p.warnings)
		p.warnings = append(p.warnings, countedWarning{Warning: w})
	}
	p.warnings[i].n++
	if w.Code == measure.StripSmall { // every mounting covers another share
		v := &p.warnings[i].Values
		v.Percent = min(v.Percent, w.Values.Percent)
	}
}

// labels returns the label of every distinct shoe by its content.
func (c *Comparison) labels(results []*measure.Result, visits []string) map[string]string {
	identity := identities(results, visits)
	contents := map[string][]string{} // by code, in order of appearance
	hours := map[string][]float64{}   // worn, by identity
	var codes []string
	for _, r := range results {
		for _, side := range r.Meta.Sides {
			if side == nil {
				continue
			}
			code := side.Shoe.Code
			if contents[code] == nil {
				codes = append(codes, code)
			}
			k := identity[content(side)]
			if !slices.Contains(contents[code], k) {
				contents[code] = append(contents[code], k)
			}
			hours[k] = append(hours[k], side.Shoe.HoursWorn)
		}
	}
	name := map[string]string{} // by identity
	for _, code := range codes {
		for i, k := range contents[code] {
			name[k] = code
			if len(contents[code]) > 1 {
				name[k] = fmt.Sprintf("%s#%d", code, i+1)
			}
			if least, most := slices.Min(hours[k]), slices.Max(hours[k]); least < most {
				c.warn(measure.ShoeAged, measure.Values{Shoe: name[k], Hours: &[2]float64{least, most}})
			}
		}
		if n := len(contents[code]); n > 1 {
			c.warn(measure.ShoeDescribedTwice, measure.Values{Shoe: code, N: n, Properties: differsIn(contents[code])})
		}
	}
	label := map[string]string{}
	for k, id := range identity {
		label[k] = name[id]
	}
	return label
}

// identities returns the content by which a shoe is distinguished from others: its
// description without the hours worn. The hours are included where one visit has the same
// shoe with different hours, since a shoe does not age within a visit.
func identities(results []*measure.Result, visits []string) map[string]string {
	young := map[string]string{} // content without the hours, by content
	type inVisit struct{ content, visit string }
	hours, several := map[inVisit]float64{}, map[string]bool{}
	for i, r := range results {
		for _, side := range r.Meta.Sides {
			if side == nil {
				continue
			}
			shoe := *side.Worn()
			shoe.HoursWorn = 0
			k := inVisit{device.TOML(&shoe), visits[i]}
			young[content(side)] = k.content
			if before, met := hours[k]; met && before != side.Shoe.HoursWorn {
				several[k.content] = true
			}
			hours[k] = side.Shoe.HoursWorn
		}
	}
	identity := map[string]string{}
	for k, id := range young {
		if several[id] {
			id = k
		}
		identity[k] = id
	}
	return identity
}

// content returns the description of a shoe as it is worn.
func content(s *device.Side) string { return device.TOML(s.Worn()) }

// differsIn returns the keys in which several descriptions of a shoe differ.
func differsIn(contents []string) []string {
	lines := map[string]int{}
	for _, c := range contents {
		for line := range strings.Lines(c) {
			lines[strings.TrimSpace(line)]++
		}
	}
	var keys []string
	for line, n := range lines {
		if key, _, ok := strings.Cut(line, " ="); ok && n < len(contents) && !slices.Contains(keys, key) {
			keys = append(keys, key)
		}
	}
	slices.Sort(keys)
	return keys
}

// codeOf returns the code of a shoe from its label.
func codeOf(label string) string {
	code, _, _ := strings.Cut(label, "#")
	return code
}

// labelsOf returns the labels of the shoes in order of appearance.
func labelsOf(pools []*pool) []string {
	var labels []string
	for _, p := range pools {
		if !slices.Contains(labels, p.label) {
			labels = append(labels, p.label)
		}
	}
	return labels
}

// summary summarises the pool.
func (p *pool) summary() ShoeFoot {
	s := ShoeFoot{
		Shoe: p.label, Foot: p.foot, Conditions: p.conditions,
		N: len(p.releves), Mountings: p.mountings, Measures: map[measure.Measure]Summary{},
		Profile: p.shoe, Platform: p.platform, Releves: p.releves, Mounting: p.mounting, Strip: p.strips[0],
	}
	for _, m := range measure.All() {
		if one, ok := p.sample(m); ok {
			sum := one.summary()
			sum.Budget = p.budget(m, one, sum)
			s.Measures[m] = sum
		}
	}
	s.Verdict, s.PInside, s.Misses = p.judge(s.Measures[measure.Over], s.Measures[measure.Medial])
	s.MeanMap = p.meanMap()
	return s
}
