package compare

import (
	"fmt"
	"slices"
	"strings"

	"aplomb/analyze/measure"
	"aplomb/device"
)

// addRelations adds what is known and what is open about every other shoe compared with the one
// in front.
func (h *headlineBuilder) addRelations() {
	front := h.front()
	var apart, otherwise []string
	var nearerThan, alike, differently byFeet
	for _, other := range h.labels {
		if other == front {
			continue
		}
		r := h.relation(front, other)
		switch {
		case len(r.feet) == 0:
			apart = append(apart, other)
			if o, some := h.openIn(other); some {
				h.addOpen(o)
			}
		case len(r.lost) > 0:
			otherwise = append(otherwise, r.disagree(front, other))
		case len(r.nearer) > 0:
			nearerThan.add(onFeet(r.nearer), other)
		case len(r.over) == len(r.feet):
			alike.add(h.scope(r.over, front, other), other)
		case len(r.differ) > 0 && len(r.won) == 0:
			differently.add(h.scope(r.differ, front, other), other)
		}
		h.addRelation(front, other, r)
	}
	if o, some := h.openIn(front); some {
		h.addOpen(o)
	}
	for _, g := range nearerThan {
		h.known = append(h.known, fmt.Sprintf("%s %s is nearer than %s", g.on, front, listed(g.shoes)))
	}
	for _, g := range alike {
		h.known = append(h.known, strings.TrimSpace(g.on+" these numbers do not choose between "+listed(h.inOrder(append(g.shoes, front)))))
	}
	for _, g := range differently {
		text := listed(h.inOrder(append(g.shoes, front))) + " miss the kern differently, and these numbers do not choose between them"
		h.known = append(h.known, strings.TrimSpace(g.on+" "+text))
	}
	h.known = append(h.known, otherwise...)
	switch properties := strings.Join(conditionNames(h.pools), ", "); {
	case len(apart) > 0 && properties == "":
		h.known = append(h.known, listed(h.inOrder(append(apart, front)))+" were measured on different feet and are not compared")
	case len(apart) > 0:
		h.known = append(h.known, fmt.Sprintf("%s were worn under different conditions (%s) and are not compared", listed(h.inOrder(append(apart, front))), properties))
	case len(h.labels) == 1 && properties != "":
		h.known = append(h.known, "different conditions ("+properties+") are not compared")
	}
}

// byFeet groups shoes by the feet on which something is known of them.
type byFeet []struct {
	on    string
	shoes []string
}

func (all *byFeet) add(on, shoe string) {
	for i := range *all {
		if (*all)[i].on == on {
			(*all)[i].shoes = append((*all)[i].shoes, shoe)
			return
		}
	}
	*all = append(*all, struct {
		on    string
		shoes []string
	}{on, []string{shoe}})
}

// addRelation adds what is open between the shoe in front and another.
func (h *headlineBuilder) addRelation(front, other string, r relation) {
	for _, one := range []struct {
		kind   OpenKind
		feet   []device.Foot
		effort Effort
		front  string
	}{
		{NotTold, r.untold, r.toTell, front}, {NotClear, r.unclear, r.toClear, front}, {NotJudged, r.unjudged, r.toJudge, ""},
	} {
		if len(one.feet) > 0 {
			h.addOpen(Open{Kind: one.kind, Feet: h.scope(one.feet, front, other), Shoes: []string{other}, Front: one.front, Effort: one.effort})
		}
	}
}

// front returns the shoe with which the others are compared: the preferred one or,
// without a preference, among the shoes that no other is better than, the one that is
// over the box on most feet and has most verdicts.
func (h *headlineBuilder) front() string {
	if h.c.Preferred != "" {
		return h.c.Preferred
	}
	best, most := "", -1
	for _, s := range h.won.rank(h.labels) {
		if s.Place > 1 {
			break
		}
		score := 0
		for _, p := range h.pools {
			switch {
			case p.label != s.Shoe:
			case phraseOf(p) == overPhrase:
				score += 10
			case phraseOf(p) != openPhrase && phraseOf(p) != singlePhrase:
				score++
			}
		}
		if score > most {
			best, most = s.Shoe, score
		}
	}
	return best
}

// measured returns the feet on which a shoe was measured.
func (h *headlineBuilder) measured(label string) (feet []device.Foot) {
	for _, p := range h.pools {
		if p.label == label {
			feet = append(feet, p.foot)
		}
	}
	return distinct(feet)
}

