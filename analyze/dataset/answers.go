package dataset

import (
	"strings"
	"time"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/analyze/track"
	"aplomb/device"
)

// Answers returns the schemas of the tables of a comparison or follow-up, which are not
// part of a data package: those of Comparison and FollowUps.
func Answers() []Schema { return []Schema{estimateLayout.schema(), pointLayout.schema()} }

// Kinds of rows in the table of a comparison.
const (
	ofShoe       = "shoe"
	betweenShoes = "between shoes"
	betweenFeet  = "between feet"
)

// estimate is a mean of a shoe on a foot, or a difference of two means.
type estimate struct {
	dancer, algorithm string
	of                string
	shoes             [2]string // the shoe, and the one with which its mean is compared
	feet              [2]device.Foot
	conditions        measure.Conditions
	measure           measure.Measure
	n, mountings      [2]int
	value             float64
	u                 float64
	dof, p, pAdjusted *float64
	ci95              *[2]float64
	wording           compare.Wording
	shoe              *compare.ShoeFoot // of a mean
}

// Comparison returns the means and differences of a comparison as one table: means first,
// then the differences between shoes, then those between the feet.
func Comparison(c *compare.Comparison) Table {
	var all []estimate
	base := estimate{dancer: c.Dancer}
	if c.Provenance != nil {
		base.algorithm = c.Provenance.Algorithm
	}
	for i := range c.Shoes {
		f := &c.Shoes[i]
		for _, m := range measure.All() {
			s, ok := f.Measures[m]
			if !ok {
				continue
			}
			e := base
			e.of, e.shoe, e.shoes[0], e.feet[0], e.conditions, e.measure = ofShoe, f, f.Shoe, f.Foot, f.Conditions, m
			e.n[0], e.mountings[0] = s.N, f.Mountings
			e.value, e.u, e.dof, e.ci95 = s.Mean, s.U, s.DOF, s.CI95
			all = append(all, e)
		}
	}
	for _, d := range c.Differences {
		e := base
		e.of, e.shoes, e.feet, e.conditions, e.measure = betweenShoes, [2]string{d.To, d.From}, [2]device.Foot{d.Foot, d.Foot}, d.Conditions, d.Measure
		e.n, e.mountings = [2]int{d.NTo, d.NFrom}, [2]int{d.MountingsTo, d.MountingsFrom}
		e.value, e.u, e.dof, e.ci95, e.p, e.pAdjusted, e.wording = d.Difference, d.U, d.DOF, d.CI95, d.P, d.PHolm, d.Wording
		all = append(all, e)
	}
	for _, d := range c.Feet {
		e := base
		e.of, e.shoes, e.feet, e.conditions, e.measure = betweenFeet, [2]string{d.Shoe, d.Shoe}, [2]device.Foot{device.Left, device.Right}, d.Conditions, d.Measure
		e.n = [2]int{d.N, d.N}
		e.value, e.u, e.dof, e.ci95, e.wording = d.Difference, d.U, d.DOF, d.CI95, d.Wording
		all = append(all, e)
	}
	return estimateLayout.table(all)
}

var algorithmField = Field{Name: "algorithm", Type: Text, Definition: "hash of everything in the program that changes numbers"}

// measureColumns returns the columns that identify the measure of a row.
func measureColumns[T any](of func(T) measure.Measure) []column[T] {
	return []column[T]{
		{Field{Name: "measure", Type: Text, Definition: "symbol of the measure, which the table releves has as a column with its definition", Values: symbols()}, func(t T) any { return of(t).Symbol() }},
		{Field{Name: "kind", Type: Text, Definition: "declared measures are decided on beforehand; all others are exploratory", Values: words(measure.Declared, measure.Exploratory)}, func(t T) any { return string(of(t).Describe().Kind) }},
		{Field{Name: "unit", Type: Text, Definition: "unit of the numbers of the measure", Absent: "it is a plain number"}, func(t T) any { return givenText(of(t).Describe().Unit) }},
	}
}

const (
	noScatter = "a single relevé leaves the scatter unknown"
	aMean     = "the row is a mean"
)

