package reproduce

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"aplomb/analyze/dataset"
)

// compareTables compares a table of the package with the table that was computed, row by
// row of the same key.
func (p *pack) compareTables(file string, from, to dataset.Table) {
	differ := func(d Difference) {
		d.File = file
		p.report.Differences = append(p.report.Differences, d)
	}
	then, now := newRows(from), newRows(to)
	again := map[string][]any{}
	for i, row := range to.Rows {
		again[now.key(i, row)] = row
	}
	for i, row := range from.Rows {
		key := then.key(i, row)
		other, ok := again[key]
		delete(again, key)
		if p.left(file, then, row) || !ok && len(p.out) > 0 && (from.Name == "shoes" || from.Name == "strips") {
			p.report.Left.add(from, row)
			continue
		}
		if !ok {
			differ(Difference{Row: key, From: key})
			continue
		}
		for i, f := range from.Fields {
			k, ok := now.at[f.Name]
			if !ok {
				differ(Difference{Row: key, Field: f.Name, From: row[i]})
				continue
			}
			switch equal, close := same(row[i], other[k], p.report.Exact()); {
			case !equal:
				differ(Difference{Row: key, Field: f.Name, Unit: then.unit(row, f), From: row[i], To: other[k]})
			case row[i] != nil:
				p.report.Same.count(f)
				if close {
					p.report.Close++
				}
			}
		}
	}
	for i, row := range to.Rows {
		key := now.key(i, row)
		if _, more := again[key]; more && !p.left(file, now, row) {
			differ(Difference{Row: key, To: key})
		}
	}
}

// left reports whether a row depends on recordings that were left out.
func (p *pack) left(file string, t rows, row []any) bool {
	if len(p.out) == 0 {
		return false
	}
	if t.name == "comparisons" {
		return true // the mounting effect in all of them is estimated from all recordings
	}
	recording := t.text(row, "recording")
	if _, after, ok := strings.Cut(file, "/recording="); ok { // a file of a partitioned table
		recording, _, _ = strings.Cut(after, "/")
	}
	if v, ok := p.visits[recording]; ok {
		return p.out[v]
	}
	return p.out[visit{t.text(row, "dancer"), t.text(row, "visit")}]
}

// rows are the rows of a table, with the positions of its fields.
type rows struct {
	name string
	keys []string
	at   map[string]int // by name of the field

	numbered bool // a number with digits is part of the key
}

func newRows(t dataset.Table) rows {
	r := rows{name: t.Name, keys: t.Key, at: map[string]int{}}
	for i, f := range t.Fields {
		r.at[f.Name] = i
		r.numbered = r.numbered || f.Type == dataset.Number && slices.Contains(t.Key, f.Name)
	}
	return r
}

// text returns a value of a row that is a text, "" where there is none.
func (r rows) text(row []any, field string) string {
	if i, ok := r.at[field]; ok {
		s, _ := row[i].(string)
		return s
	}
	return ""
}

// key returns the key of row n, from 0, as a person reads it: its number in the file where
// a measured number is part of the key.
func (r rows) key(n int, row []any) string {
	if r.numbered {
		return fmt.Sprintf("row %d", n+1)
	}
	var all []string
	for _, name := range r.keys {
		if i, ok := r.at[name]; ok && row[i] != nil {
			all = append(all, fmt.Sprintf("%s=%v", name, row[i]))
		}
	}
	return strings.Join(all, " ")
}

// unit returns the unit of a field. A field whose unit is given by the row's column unit
// has that one.
func (r rows) unit(row []any, f dataset.Field) string {
	if f.Unit == "" && strings.Contains(f.Definition, "in unit") {
		return r.text(row, "unit")
	}
	return f.Unit
}

// same reports whether two values count as equal, and whether they are two numbers that
// differ within Tolerance.
func same(a, b any, exact bool) (equal, close bool) {
	x, number := a.(float64)
	y, other := b.(float64)
	switch {
	case number && other && !exact && x != y:
		near := math.Abs(x-y) <= Tolerance*max(1, math.Abs(x), math.Abs(y))
		return near, near
	case number && other:
		return x == y, false
	}
	s, text := a.(string)
	t, texts := b.(string)
	if text && texts { // CSV does not keep a carriage return at the end of a line
		return s == t || strings.ReplaceAll(s, "\r\n", "\n") == strings.ReplaceAll(t, "\r\n", "\n"), false
	}
	return a == b, false
}

func (v *Values) count(f dataset.Field) {
	if f.Type == dataset.Number || f.Type == dataset.Integer {
		v.Numbers++
	} else {
		v.Others++
	}
}

// add counts the values of a row.
func (v *Values) add(t dataset.Table, row []any) {
	for i, f := range t.Fields {
		if row[i] != nil {
			v.count(f)
		}
	}
}
