// Package track follows one measure of a dancer over visits: each foot and left
// less right, in one shoe at a time, against what the measure varies by when
// nothing has changed. It knows no database: rows of numbers go in. What people
// read of it stands in words.go.
package track

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
	"aplomb/device"
)

// Row is the measure's value in one relevé of one foot, and what it is of.
type Row struct {
	Dancer    string // code
	Visit     string // names the visit among those of its dancer
	Baseline  bool   // the visit is marked as one between which nothing should have changed
	Recording string // names the recording; its relevés are one set
	At        time.Time
	Foot      device.Foot
	Shoe      string // code
	Version   string // of the shoe, which is worn in, altered, or measured anew
	Strip     string
	Mounting  string // "" where nothing says it was the same as another
	Support   string
	Rise      string
	N         int // of the relevé in its recording; both feet of a pair share it
	Value     float64
}

// Side says what a series is of.
type Side string

const (
	Left    Side = "left"
	Right   Side = "right"
	Between Side = "left - right" // of the relevés that both feet rose together
	Both    Side = "both feet"    // of a measure that is one number for both
)

// FollowUp is one measure of one dancer over visits.
type FollowUp struct {
	Dancer   string            `json:"dancer"`
	Measure  measure.Measure   `json:"measure"`
	Series   []Series          `json:"series"`
	Warnings []measure.Warning `json:"warning_codes"`
	Texts    []string          `json:"warnings"` // Warnings in words, see package plots/words
}

// Series is one side in one shoe under the same conditions.
type Series struct {
	Side    Side           `json:"side"`
	Shoe    string         `json:"shoe"`
	Support string         `json:"support,omitempty"`
	Rise    string         `json:"rise,omitempty"`
	Repeat  *Repeatability `json:"repeat,omitempty"` // absent where too little tells how well the measure repeats
	Points  []Point        `json:"points"`           // by time
}

// Wording is what may be said of a change.
type Wording string

const (
	BeyondNoise Wording = "beyond noise" // further from the reference than the minimal detectable change
	WithinNoise Wording = "within noise"
)

// Point is one visit. Its value is the mean over its mountings' means.
type Point struct {
	Visit      string    `json:"visit"`
	At         time.Time `json:"at"` // of its first recording in this shoe
	Baseline   bool      `json:"baseline,omitempty"`
	Reference  bool      `json:"reference,omitempty"` // the first baseline visit, or else the first
	N          int       `json:"n"`                   // relevés
	Mountings  int       `json:"mountings"`
	Recordings []string  `json:"recordings"` // that the relevés are from, by time
	Mean       float64   `json:"mean"`
	Change     *float64  `json:"change,omitempty"`  // less the reference; absent on the reference itself
	Wording    Wording   `json:"wording,omitempty"` // absent where Change or Repeat is
	Flags      []string  `json:"flags,omitempty"`   // what else has changed since the reference
	Fatigue    *Fatigue  `json:"fatigue,omitempty"` // absent where too few relevés tell it
}

// Fatigue is the slope of the measure over the repetitions of a set, which the
// sets of a visit have in common. The strip stays where it is within a set, so
// its mounting has no part in it.
type Fatigue struct {
	Sets      int        `json:"sets"`
	N         int        `json:"n"`
	PerReleve float64    `json:"per_releve"`
	U         float64    `json:"u"`
	DOF       float64    `json:"dof"`
	CI95      [2]float64 `json:"ci95"`
	Clear     bool       `json:"clear"` // the interval excludes 0
}

// perPair is the measure that is one number for both feet of a pair.
const perPair = measure.LoadShare

// Follow follows a measure of a dancer through rows, which may hold other
// dancers' as well: theirs serve to tell how well the measure repeats where this
// dancer's are too few.
func Follow(m measure.Measure, dancer string, rows []Row) (*FollowUp, error) {
	for _, r := range rows {
		if math.IsNaN(r.Value) || math.IsInf(r.Value, 0) {
			return nil, fmt.Errorf("%s in recording %s, relevé %d: %v is no number: leave out what is not defined", m, r.Recording, r.N, r.Value)
		}
	}
	runs := histories(m, rows)
	f := &FollowUp{Dancer: dancer, Measure: m, Series: []Series{}, Warnings: []measure.Warning{}, Texts: []string{}}
	for _, r := range runs {
		if r.dancer == dancer {
			f.Series = append(f.Series, r.series(repeatability(r, runs)))
		}
	}
	if len(f.Series) == 0 {
		return nil, fmt.Errorf("%s of dancer %s: no measured relevé to follow", m, dancer)
	}
	f.addWarnings()
	return f, nil
}

// Only leaves the series that keep wants, and the warnings that concern them.
func (f *FollowUp) Keep(keep func(Series) bool) {
	f.Series = slices.DeleteFunc(f.Series, func(s Series) bool { return !keep(s) })
	f.Warnings = []measure.Warning{}
	f.addWarnings()
}

// key tells runs apart.
type key struct {
	dancer        string
	side          Side
	shoe          string
	support, rise string
}

// run is what one series is made from.
type history struct {
	key
	visits []*visit
}

type visit struct {
	name     string
	at       time.Time
	baseline bool
	versions []string
	strips   []string
	sets     []*set
}

// set is the relevés of one recording, all in one mounting.
type set struct {
	recording, mounting string
	n, value            []float64
}

