package study

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
	"aplomb/analyze/track"
	"aplomb/device"
)

// Comparison is the comparison of the shoes of a study over dancers. Values are in the
// unit of the measure. Before the stopping rule is reached shoes have labels instead of
// codes.
type Comparison struct {
	Study    string          `json:"study"`
	Declared string          `json:"declared"`
	Measure  measure.Measure `json:"measure"`
	Feet     []device.Foot   `json:"feet"` // whose mean is a dancer's value
	Interim  bool            `json:"interim"`
	Complete int             `json:"complete"` // dancers
	Stop     int             `json:"stop_at"`
	Shoes    []Outcome       `json:"shoes"`
	Pairs    []Pair          `json:"pairs"` // of the primary measure
	// Other contains the other declared measures: estimates and intervals, no tests.
	Other      []OtherMeasure    `json:"other"`
	Properties []Property        `json:"properties"`
	LeftOut    []measure.Refusal `json:"left_out"` // results that cannot be given, and why
	// Changes of the study before this comparison, oldest first. Where ChangedAfterLook is set
	// nothing has a wording: see Study.ChangedAfterLook.
	Changes          []ChangeRecord `json:"changes"`
	ChangedAfterLook bool           `json:"changed_after_look"`
	Before           int            `json:"before_declared"` // recordings from before the day of the declaration

	Provenance *measure.Provenance `json:"provenance,omitempty"`
}

// Outcome is the primary measure in one shoe.
type Outcome struct {
	Shoe    string   `json:"shoe"` // code; the label in an interim comparison
	Label   string   `json:"label"`
	Dancers int      `json:"dancers"`
	Mean    *float64 `json:"mean,omitempty"`
	SD      *float64 `json:"sd,omitempty"` // between dancers
}

// Pair is one shoe less another, dancer by dancer.
type Pair struct {
	From     string       `json:"from"`
	To       string       `json:"to"`
	Shift                 // of To less From
	P        *float64     `json:"p,omitempty"`      // of the sign-flip test, two-sided
	PSE      float64      `json:"p_se"`             // standard error of P with random arrangements; 0 where all are counted
	Draws    int          `json:"arrangements"`     // number of arrangements of signs on which P is based
	PHolm    *float64     `json:"p_holm,omitempty"` // adjusted over the pairs
	Wording  Wording      `json:"wording"`
	ByDancer []Difference `json:"by_dancer"`
}

// Shift is the Hodges-Lehmann estimate of a difference.
type Shift struct {
	Dancers  int         `json:"dancers"`
	Estimate *float64    `json:"estimate,omitempty"`
	CI95     *[2]float64 `json:"ci95,omitempty"`  // absent with fewer than 6 dancers
	Level    *float64    `json:"level,omitempty"` // with which CI95 covers, at least 0.95
}

// Difference is that of one dancer.
type Difference struct {
	Dancer     string  `json:"dancer"`
	Difference float64 `json:"difference"`
}

// OtherMeasure is a declared measure that is not the primary one.
type OtherMeasure struct {
	Measure measure.Measure `json:"measure"`
	From    string          `json:"from"`
	To      string          `json:"to"`
	Shift
}

// Property is the dependence of the primary measure on a property of the shoes: the
// slopes of single dancers, each by least squares over the shoes.
type Property struct {
	Of    string  `json:"property"`
	Unit  string  `json:"unit"`
	Shoes int     `json:"shoes"`
	Least float64 `json:"least"` // value among the shoes
	Most  float64 `json:"most"`
	Shift         // of the slope: change of the measure for one more of the unit
}

// Wording states whether a difference is clear.
type Wording string

const (
	Clear    Wording = "clear"     // p_holm ≤ 0.05
	NotClear Wording = "not clear" // else
	Untested Wording = ""          // no test, an interim one, or one that was not declared beforehand
)

// level is the significance level at which a difference is clear after Holm's adjustment.
const level = 0.05

// ErrTooEarly is returned before the stopping rule is reached.
var ErrTooEarly = errors.New("the declared number of dancers is not reached")

// Input is the input of a comparison.
type Input struct {
	Progress Progress
	// Rows are the relevés of the study's visits, by measure.
	Rows map[measure.Measure][]track.Row
	// Visits are the names of the visits of the study in the logbook, by dancer.
	Visits map[string][]string
	Shoes  []device.Shoe // as they are now
}

