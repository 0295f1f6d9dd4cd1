package verdict

import "aplomb/analyze/measure"

// wording has the words for one direction: by itself and together with a direction along
// the other axis. Of two directions the one along over comes first.
type wording struct {
	text, textWith string // in a table
	short          string
	sits, sitsWith string // of a sentence that begins with the load
	kern, kernWith string // place against the kern
}

var wordings = map[measure.Direction]wording{
	measure.Behind: {
		text: "behind (pulled back)", textWith: "behind", short: "behind",
		sits: "sits behind the kern (pulled back)", sitsWith: "sits behind the kern",
		kern: "behind the kern", kernWith: "behind the kern",
	},
	measure.InFront: {
		text: "too far over", textWith: "too far over", short: "too far over",
		sits: "sits in front of the kern (too far over)", sitsWith: "sits in front of the kern",
		kern: "in front of the kern", kernWith: "in front of the kern",
	},
	measure.LittleToeSide: {
		text: "to the little-toe side", textWith: "towards the little-toe side", short: "little-toe side",
		sits: "sits towards the little-toe side", sitsWith: "towards the little-toe side",
		kern: "beside the kern", kernWith: "towards the little-toe side",
	},
	measure.BigToeSide: {
		text: "to the big-toe side", textWith: "towards the big-toe side", short: "big-toe side",
		sits: "sits towards the big-toe side", sitsWith: "towards the big-toe side",
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

// ShortText returns a verdict in as few words as possible, for places without room for
// those of [Text].
func ShortText(v measure.Verdict, misses []measure.Direction, medialMM float64) string {
	return join(Directions(v, misses, medialMM), ", ", undirected(v),
		func(w wording) (string, string) { return w.short, w.short })
}

// Phrase returns a verdict as part of a sentence that names shoe and foot: behind in A.
func Phrase(v measure.Verdict, misses []measure.Direction, medialMM float64) string {
	return join(Directions(v, misses, medialMM), " and ", undirected(v),
		func(w wording) (string, string) { return w.textWith, w.textWith })
}

// Sits returns a verdict as the end of a sentence that begins with the load: the load sits
// behind the kern.
func Sits(v measure.Verdict, misses []measure.Direction, medialMM float64) string {
	otherwise := "sits " + undirected(v)
	if v == measure.TooCloseToCall {
		otherwise = "sits too close to the kern's edge to call"
	}
	return join(Directions(v, misses, medialMM), " and ", otherwise,
		func(w wording) (string, string) { return w.sits, w.sitsWith })
}

// AgainstKern returns where the load lies relative to the kern, as the end of a sentence
// with "is".
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
