package dataset

import (
	"math"

	"aplomb/analyze/measure"
)

// Type is the type of the values of a field, as named in Table Schema 1.
type Type string

const (
	Text    Type = "string"
	Integer Type = "integer"
	Number  Type = "number"
	Boolean Type = "boolean"
	Day     Type = "date"     // as 2026-03-14
	Instant Type = "datetime" // in UTC, as 2026-03-14T09:26:53Z
)

// Field describes one column of a table, or one key of JSON.
type Field struct {
	Name       string   `json:"name"`
	Type       Type     `json:"type"`
	Unit       string   `json:"unit,omitempty"` // of a number; "" for a plain one
	Definition string   `json:"definition"`
	Positive   string   `json:"positive,omitempty"` // positive direction of a number's axis
	Values     []string `json:"values,omitempty"`   // all possible values of a text
	Absent     string   `json:"absent,omitempty"`   // why a row may have no value; "" where it always has one
}

// Reference declares that fields of a table contain values of fields of another one.
type Reference struct {
	Fields []string `json:"fields"`
	Table  string   `json:"table"`
	To     []string `json:"to"`
}

// Schema describes a table.
type Schema struct {
	Name       string      `json:"table"`
	Definition string      `json:"definition"`
	Key        []string    `json:"key"` // fields whose combination is unique
	References []Reference `json:"references,omitempty"`
	// Partition names the levels of folders of a table with one file per recording; nil
	// for a table in one file. A partitioned table is made on request only.
	Partition []string `json:"partition,omitempty"`
	Fields    []Field  `json:"fields"`
}

// Table is a table with its rows. A value is a string, an int64, a float64 that is a
// number, a bool, or nil where it is absent. Days and instants are strings.
type Table struct {
	Schema
	Rows [][]any // Rows[row][field]
}

// column is a field with the function that returns its value for a row.
type column[T any] struct {
	Field
	of func(T) any
}

// layout is a kind of table with rows of type T.
type layout[T any] struct {
	name, definition string
	key              []string
	references       []Reference
	columns          []column[T]
}

func (l layout[T]) schema() Schema {
	s := Schema{Name: l.name, Definition: l.definition, Key: l.key, References: l.references}
	for _, c := range l.columns {
		s.Fields = append(s.Fields, c.Field)
	}
	return s
}

func (l layout[T]) table(of []T) Table {
	t := Table{Schema: l.schema(), Rows: make([][]any, len(of))}
	for i, one := range of {
		t.Rows[i] = make([]any, len(l.columns))
		for k, c := range l.columns {
			t.Rows[i][k] = c.of(one)
		}
	}
	return t
}

// givenText returns a text, nil where it is empty.
func givenText(s string) any {
	if s == "" {
		return nil
	}
	return s
}

// finite returns a number, nil where it is infinite or not a number.
func finite(v float64) any {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return v
}

// positive returns a number, nil where it is 0, which stands for unknown.
func positive(v float64) any {
	if v == 0 {
		return nil
	}
	return finite(v)
}

// counted returns a whole number, nil where it is 0, which stands for unknown.
func counted(n int) any {
	if n == 0 {
		return nil
	}
	return int64(n)
}

// number returns what p points at, nil where it is nil.
func number(p *float64) any {
	if p == nil {
		return nil
	}
	return finite(*p)
}

// whole returns what p points at, nil where it is nil.
func whole(p *int) any {
	if p == nil {
		return nil
	}
	return int64(*p)
}

// end returns one end of an interval, nil where there is none.
func end(interval *[2]float64, i int) any {
	if interval == nil {
		return nil
	}
	return finite(interval[i])
}

// words returns typed words as texts.
func words[T ~string](all ...T) []string {
	texts := make([]string, len(all))
	for i, w := range all {
		texts[i] = string(w)
	}
	return texts
}

// ofMeasure returns the field for the value of a measure.
func ofMeasure(m measure.Measure) Field {
	d := m.Describe()
	f := Field{Name: d.Symbol, Type: Number, Unit: d.Unit, Definition: d.Definition, Absent: aborted}
	if d.High != "" {
		f.Positive = "towards the " + d.High
	}
	switch m {
	case measure.LoadShare:
		f.Definition += "; it stands in the rows of both feet"
		f.Absent += "; one foot rises alone"
	case measure.SwayOver, measure.SwayMedial, measure.SwaySpeed, measure.SwayEllipse, measure.OverChange, measure.PeakOverChange, measure.PeakMedialChange:
		f.Absent += "; the hold is shorter than the window of sway"
	}
	return f
}

// aborted is the reason why a relevé has no measures.
const aborted = "the relevé is aborted"