var estimateLayout = layout[estimate]{
	name:       "compare-csv",
	definition: "One row a mean of a measure in one shoe on one foot, or a difference of two such means: what aplomb compare --csv writes, and what the lab sheet and the fitting sheet show.",
	key:        []string{"of", "shoe", "foot", "shoe_from", "foot_from", "measure", "support", "rise", "position", "floor", "fixing", "feedback"},
	columns:    estimateColumns(),
}

func estimateColumns() []column[estimate] {
	all := []column[estimate]{
		{dancerField, func(e estimate) any { return givenText(e.dancer) }},
		{Field{Name: "of", Type: Text, Definition: "what the row is of: a shoe on a foot, the difference between two shoes on one foot, or the difference between the feet in one shoe", Values: []string{ofShoe, betweenShoes, betweenFeet}}, func(e estimate) any { return e.of }},
		{Field{Name: "shoe", Type: Text, Definition: "code of a shoe, with #1, #2 where one code has several descriptions"}, func(e estimate) any { return e.shoes[0] }},
		{footField, func(e estimate) any { return e.feet[0].String() }},
		{Field{Name: "shoe_from", Type: Text, Definition: "shoe that the mean of shoe is set against", Absent: aMean}, func(e estimate) any { return givenText(e.shoes[1]) }},
		{Field{Name: "foot_from", Type: Text, Definition: "foot that the mean of foot is set against", Values: footField.Values, Absent: aMean}, func(e estimate) any {
			if e.of == ofShoe {
				return nil
			}
			return e.feet[1].String()
		}},
	}
	all = append(all, conditions(func(e estimate) measure.Conditions { return e.conditions })...)
	all = append(all, measureColumns(func(e estimate) measure.Measure { return e.measure })...)
	for i, name := range [2]string{"", "_from"} {
		absent := [2]string{"", aMean}[i]
		mountings := "the difference is between feet"
		if absent != "" {
			mountings += "; " + absent
		}
		all = append(all,
			column[estimate]{Field{Name: "n" + name, Type: Integer, Definition: "relevés", Absent: absent}, func(e estimate) any { return counted(e.n[i]) }},
			column[estimate]{Field{Name: "mountings" + name, Type: Integer, Definition: "mountings", Absent: mountings}, func(e estimate) any { return counted(e.mountings[i]) }},
		)
	}
	return append(all,
		column[estimate]{Field{Name: "value", Type: Number, Definition: "mean of the relevés of shoe on foot, less that of shoe_from on foot_from in a difference; in unit"}, func(e estimate) any { return finite(e.value) }},
		column[estimate]{Field{Name: "u", Type: Number, Definition: "standard uncertainty of value, seat and mounting effect included, in unit"}, func(e estimate) any { return finite(e.u) }},
		column[estimate]{Field{Name: "dof", Type: Number, Definition: "degrees of freedom of u", Absent: "they are unlimited or not known"}, func(e estimate) any { return number(e.dof) }},
		column[estimate]{Field{Name: "ci95_low", Type: Number, Definition: "lower end of the 95 % interval, in unit", Absent: noScatter}, func(e estimate) any { return end(e.ci95, 0) }},
		column[estimate]{Field{Name: "ci95_high", Type: Number, Definition: "upper end of the 95 % interval, in unit", Absent: noScatter}, func(e estimate) any { return end(e.ci95, 1) }},
		column[estimate]{Field{Name: "p", Type: Number, Definition: "p-value of the two-sided t-test with u and dof", Absent: "the measure is exploratory, is not judged here, or the row is no difference between shoes"}, func(e estimate) any { return number(e.p) }},
		column[estimate]{Field{Name: "p_holm", Type: Number, Definition: "p adjusted by Holm's procedure: of over over feet and pairs of shoes, of the other declared measures over measures, feet and pairs", Absent: "p is absent"}, func(e estimate) any { return number(e.pAdjusted) }},
		column[estimate]{Field{Name: "wording", Type: Text, Definition: "what may be said of the difference", Values: words(compare.Clear, compare.WithinMounting, compare.CouldBeChance), Absent: "the measure is exploratory, or is not judged here; the row is a mean"}, func(e estimate) any { return givenText(string(e.wording)) }},
		column[estimate]{Field{Name: "verdict", Type: Text, Definition: "where the load sits in the shoe on the foot, see aplomb fields compare", Absent: "the row is a difference"}, func(e estimate) any {
			if e.shoe == nil {
				return nil
			}
			return string(e.shoe.Verdict)
		}},
		column[estimate]{Field{Name: "p_inside", Type: Number, Definition: "probability that the load acts inside the kern", Absent: "the row is a difference"}, func(e estimate) any {
			if e.shoe == nil {
				return nil
			}
			return finite(e.shoe.PInside)
		}},
		column[estimate]{algorithmField, func(e estimate) any { return givenText(e.algorithm) }},
	)
}

