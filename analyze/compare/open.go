package compare

import (
	"fmt"
	"strings"
)

// OpenKind is what is open about a shoe.
type OpenKind int

// Kinds of what is open.
const (
	NotTold   OpenKind = iota // which is better, the shoe or the one in front
	NotClear                  // the difference from the shoe in front, although the verdicts differ
	NotJudged                 // whether the load sits over the box
)

// Open is an open question about some shoes, on some feet, and what would decide it.
type Open struct {
	Kind  OpenKind
	Feet  string // such as "on the left foot"; "" where it is all feet that were compared
	Shoes []string
	Front string // the shoe in front; "" where Kind is NotJudged
	Effort
}

// addOpen adds an open question; shoes with the same question are joined.
func (h *headlineBuilder) addOpen(o Open) {
	for _, same := range h.open {
		if same.Kind == o.Kind && same.Feet == o.Feet && same.Hopeless == o.Hopeless && same.Front == o.Front {
			same.Shoes, same.Effort = append(same.Shoes, o.Shoes...), same.Effort.larger(o.Effort)
			return
		}
	}
	h.open = append(h.open, &o)
}

// openText returns what is open, "" where nothing is.
func (h *headlineBuilder) openText() string {
	var clauses []string
	for _, o := range h.open {
		clauses = append(clauses, o.text(h.c.Pain))
	}
	return strings.Join(clauses, "; ")
}

// text returns the clause. With pain it suggests no further measurement.
func (o *Open) text(pain bool) string {
	prefix, suffix := "", ""
	if o.Feet != "" {
		prefix, suffix = o.Feet+" ", " "+o.Feet
	}
	are, each := "is", ""
	if len(o.Shoes) > 1 {
		are, each = "are", " of each"
	}
	yet := " yet"
	if pain || o.Hopeless {
		yet = ""
	}
	var text, would string
	switch o.Kind {
	case NotTold:
		text = fmt.Sprintf("%s%s cannot be told from %s%s", prefix, listed(o.Shoes), o.Front, yet)
		would = o.Effort.text(" of each") + " would"
		if o.Hopeless {
			would += " not do" + o.Effort.since()
		}
	case NotClear:
		others := listed(o.Shoes)
		if len(o.Shoes) > 1 {
			others = "each of " + others
		}
		text = fmt.Sprintf("%sthe difference between %s and %s is not clear%s", prefix, o.Front, others, yet)
		would = o.Effort.text(" of each") + " would make it clear"
		if o.Hopeless {
			would = o.Effort.text(" of each") + " would not make it clear" + o.Effort.since()
		}
	default:
		text = fmt.Sprintf("%s %s %s%s", listed(o.Shoes), are, openPhrase, suffix)
		would = o.decide(each)
	}
	if pain {
		return text
	}
	return text + ": " + would
}