// Compare compares the shoes over dancers. The unit is the dancer: the value of a dancer
// in a shoe is the mean over feet of the mean over visits of the mean over mountings of
// the mean over relevés, so that mountings have equal weights whatever their numbers of
// relevés. The test is stats.SignFlip, the estimate stats.HodgesLehmann, and p-values are
// adjusted over the pairs of shoes by stats.Holm. It compares the dancers with complete
// recordings; in an interim comparison those with recordings of both shoes. The error is
// ErrTooEarly before the stopping rule is reached unless interim is set.
func (s *Study) Compare(in Input, interim bool) (*Comparison, error) {
	p := in.Progress
	if !p.Reached && !interim {
		return nil, fmt.Errorf("study %s: %w: %d of %d are complete", s.Name, ErrTooEarly, p.Complete, s.Stop)
	}
	interim = !p.Reached // no comparison is interim once the rule is reached
	c := &Comparison{
		Study: s.Name, Declared: s.Declared, Measure: s.Measure, Interim: interim, Complete: p.Complete, Stop: s.Stop,
		Shoes: []Outcome{}, Pairs: []Pair{}, Other: []OtherMeasure{}, Properties: []Property{}, LeftOut: []measure.Refusal{},
		Changes: []ChangeRecord{}, ChangedAfterLook: s.ChangedAfterLook(), Before: p.Before,
	}
	for _, change := range s.Changes {
		c.Changes = append(c.Changes, change.record())
	}
	for _, f := range device.Feet {
		if s.Feet[f] {
			c.Feet = append(c.Feet, f)
		}
	}
	dancers := s.analyzed(p, interim)
	values := s.values(in, s.Measure, dancers)
	shoes := s.shown(interim)
	for _, shoe := range shoes {
		c.Shoes = append(c.Shoes, outcome(s.name(shoe, interim), shoe, dancers, values))
	}
	var ps []float64
	for i, from := range shoes {
		for _, to := range shoes[i+1:] {
			one := s.pair(from, to, dancers, values, interim)
			ps = append(ps, *cmp.Or(one.P, nan()))
			c.Pairs = append(c.Pairs, one)
			c.noteFew(one)
		}
	}
	for i, adjusted := range stats.Holm(ps) {
		one := &c.Pairs[i]
		if one.PHolm = finite(adjusted); one.PHolm == nil || interim || c.ChangedAfterLook {
			continue
		}
		one.Wording = NotClear
		if adjusted <= level {
			one.Wording = Clear
		}
	}
	c.addOther(s, in, dancers, shoes, interim)
	c.addProperties(s, in, dancers, values)
	for _, d := range p.Dancers {
		if !d.Complete && !interim {
			c.LeftOut = append(c.LeftOut, measure.Refusal{Of: cmp.Or(d.Dancer, fmt.Sprintf("row %d", d.Row)), Why: "not all recordings are there"})
		}
	}
	return c, nil
}

// analyzed returns the dancers included in the comparison.
func (s *Study) analyzed(p Progress, interim bool) (dancers []string) {
	for _, d := range p.Dancers {
		if d.Dancer != "" && (d.Complete || interim) {
			dancers = append(dancers, d.Dancer)
		}
	}
	return dancers
}

// shown returns the shoes in the order in which they are shown: that of the plan, and by
// label where the codes must stay hidden.
func (s *Study) shown(blind bool) []Shoe {
	shoes := slices.Clone(s.Shoes)
	if blind {
		slices.SortFunc(shoes, func(a, b Shoe) int { return cmp.Compare(a.Label, b.Label) })
	}
	return shoes
}

func (s *Study) name(shoe Shoe, blind bool) string {
	if blind {
		return shoe.Label
	}
	return shoe.Code
}

// wearing is a combination of dancer and shoe.
type wearing struct{ dancer, shoe string }

// values returns the value of a measure of each dancer in each shoe, by its code; none where
// a foot of the study has no relevé.
func (s *Study) values(in Input, m measure.Measure, dancers []string) map[wearing]float64 {
	type cell struct {
		wearing
		foot            device.Foot
		visit, mounting string
	}
	releves := map[cell][]float64{}
	for _, r := range in.Rows[m] {
		if !s.Feet[r.Foot] || !slices.Contains(dancers, r.Dancer) || !slices.Contains(in.Visits[r.Dancer], r.Visit) {
			continue
		}
		mounting := r.Mounting
		if mounting == "" {
			mounting = "recording " + r.Recording
		}
		k := cell{wearing{r.Dancer, r.Shoe}, r.Foot, r.Visit, mounting}
		releves[k] = append(releves[k], r.Value)
	}
	// Means are taken in the order of the levels, innermost first.
	mountings, visits, feet := map[cell][]float64{}, map[cell][]float64{}, map[wearing][]float64{}
	for _, k := range sorted(releves, func(k cell) string { return fmt.Sprint(k) }) {
		mean := meanOf(releves[k])
		k.mounting = ""
		mountings[k] = append(mountings[k], mean)
	}
	for _, k := range sorted(mountings, func(k cell) string { return fmt.Sprint(k) }) {
		mean := meanOf(mountings[k])
		k.visit = ""
		visits[k] = append(visits[k], mean)
	}
	for _, k := range sorted(visits, func(k cell) string { return fmt.Sprint(k) }) {
		feet[k.wearing] = append(feet[k.wearing], meanOf(visits[k]))
	}
	wanted := 0
	for _, is := range s.Feet {
		if is {
			wanted++
		}
	}
	values := map[wearing]float64{}
	for k, each := range feet {
		if len(each) == wanted || m == measure.LoadShare {
			values[k] = meanOf(each)
		}
	}
	return values
}