// point is one visit in one series of a follow-up.
type point struct {
	followUp *track.FollowUp
	series   *track.Series
	*track.Point
	logged measure.Visit // the visit in the logbook; the zero value where unknown
}

// FollowUps returns the visits of follow-ups as one table, in the order of the follow-ups and
// their series.
func FollowUps(all []*track.FollowUp) Table {
	var points []point
	for _, f := range all {
		visits := map[string]measure.Visit{}
		for _, v := range f.VisitRecords {
			visits[v.Name] = v
		}
		for i := range f.Series {
			s := &f.Series[i]
			for k := range s.Points {
				points = append(points, point{f, s, &s.Points[k], visits[s.Points[k].Visit]})
			}
		}
	}
	return pointLayout.table(points)
}

var pointLayout = layout[point]{
	name:       "track-csv",
	definition: "One row a visit of one measure on one side in one shoe: what aplomb track --csv writes, and what the progress sheet shows.",
	key:        []string{"dancer", "measure", "side", "shoe", "support", "rise", "visit"},
	columns:    pointColumns(),
}

func pointColumns() []column[point] {
	all := []column[point]{
		{Field{Name: "dancer", Type: Text, Definition: "code of the dancer"}, func(p point) any { return p.followUp.Dancer }},
		{Field{Name: "side", Type: Text, Definition: "which foot: one, left less right over the relevés that both feet made together, or both for a measure that is one number for both feet", Values: words(track.Left, track.Right, track.Between, track.Both)}, func(p point) any { return string(p.series.Side) }},
		{Field{Name: "shoe", Type: Text, Definition: "code of the shoe, with #1, #2 where one code has shoes of different outline or shank"}, func(p point) any { return givenText(p.series.Shoe) }},
		{Field{Name: "support", Type: Text, Definition: "what the dancer holds on to: barre, hand or none", Absent: notGiven}, func(p point) any { return givenText(p.series.Support) }},
		{Field{Name: "rise", Type: Text, Definition: "how she rises: roll-up, spring or step", Absent: notGiven}, func(p point) any { return givenText(p.series.Rise) }},
		{visitField, func(p point) any { return p.Visit }},
		{Field{Name: "at", Type: Instant, Definition: "time of the first recording of the visit in this shoe"}, func(p point) any { return p.At.UTC().Format(time.RFC3339) }},
		{Field{Name: "baseline", Type: Boolean, Definition: "between baseline visits nothing should have changed"}, func(p point) any { return p.Baseline }},
		{Field{Name: "reference", Type: Boolean, Definition: "the visit that changes are from: the first baseline visit, or else the first visit"}, func(p point) any { return p.Reference }},
	}
	all = append(all, measureColumns(func(p point) measure.Measure { return p.followUp.Measure })...)
	all = append(all,
		column[point]{Field{Name: "n", Type: Integer, Definition: "relevés"}, func(p point) any { return int64(p.N) }},
		column[point]{Field{Name: "mountings", Type: Integer, Definition: "mountings"}, func(p point) any { return int64(p.Mountings) }},
		column[point]{Field{Name: "hours_worn", Type: Number, Unit: "h", Definition: "hours that the shoe was worn, mean over the relevés"}, func(p point) any { return finite(p.Hours) }},
		column[point]{Field{Name: "value", Type: Number, Definition: "mean of the means of the mountings, in unit"}, func(p point) any { return finite(p.Mean) }},
	)
	all = append(all, uncertainties("", "value", func(p point) *track.Uncertainty { return p.OfMean })...)
	all = append(all, column[point]{Field{Name: "change", Type: Number, Definition: "value less that of the reference, in unit", Absent: "the visit is the reference"}, func(p point) any { return number(p.Change) }})
	all = append(all, uncertainties("change_", "change", func(p point) *track.Uncertainty { return p.OfChange })...)
	repeat := func(name, definition string, of func(*track.Repeatability) any) column[point] {
		return column[point]{Field{Name: name, Type: Number, Definition: definition, Absent: "the repeatability is not known"}, func(p point) any {
			if p.series.Repeat == nil {
				return nil
			}
			return of(p.series.Repeat)
		}}
	}
	return append(all,
		column[point]{Field{Name: "wording", Type: Text, Definition: "what may be said of the change", Values: words(track.BeyondNoise, track.WithinNoise), Absent: "there is no change, the measure is exploratory, or is not judged here"}, func(p point) any { return givenText(string(p.Wording)) }},
		repeat("sem", "standard error of measurement, in unit", func(r *track.Repeatability) any { return finite(r.SEM) }),
		repeat("sem_dof", "degrees of freedom of sem", func(r *track.Repeatability) any { return finite(r.DOF) }),
		repeat("mdc95", "minimal detectable change, t·√2·sem, in unit", func(r *track.Repeatability) any { return finite(r.MDC95) }),
		column[point]{Field{Name: "differs", Type: Text, Definition: "what else differs from the reference, with semicolons between", Absent: "nothing does"}, func(p point) any {
			var all []string
			for _, f := range p.Flags {
				all = append(all, string(f))
			}
			return givenText(strings.Join(all, "; "))
		}},
		column[point]{Field{Name: "pain_before", Type: Integer, Definition: "pain before the first rise, 0 to 10", Absent: "nobody asked"}, func(p point) any { return whole(p.logged.PainBefore) }},
		column[point]{Field{Name: "pain_after", Type: Integer, Definition: "pain after the last rise, 0 to 10", Absent: "nobody asked"}, func(p point) any { return whole(p.logged.PainAfter) }},
		column[point]{Field{Name: "recordings", Type: Text, Definition: "recordings of the relevés, with commas between"}, func(p point) any { return strings.Join(p.Recordings, ",") }},
		column[point]{algorithmField, func(p point) any {
			if p.followUp.Provenance == nil {
				return nil
			}
			return givenText(p.followUp.Provenance.Algorithm)
		}},
	)
}

// uncertainties returns the columns of the uncertainty of a value. Their names begin with
// prefix.
func uncertainties(prefix, value string, of func(point) *track.Uncertainty) []column[point] {
	absent := "the scatter of the relevés is not known, or there is no " + value
	one := func(name, definition string, at func(*track.Uncertainty) any) column[point] {
		return column[point]{Field{Name: prefix + name, Type: Number, Definition: definition, Absent: absent}, func(p point) any {
			if u := of(p); u != nil {
				return at(u)
			}
			return nil
		}}
	}
	return []column[point]{
		one("u", "standard uncertainty of "+value+", with the relevés, seats and mounting effect of the visits, in unit", func(u *track.Uncertainty) any { return finite(u.U) }),
		one("dof", "degrees of freedom of "+prefix+"u; absent where they are unlimited", func(u *track.Uncertainty) any { return positive(float64(u.DOF)) }),
		one("ci95_low", "lower end of the 95 % interval of "+value+", in unit", func(u *track.Uncertainty) any { return finite(u.CI95[0]) }),
		one("ci95_high", "upper end of the 95 % interval of "+value+", in unit", func(u *track.Uncertainty) any { return finite(u.CI95[1]) }),
	}
}
