package dataset

// kind is a kind of table: its schema, and the table that a source makes.
type kind struct {
	schema Schema
	of     func(*Source) Table
}

func kindOf[T any](l layout[T], rows func(*Source) []T) kind {
	return kind{l.schema(), func(s *Source) Table { return l.table(rows(s)) }}
}

// kinds lists every table, in the order in which a reader needs them.
var kinds = []kind{
	kindOf(releveLayout, (*Source).releves),
	kindOf(measureLayout, (*Source).values),
	kindOf(comparisonLayout, (*Source).differences),
	kindOf(dancerLayout, (*Source).dancers),
	kindOf(visitLayout, (*Source).visits),
	kindOf(recordingLayout, (*Source).recordings),
	kindOf(mountingLayout, (*Source).mountings),
	kindOf(seatLayout, (*Source).feet),
	kindOf(shoeLayout, (*Source).Shoes),
	kindOf(stripLayout, (*Source).Strips),
	kindOf(checkLayout, (*Source).checkRows),
	kindOf(studyLayout, func(s *Source) []Study { return s.Studies }),
	kindOf(orderLayout, (*Source).places),
	kindOf(changeLayout, (*Source).changes),
}

// Schemas returns the schema of every table, those made on request last.
func Schemas() []Schema {
	var all []Schema
	for _, k := range kinds {
		all = append(all, k.schema)
	}
	for _, k := range partKinds {
		all = append(all, k.schema)
	}
	return all
}

// Tables returns the tables of the source that are in one file each.
func (s *Source) Tables() []Table {
	var all []Table
	for _, k := range kinds {
		all = append(all, k.of(s))
	}
	return all
}
