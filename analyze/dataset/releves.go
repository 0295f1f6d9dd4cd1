package dataset

import (
	"math"
	"slices"
	"strings"

	"aplomb/analyze/budget"
	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
	"aplomb/device"
)

// releve is one relevé of one foot.
type releve struct {
	foot
	*measure.Releve
	order int // of the rise in its visit, from 1
}

// releves returns the relevés of all recordings, in the order in which they were made,
// left before right.
func (s *Source) releves() []releve {
	var all []releve
	feet := map[string]foot{}
	for _, f := range s.feet() {
		feet[f.rec.ID+f.foot.String()] = f
	}
	for u := range s.Units {
		order := 0
		for r := range s.Units[u].Recordings {
			rec := &s.Units[u].Recordings[r]
			if rec.Result == nil {
				continue
			}
			last := 0
			for i := range rec.Result.Releves {
				one := &rec.Result.Releves[i]
				if one.N != last {
					order, last = order+1, one.N
				}
				all = append(all, releve{feet[rec.ID+one.Foot.String()], one, order})
			}
		}
	}
	return all
}

// parts divides the standard uncertainty of a measure of one hold by the measurements
// that have the error in common; u² is the sum of their squares.
type parts struct {
	u, dof                       float64
	own, mounting, strip, common float64
}

// partsOf returns the parts of a measure that has a budget.
func partsOf(h *measure.Hold, m measure.Measure) parts {
	u, dof := budget.OfMeasure(h, m)
	p := parts{u: *u, dof: float64(dof)}
	for i := range h.Effects {
		e := &h.Effects[i]
		one := budget.OfEffect(e, m).U
		switch e.Common {
		case measure.OfReleve:
			p.own = math.Hypot(p.own, one)
		case measure.OfMounting:
			p.mounting = math.Hypot(p.mounting, one)
		case measure.OfStrip:
			p.strip = math.Hypot(p.strip, one)
		case measure.OfShape:
			p.common = math.Hypot(p.common, one)
		}
	}
	return p
}

// identity returns the columns that identify the relevé of a row.
func identity[T any](of func(T) releve) []column[T] {
	at := func(f Field, value func(releve) any) column[T] {
		return column[T]{f, func(t T) any { return value(of(t)) }}
	}
	return []column[T]{
		at(recordingField, func(r releve) any { return r.rec.ID }),
		at(riseField, func(r releve) any { return int64(r.N) }),
		at(footField, func(r releve) any { return r.Foot.String() }),
	}
}

// context returns the columns with the circumstances of a relevé.
func context[T any](of func(T) releve) []column[T] {
	at := func(f Field, value func(releve) any) column[T] {
		return column[T]{f, func(t T) any { return value(of(t)) }}
	}
	return []column[T]{
		at(dancerField, func(r releve) any { return givenText(r.unit.Dancer) }),
		at(visitField, func(r releve) any { return r.unit.Visit }),
		at(dayField, func(r releve) any { return r.unit.Day }),
		at(Field{Name: "order", Type: Integer, Definition: "number of the rise in its visit, from 1, in all shoes; the two feet of one rise share it"}, func(r releve) any { return int64(r.order) }),
		at(Field{Name: "shoe", Type: Text, Definition: "code of the shoe"}, func(r releve) any { return r.side.Shoe.Code }),
		at(shoeField, func(r releve) any { return ContentOf(r.side.Shoe) }),
		at(Field{Name: "mark", Type: Integer, Definition: "which physical shoe of the pair: 1 or 2", Absent: notGiven}, func(r releve) any { return counted(r.side.Mark) }),
		at(mountingField, func(r releve) any { return r.mounting }),
	}
}

// conditions are the columns of the conditions of a relevé.
func conditions[T any](of func(T) measure.Conditions) []column[T] {
	var all []column[T]
	for i, f := range [6]Field{
		{Name: "support", Definition: "what the dancer holds on to: barre, hand or none"},
		{Name: "rise", Definition: "how she rises: roll-up, spring or step"},
		{Name: "position", Definition: "position of the feet"},
		{Name: "floor", Definition: "what the floor is made of"},
		{Name: "fixing", Definition: "how the strip is fixed to the shoe"},
		{Name: "feedback", Definition: "what the dancer sees of the numbers; live is practice, and enters no comparison", Values: device.Feedbacks[:]},
	} {
		f.Type, f.Absent = Text, notGiven
		all = append(all, column[T]{f, func(t T) any { return givenText(of(t).List()[i].Value) }})
	}
	return all
}

// releveLayout is the table of relevés.
var releveLayout = layout[releve]{
	name:       "releves",
	definition: "One row a relevé and foot: where the load sits on the platform while the dancer holds on pointe, how certain that is, and under which circumstances.",
	key:        []string{"recording", "n", "foot"},
	references: []Reference{toRecording, toMounting, toShoe, toStrip},
	columns:    releveColumns(),
}

