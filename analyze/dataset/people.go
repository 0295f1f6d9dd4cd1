package dataset

import (
	"fmt"
	"strings"
	"time"

	"aplomb/analyze/logbook"
	"aplomb/device"
)

// notGiven is the reason why a field to be filled in by a person has no value.
const notGiven = "not given"

// deidentified is the reason why a field has no value in a de-identified package.
const deidentified = "the package is de-identified"

// Fields common to several tables.
var (
	recordingField = Field{Name: "recording", Type: Text, Definition: "id of the recording, which follows from its frames and events"}
	riseField      = Field{Name: "n", Type: Integer, Definition: "number of the rise in its recording, from 1; the two feet of one rise share it"}
	footField      = Field{Name: "foot", Type: Text, Definition: "the dancer's foot", Values: []string{device.Left.String(), device.Right.String()}}
	dancerField    = Field{Name: "dancer", Type: Text, Definition: "code of the dancer", Absent: "the recording does not say it"}
	visitField     = Field{Name: "visit", Type: Text, Definition: "name of the visit among those of its dancer: the day, with a number from the second visit of a day on"}
	dayField       = Field{Name: "day", Type: Day, Definition: "day of the visit"}
	shoeField      = Field{Name: "shoe_sha256", Type: Text, Definition: "the shoe by content: SHA-256 of its profile"}
	stripField     = Field{Name: "strip_sha256", Type: Text, Definition: "the strip by content: SHA-256 of its profile"}
	mountingField  = Field{Name: "mounting", Type: Text, Definition: "id of the mounting, one fixing of the strip under the shoe: its first recording and the foot"}
)

// References common to several tables.
var (
	toRecording = Reference{[]string{"recording"}, "recordings", []string{"recording"}}
	toMounting  = Reference{[]string{"mounting"}, "mountings", []string{"mounting"}}
	toShoe      = Reference{[]string{"shoe_sha256"}, "shoes", []string{"shoe_sha256"}}
	toStrip     = Reference{[]string{"strip_sha256"}, "strips", []string{"strip_sha256"}}
	toVisit     = Reference{[]string{"dancer", "visit"}, "visits", []string{"dancer", "visit"}}
)

// in is a recording with its unit.
type in struct {
	unit *Unit
	*Recording
}

func (s *Source) recordings() []in {
	var all []in
	for u := range s.Units {
		for r := range s.Units[u].Recordings {
			all = append(all, in{&s.Units[u], &s.Units[u].Recordings[r]})
		}
	}
	return all
}

// Reasons why a recording of a dataset has no relevés.
const (
	used     = "used"
	rejected = "rejected"
	failed   = "failed"
)

var recordingLayout = layout[in]{
	name:       "recordings",
	definition: "One row a recording: its file, when and in which visit it was made, and whether it is used. The recordings of one visit of a dancer are measured together.",
	key:        []string{"recording"},
	columns: []column[in]{
		{recordingField, func(r in) any { return r.ID }},
		{Field{Name: "file", Type: Text, Definition: "path of the recording in the package"}, func(r in) any { return r.File }},
		{Field{Name: "sha256", Type: Text, Definition: "SHA-256 of the file"}, func(r in) any { return r.SHA256 }},
		{Field{Name: "correction", Type: Text, Definition: "path of the file that corrects what the recording says of itself", Absent: "there is none"}, func(r in) any { return givenText(r.Correction) }},
		{dancerField, func(r in) any { return givenText(r.unit.Dancer) }},
		{visitField, func(r in) any { return r.unit.Visit }},
		{dayField, func(r in) any { return r.unit.Day }},
		{Field{Name: "number", Type: Integer, Definition: "number in the logbook that it was exported from", Absent: "it is from no logbook"}, func(r in) any { return counted(int(r.Number)) }},
		{Field{Name: "started", Type: Instant, Definition: "when the recording began"}, func(r in) any { return r.Meta.Started.UTC().Format(time.RFC3339) }},
		{Field{Name: "software", Type: Text, Definition: "program that wrote it, with its version", Absent: notGiven}, func(r in) any { return givenText(r.Meta.Software) }},
		{Field{Name: "mass_kg", Type: Number, Unit: "kg", Definition: "body mass of the dancer", Absent: notGiven}, func(r in) any { return positive(r.Meta.MassKG) }},
		{Field{Name: "use", Type: Text, Definition: "used: measured; rejected: somebody decided that it is repeated or discarded, so it is not measured; failed: it could not be measured", Values: []string{used, rejected, failed}}, func(r in) any {
			switch {
			case r.Result != nil:
				return used
			case r.Failed != "":
				return failed
			}
			return rejected
		}},
		{Field{Name: "saw", Type: Text, Definition: "what the fitter saw, with commas between", Absent: notGiven}, func(r in) any { return givenText(strings.Join(r.Remark.Saw, ", ")) }},
		{Field{Name: "comfort", Type: Integer, Definition: "how the dancer finds the shoe, 1 bad to 5 good", Absent: "nobody asked"}, func(r in) any { return counted(r.Remark.Comfort) }},
		{Field{Name: "pain", Type: Integer, Definition: "pain of the dancer, 0 to 10", Absent: "nobody asked"}, func(r in) any { return whole(r.Remark.Pain) }},
		{Field{Name: "note", Type: Text, Definition: "note about the recording", Absent: notGiven}, func(r in) any { return givenText(r.Remark.Note) }},
		{Field{Name: "warnings", Type: Text, Definition: "codes of the warnings of the recording, with spaces between", Absent: "there are none"}, func(r in) any {
			if r.Result == nil {
				return nil
			}
			return givenText(codes(r.Result.Warnings))
		}},
	},
}

