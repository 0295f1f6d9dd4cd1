// Package keys describes the JSON that commands write, key by key: type, unit, definition
// and values, and the same as JSON Schema (https://json-schema.org/draft/2020-12). Keys
// and types are derived from the Go types that are written; definitions come from
// keys.txt, for measures from their catalogue, and for contents of the logbook from the
// fields of the tables of a dataset.
package keys

import (
	_ "embed"
	"encoding"
	"reflect"
	"slices"
	"strings"

	"aplomb/analyze/advise"
	"aplomb/analyze/agreement"
	"aplomb/analyze/check"
	"aplomb/analyze/compare"
	"aplomb/analyze/dataset"
	"aplomb/analyze/document"
	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/analyze/reliability"
	"aplomb/analyze/study"
	"aplomb/analyze/track"
	"aplomb/device"
	"aplomb/device/sim"
)

// Dictionary is what aplomb fields writes: the fields of the tables of a dataset, and the
// keys of the JSON of commands.
type Dictionary struct {
	Tables     []dataset.Schema    `json:"tables"`
	Outputs    []Output            `json:"outputs"`
	Provenance *measure.Provenance `json:"provenance"`
}

// Output is the JSON of one command.
type Output struct {
	Name       string `json:"output"` // the command, with - for spaces
	Definition string `json:"definition"`
	Keys       []Key  `json:"keys"`

	of []reflect.Type // possible types of an object
}

// Key is one key of an output.
type Key struct {
	Path       string   `json:"key"`  // from the outermost object, for example releves[].over_mm; MEASURE stands for any measure's symbol
	Type       string   `json:"type"` // of JSON Schema
	Unit       string   `json:"unit,omitempty"`
	Definition string   `json:"definition"`
	Values     []string `json:"values,omitempty"` // all possible values of a text
	Optional   bool     `json:"optional,omitempty"`
}

