package dataset_test

import (
	"regexp"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/dataset"
	"aplomb/analyze/measure"
)

func named(t *testing.T, table string) dataset.Schema {
	all := dataset.Schemas()
	i := slices.IndexFunc(all, func(s dataset.Schema) bool { return s.Name == table })
	require.GreaterOrEqual(t, i, 0, table)
	return all[i]
}

func field(s dataset.Schema, name string) *dataset.Field {
	for i := range s.Fields {
		if s.Fields[i].Name == name {
			return &s.Fields[i]
		}
	}
	return nil
}

// Every field is named once and described. Keys and references are of existing fields,
// and a reference points to the key of its table, in fields of one type.
func TestSchemas(t *testing.T) {
	snake := regexp.MustCompile(`^[a-z][a-z0-9]*(_[a-z0-9]+)*$`)
	for _, s := range append(dataset.Schemas(), dataset.Answers()...) {
		assert.NotEmpty(t, s.Definition, s.Name)
		assert.NotEmpty(t, s.Key, s.Name)
		seen := map[string]bool{}
		for _, f := range s.Fields {
			assert.Regexp(t, snake, f.Name)
			assert.False(t, seen[f.Name], "%s: %s twice", s.Name, f.Name)
			seen[f.Name] = true
			assert.NotEmpty(t, f.Definition, "%s: %s", s.Name, f.Name)
			assert.Contains(t, []dataset.Type{dataset.Text, dataset.Integer, dataset.Number, dataset.Boolean, dataset.Day, dataset.Instant}, f.Type, "%s: %s", s.Name, f.Name)
		}
		for _, k := range s.Key {
			assert.True(t, seen[k], "%s: key %s", s.Name, k)
		}
		for _, r := range s.References {
			to := named(t, r.Table)
			assert.Equal(t, to.Key, r.To, "%s to %s", s.Name, r.Table)
			require.Len(t, r.To, len(r.Fields))
			for i, name := range r.Fields {
				require.NotNil(t, field(s, name), "%s: %s", s.Name, name)
				assert.Equal(t, field(to, r.To[i]).Type, field(s, name).Type)
			}
		}
	}
}

// Fields of one name have the same definition in every table.
func TestOneNameOneMeaning(t *testing.T) {
	differ := map[string]bool{ // what a row is of says what they refer to
		"warnings": true, "pain": true, "note": true, "recordings": true, "file": true, "sha256": true, "u": true, "dof": true,
		"name": true, "use": true, "unit": true, "day": true,
		"over_mm": true, "medial_mm": true, "load_n": true, // of a hold, or of a frame
	}
	definitions := map[string]string{}
	for _, s := range dataset.Schemas() {
		for _, f := range s.Fields {
			if before, ok := definitions[f.Name]; ok && !differ[f.Name] {
				assert.Equal(t, before, f.Definition, "%s of %s", f.Name, s.Name)
			}
			definitions[f.Name] = f.Definition
		}
	}
}

// The relevés have every measure of the catalogue, in its unit.
func TestReleves(t *testing.T) {
	releves := named(t, "releves")
	for _, m := range measure.All() {
		f := field(releves, m.Symbol())
		require.NotNil(t, f, m.Symbol())
		assert.Equal(t, m.Describe().Unit, f.Unit)
		assert.Contains(t, f.Definition, m.Describe().Definition)
	}
}