// runsOf sorts the rows, whatever order they come in.
func histories(m measure.Measure, rows []Row) []*history {
	rows = slices.Clone(rows)
	slices.SortStableFunc(rows, func(a, b Row) int {
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Recording, b.Recording), cmp.Compare(a.N, b.N), cmp.Compare(a.Foot, b.Foot))
	})
	type pair struct {
		dancer, recording string
		n                 int
	}
	lefts := map[pair]Row{}
	var runs []*history
	at := map[key]*history{}
	add := func(r Row, side Side) {
		k := key{r.Dancer, side, r.Shoe, r.Support, r.Rise}
		if at[k] == nil {
			at[k] = &history{key: k}
			runs = append(runs, at[k])
		}
		at[k].add(r)
	}
	for _, r := range rows {
		switch {
		case m == perPair:
			if r.Foot == device.Left {
				add(r, Both)
			}
			continue
		case r.Foot == device.Left:
			lefts[pair{r.Dancer, r.Recording, r.N}] = r
			add(r, Left)
			continue
		}
		add(r, Right)
		if l, both := lefts[pair{r.Dancer, r.Recording, r.N}]; both {
			add(leftLessRight(l, r), Between)
		}
	}
	slices.SortStableFunc(runs, func(a, b *history) int {
		order := []Side{Left, Right, Between, Both}
		return cmp.Compare(slices.Index(order, a.side), slices.Index(order, b.side))
	})
	return runs
}

// less is left less right of one relevé. Shoes, strips and mountings that differ
// between the feet are named together.
func leftLessRight(l, r Row) Row {
	d := l
	d.Value = l.Value - r.Value
	d.Strip = joinNames(l.Strip, r.Strip)
	d.Shoe = joinNames(l.Shoe, r.Shoe)
	d.Version = joinNames(l.Version, r.Version)
	if l.Mounting == "" || r.Mounting == "" {
		d.Mounting = ""
	} else {
		d.Mounting = joinNames(l.Mounting, r.Mounting)
	}
	return d
}

func joinNames(l, r string) string {
	if l == r {
		return l
	}
	return l + " / " + r
}

func (r *history) add(row Row) {
	i := slices.IndexFunc(r.visits, func(v *visit) bool { return v.name == row.Visit })
	if i < 0 {
		i = len(r.visits)
		r.visits = append(r.visits, &visit{name: row.Visit, at: row.At, baseline: row.Baseline})
	}
	v := r.visits[i]
	if !slices.Contains(v.versions, row.Version) {
		v.versions = append(v.versions, row.Version)
	}
	if !slices.Contains(v.strips, row.Strip) {
		v.strips = append(v.strips, row.Strip)
	}
	j := slices.IndexFunc(v.sets, func(s *set) bool { return s.recording == row.Recording })
	if j < 0 {
		j = len(v.sets)
		v.sets = append(v.sets, &set{recording: row.Recording, mounting: row.Mounting})
	}
	s := v.sets[j]
	s.n, s.value = append(s.n, float64(row.N)), append(s.value, row.Value)
}

// mountings returns the mean of every mounting. One without a name is taken for
// a new one, unless only named ones are asked for.
func (v *visit) mountings(named bool) (means []float64) {
	values := map[string][]float64{}
	var order []string
	for _, s := range v.sets {
		name := "named " + s.mounting
		if s.mounting == "" {
			if named {
				continue
			}
			name = "unnamed " + s.recording
		}
		if values[name] == nil {
			order = append(order, name)
		}
		values[name] = append(values[name], s.value...)
	}
	for _, name := range order {
		means = append(means, mean(values[name]))
	}
	return means
}

func (v *visit) mean() float64 { return mean(v.mountings(false)) }

func mean(x []float64) (m float64) {
	for _, v := range x {
		m += v / float64(len(x))
	}
	return m
}

// series sets every visit against the reference.
func (r *history) series(repeat *Repeatability) Series {
	s := Series{Side: r.side, Shoe: r.shoe, Support: r.support, Rise: r.rise, Repeat: repeat}
	from := max(0, slices.IndexFunc(r.visits, func(v *visit) bool { return v.baseline }))
	reference := r.visits[from]
	for i, v := range r.visits {
		p := Point{
			Visit: v.name, At: v.at, Baseline: v.baseline, Reference: i == from,
			Mountings: len(v.mountings(false)), Mean: v.mean(), Fatigue: v.fatigue(),
		}
		for _, one := range v.sets {
			p.N += len(one.value)
			p.Recordings = append(p.Recordings, one.recording)
		}
		if i != from {
			change := p.Mean - reference.mean()
			p.Change = &change
			p.Flags = flags(reference, v)
			if repeat != nil {
				p.Wording = WithinNoise
				if math.Abs(change) > repeat.MDC95 {
					p.Wording = BeyondNoise
				}
			}
		}
		s.Points = append(s.Points, p)
	}
	return s
}

// fatigue fits the slope that the sets of a visit have in common.
func (v *visit) fatigue() *Fatigue {
	var sets []stats.Group
	for _, s := range v.sets {
		sets = append(sets, stats.Group{X: s.n, Y: s.value})
	}
	t := stats.CommonSlope(sets, 0, math.Inf(1))
	if math.IsNaN(t.U) || math.IsInf(t.DOF, 0) { // values that lie on a line to the last digit tell no scatter
		return nil
	}
	ci := t.Interval95()
	return &Fatigue{
		Sets: len(sets), N: t.N, PerReleve: t.Slope, U: t.U, DOF: t.DOF,
		CI95: [2]float64{ci.Lo, ci.Hi}, Clear: !ci.Contains(0),
	}
}
