package dataset

import (
	"math"
	"slices"
	"strings"

	"aplomb/analyze/measure"
	"aplomb/analyze/study"
	"aplomb/device"
)

// Study is a study to which visits of the dataset belong.
type Study struct {
	study.Study     // Declared and the days of Changes are "" in a de-identified dataset
	Before      int // recordings of the study from before the day of its declaration
	// Unblinded is true where labels and seed may be in the dataset: seed, shoes and
	// program together give the labels.
	Unblinded bool
}

// Reasons why a field of a study has no value.
const (
	blinded   = "the study is blinded until its shoes are compared after the declared number of dancers"
	notInHere = "the dancer of the row is not in the package, or was erased"
)

var (
	studyField = Field{Name: "study", Type: Text, Definition: "name of the study"}
	toStudy    = Reference{[]string{"study"}, "studies", []string{"study"}}
)

var studyLayout = layout[Study]{
	name:       "studies",
	definition: "One row a study that visits of the package belong to: what was declared before its first recording, as amended since. The table study_changes has the amendments.",
	key:        []string{"study"},
	columns: []column[Study]{
		{studyField, func(s Study) any { return s.Name }},
		{Field{Name: "declared", Type: Day, Definition: "day of the declaration", Absent: deidentified}, func(s Study) any { return givenText(s.Declared) }},
		{Field{Name: "primary_measure", Type: Text, Definition: "symbol of the primary measure: the only one whose difference between shoes is tested over the dancers", Values: study.Primaries()}, func(s Study) any { return s.Measure.Symbol() }},
		{Field{Name: "other_measures", Type: Text, Definition: "symbols of the other declared measures, which are compared without a test, with spaces between"}, func(s Study) any { return otherMeasures(s.Measure) }},
		{Field{Name: "feet", Type: Text, Definition: "feet that are recorded; with both, a dancer's value is the mean of the feet", Values: []string{"both", device.Left.String(), device.Right.String()}}, func(s Study) any { return feetOf(s.Feet) }},
		{Field{Name: "dancers", Type: Integer, Definition: "number of dancers of the study, whether or not they are in the package"}, func(s Study) any { return int64(len(s.Rows)) }},
		{Field{Name: "visits", Type: Integer, Definition: "visits of each dancer"}, func(s Study) any { return int64(s.Visits) }},
		{Field{Name: "mountings_each", Type: Integer, Definition: "mountings of the strips under each shoe in each visit"}, func(s Study) any { return int64(s.Mountings) }},
		{Field{Name: "releves_each", Type: Integer, Definition: "fewest relevés in each mounting"}, func(s Study) any { return int64(s.Releves) }},
		{Field{Name: "stop", Type: Integer, Definition: "stopping rule: number of dancers with all recordings after whom the shoes are compared"}, func(s Study) any { return int64(s.Stop) }},
		{Field{Name: "seed", Type: Integer, Definition: "number that decided orders and labels, and decides random draws of the tests", Absent: blinded + "; " + deidentified + "; it is 2⁶³ or more"}, func(s Study) any { return s.seed() }},
		{Field{Name: "compared", Type: Boolean, Definition: "the shoes were compared after the declared number of dancers, under codes and labels"}, func(s Study) any { return s.Compared() }},
		{Field{Name: "changed_after_comparison", Type: Boolean, Definition: "the plan was amended after the shoes had been compared, or a dancer replaced after the comparison in full: then no difference of the study is called clear"}, func(s Study) any { return s.ChangedAfterLook() }},
		{Field{Name: "recordings_before", Type: Integer, Definition: "recordings of the study from before the day of its declaration, whether or not they are in the package: for them nothing shows that the plan came first"}, func(s Study) any { return int64(s.Before) }},
	},
}

// seed returns the seed where it is among the whole numbers of a table.
func (s *Study) seed() any {
	if !s.Unblinded || s.Seed > math.MaxInt64 {
		return nil
	}
	return int64(s.Seed)
}

// label returns the label of a shoe.
func (s *Study) label(code string) any {
	if !s.Unblinded {
		return nil
	}
	return givenText(s.Label(code))
}

func otherMeasures(primary measure.Measure) string {
	return strings.Join(slices.DeleteFunc(study.Primaries(), func(name string) bool { return name == primary.Symbol() }), " ")
}

