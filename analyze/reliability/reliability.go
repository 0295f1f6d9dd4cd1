// Package reliability computes the reliability of a measure: the components of its
// variance, intraclass correlations, standard error of measurement, minimal detectable
// change and limits of agreement. Its input are rows of numbers, from recordings or from
// the logbook, without a database.
package reliability

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

// Between names the repetitions that are compared.
type Between string

const (
	Visits    Between = "visits"    // means of a visit
	Mountings Between = "mountings" // means of a mounting, within one visit
)

// Reliability is the reliability of one measure.
type Reliability struct {
	Measure measure.Measure `json:"measure"`
	Feet    []Foot          `json:"feet"`

	// NotBaseline is the number of visits that are left out because other visits of the
	// dancer are marked as baseline.
	NotBaseline int `json:"visits_not_baseline"`

	Provenance *measure.Provenance `json:"provenance,omitempty"` // of the rows; set by the caller
}

// Foot is the reliability on one foot, or on both for a measure that is the same number
// for both feet. Values are in the unit of the measure.
type Foot struct {
	Side      track.Side `json:"side"`
	Dancers   int        `json:"dancers"`
	Shoes     int        `json:"shoes"`  // combinations of dancer, shoe and conditions, the subjects of repeated measurement
	Visits    int        `json:"visits"` // of the dancers, in any shoe
	Mountings int        `json:"mountings"`
	Strips    int        `json:"strips"`
	Releves   int        `json:"releves"`

	Components []Component       `json:"components"` // outermost first; empty where refused
	Between    Between           `json:"between"`    // repetitions compared by SEM, ICC and Agreement
	SEM        *SEM              `json:"sem,omitempty"`
	Rows       *Rows             `json:"rows,omitempty"` // the table of ICC and Agreement
	ICC        []ICC             `json:"icc,omitempty"`
	Agreement  *Agreement        `json:"agreement,omitempty"`
	Refused    []measure.Refusal `json:"refused"` // results that cannot be given, and why
}

// Component is the variance due to one level of repetition.
type Component struct {
	Of       Level      `json:"of"`
	With     []Level    `json:"with,omitempty"` // levels without repetition, whose variance is part of this one
	Variance float64    `json:"variance"`       // at least 0
	SD       float64    `json:"sd"`
	CI95     [2]float64 `json:"ci95"`  // of SD; from 0 where there is no evidence of a difference
	DOF      float64    `json:"dof"`   // effective degrees of freedom of Variance, 0 where it is 0
	Share    float64    `json:"share"` // of the sum of all variances
}

// Level is a level of repetition.
type Level string

const (
	OfDancer   Level = "dancer"
	OfShoe     Level = "shoe" // of one dancer, or the same shoe under other conditions
	OfDay      Level = "day"  // visits of one dancer in one shoe
	OfMounting Level = "mounting"
	OfReleve   Level = "relevé"
	OfStrip    Level = "strip" // crosses the others
)

// SEM is the standard error of measurement.
type SEM struct {
	SEM   float64    `json:"sem"` // standard deviation of repetitions about the mean of their subject
	DOF   float64    `json:"dof"` // degrees of freedom
	CI95  [2]float64 `json:"ci95"`
	MDC95 float64    `json:"mdc95"` // minimal detectable change, t·√2·SEM (see track.MDC95)
}

// Rows describes the table of ICC and limits of agreement: one row for each dancer or,
// with one dancer, for each shoe, and one column for each repetition.
type Rows struct {
	Of      Level `json:"of"`       // dancer or shoe
	N       int   `json:"n"`        // number of rows
	Columns int   `json:"columns"`  // repetitions of each
	LeftOut int   `json:"left_out"` // rows with fewer repetitions
}

// ICC is an intraclass correlation of one measurement.
type ICC struct {
	Kind  string     `json:"kind"` // ICC(1,1), ICC(2,1) or ICC(3,1) of Shrout & Fleiss (1979)
	Value float64    `json:"value"`
	CI95  [2]float64 `json:"ci95"`
}

// Agreement is bias and limits of agreement of the first repetition less the second.
type Agreement struct {
	N      int        `json:"n"`
	Bias   float64    `json:"bias"`
	BiasCI [2]float64 `json:"bias_ci95"`
	SD     float64    `json:"sd"` // of the differences
	Lower  float64    `json:"lower"`
	LowCI  [2]float64 `json:"lower_ci95"`
	Upper  float64    `json:"upper"`
	UpCI   [2]float64 `json:"upper_ci95"`
	Pairs  []Pair     `json:"pairs"`
}

// Pair is one difference of an Agreement.
type Pair struct {
	Dancer     string  `json:"dancer"`
	Shoe       string  `json:"shoe"`
	Mean       float64 `json:"mean"`
	Difference float64 `json:"difference"`
}

// ErrNoRows is the error of Of where there are no rows.
var ErrNoRows = errors.New("no measured relevé")

// Options of Of.
type Options struct {
	Between Between // "" for visits where a shoe has two visits, else mountings
}