func releveColumns() []column[releve] {
	self := func(r releve) releve { return r }
	all := slices.Concat(identity(self), context(self),
		[]column[releve]{{
			stripField,
			func(r releve) any { return ContentOf(r.side.Strip) },
		}},
		conditions(func(r releve) measure.Conditions { return measure.ConditionsOf(&r.rec.Meta, r.Foot) }),
		[]column[releve]{
			{Field{Name: "feet_up", Type: Integer, Definition: "feet that rise together: 1 or 2"}, func(r releve) any { return int64(r.FeetUp) }},
			{Field{Name: "start_s", Type: Number, Unit: "s", Definition: "time at which the load begins, since the recording's first frame"}, func(r releve) any { return r.StartS }},
			{Field{Name: "end_s", Type: Number, Unit: "s", Definition: "time at which the load ends, since the recording's first frame"}, func(r releve) any { return r.EndS }},
			{Field{Name: "status", Type: Text, Definition: "whether the relevé could be measured", Values: words(measure.Measured, measure.Aborted)}, func(r releve) any { return string(r.Status) }},
			{Field{Name: "discarded", Type: Boolean, Definition: "somebody marked it while recording as not to be used; it enters no comparison"}, func(r releve) any { return r.Discarded }},
			held("verdict", Text, "", "where the centre of pressure lies relative to the kern, as far as its uncertainty allows", func(h *measure.Hold) any { return string(h.Verdict) },
				words(measure.OverTheBox, measure.PulledBack, measure.TooFarOver, measure.ToTheSide, measure.TooCloseToCall)...),
			held("p_inside", Number, "", "probability that the centre of pressure lies inside the kern", func(h *measure.Hold) any { return finite(h.PInside) }),
			orNone(held("misses", Text, "", "directions in which the centre of pressure lies beyond the kern, along each axis by itself, with spaces between: behind, in_front, little_toe_side, big_toe_side", func(h *measure.Hold) any {
				return givenText(strings.Join(words(h.Misses...), " "))
			})),
		})
	for _, m := range measure.All() {
		all = append(all, column[releve]{ofMeasure(m), func(r releve) any {
			if v, ok := r.Value(m); ok {
				return finite(v)
			}
			return nil
		}})
	}
	for _, m := range measure.Budgeted {
		all = append(all, uncertainty(m)...)
	}
	return append(all,
		held("contact_share_low", Number, "", "lower end of the 95 % interval of contact_share, which is not symmetric", func(h *measure.Hold) any { return finite(h.ContactCI95[0]) }),
		held("contact_share_high", Number, "", "upper end of the 95 % interval of contact_share", func(h *measure.Hold) any { return finite(h.ContactCI95[1]) }),
		held("contact_mm2", Number, "mm²", "area of the platform that carries pressure", func(h *measure.Hold) any { return finite(h.ContactMM2) }),
		held("off_outline_share", Number, "", "share of the load on cells beside the platform's outline", func(h *measure.Hold) any { return finite(h.OffOutlineShare) }),
		held("rise_s", Number, "s", "time from the beginning of the load to the hold", func(h *measure.Hold) any { return finite(h.RiseS) }),
		held("lower_s", Number, "s", "time from the end of the hold to the end of the load", func(h *measure.Hold) any { return finite(h.LowerS) }),
		column[releve]{
			Field{Name: "seat_evidence", Type: Text, Definition: "what the seat of the strip was found from: pad presses, holds, or assumed from the strip's profile", Values: evidence},
			func(r releve) any {
				if seat := r.rec.Result.Seats.Of(r.Foot); seat != nil {
					return string(seat.Evidence)
				}
				return nil
			},
		},
		column[releve]{
			Field{Name: "warnings", Type: Text, Definition: "codes of the warnings of the relevé, with spaces between; the table recordings has those of the recording", Absent: "there are none"},
			func(r releve) any { return givenText(codes(r.Warnings)) },
		},
	)
}

// held returns the column of a value that measured relevés have.
func held(name string, t Type, unit, definition string, of func(*measure.Hold) any, values ...string) column[releve] {
	return column[releve]{Field{Name: name, Type: t, Unit: unit, Definition: definition, Values: values, Absent: aborted}, func(r releve) any {
		if r.Hold == nil {
			return nil
		}
		return of(r.Hold)
	}}
}

// orNone returns a column of lists, marked as absent where the list is empty.
func orNone(c column[releve]) column[releve] {
	c.Absent += "; there are none"
	return c
}

