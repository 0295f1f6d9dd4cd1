//go:build unix

package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/google/jsonschema-go/jsonschema"
	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/keys"
)

// schemas are the JSON Schemas of the outputs by name, resolved by a validator that is not
// ours.
var schemas = sync.OnceValues(func() (map[string]*jsonschema.Resolved, error) {
	all := map[string]*jsonschema.Resolved{}
	for _, o := range keys.Outputs() {
		data, err := json.Marshal(o.Schema())
		if err != nil {
			return nil, err
		}
		var schema jsonschema.Schema
		if err := json.Unmarshal(data, &schema); err != nil {
			return nil, err
		}
		if all[o.Name], err = schema.Resolve(nil); err != nil {
			return nil, err
		}
	}
	return all, nil
})

// keeps OUTPUT FILE checks that every line of a file is an object valid by the JSON
// Schema of an output (for the output error, the last line), and invalid with a further
// key.
func keeps(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: keeps OUTPUT FILE")
	}
	all, err := schemas()
	ts.Check(err)
	schema := all[args[0]]
	if schema == nil {
		ts.Fatalf("no output %s", args[0])
	}
	lines := strings.Split(strings.TrimSpace(ts.ReadFile(args[1])), "\n")
	if args[0] == "error" {
		lines = lines[len(lines)-1:]
	}
	for _, line := range lines {
		var object map[string]any
		ts.Check(json.Unmarshal([]byte(line), &object))
		ts.Check(schema.Validate(object))
		if p, _ := object["provenance"].(map[string]any); args[0] != "sim-truth" && p["format"] == nil {
			ts.Fatalf("%s: no format in its provenance", args[0])
		}
		object["more"] = 1
		if schema.Validate(object) == nil {
			ts.Fatalf("%s: a key that is not described keeps the schema", args[0])
		}
	}
}

// Every output is checked against its schema in at least one script.
func TestEveryOutputKeepsItsSchema(t *testing.T) {
	files, err := filepath.Glob("testdata/script/*.txtar")
	require.NoError(t, err)
	var scripts strings.Builder
	for _, path := range files {
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		scripts.Write(data)
	}
	for _, name := range keys.Names() {
		assert.True(t, strings.Contains(scripts.String(), "\nkeeps "+name+" "), name)
	}
}