// Of returns the reliability of a measure on each foot. Where visits of a dancer are
// marked as baseline, the dancer's other visits are left out: intended changes are no
// error of measurement.
//
// It returns an error for a value that is not finite, and where there are no rows.
func Of(m measure.Measure, rows []track.Row, opt Options) (*Reliability, error) {
	for _, r := range rows {
		if math.IsNaN(r.Value) || math.IsInf(r.Value, 0) {
			return nil, fmt.Errorf("%s in recording %s, relevé %d: %v is no number: leave out what is not defined", m, r.Recording, r.N, r.Value)
		}
	}
	rows = slices.Clone(rows)
	slices.SortStableFunc(rows, func(a, b track.Row) int {
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Recording, b.Recording), cmp.Compare(a.N, b.N), cmp.Compare(a.Foot, b.Foot))
	})
	rows, left := stable(rows)
	bySide := map[track.Side][]track.Row{}
	for _, r := range rows {
		side := track.Side(r.Foot.String())
		if m == measure.LoadShare {
			if r.Foot == device.Right {
				continue // one number for both feet
			}
			side = track.Both
		}
		bySide[side] = append(bySide[side], r)
	}
	all := &Reliability{Measure: m, Feet: []Foot{}, NotBaseline: left}
	for _, side := range []track.Side{track.Left, track.Right, track.Both} {
		if len(bySide[side]) > 0 {
			all.Feet = append(all.Feet, footOf(side, bySide[side], opt))
		}
	}
	if len(all.Feet) == 0 {
		return nil, ErrNoRows
	}
	return all, nil
}

// stable returns the rows without non-baseline visits of dancers who have baseline
// visits, and the number of visits left out.
func stable(rows []track.Row) (kept []track.Row, left int) {
	marked, leftOut := map[string]bool{}, map[[2]string]bool{}
	for _, r := range rows {
		marked[r.Dancer] = marked[r.Dancer] || r.Baseline
	}
	for _, r := range rows {
		if marked[r.Dancer] && !r.Baseline {
			leftOut[[2]string{r.Dancer, r.Visit}] = true
			continue
		}
		kept = append(kept, r)
	}
	return kept, len(leftOut)
}

// mounted is one mounting.
type mounted struct {
	strip  string
	values []float64
}

// visited is one visit in one shoe.
type visited struct {
	mountings []*mounted // by time
}

// worn is a shoe of a dancer under one set of conditions, the subject of repeated
// measurement.
type worn struct {
	dancer, shoe string
	visits       []*visited // by time
}

// shoesOf groups rows by subject, visit and mounting.
func shoesOf(rows []track.Row) (all []*worn) {
	type shoeKey struct {
		dancer, shoe, make, padding  string
		mark                         int
		support, rise                string
		position, floor, fixing, led string
	}
	type visitKey struct {
		shoeKey
		visit string
	}
	type mountingKey struct {
		visitKey
		mounting, strip, recording string
	}
	shoes, visits, mountings := map[shoeKey]*worn{}, map[visitKey]*visited{}, map[mountingKey]*mounted{}
	for _, r := range rows {
		k := shoeKey{
			r.Dancer, r.Shoe, r.Make, r.Also.Padding, r.Also.Mark, r.Support, r.Rise,
			r.Also.Position, r.Also.Floor, r.Also.Fixing, r.Also.Feedback,
		}
		v := visitKey{k, r.Visit}
		mo := mountingKey{v, r.Mounting, r.Strip, ""}
		if r.Mounting == "" {
			mo.recording = r.Recording // it is not known to be the mounting of another recording
		}
		if shoes[k] == nil {
			shoes[k] = &worn{dancer: r.Dancer, shoe: r.Shoe}
			all = append(all, shoes[k])
		}
		if visits[v] == nil {
			visits[v] = &visited{}
			shoes[k].visits = append(shoes[k].visits, visits[v])
		}
		if mountings[mo] == nil {
			mountings[mo] = &mounted{strip: r.Strip}
			visits[v].mountings = append(visits[v].mountings, mountings[mo])
		}
		mountings[mo].values = append(mountings[mo].values, r.Value)
	}
	return all
}

func footOf(side track.Side, rows []track.Row, opt Options) Foot {
	shoes := shoesOf(rows)
	f := Foot{Side: side, Shoes: len(shoes), Components: []Component{}, Refused: []measure.Refusal{}}
	dancers, strips := map[string]bool{}, map[string]bool{}
	f.Between = Mountings
	for _, s := range shoes {
		dancers[s.dancer] = true
		if len(s.visits) > 1 {
			f.Between = Visits
		}
		for _, v := range s.visits {
			f.Mountings += len(v.mountings)
			for _, m := range v.mountings {
				strips[m.strip] = true
				f.Releves += len(m.values)
			}
		}
	}
	visits := map[[2]string]bool{}
	for _, r := range rows {
		visits[[2]string{r.Dancer, r.Visit}] = true
	}
	f.Dancers, f.Visits, f.Strips = len(dancers), len(visits), len(strips)
	if opt.Between != "" {
		f.Between = opt.Between
	}
	f.addComponents(shoes)
	f.addRepetitions(shoes)
	return f
}