// uncertainty returns the columns of the standard uncertainty of a measure that has a
// budget.
func uncertainty(m measure.Measure) []column[releve] {
	d := m.Describe()
	part := func(ending, definition string, of func(parts) any) column[releve] {
		return held("u_"+d.Symbol+ending, Number, d.Unit, definition, func(h *measure.Hold) any { return of(partsOf(h, m)) })
	}
	dof := held("dof_"+d.Symbol, Number, "", "degrees of freedom of u_"+d.Symbol, func(h *measure.Hold) any { return finite(partsOf(h, m).dof) })
	dof.Absent += "; they are unlimited"
	return []column[releve]{
		part("", "standard uncertainty of "+d.Symbol+" in this relevé, the seat of the strip included; its square is the sum of the squares of the four parts", func(p parts) any { return finite(p.u) }),
		part("_own", "part of u_"+d.Symbol+" that is this relevé's own", func(p parts) any { return finite(p.own) }),
		part("_mounting", "part of u_"+d.Symbol+" that all relevés of a mounting have in common", func(p parts) any { return finite(p.mounting) }),
		part("_strip", "part of u_"+d.Symbol+" that all relevés under the strip have in common where it measures alike", func(p parts) any { return finite(p.strip) }),
		part("_shape", "part of u_"+d.Symbol+" that depends on the shape of the pressure map, and that neither averages out over relevés nor cancels between shoes", func(p parts) any { return finite(p.common) }),
		dof,
	}
}

// codes returns the codes of warnings, each once and sorted.
func codes(all []measure.Warning) string {
	var list []string
	for _, w := range all {
		list = append(list, string(w.Code))
	}
	slices.Sort(list)
	return strings.Join(slices.Compact(list), " ")
}

// value is one measure of one relevé.
type value struct {
	releve
	measure measure.Measure
	value   float64
	u       *float64
	dof     measure.DOF
	low     any
	high    any
}

// values returns the measures of all relevés.
func (s *Source) values() []value {
	var all []value
	for _, r := range s.releves() {
		for _, m := range measure.All() {
			v, ok := r.Value(m)
			if !ok {
				continue
			}
			one := value{releve: r, measure: m, value: v}
			one.u, one.dof = budget.OfMeasure(r.Hold, m)
			switch {
			case m == measure.ContactShare:
				one.low, one.high = finite(r.ContactCI95[0]), finite(r.ContactCI95[1])
			case one.u != nil:
				i := stats.Interval95(v, *one.u, float64(one.dof))
				one.low, one.high = finite(i.Lo), finite(i.Hi)
			}
			all = append(all, one)
		}
	}
	return all
}

// measureLayout is the long table of measures.
var measureLayout = layout[value]{
	name:       "measures",
	definition: "One row a measure of a relevé and foot, with its uncertainty: the long form of the table releves, with the measures that are absent left out.",
	key:        []string{"recording", "n", "foot", "measure"},
	references: []Reference{{[]string{"recording", "n", "foot"}, "releves", []string{"recording", "n", "foot"}}},
	columns: slices.Concat(
		identity(func(v value) releve { return v.releve }),
		context(func(v value) releve { return v.releve }),
		[]column[value]{
			{Field{Name: "measure", Type: Text, Definition: "symbol of the measure, which the table releves has as a column with its definition", Values: symbols()}, func(v value) any { return v.measure.Symbol() }},
			{Field{Name: "kind", Type: Text, Definition: "declared measures are decided on beforehand; all others are exploratory", Values: words(measure.Declared, measure.Exploratory)}, func(v value) any { return string(v.measure.Describe().Kind) }},
			{Field{Name: "unit", Type: Text, Definition: "unit of value, u and the interval", Absent: "it is a plain number"}, func(v value) any { return givenText(v.measure.Describe().Unit) }},
			{Field{Name: "value", Type: Number, Definition: "value of the measure, in unit"}, func(v value) any { return finite(v.value) }},
			{Field{Name: "u", Type: Number, Definition: "standard uncertainty of value in this relevé, in unit: of over, medial, contact share, load and changes within a hold all sources; of other measures what seat and gains contribute", Absent: "neither seat nor gains reach the measure"}, func(v value) any { return number(v.u) }},
			{Field{Name: "dof", Type: Number, Definition: "degrees of freedom of u", Absent: "u is absent; they are unlimited"}, func(v value) any {
				if v.u == nil {
					return nil
				}
				return finite(float64(v.dof))
			}},
			{Field{Name: "ci95_low", Type: Number, Definition: "lower end of the 95 % interval, in unit", Absent: "u is absent"}, func(v value) any { return v.low }},
			{Field{Name: "ci95_high", Type: Number, Definition: "upper end of the 95 % interval, in unit", Absent: "u is absent"}, func(v value) any { return v.high }},
		}),
}

func symbols() []string {
	var all []string
	for _, m := range measure.All() {
		all = append(all, m.Symbol())
	}
	return all
}
