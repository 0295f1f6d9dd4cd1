package compare

import (
	"fmt"
	"slices"
	"strings"

	"aplomb/analyze/measure"
	"aplomb/analyze/verdict"
	"aplomb/device"
)

// This file and open.go and relation.go write the headline of a comparison. Its first
// sentence contains the verdicts, the second what else is known of the shoes, the third
// what is open and what would decide it. A shoe is called better or nearer only where the
// difference is clear.

// Stop is the sentence for a dancer whose pain is a reason to stop.
const Stop = "There is pain: stop here, and have the dancer's clinician look at it."

// mostNamed is the largest number of shoes that a sentence names one by one.
const mostNamed = 4

// shoeVerdict holds the verdicts on one shoe under one set of conditions.
type shoeVerdict struct {
	name, label string
	feet        [2]*pool  // nil where nothing was measured
	phrase      [2]string // "" likewise
}

// Phrases for a verdict that is open, for a single relevé, and for over the box.
const (
	openPhrase   = "too close to call"
	singlePhrase = "not known from a single relevé"
	overPhrase   = "over the box"
)

// measuredOn returns the feet that were measured.
func (s *shoeVerdict) measuredOn() (feet []device.Foot) {
	for _, f := range device.Feet {
		if s.feet[f] != nil {
			feet = append(feet, f)
		}
	}
	return feet
}

// is reports whether every foot measured has this phrase.
func (s *shoeVerdict) is(phrase string) bool { return s.with(phrase) == len(s.measuredOn()) }

// with returns the number of feet with this phrase.
func (s *shoeVerdict) with(phrase string) (n int) {
	for _, p := range s.phrase {
		if p == phrase {
			n++
		}
	}
	return n
}

// alike reports whether every foot measured has the same phrase.
func (s *shoeVerdict) alike() bool { return s.is(s.phrase[s.measuredOn()[0]]) }

// inOrder returns the feet measured, those over the box first.
func (s *shoeVerdict) inOrder() []device.Foot {
	feet := s.measuredOn()
	slices.SortStableFunc(feet, func(a, b device.Foot) int {
		switch isA, isB := s.phrase[a] == overPhrase, s.phrase[b] == overPhrase; {
		case isA && !isB:
			return -1
		case isB && !isA:
			return 1
		}
		return 0
	})
	return feet
}

// phraseOf returns the verdict of a pool as a phrase.
func phraseOf(p *pool) string {
	if s, _ := p.sample(measure.Over); s.scatterDOF == 0 {
		return singlePhrase
	}
	v, misses, at := p.verdict()
	return verdict.Phrase(v, misses, at[0])
}

// shoeVerdicts returns the verdicts on every shoe under each set of conditions, shoes
// over the box first.
func shoeVerdicts(pools []*pool) (all []*shoeVerdict) {
	for _, p := range pools {
		i := slices.IndexFunc(all, func(s *shoeVerdict) bool { return s.name == p.name() })
		if i < 0 {
			i = len(all)
			all = append(all, &shoeVerdict{name: p.name(), label: p.label})
		}
		all[i].feet[p.foot], all[i].phrase[p.foot] = p, phraseOf(p)
	}
	rank := func(s *shoeVerdict) int {
		switch {
		case s.is(overPhrase):
			return 0
		case s.with(overPhrase) > 0:
			return 1
		}
		return 2
	}
	slices.SortStableFunc(all, func(a, b *shoeVerdict) int { return rank(a) - rank(b) })
	return all
}

