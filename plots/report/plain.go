package report

import (
	"slices"
	"strings"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/device"
)

// mostNamed is the largest number of shoes that a sentence names one by one.
const mostNamed = 4

// plainHeadline returns where the weight is in each shoe in words for a dancer, with one
// sentence for shoes in which it is the same. A term of the trade appears once, in
// brackets after its meaning. It returns nil where nothing was measured.
func plainHeadline(groups []compare.Sitting) (texts []string) {
	glossed := map[string]bool{}
	gloss := func(one compare.FootSits) string {
		key := termOf(one)
		if key == "" || glossed[key] {
			return ""
		}
		glossed[key] = true
		return say("fitting term", say(key))
	}
	even := true // every shoe has one verdict, on the same feet
	for _, g := range groups {
		even = even && sameResult(g) && slices.Equal(feetOf(g), feetOf(groups[0]))
	}
	for i, g := range groups {
		shoes, feet := namedShoes(g.Shoes), decidedFirst(g)
		first := *g.Feet[feet[0]]
		subject := say("fitting it")
		if i == 0 {
			subject = say("fitting weight")
		}
		on := ""
		if i == 0 || !even {
			on = say("fitting on", feetNamed(feet))
		}
		switch {
		case unknown(first) && first.Single && sameResult(g):
			texts = append(texts, say("fitting sits single", shoes, on))
		case unknown(first) && i > 0:
			texts = append(texts, say("fitting sits later open", shoes, on))
		case unknown(first):
			texts = append(texts, say("fitting sits open", shoes, on))
		case sameResult(g):
			texts = append(texts, say("fitting sits", shoes, subject, plainPlace(first), on+gloss(first)))
		case unknown(*g.Feet[feet[1]]):
			texts = append(texts, say("fitting sits one", shoes, subject, plainPlace(first), say("fitting on", feetNamed(feet[:1]))+gloss(first), footName(feet[1])))
		default:
			second := *g.Feet[feet[1]]
			texts = append(texts, say("fitting sits two", shoes, subject, plainPlace(first), say("fitting on", feetNamed(feet[:1]))+gloss(first),
				plainPlace(second), say("fitting on", feetNamed(feet[1:]))+gloss(second)))
		}
	}
	return texts
}

// unknown reports whether it is not known where the load sits.
func unknown(f compare.FootSits) bool { return f.Single || f.Verdict == measure.TooCloseToCall }

// feetOf returns the feet that were measured.
func feetOf(g compare.Sitting) (feet []device.Foot) {
	for _, f := range device.Feet {
		if g.Feet[f] != nil {
			feet = append(feet, f)
		}
	}
	return feet
}

// decidedFirst returns the feet that were measured, those over the box first and undecided
// ones last.
func decidedFirst(g compare.Sitting) []device.Foot {
	rank := func(f device.Foot) int {
		switch {
		case unknown(*g.Feet[f]):
			return 2
		case g.Feet[f].Verdict == measure.OverTheBox:
			return 0
		}
		return 1
	}
	feet := feetOf(g)
	slices.SortStableFunc(feet, func(a, b device.Foot) int { return rank(a) - rank(b) })
	return feet
}

// sameResult reports whether the result is the same on all feet that were measured.
func sameResult(g compare.Sitting) bool {
	feet := feetOf(g)
	one, other := g.Feet[feet[0]], g.Feet[feet[len(feet)-1]]
	return one.Single == other.Single && one.Verdict == other.Verdict && slices.Equal(one.Directions, other.Directions)
}

// directions holds the texts for the directions in which the load misses the kern: where
// it is, and the term of the trade for that where there is one.
var directions = map[measure.Direction][2]string{
	measure.Behind:        {"fitting too far back", "fitting term behind"},
	measure.InFront:       {"fitting too far forward", "fitting term over"},
	measure.LittleToeSide: {"fitting too far little", ""},
	measure.BigToeSide:    {"fitting too far big", ""},
}

// plainPlace returns where the load sits: in the right place, or in which directions too
// far.
func plainPlace(f compare.FootSits) string {
	if f.Verdict == measure.OverTheBox {
		return say("fitting right place")
	}
	var parts []string
	for _, d := range f.Directions {
		parts = append(parts, say(directions[d][0]))
	}
	return say("fitting too far", listed(parts))
}

// termOf returns the key of the trade's term for where the load sits, "" where there is none.
func termOf(f compare.FootSits) string {
	switch {
	case f.Verdict == measure.OverTheBox:
		return "fitting term box"
	case len(f.Directions) == 1:
		return directions[f.Directions[0]][1]
	}
	return ""
}

// feetNamed names one foot or both.
func feetNamed(feet []device.Foot) string {
	if len(feet) == 1 {
		return say("fitting one foot", footName(feet[0]))
	}
	return say("fitting both feet")
}

// namedShoes lists shoes, the first few where they are many.
func namedShoes(shoes []string) string {
	if n := mostNamed - 1; len(shoes) > mostNamed {
		return say("fitting and", strings.Join(shoes[:n], ", "), say("fitting others", len(shoes)-n))
	}
	return listed(shoes)
}