// outputs lists all JSON that commands write.
var outputs = []Output{
	{Name: "analyze", Definition: "One object a recording, one a line; one that could not be measured has error and file.", of: []reflect.Type{reflect.TypeFor[measure.Result](), reflect.TypeFor[document.Failure]()}},
	{Name: "check", Definition: "One object a recording, one a line; one that could not be read has error and file.", of: []reflect.Type{reflect.TypeFor[check.Report](), reflect.TypeFor[document.Failure]()}},
	{Name: "compare", Definition: "One object.", of: []reflect.Type{reflect.TypeFor[compare.Comparison]()}},
	{Name: "next", Definition: "One object.", of: []reflect.Type{reflect.TypeFor[advise.Advice]()}},
	{Name: "track", Definition: "One object.", of: []reflect.Type{reflect.TypeFor[track.FollowUp]()}},
	{Name: "reliability", Definition: "One object.", of: []reflect.Type{reflect.TypeFor[reliability.Reliability]()}},
	{Name: "agree", Definition: "One object.", of: []reflect.Type{reflect.TypeFor[agreement.Report]()}},
	{Name: "show", Definition: "One object: every recording of the logbook, or one that is named, with its relevés or one of them.", of: []reflect.Type{reflect.TypeFor[document.Recordings](), reflect.TypeFor[document.RecordingShown]()}},
	{Name: "dancer-list", Definition: "One object: every dancer of the logbook.", of: []reflect.Type{reflect.TypeFor[document.Dancers]()}},
	{Name: "dancer-show", Definition: "One object: a dancer with the visits.", of: []reflect.Type{reflect.TypeFor[document.DancerShown]()}},
	{Name: "shoe-list", Definition: "One object: every shoe of the logbook as it is now.", of: []reflect.Type{reflect.TypeFor[document.Shoes]()}},
	{Name: "shoe-show", Definition: "One object: the versions of a shoe.", of: []reflect.Type{reflect.TypeFor[document.ShoeShown]()}},
	{Name: "strip-list", Definition: "One object: every strip of the logbook with its profile of now.", of: []reflect.Type{reflect.TypeFor[document.Strips]()}},
	{Name: "strip-show", Definition: "One object: the versions of a strip's profile, and its checks.", of: []reflect.Type{reflect.TypeFor[document.StripShown]()}},
	{Name: "visit-list", Definition: "One object: visits, the last one first.", of: []reflect.Type{reflect.TypeFor[document.Visits]()}},
	{Name: "visit-show", Definition: "One object: a visit with its recordings and its plan.", of: []reflect.Type{reflect.TypeFor[document.VisitShown]()}},
	{Name: "visit-plan", Definition: "One object: a plan and what it can show, or with --study the orders of a study.", of: []reflect.Type{reflect.TypeFor[document.PlanMade](), reflect.TypeFor[document.Study]()}},
	{Name: "study-list", Definition: "One object: every study of the logbook.", of: []reflect.Type{reflect.TypeFor[document.Studies]()}},
	{Name: "study-status", Definition: "One object: what is recorded of a study and what is missing.", of: []reflect.Type{reflect.TypeFor[study.Progress]()}},
	{Name: "study-check", Definition: "One object: the recordings of a study that are not right.", of: []reflect.Type{reflect.TypeFor[document.StudyChecked]()}},
	{Name: "study-compare", Definition: "One object: the shoes of a study compared over dancers.", of: []reflect.Type{reflect.TypeFor[study.Comparison]()}},
	{Name: "logbook-check", Definition: "One object.", of: []reflect.Type{reflect.TypeFor[document.LogbookCheck]()}},
	{Name: "reproduce", Definition: "One object: a data package compared with its numbers computed again.", of: []reflect.Type{reflect.TypeFor[document.Reproduced]()}},
	{Name: "ports", Definition: "One object.", of: []reflect.Type{reflect.TypeFor[document.Ports]()}},
	{Name: "fields", Definition: "One object: this dictionary.", of: []reflect.Type{reflect.TypeFor[Dictionary]()}},
	{Name: "error", Definition: "One object on the standard error, its last line: the error with which a command ends that was asked for JSON.", of: []reflect.Type{reflect.TypeFor[document.Failed]()}},
	{Name: "sim-truth", Definition: "One object a pad press and then one a rise of a foot, one a line: what aplomb sim --truth FILE writes.", of: []reflect.Type{reflect.TypeFor[sim.PressTruth](), reflect.TypeFor[sim.Truth]()}},
}

// Names returns the names of the outputs.
func Names() (all []string) {
	for _, o := range outputs {
		all = append(all, o.Name)
	}
	return all
}

// Outputs returns the outputs with their keys.
func Outputs() []Output {
	all := slices.Clone(outputs)
	for i := range all {
		o := &all[i]
		for _, t := range o.of {
			for _, k := range list(t, "", nil) {
				if !slices.ContainsFunc(o.Keys, func(other Key) bool { return other.Path == k.Path }) {
					k.Optional = k.Optional || len(o.of) > 1
					o.Keys = append(o.Keys, k)
				}
			}
		}
	}
	return all
}

// list returns the keys of a type below a path. within are the enclosing types.
func list(t reflect.Type, path string, within []reflect.Type) (all []Key) {
	for t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	switch {
	case isText(t):
	case t.Kind() == reflect.Slice && t.Elem().Kind() != reflect.Array:
		return list(t.Elem(), path+"[]", within)
	case t.Kind() == reflect.Map:
		return list(t.Elem(), path+".MEASURE", within)
	case t.Kind() == reflect.Struct && !slices.Contains(within, t):
		for _, f := range fieldsOf(t) {
			at := strings.TrimPrefix(path+"."+f.name, ".")
			all = append(all, Key{at, typeOf(f.of), f.unit, f.definition, f.values, f.optional})
			all = append(all, list(f.of, at, append(slices.Clone(within), t))...)
		}
	}
	return all
}

// field is one key of an object.
type field struct {
	name, definition, unit string
	of                     reflect.Type
	values                 []string
	optional               bool
}