// openIn returns the open question about the verdicts on a shoe; some is false where
// there is none.
func (h *headlineBuilder) openIn(label string) (o Open, some bool) {
	o.Kind, o.Shoes = NotJudged, []string{label}
	var feet []device.Foot
	for _, p := range h.pools {
		if p.label != label || phraseOf(p) != openPhrase {
			continue
		}
		if some {
			o.Effort = o.Effort.larger(p.effortForVerdict())
		} else {
			o.Effort, some = p.effortForVerdict(), true
		}
		feet = append(feet, p.foot)
	}
	if feet = distinct(feet); some && len(feet) < len(h.measured(label)) {
		o.Feet = onFeet(feet)
	}
	return o, some
}

// inOrder sorts shoes in the order of the comparison.
func (h *headlineBuilder) inOrder(shoes []string) []string {
	slices.SortFunc(shoes, func(a, b string) int { return slices.Index(h.labels, a) - slices.Index(h.labels, b) })
	return shoes
}

// relation is the result of comparing one shoe with another, by feet.
type relation struct {
	feet      []device.Foot
	won, lost []device.Foot
	nearer    []device.Foot // won, and not over the box
	over      []device.Foot // both shoes are
	differ    []device.Foot // both miss the kern in ways that are not compared

	untold, unclear, unjudged []device.Foot
	toTell, toClear, toJudge  Effort
}

// scope names feet, "" where no other foot of two shoes was measured.
func (h *headlineBuilder) scope(feet []device.Foot, one, other string) string {
	if len(feet) == len(distinct(append(h.measured(one), h.measured(other)...))) {
		return ""
	}
	return onFeet(feet)
}

// relation compares the shoe in front with another.
func (h *headlineBuilder) relation(front, other string) (r relation) {
	need := func(feet *[]device.Foot, e *Effort, f device.Foot, more Effort) {
		if len(*feet) == 0 {
			*e = more
		} else {
			*e = e.larger(more)
		}
		*feet = append(*feet, f)
	}
	for _, f := range device.Feet {
		a, b := matchingPools(h.pools, f, front, other)
		if a == nil {
			continue
		}
		r.feet = append(r.feet, f)
		va, vb := phraseOf(a), phraseOf(b)
		m, ok := a.nearer(b)
		if !ok {
			m, ok = b.nearer(a)
		}
		switch {
		case h.won[f][[2]string{front, other}]:
			r.won = append(r.won, f)
			if va != overPhrase {
				r.nearer = append(r.nearer, f)
			}
		case h.won[f][[2]string{other, front}]:
			r.lost = append(r.lost, f)
		case va == singlePhrase || vb == singlePhrase:
		case va == overPhrase && vb == overPhrase:
			r.over = append(r.over, f)
		case vb == openPhrase && (va != overPhrase || h.differs(a, b)):
			need(&r.unjudged, &r.toJudge, f, b.effortForVerdict())
		case va == openPhrase: // said of the shoe in front
		case vb == openPhrase:
			need(&r.untold, &r.toTell, f, h.claimed.effortForDifference(a, b, measure.Over))
		case ok && (va == overPhrase) != (vb == overPhrase):
			need(&r.unclear, &r.toClear, f, h.claimed.effortForDifference(a, b, m))
		case ok || va == vb:
			need(&r.untold, &r.toTell, f, h.claimed.effortForDifference(a, b, m))
		default:
			r.differ = append(r.differ, f)
		}
	}
	return r
}

// differs reports whether the centres of pressure of two pools differ clearly along an
// axis.
func (h *headlineBuilder) differs(a, b *pool) bool {
	return h.claimed.adjusted(a, b, measure.Over) <= clearUpTo || h.claimed.adjusted(a, b, measure.Medial) <= clearUpTo
}

// disagree returns the clause about which of two shoes is better on which foot.
func (r relation) disagree(front, other string) string {
	loses := fmt.Sprintf("%s %s is better than %s", onFeet(r.lost), other, front)
	if len(r.won) == 0 {
		return loses
	}
	wins := fmt.Sprintf("%s %s is better than %s", onFeet(r.won), front, other)
	if r.lost[0] < r.won[0] {
		return loses + ", " + wins
	}
	return wins + ", " + loses
}
