package keys

import (
	"net/url"
	"reflect"
	"slices"
	"strings"
	"time"
)

// Schema returns the JSON Schema of an output, for encoding as JSON. It allows only
// described keys.
func (o Output) Schema() map[string]any {
	defs, each := map[string]any{}, []any{}
	for _, t := range o.of {
		each = append(each, schemaOf(t, defs))
	}
	schema := map[string]any{"anyOf": each}
	if len(each) == 1 {
		schema = each[0].(map[string]any)
	}
	schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	schema["title"], schema["description"], schema["$defs"] = "aplomb fields "+o.Name+" --schema", o.Definition, defs
	return schema
}

// schemaOf returns the schema of a type. It adds those of objects to defs.
func schemaOf(t reflect.Type, defs map[string]any) map[string]any {
	for t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	s := map[string]any{"type": typeOf(t)}
	switch {
	case isText(t):
		if values := valuesOf(t); values != nil {
			s["enum"] = values
		}
		if t == reflect.TypeFor[time.Time]() {
			s["format"] = "date-time"
		}
	case t.Kind() == reflect.Slice:
		s["items"] = schemaOf(t.Elem(), defs)
	case t.Kind() == reflect.Array:
		s["items"], s["minItems"], s["maxItems"] = schemaOf(t.Elem(), defs), t.Len(), t.Len()
	case t.Kind() == reflect.Map:
		s["additionalProperties"], s["propertyNames"] = schemaOf(t.Elem(), defs), map[string]any{"enum": valuesOf(t.Key())}
	case t.Kind() == reflect.Struct:
		if _, ok := defs[t.String()]; !ok {
			defs[t.String()] = nil // the type can contain itself
			defs[t.String()] = objectOf(t, defs)
		}
		return map[string]any{"$ref": "#/$defs/" + reference(t)}
	}
	return s
}

func objectOf(t reflect.Type, defs map[string]any) map[string]any {
	properties, required := map[string]any{}, []string{}
	for _, f := range fieldsOf(t) {
		one := schemaOf(f.of, defs)
		one["description"] = f.definition
		if f.unit != "" {
			one["unit"] = f.unit
		}
		if f.values != nil && one["type"] == "string" {
			one["enum"] = f.values
		}
		properties[f.name] = one
		if !f.optional && !slices.Contains(required, f.name) {
			required = append(required, f.name)
		}
	}
	return map[string]any{"type": "object", "properties": properties, "required": required, "additionalProperties": false}
}

// reference returns the name of a type as a fragment of a JSON Pointer in a URI.
func reference(t reflect.Type) string {
	return url.PathEscape(strings.NewReplacer("~", "~0", "/", "~1").Replace(t.String()))
}