// fieldsOf returns the keys of the objects of a struct type, as encoding/json writes them.
func fieldsOf(t reflect.Type) (all []field) {
	for i := range t.NumField() {
		f := t.Field(i)
		tag := f.Tag.Get("json")
		name, options, _ := strings.Cut(tag, ",")
		switch {
		case tag == "-" || !f.IsExported() && !f.Anonymous:
		case f.Anonymous && name == "":
			inner := f.Type
			pointer := inner.Kind() == reflect.Pointer
			if pointer {
				inner = inner.Elem()
			}
			for _, one := range fieldsOf(inner) {
				one.optional = one.optional || pointer // a nil pointer omits all of its keys
				all = append(all, one)
			}
		default:
			all = append(all, fieldOf(t, name, f.Type, strings.Contains(options, "omit")))
		}
	}
	return all
}

//go:embed keys.txt
var text string

// definitions contains the lines of keys.txt by type and key, for example
// measure.Hold.rise_s. Those of the type * apply to every type without its own.
var definitions = parse(text)

func parse(text string) map[string]string {
	all, section := map[string]string{}, ""
	for line := range strings.Lines(text) {
		line = strings.TrimSpace(line)
		if name, ok := strings.CutPrefix(line, "["); ok {
			section = strings.TrimSuffix(name, "]")
		} else if key, definition, ok := strings.Cut(line, ": "); ok {
			all[section+"."+key] = definition
		}
	}
	return all
}

// name returns the name of a type without type arguments.
func name(t reflect.Type) string {
	plain, _, _ := strings.Cut(t.String(), "[")
	return plain
}

// ofMeasures are the types whose keys are measures, unless keys.txt says otherwise.
var ofMeasures = []reflect.Type{reflect.TypeFor[measure.Hold](), reflect.TypeFor[measure.Sway](), reflect.TypeFor[measure.Settling]()}

// tables are the types whose keys are fields of a table of a dataset, unless keys.txt says
// otherwise.
var tables = map[reflect.Type]string{
	reflect.TypeFor[document.Dancer](): "dancers", reflect.TypeFor[document.Visit](): "visits", reflect.TypeFor[document.Recording](): "recordings",
	reflect.TypeFor[document.Shoe](): "shoes", reflect.TypeFor[document.Strip](): "strips",
}

// inTable returns the field with that name in the table whose rows correspond to a type.
func inTable(t reflect.Type, name string) (dataset.Field, bool) {
	if tables[t] == "" {
		return dataset.Field{}, false
	}
	all := dataset.Schemas()
	fields := all[slices.IndexFunc(all, func(s dataset.Schema) bool { return s.Name == tables[t] })].Fields
	if i := slices.IndexFunc(fields, func(f dataset.Field) bool { return f.Name == name }); i >= 0 {
		return fields[i], true
	}
	return dataset.Field{}, false
}

// fieldOf returns a key of the objects of t, with an empty definition where there is none.
func fieldOf(t reflect.Type, key string, of reflect.Type, optional bool) field {
	f := field{name: key, definition: definitions[name(t)+"."+key], unit: unitOf(key), of: of, values: valuesOf(of), optional: optional}
	if m, ok := measure.Named(key); ok && f.definition == "" && slices.Contains(ofMeasures, t) {
		f.definition = m.Describe().Definition
	}
	if row, ok := inTable(t, key); ok {
		f.unit = row.Unit
		if f.values == nil {
			f.values = row.Values
		}
		if f.definition == "" {
			f.definition = row.Definition
			if optional && row.Absent != "" {
				f.definition += "; absent where " + row.Absent
			}
		}
	}
	if f.definition == "" {
		f.definition = definitions["*."+key]
	}
	return f
}

// isText reports whether values of a type are written as text.
func isText(t reflect.Type) bool {
	return t.Implements(reflect.TypeFor[encoding.TextMarshaler]()) || t.Kind() == reflect.String
}

// typeOf returns the type of JSON Schema that values of a type have.
func typeOf(t reflect.Type) string {
	for t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	if isText(t) {
		return "string"
	}
	switch t.Kind() {
	case reflect.Bool:
		return "boolean"
	case reflect.Int, reflect.Int64, reflect.Uint64:
		return "integer"
	case reflect.Float64:
		return "number"
	case reflect.Slice, reflect.Array:
		return "array"
	}
	return "object"
}

