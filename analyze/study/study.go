// Package study describes a study that is declared before its first recording: which
// dancers try which shoes in which order and under which labels, which measure is
// primary, and when it is evaluated. It determines what is missing, and compares shoes
// over dancers. Its input are names and numbers, without recordings or a database. Its
// texts are in words.go.
package study

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"aplomb/analyze/measure"
	"aplomb/analyze/plan"
	"aplomb/device"
)

// Study is a declared plan.
type Study struct {
	Name      string
	Declared  string          // day, 2026-03-14
	Seed      uint64          // determines orders, labels and the random draws of tests
	Measure   measure.Measure // the primary measure, the only one with a wording
	Feet      [2]bool         // by device.Foot, those that are recorded
	Visits    int             // of each dancer
	Mountings int             // of the strips under each shoe in each visit
	Releves   int             // fewest in each mounting
	Stop      int             // number of dancers with complete recordings from which the shoes are compared
	Shoes     []Shoe          // in the order given
	Rows      []Row
	Changes   []Change // changes of the plan and of its blinding, oldest first
}

// Shoe is one shoe of a study.
type Shoe struct {
	Code  string
	Label string // shown to dancer and fitter instead of the code
}

// Row is one row of the Williams squares with the dancer assigned to it.
type Row struct {
	Dancer string   // code; "" where the dancer was erased
	Order  []string // codes of the shoes as they are worn in the first round
}

// Kind is the kind of a Change.
type Kind string

const (
	DropOut   Kind = "drop-out"  // a dancer was replaced
	Amendment Kind = "amendment" // the plan was changed
	Interim   Kind = "interim"   // shoes were compared before the declared number of dancers
	KeyShown  Kind = "key"       // somebody looked up which shoe a label is
)

// Change is a change of a study after its declaration.
type Change struct {
	Day    string
	Kind   Kind
	What   string
	Reason string
	// Of a drop-out: the row, from 1, and the dancers who had it before and after; ""
	// where erased since.
	Row      int
	From, To string
}

// looked reports whether a change is a comparison of the shoes.
func (c Change) looked() bool {
	return c.Kind == Interim || c.inFull()
}

// inFull reports whether a change is a comparison after the declared number of dancers.
func (c Change) inFull() bool { return c.Kind == KeyShown && c.What == ComparedInFull }

// Compared reports whether the shoes were compared after the declared number of dancers.
func (s *Study) Compared() bool { return slices.ContainsFunc(s.Changes, Change.inFull) }

// ChangedAfterLook reports whether the plan was changed by somebody who could know how the
// shoes differ: amended after any comparison, or a dancer replaced after a full one. The
// comparison that follows was not declared beforehand.
func (s *Study) ChangedAfterLook() bool {
	looked, full := false, false
	for _, c := range s.Changes {
		if looked && c.Kind == Amendment || full && c.Kind == DropOut {
			return true
		}
		looked, full = looked || c.looked(), full || c.inFull()
	}
	return false
}

// Bounds of a study, larger than any practicable one.
const (
	mostVisits    = 100
	mostMountings = 20
	mostReleves   = 50
)

// New returns a study in which all dancers try all shoes. s contains name, day, measure,
// feet, numbers and seed. The rows are those of plan.Williams. labels contains a label
// for each shoe, assigned according to the seed; without labels letters are chosen. taken
// reports whether a label would name something else, such as a known shoe.
func New(s Study, dancers, shoes, labels []string, taken func(string) bool) (Study, error) {
	orders, err := plan.Williams(shoes, len(dancers), s.Seed)
	if err != nil {
		return s, err
	}
	for i, d := range dancers {
		if d == "" || slices.Contains(dancers[:i], d) {
			return s, fmt.Errorf("dancer %q: every dancer once, by a code", d)
		}
	}
	if labels == nil {
		labels = freeLabels(shoes, taken)
	}
	if err := checkLabels(labels, shoes, taken); err != nil {
		return s, err
	}
	s.Shoes, s.Rows = nil, nil
	for i, k := range rand.New(rand.NewPCG(s.Seed, 3)).Perm(len(shoes)) {
		s.Shoes = append(s.Shoes, Shoe{Code: shoes[i], Label: labels[k]})
	}
	for i, d := range dancers {
		s.Rows = append(s.Rows, Row{Dancer: d, Order: orders.Orders[i]})
	}
	return s, s.Check()
}

// Check returns an error for impossible numbers.
func (s *Study) Check() error {
	switch {
	case s.Measure.Describe().Kind != measure.Declared:
		return fmt.Errorf("measure %s: the primary measure is one of those that may be called clear: %s", s.Measure, strings.Join(Primaries(), ", "))
	case s.Feet == [2]bool{}:
		return fmt.Errorf("no foot: left, right or both")
	case s.Measure == measure.LoadShare && s.Feet != [2]bool{true, true}:
		return fmt.Errorf("measure %s: it needs both feet", s.Measure)
	case s.Visits < 1 || s.Visits > mostVisits:
		return fmt.Errorf("%d visits: 1 to %d", s.Visits, mostVisits)
	case s.Mountings < 1 || s.Mountings > mostMountings:
		return fmt.Errorf("%d mountings: 1 to %d", s.Mountings, mostMountings)
	case s.Releves < 1 || s.Releves > mostReleves:
		return fmt.Errorf("%d relevés: 1 to %d", s.Releves, mostReleves)
	case s.Stop < 1 || s.Stop > len(s.Rows):
		return fmt.Errorf("compared after %d dancers: 1 to %d, the dancers of the study", s.Stop, len(s.Rows))
	}
	return nil
}