// headline returns the headline of a comparison with at least one pool.
func (c *Comparison) headline(pools []*pool, labels []string, claimed claims, won wins) string {
	all := shoeVerdicts(pools)
	var settled, single, open []*shoeVerdict
	for _, s := range all {
		switch {
		case s.is(singlePhrase):
			single = append(single, s)
		case s.is(openPhrase):
			open = append(open, s)
		default:
			settled = append(settled, s)
		}
	}
	h := headlineBuilder{c: c, pools: pools, labels: labels, claimed: claimed, won: won}
	var first string
	switch {
	case len(all) == 1 && len(single) == 0:
		c.Parts.Verdicts, c.Parts.Sittings = h.oneShoe(all[0]), grouped(all)
		text := c.Parts.Verdicts
		if e, some := effortOf(all[0]); some && !c.Pain {
			c.Parts.Open = []*Open{openVerdicts(e, all)}
			text += ": " + e.decide("")
		}
		return c.withStop(text + ".")
	case len(settled) > 0:
		first = h.verdicts(settled, len(settled) == len(all) && len(c.unmeasured(labels)) == 0)
		h.addRelations()
		c.Parts = Headline{Verdicts: capital(first), Sittings: append(grouped(settled), grouped(open)...), Better: h.better(), Open: h.open}
	case len(open) > 0:
		c.Parts.Verdicts, c.Parts.Sittings = capital(h.clauses(open)), grouped(open)
		first = h.allOpen(open)
	}
	if len(single) > 0 {
		more := ": more relevés would"
		if c.Pain {
			more = ""
		}
		h.known = append(h.known, "a single relevé does not tell where the load sits in "+names(single)+more)
	}
	if missing := c.unmeasured(labels); len(missing) > 0 {
		h.known = append(h.known, "nothing was measured in "+listed(missing))
	}
	c.Parts.Known = h.known
	known, unknown := strings.Join(h.known, "; "), h.openText()
	if c.Pain && known != "" && unknown != "" {
		known, unknown = known+"; "+unknown, ""
	}
	if first != "" && known == "" && unknown != "" && !strings.ContainsAny(first, ";:") {
		first, unknown = first+"; "+unknown, ""
	}
	var sentences []string
	for _, one := range []string{first, known, unknown} {
		if one != "" {
			sentences = append(sentences, h.sentence(one))
		}
	}
	return c.withStop(strings.Join(sentences, " "))
}

// withStop appends the sentence for pain where there is any.
func (c *Comparison) withStop(text string) string {
	if c.Pain {
		text += " " + Stop
	}
	return text
}

// unmeasured returns the shoes of which no relevé was measured on any foot.
func (c *Comparison) unmeasured(labels []string) (missing []string) {
	for _, w := range c.Warnings {
		shoe := w.Values.Shoe
		if w.Code == measure.NothingMeasured && !slices.Contains(labels, shoe) && !slices.Contains(missing, shoe) {
			missing = append(missing, shoe)
		}
	}
	return missing
}

// headlineBuilder collects the clauses of a headline.
type headlineBuilder struct {
	c       *Comparison
	pools   []*pool
	labels  []string
	claimed claims
	won     wins

	known []string
	open  []*Open
}

// oneShoe returns the headline of one shoe.
func (h *headlineBuilder) oneShoe(s *shoeVerdict) string {
	feet := s.inOrder()
	text := "in shoe " + s.name + " the load "
	switch {
	case s.is(openPhrase):
		text = fmt.Sprintf("in shoe %s it is too close to call %s whether the load sits over the box", s.name, onFeet(feet))
	case s.alike():
		text += sitsText(s.feet[feet[0]]) + " " + onFeet(feet)
	default:
		text += sitsText(s.feet[feet[0]]) + " on the " + feet[0].String() + " foot and "
		rest := sitsText(s.feet[feet[1]])
		switch phrase := s.phrase[feet[1]]; {
		case phrase == openPhrase || phrase == singlePhrase:
			rest = "is " + phrase
		case strings.HasPrefix(text, "in shoe "+s.name+" the load sits"):
			rest = strings.TrimPrefix(rest, "sits ")
		}
		text += rest + " on the " + feet[1].String()
	}
	return capital(text)
}

// sitsText returns the verdict of a pool as the end of a sentence that begins with the load.
func sitsText(p *pool) string {
	switch phrase := phraseOf(p); phrase {
	case openPhrase, singlePhrase:
		return "is " + phrase
	}
	v, misses, at := p.verdict()
	return verdict.Sits(v, misses, at[0])
}