// units maps the last part of a key to its unit.
var units = map[string]string{"mm": "mm", "mm2": "mm²", "n": "N", "kpa": "kPa", "s": "s", "ms": "ms", "hz": "Hz", "deg": "°", "kg": "kg"}

// unitOf returns the unit of the value of a key, "" where it has none.
func unitOf(key string) string {
	if m, ok := measure.Named(strings.TrimPrefix(key, "u_")); ok {
		return m.Describe().Unit
	}
	if strings.HasPrefix(key, "dof_") || !strings.Contains(key, "_") && key != "mm" && key != "kpa" {
		return ""
	}
	return units[key[strings.LastIndex(key, "_")+1:]]
}

// valuesOf returns all possible values of a text type, nil for free text.
func valuesOf(t reflect.Type) []string {
	for t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice {
		t = t.Elem()
	}
	switch t {
	case reflect.TypeFor[device.Foot]():
		return []string{device.Left.String(), device.Right.String()}
	case reflect.TypeFor[measure.Measure]():
		var all []string
		for _, m := range measure.All() {
			all = append(all, m.Symbol())
		}
		return all
	case reflect.TypeFor[measure.Status]():
		return texts(measure.Measured, measure.Aborted)
	case reflect.TypeFor[measure.Verdict]():
		return texts(measure.OverTheBox, measure.PulledBack, measure.TooFarOver, measure.ToTheSide, measure.TooCloseToCall)
	case reflect.TypeFor[measure.Direction]():
		return texts(measure.Behind, measure.InFront, measure.LittleToeSide, measure.BigToeSide)
	case reflect.TypeFor[measure.Evidence]():
		return texts(measure.EvidencePress, measure.EvidenceHolds, measure.EvidenceAssumed)
	case reflect.TypeFor[measure.Type]():
		return texts(measure.TypeA, measure.TypeB)
	case reflect.TypeFor[measure.Distribution]():
		return texts(measure.Normal, measure.Rectangular)
	case reflect.TypeFor[measure.Class]():
		return texts(measure.ChangesAnswer, measure.Assumed, measure.ForRecord)
	case reflect.TypeFor[measure.Code]():
		codes := texts(measure.Codes()...)
		slices.Sort(codes)
		return codes
	case reflect.TypeFor[compare.Wording]():
		return texts(compare.Clear, compare.WithinMounting, compare.CouldBeChance)
	case reflect.TypeFor[track.Wording]():
		return texts(track.BeyondNoise, track.WithinNoise)
	case reflect.TypeFor[track.Side]():
		return texts(track.Left, track.Right, track.Between, track.Both)
	case reflect.TypeFor[advise.Pattern]():
		return texts(advise.Undecided, advise.Fine, advise.Behind, advise.BehindBulging, advise.BehindWhole, advise.BehindLittleToe, advise.LittleToe, advise.BigToe,
			advise.TooFarOver, advise.SmallPatch, advise.OneFoot, advise.Sinks, advise.Sickles, advise.Bulges, advise.HeelLoose)
	case reflect.TypeFor[reliability.Level]():
		return texts(reliability.OfDancer, reliability.OfShoe, reliability.OfDay, reliability.OfMounting, reliability.OfReleve, reliability.OfStrip)
	case reflect.TypeFor[reliability.Between]():
		return texts(reliability.Visits, reliability.Mountings)
	case reflect.TypeFor[study.Kind]():
		return texts(study.DropOut, study.Amendment, study.Interim, study.KeyShown)
	case reflect.TypeFor[study.Wording]():
		return texts(study.Clear, study.NotClear, study.Untested)
	case reflect.TypeFor[dataset.Type]():
		return texts(dataset.Text, dataset.Integer, dataset.Number, dataset.Boolean, dataset.Day, dataset.Instant)
	case reflect.TypeFor[mounting.Origin]():
		return texts(mounting.OfDancer, mounting.OfLogbook, mounting.Assumed)
	}
	return nil
}

func texts[T ~string](all ...T) []string {
	list := make([]string, len(all))
	for i, one := range all {
		list[i] = string(one)
	}
	return list
}