var visitLayout = layout[logbook.Visit]{
	name:       "visits",
	definition: "One row a visit of a dancer.",
	key:        []string{"dancer", "visit"},
	references: []Reference{{[]string{"dancer"}, "dancers", []string{"dancer"}}, toStudy},
	columns: []column[logbook.Visit]{
		{dancerField, func(v logbook.Visit) any { return givenText(v.Dancer) }},
		{visitField, func(v logbook.Visit) any { return v.Name() }},
		{dayField, func(v logbook.Visit) any { return string(v.Day) }},
		{Field{Name: "mass_kg", Type: Number, Unit: "kg", Definition: "body mass of the dancer", Absent: notGiven}, func(v logbook.Visit) any { return positive(v.MassKG) }},
		{Field{Name: "pain_before", Type: Integer, Definition: "pain before the first rise, 0 to 10", Absent: "nobody asked"}, func(v logbook.Visit) any { return whole(v.PainBefore) }},
		{Field{Name: "pain_after", Type: Integer, Definition: "pain after the last rise, 0 to 10", Absent: "nobody asked"}, func(v logbook.Visit) any { return whole(v.PainAfter) }},
		{Field{Name: "pain_where", Type: Text, Definition: "where there is pain before the first rise: foot, site and 0 to 10, with commas between", Absent: notGiven}, func(v logbook.Visit) any { return givenText(logbook.FormatPains(v.PainWhere)) }},
		{Field{Name: "warm_up", Type: Text, Definition: "whether the dancer is warmed up", Values: []string{"yes", "no"}, Absent: notGiven}, func(v logbook.Visit) any { return givenText(v.WarmUp) }},
		{Field{Name: "max_rises", Type: Integer, Definition: "most rises in the visit, a limit of the dancer's clinician", Absent: "there is no limit"}, func(v logbook.Visit) any { return counted(v.MaxRises) }},
		{Field{Name: "single_leg_left", Type: Integer, Definition: "rises on the left leg alone that the dancer managed", Absent: "nobody counted"}, func(v logbook.Visit) any { return whole(v.SingleLeg[device.Left]) }},
		{Field{Name: "single_leg_right", Type: Integer, Definition: "rises on the right leg alone that the dancer managed", Absent: "nobody counted"}, func(v logbook.Visit) any { return whole(v.SingleLeg[device.Right]) }},
		{Field{Name: "baseline", Type: Boolean, Definition: "between baseline visits nothing should have changed"}, func(v logbook.Visit) any { return v.Baseline }},
		{Field{Name: "study", Type: Text, Definition: studyField.Definition, Absent: "the visit belongs to none"}, func(v logbook.Visit) any { return givenText(v.Study) }},
		{Field{Name: "visit_of_study", Type: Integer, Definition: "number of the visit among the dancer's visits of the study, from 1", Absent: "it belongs to none"}, func(v logbook.Visit) any { return counted(v.OfStudy) }},
		{Field{Name: "choice", Type: Text, Definition: "code of the shoe that the fitter chose", Absent: notGiven}, func(v logbook.Visit) any { return givenText(v.Choice) }},
		{Field{Name: "choice_why", Type: Text, Definition: "why the fitter chose it", Absent: notGiven}, func(v logbook.Visit) any { return givenText(v.ChoiceWhy) }},
		{Field{Name: "note", Type: Text, Definition: "note about the visit", Absent: notGiven}, func(v logbook.Visit) any { return givenText(v.Note) }},
	},
}