// refuse adds a result that cannot be given.
func (f *Foot) refuse(of, why string, args ...any) {
	f.Refused = append(f.Refused, measure.Refusal{Of: of, Why: fmt.Sprintf(why, args...)})
}

// addRepetitions adds the results based on repetitions: SEM, ICC and limits of agreement.
func (f *Foot) addRepetitions(shoes []*worn) {
	var groups [][]float64 // repetitions of one thing
	var table [][]float64  // a row a shoe
	var of []*worn
	for _, s := range shoes {
		row := f.repetitions(s, &groups)
		table, of = append(table, row), append(of, s)
	}
	sem, dof := stats.PooledSD(groups)
	if dof == 0 {
		f.refuse("SEM, ICC and limits of agreement", "no shoe of a dancer has two %s: record it again", f.Between)
		return
	}
	ci := stats.SD95(sem, dof)
	f.SEM = &SEM{SEM: sem, DOF: dof, CI95: [2]float64{ci.Lo, ci.Hi}, MDC95: track.MDC95(sem, dof)}

	columns := columnsOf(table)
	var kept [][]float64
	var names []*worn
	rowsOf := map[string]int{}
	for i, row := range table {
		if len(row) >= columns {
			kept, names = append(kept, row[:columns]), append(names, of[i])
			rowsOf[of[i].dancer]++
		}
	}
	f.Rows = &Rows{Of: OfDancer, N: len(kept), Columns: columns, LeftOut: len(table) - len(kept)}
	if f.Dancers == 1 {
		f.Rows.Of = OfShoe
	}
	switch {
	case len(kept) < 2:
		f.refuse("ICC and limits of agreement", "there is one row, %s in shoe %s: they say how much dancers, or shoes of one dancer, differ against the error", names[0].dancer, names[0].shoe)
		f.Rows = nil
		return
	case f.Dancers > 1 && len(rowsOf) < len(kept):
		f.refuse("ICC and limits of agreement", "a dancer has several shoes or conditions, and their rows are not independent: choose one shoe with --shoe CODE, or one dancer with --dancer CODE")
		f.Rows = nil
		return
	}
	f.addICC(kept)
	f.addAgreement(kept, names)
}

// repetitions returns the row of a shoe in the table, and adds its groups of repetitions.
// Between mountings the row is that of the first visit with the most mountings.
func (f *Foot) repetitions(s *worn, groups *[][]float64) (row []float64) {
	if f.Between == Visits {
		for _, v := range s.visits {
			row = append(row, mean(v.means()))
		}
		*groups = append(*groups, row)
		return row
	}
	for _, v := range s.visits {
		all := v.means()
		*groups = append(*groups, all)
		if len(all) > len(row) {
			row = all
		}
	}
	return row
}

// means returns the means of the mountings of a visit.
func (v *visited) means() (all []float64) {
	for _, m := range v.mountings {
		all = append(all, mean(m.values))
	}
	return all
}

// columnsOf returns the number of columns, 2 or more, with which a full table has the most
// degrees of freedom within its rows.
func columnsOf(table [][]float64) int {
	best, most := 2, 0
	for k := 2; ; k++ {
		rows, longer := 0, false
		for _, row := range table {
			if len(row) >= k {
				rows++
			}
			longer = longer || len(row) > k
		}
		if rows*(k-1) > most {
			best, most = k, rows*(k-1)
		}
		if !longer {
			return best
		}
	}
}

func (f *Foot) addICC(table [][]float64) {
	w := stats.SplitTwoWay(table)
	icc, intervals := w.ICC(), w.ICC95()
	for k, value := range icc.Single {
		one := ICC{fmt.Sprintf("ICC(%d,1)", k+1), value, [2]float64{intervals[k].Lo, intervals[k].Hi}}
		if math.IsNaN(value + one.CI95[0] + one.CI95[1]) {
			f.refuse(one.Kind, "nothing varies between rows and repetitions")
			continue
		}
		f.ICC = append(f.ICC, one)
	}
}

func (f *Foot) addAgreement(table [][]float64, of []*worn) {
	var first, second []float64
	a := &Agreement{}
	for i, row := range table {
		first, second = append(first, row[0]), append(second, row[1])
		a.Pairs = append(a.Pairs, Pair{of[i].dancer, of[i].shoe, (row[0] + row[1]) / 2, row[0] - row[1]})
	}
	got := stats.LimitsOfAgreement(first, second)
	a.N, a.Bias, a.SD, a.Lower, a.Upper = got.N, got.Bias, got.SD, got.Limits.Lo, got.Limits.Hi
	a.BiasCI, a.LowCI, a.UpCI = ends(got.Bias95), ends(got.Lower95), ends(got.Upper95)
	f.Agreement = a
}

func ends(i stats.Interval) [2]float64 { return [2]float64{i.Lo, i.Hi} }

func mean(x []float64) (m float64) {
	for _, v := range x {
		m += v / float64(len(x))
	}
	return m
}