// feetOf names the feet of a study.
func feetOf(feet [2]bool) string {
	for _, f := range device.Feet {
		if !feet[f] {
			return f.Other().String()
		}
	}
	return "both"
}

// place is one place in the order of a row of a study.
type place struct {
	*Study
	row, n int    // from 1
	dancer string // "" where not in the dataset
	shoe   string
}

func (s *Source) places() []place {
	here := map[string]bool{}
	for _, d := range s.dancers() {
		here[d.Code] = true
	}
	var all []place
	for i := range s.Studies {
		for r, row := range s.Studies[i].Rows {
			dancer := row.Dancer
			if !here[dancer] {
				dancer = ""
			}
			for n, shoe := range row.Order {
				all = append(all, place{&s.Studies[i], r + 1, n + 1, dancer, shoe})
			}
		}
	}
	return all
}

var studyRowField = Field{Name: "study_row", Type: Integer, Definition: "row of the study's Williams squares, from 1; each is assigned to one dancer at a time"}

var orderLayout = layout[place]{
	name:       "study_orders",
	definition: "One row a shoe in the order of a dancer of a study. Rows are those of Williams squares: every shoe comes equally often at each place and directly after each other shoe, where the number of dancers allows it. Rounds of all shoes, counted over mountings and visits, alternate between this order and its reverse.",
	key:        []string{"study", "study_row", "place"},
	references: []Reference{toStudy, {[]string{"dancer"}, "dancers", []string{"dancer"}}},
	columns: []column[place]{
		{studyField, func(p place) any { return p.Name }},
		{studyRowField, func(p place) any { return int64(p.row) }},
		{Field{Name: "place", Type: Integer, Definition: "place of the shoe in the first round, from 1"}, func(p place) any { return int64(p.n) }},
		{Field{Name: "dancer", Type: Text, Definition: dancerField.Definition, Absent: notInHere}, func(p place) any { return givenText(p.dancer) }},
		{Field{Name: "shoe", Type: Text, Definition: "code of the shoe"}, func(p place) any { return p.shoe }},
		{Field{Name: "label", Type: Text, Definition: "label that dancer and fitter see in place of the shoe's code", Absent: blinded + "; " + deidentified}, func(p place) any { return p.label(p.shoe) }},
	},
}

// change is one change of a study, with its running number.
type change struct {
	*Study
	n int
	study.Change
}

func (s *Source) changes() []change {
	var all []change
	for i := range s.Studies {
		for n, c := range s.Studies[i].Changes {
			all = append(all, change{&s.Studies[i], n + 1, c})
		}
	}
	return all
}

var changeLayout = layout[change]{
	name:       "study_changes",
	definition: "One row an event in a study after its declaration, in the order in which they came: an amendment of the plan, a dancer who dropped out and was replaced, a comparison before the declared number of dancers, and each time when the key of the labels was shown. The comparison in full shows the key too.",
	key:        []string{"study", "change"},
	references: []Reference{toStudy},
	columns: []column[change]{
		{studyField, func(c change) any { return c.Name }},
		{Field{Name: "change", Type: Integer, Definition: "number of the event in its study, from 1"}, func(c change) any { return int64(c.n) }},
		{Field{Name: "day", Type: Day, Definition: "day of the event", Absent: deidentified}, func(c change) any { return givenText(c.Day) }},
		{Field{Name: "event", Type: Text, Definition: "drop-out: the study_row got another dancer; amendment: the plan was changed; interim: the shoes were compared before the declared number of dancers; key: which shoe each label is was shown", Values: words(study.DropOut, study.Amendment, study.Interim, study.KeyShown)}, func(c change) any { return string(c.Kind) }},
		{Field{Name: studyRowField.Name, Type: studyRowField.Type, Definition: studyRowField.Definition, Absent: "the event is no drop-out"}, func(c change) any { return counted(c.Row) }},
		{Field{Name: "what", Type: Text, Definition: "what was changed or shown", Absent: "the event is a drop-out"}, func(c change) any { return givenText(c.What) }},
		{Field{Name: "reason", Type: Text, Definition: "why, in the words of whoever did it", Absent: notGiven + "; " + deidentified}, func(c change) any { return givenText(c.Reason) }},
	},
}