// Primaries returns the symbols of the measures that can be primary.
func Primaries() (names []string) {
	for _, m := range measure.All() {
		if m.Describe().Kind == measure.Declared {
			names = append(names, m.Symbol())
		}
	}
	return names
}

// freeLabels returns letters as labels: from P on, then from the beginning of the alphabet,
// without those that would name something else.
func freeLabels(shoes []string, taken func(string) bool) (labels []string) {
	for i := range 26 {
		l := string(rune('A' + ('P'-'A'+i)%26))
		if len(labels) < len(shoes) && !unblinds(l, shoes) && !taken(l) {
			labels = append(labels, l)
		}
	}
	for n := 1; len(labels) < len(shoes) && n < 10_000; n++ {
		if l := fmt.Sprintf("label %d", n); !taken(l) && !unblinds(l, shoes) {
			labels = append(labels, l)
		}
	}
	return labels
}

// checkLabels returns an error for labels that do not fit the shoes or would reveal which
// shoe is which.
func checkLabels(labels, shoes []string, taken func(string) bool) error {
	if len(labels) != len(shoes) {
		return fmt.Errorf("%d labels for %d shoes: one for each", len(labels), len(shoes))
	}
	for i, l := range labels {
		switch {
		case device.CheckCode(l) != nil:
			return fmt.Errorf("label: %w", device.CheckCode(l))
		case slices.ContainsFunc(labels[:i], func(o string) bool { return strings.EqualFold(o, l) }):
			return fmt.Errorf("label %s is named twice", l)
		case unblinds(l, shoes):
			return fmt.Errorf("label %s would tell the shoe: the code of one is in it, or it in the code; choose another", l)
		case taken(l):
			return fmt.Errorf("label %s is the code of a shoe in the logbook: whoever reads it takes it for that one; choose another", l)
		}
	}
	return nil
}

// unblinds reports whether a label begins or ends like the code of one of the shoes, or that
// code like the label, or whether the label has the code as a word or, from two letters on,
// anywhere.
func unblinds(label string, shoes []string) bool {
	l := strings.ToLower(strings.TrimSpace(label))
	words := strings.FieldsFunc(l, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	return slices.ContainsFunc(shoes, func(s string) bool {
		s = strings.ToLower(strings.TrimSpace(s))
		return strings.HasPrefix(s, l) || strings.HasPrefix(l, s) || strings.HasSuffix(s, l) || strings.HasSuffix(l, s) ||
			slices.Contains(words, s) || utf8.RuneCountInString(s) > 1 && strings.Contains(l, s)
	})
}

// Plan returns the plan of a visit of a row, both from 1, with codes of shoes. Rounds of
// all shoes alternate between the order of the row and its reverse, over mountings and
// visits. Reversed rows are again a Williams design, because with an even number of shoes
// every reversed row is another row of the square, and with an odd number the second
// square contains them.
func (s *Study) Plan(row, visit int) plan.Plan {
	var steps []plan.Step
	for m := 1; m <= s.Mountings; m++ {
		order := slices.Clone(s.Rows[row-1].Order)
		if ((visit-1)*s.Mountings+m)%2 == 0 {
			slices.Reverse(order)
		}
		for _, shoe := range order {
			steps = append(steps, plan.Step{Shoe: shoe, Mounting: m, Releves: s.Releves})
		}
	}
	p := plan.FromSteps(s.Seed, steps)
	p.Feet = s.Feet
	return p
}

// Row returns the row of a dancer, from 1; 0 for a dancer who has none.
func (s *Study) Row(dancer string) int {
	return 1 + slices.IndexFunc(s.Rows, func(r Row) bool { return r.Dancer == dancer && dancer != "" })
}

// Dancers returns the dancers by row, without those who were erased.
func (s *Study) Dancers() []string {
	all := []string{}
	for _, r := range s.Rows {
		if r.Dancer != "" {
			all = append(all, r.Dancer)
		}
	}
	return all
}

// Label returns the label of a shoe, or the code of one that is not in the study.
func (s *Study) Label(code string) string {
	for _, one := range s.Shoes {
		if one.Code == code {
			return one.Label
		}
	}
	return code
}

// Labels returns the labels of codes.
func (s *Study) Labels(codes []string) (labels []string) {
	for _, c := range codes {
		labels = append(labels, s.Label(c))
	}
	return labels
}

// Blinded returns a plan of the study with labels instead of codes.
func (s *Study) Blinded(p plan.Plan) plan.Plan {
	p.Shoes, p.Steps = s.Labels(p.Shoes), slices.Clone(p.Steps)
	for i := range p.Steps {
		p.Steps[i].Shoe = s.Label(p.Steps[i].Shoe)
	}
	return p
}

// Replaced returns the dancer who replaced one who dropped out, "" where nobody did.
func (s *Study) Replaced(dancer string) string {
	for _, c := range s.Changes {
		if c.Kind == DropOut && c.From == dancer && dancer != "" {
			return s.Rows[c.Row-1].Dancer
		}
	}
	return ""
}