var dancerLayout = layout[dancer]{
	name:       "dancers",
	definition: "One row a dancer.",
	key:        []string{"dancer"},
	columns:    dancerColumns(),
}

func dancerColumns() []column[dancer] {
	all := []column[dancer]{
		{Field{Name: "dancer", Type: Text, Definition: dancerField.Definition}, func(d dancer) any { return d.Code }},
		{Field{Name: "birth_year", Type: Integer, Definition: "year of birth", Absent: notGiven + "; " + deidentified}, func(d dancer) any { return counted(d.BirthYear) }},
		{Field{Name: "age_band", Type: Text, Definition: "year of the first visit less year of birth, as a band of years: from-to", Absent: "birth_year is given; " + notGiven}, func(d dancer) any { return givenText(d.ageBand) }},
		{Field{Name: "pointe_years", Type: Number, Unit: "a", Definition: "experience on pointe", Absent: notGiven}, func(d dancer) any { return number(d.PointeYears) }},
		{Field{Name: "watched", Type: Text, Definition: "the side that is being watched", Values: []string{device.Left.String(), device.Right.String()}, Absent: "neither is"}, func(d dancer) any { return givenText(d.Watched) }},
	}
	for _, f := range device.Feet {
		all = append(all,
			column[dancer]{Field{Name: "toe_shape_" + f.String(), Type: Text, Definition: "toes of the " + f.String() + " foot: sloping, each is shorter than the one before; level, the first three are about as long; peaked, the second or third is the longest", Values: logbook.ToeShapes[:], Absent: notGiven}, func(d dancer) any { return givenText(d.Feet[f].ToeShape) }},
			column[dancer]{Field{Name: "longest_toe_" + f.String(), Type: Integer, Definition: "longest toe of the " + f.String() + " foot; 1 is the big toe", Absent: notGiven}, func(d dancer) any { return counted(d.Feet[f].LongestToe) }},
			column[dancer]{Field{Name: "width_" + f.String(), Type: Text, Definition: "width of the " + f.String() + " foot", Values: logbook.Widths[:], Absent: notGiven}, func(d dancer) any { return givenText(d.Feet[f].Width) }},
			column[dancer]{Field{Name: "compressibility_" + f.String(), Type: Text, Definition: "compressibility of the " + f.String() + " foot", Values: logbook.Compressibilities[:], Absent: notGiven}, func(d dancer) any { return givenText(d.Feet[f].Compressibility) }},
		)
	}
	all = append(all,
		column[dancer]{Field{Name: "consent", Type: Text, Definition: "what the dancer agrees to: study, the data serve whoever made them; sharing, they are also passed on without names", Values: logbook.Consents[:], Absent: "it is not recorded"}, func(d dancer) any { return givenText(d.Consent) }},
		column[dancer]{Field{Name: "consent_day", Type: Day, Definition: "day on which the consent was given", Absent: notGiven + "; " + deidentified}, func(d dancer) any { return givenText(string(d.ConsentDay)) }},
	)
	return append(all, column[dancer]{Field{Name: "note", Type: Text, Definition: "note about the dancer", Absent: notGiven}, func(d dancer) any { return givenText(d.Note) }})
}

// ShoeFile and StripFile return the path in the dataset of a profile by content.
func ShoeFile(sha256 string) string  { return fmt.Sprintf("profiles/shoe-%.12s.toml", sha256) }
func StripFile(sha256 string) string { return fmt.Sprintf("profiles/strip-%.12s.toml", sha256) }