// effortOf returns the effort that would decide the open verdicts on shoes; some is false
// where none is open.
func effortOf(all ...*shoeVerdict) (e Effort, some bool) {
	for _, s := range all {
		for f, p := range s.feet {
			switch {
			case s.phrase[f] != openPhrase:
			case !some:
				e, some = p.effortForVerdict(), true
			default:
				e = e.larger(p.effortForVerdict())
			}
		}
	}
	return e, some
}

// openVerdicts returns the clause that the verdicts on shoes are open, and that e would
// decide them.
func openVerdicts(e Effort, all []*shoeVerdict) *Open {
	o := &Open{Kind: NotJudged, Effort: e}
	for _, s := range all {
		o.Shoes = append(o.Shoes, s.name)
	}
	if s := all[0]; len(all) == 1 && s.with(openPhrase) < len(s.measuredOn()) {
		for _, f := range s.measuredOn() {
			if s.phrase[f] == openPhrase {
				o.Feet = onFeet([]device.Foot{f})
			}
		}
	}
	return o
}

// decide returns the clause about what would decide a verdict.
func (e Effort) decide(each string) string {
	if e.Hopeless {
		return e.text(each) + " would not decide" + e.since()
	}
	return e.text(each) + " would decide"
}

// allOpen returns the sentence for shoes whose verdicts are all open.
func (h *headlineBuilder) allOpen(open []*shoeVerdict) string {
	text := h.clauses(open)
	if e, _ := effortOf(open...); !h.c.Pain {
		h.c.Parts.Open = []*Open{openVerdicts(e, open)}
		each := ""
		if len(open) > 1 {
			each = " of each"
		}
		text += ": " + e.decide(each)
	}
	return text
}

// verdicts returns the sentence about where the load sits in each shoe. all reports that
// these are all the shoes.
func (h *headlineBuilder) verdicts(settled []*shoeVerdict, all bool) string {
	text := h.clauses(settled)
	if !all || len(h.labels) < 2 || slices.ContainsFunc(settled, func(s *shoeVerdict) bool { return s.with(overPhrase)+s.with(openPhrase)+s.with(singlePhrase) > 0 }) {
		return text
	}
	if len(h.labels) == 2 {
		return "over the box in neither shoe: " + text
	}
	return "over the box in none of the shoes: " + text
}

// clauses returns where the load sits in each shoe, with one clause for shoes in which it
// is the same.
func (h *headlineBuilder) clauses(all []*shoeVerdict) string {
	var groups [][]*shoeVerdict
	even := true // every shoe has one phrase, on the same feet
	for _, s := range all {
		i := slices.IndexFunc(groups, func(g []*shoeVerdict) bool { return g[0].phrase == s.phrase })
		if i < 0 {
			i = len(groups)
			groups = append(groups, nil)
		}
		groups[i] = append(groups[i], s)
		even = even && s.alike() && slices.Equal(s.measuredOn(), all[0].measuredOn())
	}
	var clauses []string
	for i, g := range groups {
		s, feet := g[0], g[0].inOrder()
		switch {
		case even && i > 0:
			clauses = append(clauses, s.phrase[feet[0]]+" in "+names(g))
		case s.alike():
			clauses = append(clauses, s.phrase[feet[0]]+" "+onFeet(feet)+" in "+names(g))
		default:
			clauses = append(clauses, fmt.Sprintf("in %s %s on the %s foot and %s on the %s", names(g), s.phrase[feet[0]], feet[0], s.phrase[feet[1]], feet[1]))
		}
	}
	if even {
		return strings.Join(clauses, ", ")
	}
	return strings.Join(clauses, "; ")
}