// sorted returns the keys of a map in a fixed order, so that sums are rounded in the same
// way in every run.
func sorted[K comparable, V any](m map[K]V, name func(K) string) []K {
	keys := make([]K, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b K) int { return cmp.Compare(name(a), name(b)) })
	return keys
}

func meanOf(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

// outcome returns the values in one shoe.
func outcome(name string, shoe Shoe, dancers []string, values map[wearing]float64) Outcome {
	o := Outcome{Shoe: name, Label: shoe.Label}
	var all []float64
	for _, d := range dancers {
		if v, ok := values[wearing{d, shoe.Code}]; ok {
			all = append(all, v)
		}
	}
	o.Dancers = len(all)
	if o.Dancers > 0 {
		mean := meanOf(all)
		o.Mean = &mean
	}
	if sd, dof := stats.PooledSD([][]float64{all}); dof > 0 {
		o.SD = &sd
	}
	return o
}

// pair compares two shoes.
func (s *Study) pair(from, to Shoe, dancers []string, values map[wearing]float64, interim bool) Pair {
	one := Pair{From: s.name(from, interim), To: s.name(to, interim), ByDancer: []Difference{}}
	var d []float64
	for _, dancer := range dancers {
		a, hasA := values[wearing{dancer, from.Code}]
		b, hasB := values[wearing{dancer, to.Code}]
		if hasA && hasB {
			one.ByDancer = append(one.ByDancer, Difference{dancer, b - a})
			d = append(d, b-a)
		}
	}
	one.Shift = shiftOf(d)
	if len(d) >= 2 {
		test := stats.SignFlip(d, s.Seed)
		one.P, one.PSE, one.Draws = finite(test.P), test.SE, test.Draws
	}
	return one
}

// shiftOf returns the estimate of the centre of the differences of dancers.
func shiftOf(d []float64) Shift {
	h := stats.HodgesLehmann(d)
	s := Shift{Dancers: len(d), Estimate: finite(h.Estimate), Level: finite(h.Level)}
	if s.Level != nil {
		s.CI95 = &[2]float64{h.CI95.Lo, h.CI95.Hi}
	}
	return s
}

// noteFew adds a note where too few dancers limit the result of a pair.
func (c *Comparison) noteFew(p Pair) {
	of := p.To + " against " + p.From
	switch {
	case p.Dancers == 0:
		c.LeftOut = append(c.LeftOut, measure.Refusal{Of: of, Why: "no dancer has values in both"})
	case p.Dancers == 1:
		c.LeftOut = append(c.LeftOut, measure.Refusal{Of: of, Why: "one dancer: the test and the interval are over dancers"})
	case p.CI95 == nil:
		c.LeftOut = append(c.LeftOut, measure.Refusal{Of: "95 % interval of " + of, Why: fmt.Sprintf("%d dancers: it takes 6", p.Dancers)})
	}
}

// addOther adds the other declared measures, without tests.
func (c *Comparison) addOther(s *Study, in Input, dancers []string, shoes []Shoe, interim bool) {
	for _, m := range measure.All() {
		if m == s.Measure || m.Describe().Kind != measure.Declared {
			continue
		}
		values := s.values(in, m, dancers)
		for i, from := range shoes {
			for _, to := range shoes[i+1:] {
				if p := s.pair(from, to, dancers, values, interim); p.Dancers > 0 {
					c.Other = append(c.Other, OtherMeasure{m, p.From, p.To, p.Shift})
				}
			}
		}
	}
}

// nan returns a p-value for differences without a test.
func nan() *float64 { v := math.NaN(); return &v }

// finite returns nil for a number that is not known.
func finite(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}
