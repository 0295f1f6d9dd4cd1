package words

// Parts of the platform in contact, in words. Each begins at its share.
var parts = []struct {
	from float64
	word string
}{{0.95, "all"}, {0.65, "most"}, {0.35, "about half"}, {0, "an edge"}}

// widestContact is the width of a 95 % interval of contact share above which its number
// is not written, because it would suggest too much precision.
const widestContact = 1.0 / 3

// Contact writes a contact share with its 95 % interval and in words: how much of the
// platform is in contact. Where the interval is wider than a third it writes only the
// words, and without an interval only the number.
func Contact(share float64, ci95 *[2]float64) string {
	d := Display{Unit: "%", Scale: 100}
	if ci95 == nil {
		return d.Value(share)
	}
	word := parts[len(parts)-1].word
	for _, p := range parts {
		if share >= p.from {
			word = p.word
			break
		}
	}
	if ci95[1]-ci95[0] > widestContact {
		return word
	}
	return withUnit(d.number(share), d.Unit) + " (" + d.Interval(*ci95) + "), " + word
}