// Headline holds the parts of a headline, for pages that word them differently.
type Headline struct {
	Verdicts string    // where the load sits in the shoes, without a full stop
	Sittings []Sitting // the verdicts in Verdicts, in the same order, and then the shoes that are too close to call
	Better   []Better  // shoes that no other is better than, each with those that it is better than
	Known    []string  // what else is known, clauses
	Open     []*Open
}

// Sitting is the position of the load in a group of shoes in which it is the same.
type Sitting struct {
	Shoes []string     // names, with the conditions where these differ
	Feet  [2]*FootSits // by device.Foot; nil where nothing was measured
}

// FootSits is the position of the load on one foot. Single reports that there is only one
// relevé, which is not enough for a verdict.
type FootSits struct {
	Verdict    measure.Verdict
	Directions []measure.Direction // in which it misses the kern, see verdict.Directions
	Single     bool
}

// Better reports that a shoe is better than others on some feet, where the difference is
// clear, and that none of them is better than it on any foot.
type Better struct {
	Shoe string
	Than []string
	Feet []device.Foot
}

// better returns the shoes that no other is better than, each with those that it is
// better than. Shoes that it beats on most feet come first.
func (h *headlineBuilder) better() (all []Better) {
	for _, s := range h.won.rank(h.labels) {
		if s.Place > 1 {
			break
		}
		var of []Better
		for _, other := range s.Better {
			feet := h.won.feet(s.Shoe, other)
			i := slices.IndexFunc(of, func(b Better) bool { return slices.Equal(b.Feet, feet) })
			if i < 0 {
				i, of = len(of), append(of, Better{Shoe: s.Shoe, Feet: feet})
			}
			of[i].Than = append(of[i].Than, other)
		}
		slices.SortStableFunc(of, func(a, b Better) int { return len(b.Feet) - len(a.Feet) })
		all = append(all, of...)
	}
	return all
}

// grouped groups shoes in which the load sits at the same place, in the order of their
// first members.
func grouped(all []*shoeVerdict) (groups []Sitting) {
	var phrases [][2]string
	for _, s := range all {
		i := slices.Index(phrases, s.phrase)
		if i < 0 {
			i, phrases = len(phrases), append(phrases, s.phrase)
			var g Sitting
			for _, f := range s.measuredOn() {
				v, misses, at := s.feet[f].verdict()
				g.Feet[f] = &FootSits{Verdict: v, Directions: verdict.Directions(v, misses, at[0]), Single: s.phrase[f] == singlePhrase}
			}
			groups = append(groups, g)
		}
		groups[i].Shoes = append(groups[i].Shoes, s.name)
	}
	return groups
}

// conditionNames returns the names of the conditions in which pools differ.
func conditionNames(pools []*pool) []string {
	var all []measure.Conditions
	for _, p := range pools {
		all = append(all, p.conditions)
	}
	return pools[0].conditions.Differing(all...)
}

// distinct sorts feet and removes repeated ones.
func distinct(feet []device.Foot) []device.Foot {
	slices.Sort(feet)
	return slices.Compact(feet)
}

// names lists the names of shoes.
func names(shoes []*shoeVerdict) string {
	var all []string
	for _, s := range shoes {
		all = append(all, s.name)
	}
	return listed(all)
}

// listed lists words, the first few where they are many.
func listed(words []string) string {
	if n := mostNamed - 1; len(words) > mostNamed {
		return fmt.Sprintf("%s and %d others", strings.Join(words[:n], ", "), len(words)-n)
	}
	return joinWords(words)
}

// sentence returns a clause as a sentence. A shoe at its beginning keeps its spelling.
func (h *headlineBuilder) sentence(clause string) string {
	for _, label := range h.labels {
		if rest, is := strings.CutPrefix(clause, label); is && (strings.HasPrefix(rest, " ") || strings.HasPrefix(rest, ",")) {
			return clause + "."
		}
	}
	return sentence(clause)
}

// capital returns s, whose first letter is an ASCII one, with that in upper case.
func capital(s string) string { return strings.ToUpper(s[:1]) + s[1:] }
