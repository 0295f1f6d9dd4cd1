package keys

import (
	"reflect"
	"testing"

	"github.com/stretchr/testify/assert"
)

// Every written key has a definition, and every line of keys.txt is about a written key.
func TestEveryKeyIsDescribed(t *testing.T) {
	used, seen := map[string]bool{}, map[reflect.Type]bool{}
	var walk func(reflect.Type)
	walk = func(of reflect.Type) {
		for of.Kind() == reflect.Pointer || of.Kind() == reflect.Slice || of.Kind() == reflect.Map || of.Kind() == reflect.Array {
			of = of.Elem()
		}
		if of.Kind() != reflect.Struct || seen[of] || isText(of) {
			return
		}
		seen[of] = true
		for i := range of.NumField() {
			if f := of.Field(i); f.Anonymous {
				walk(f.Type)
			}
		}
		for _, f := range fieldsOf(of) {
			assert.NotEmpty(t, f.definition, "%s.%s", of, f.name)
			used[name(of)+"."+f.name] = true
			used["*."+f.name] = used["*."+f.name] || f.definition == definitions["*."+f.name]
			walk(f.of)
		}
	}
	for _, o := range Outputs() {
		for _, t := range o.of {
			walk(t)
		}
	}
	for line := range definitions {
		assert.True(t, used[line], "%s is no key", line)
	}
}

func TestUnits(t *testing.T) {
	for key, unit := range map[string]string{
		"over_mm": "mm", "u_over_mm": "mm", "dof_over_mm": "", "contact_mm2": "mm²", "hold_s": "s", "load_n": "N", "u_load_n": "N", "ellipse95_mm2": "mm²",
		"speed_mm_s": "mm/s", "pti_kpa_s": "kPa·s", "rate_hz": "Hz", "rotation_deg": "°", "n": "", "contact_share": "", "kpa": "kPa", "s": "",
	} {
		assert.Equal(t, unit, unitOf(key), key)
	}
}
