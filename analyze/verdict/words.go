package verdict

import "aplomb/analyze/measure"

// wording has the words for one direction: by itself and together with a direction along
// the other axis. Of two directions the one along over comes first.
type wording struct {
	text, textWith           string // in a table
	short                    string
	predicate, predicateWith string // of a sentence that begins with a shoe
	kern, kernWith           string // place against the kern
}

var wordings = map[measure.Direction]wording{
	measure.Behind: {
		text: "behind (pulled back)", textWith: "behind", short: "behind",
		predicate: "stands behind the kern, pulled back", predicateWith: "stands behind the kern",
		kern: "behind the kern", kernWith: "behind the kern",
	},
	measure.InFront: {
		text: "too far over", textWith: "too far over", short: "too far over",
		predicate: "stands in front of the kern, too far over", predicateWith: "stands in front of the kern",
		kern: "in front of the kern", kernWith: "in front of the kern",
	},
	measure.LittleToeSide: {
		text: "to the little-toe side", textWith: "towards the little-toe side", short: "little-toe side",
		predicate: "loads the little-toe side", predicateWith: "towards the little-toe side",
		kern: "beside the kern", kernWith: "towards the little-toe side",
	},
	measure.BigToeSide: {
		text: "to the big-toe side", textWith: "towards the big-toe side", short: "big-toe side",
		predicate: "loads the big-toe side", predicateWith: "towards the big-toe side",
		kern: "beside the kern", kernWith: "towards the big-toe side",
	},
}

// undirected returns the words for a verdict that names no direction.
func undirected(v measure.Verdict) string {
	switch v {
	case measure.OverTheBox:
		return "over the box"
	case measure.TooCloseToCall:
		return "too close to call"
	}
	return string(v)
}

// Text returns a verdict in plain words, for a table: behind and towards the little-toe
// side. Arguments are those of [Directions].
func Text(v measure.Verdict, misses []measure.Direction, medialMM float64) string {
	return join(Directions(v, misses, medialMM), " and ", undirected(v),
		func(w wording) (string, string) { return w.text, w.textWith })
}

// ShortText returns a verdict in as few words as can be understood, for where there is no
// room for those of [Text].
func ShortText(v measure.Verdict, misses []measure.Direction, medialMM float64) string {
	return join(Directions(v, misses, medialMM), ", ", undirected(v),
		func(w wording) (string, string) { return w.short, w.short })
}

// Predicate returns a verdict as the end of a sentence that begins with a shoe.
func Predicate(v measure.Verdict, misses []measure.Direction, medialMM float64) string {
	otherwise := "is " + undirected(v)
	if v == measure.TooCloseToCall {
		otherwise = "is too close to the kern's edge to call"
	}
	return join(Directions(v, misses, medialMM), " and ", otherwise,
		func(w wording) (string, string) { return w.predicate, w.predicateWith })
}

// AgainstKern returns where the load lies against the kern, for a text that says is.
func AgainstKern(v measure.Verdict, misses []measure.Direction, medialMM float64) string {
	return join(Directions(v, misses, medialMM), " and ", undirected(v),
		func(w wording) (string, string) { return w.kern, w.kernWith })
}

// join returns the words for directions, those of alone for one and those of with for two;
// otherwise where there is none.
func join(directions []measure.Direction, between, otherwise string, of func(wording) (alone, with string)) string {
	if len(directions) == 0 {
		return otherwise
	}
	text, with := of(wordings[directions[0]])
	if len(directions) == 1 {
		return text
	}
	_, second := of(wordings[directions[1]])
	return with + between + second
}
