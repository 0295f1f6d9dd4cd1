// Package keys describes the JSON that commands write, key by key: type, unit, definition
// and values, and the same as JSON Schema (https://json-schema.org/draft/2020-12). Keys and
// types come from the Go types that are written, definitions from keys.txt and, for
// measures, from their catalogue.
package keys

import (
	_ "embed"
	"encoding"
	"reflect"
	"slices"
	"strings"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/analyze/track"
	"aplomb/device"
)

// Output is the JSON of one command.
type Output struct {
	Command    string `json:"output"`
	Definition string `json:"definition"`
	Keys       []Key  `json:"keys"`

	of reflect.Type
}

// Key is one key of an output.
type Key struct {
	Path       string   `json:"key"`  // from the outermost object, as releves[].over_mm; MEASURE stands for any measure's symbol
	Type       string   `json:"type"` // of JSON Schema
	Unit       string   `json:"unit,omitempty"`
	Definition string   `json:"definition"`
	Values     []string `json:"values,omitempty"` // all that a text can be
	Optional   bool     `json:"optional,omitempty"`
}

// Outputs returns the outputs that are described.
func Outputs() []Output {
	all := []Output{
		{Command: "analyze", Definition: "One object a recording, one a line: what aplomb analyze --json writes.", of: reflect.TypeFor[measure.Result]()},
		{Command: "compare", Definition: "What aplomb compare --json writes.", of: reflect.TypeFor[compare.Comparison]()},
		{Command: "track", Definition: "What aplomb track --json writes.", of: reflect.TypeFor[track.FollowUp]()},
	}
	for i := range all {
		all[i].Keys = list(all[i].of, "", nil)
	}
	return all
}

// list returns the keys of a type below a path. within are the types around it.
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
			all = append(all, Key{at, typeOf(f.of), unitOf(f.name), f.definition, valuesOf(f.of), f.optional})
			all = append(all, list(f.of, at, append(slices.Clone(within), t))...)
		}
	}
	return all
}

// field is one key of an object.
type field struct {
	name, definition string
	of               reflect.Type
	optional         bool
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
				one.optional = one.optional || pointer // the object can be without all of it
				all = append(all, one)
			}
		default:
			all = append(all, field{name, definitionOf(t, name), f.Type, strings.Contains(options, "omit")})
		}
	}
	return all
}

//go:embed keys.txt
var text string

// definitions has the lines of keys.txt by type and key, as measure.Hold.rise_s.
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

// name is the name of a type without what it is instantiated with.
func name(t reflect.Type) string {
	plain, _, _ := strings.Cut(t.String(), "[")
	return plain
}

// ofMeasures are the types whose keys are measures, unless keys.txt says otherwise.
var ofMeasures = []reflect.Type{reflect.TypeFor[measure.Hold](), reflect.TypeFor[measure.Sway](), reflect.TypeFor[measure.Settling]()}

// definitionOf returns the definition of a key, "" where there is none.
func definitionOf(t reflect.Type, key string) string {
	if d, ok := definitions[name(t)+"."+key]; ok {
		return d
	}
	if m, ok := measure.Named(key); ok && slices.Contains(ofMeasures, t) {
		return m.Describe().Definition
	}
	return ""
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
	case reflect.Int, reflect.Int64:
		return "integer"
	case reflect.Float64:
		return "number"
	case reflect.Slice, reflect.Array:
		return "array"
	}
	return "object"
}

// units has the unit that the last part of a key stands for.
var units = map[string]string{"mm": "mm", "mm2": "mm²", "n": "N", "kpa": "kPa", "s": "s", "hz": "Hz", "deg": "°"}

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

// valuesOf returns all that values of a type of text can be, nil for free text.
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
