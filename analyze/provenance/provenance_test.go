package provenance_test

import (
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/analyze/provenance"
	"aplomb/device"
)

func side(strip, shoe string, hours float64) *device.Side {
	return &device.Side{Strip: &device.Strip{Name: strip}, Shoe: &device.Shoe{Code: shoe, HoursWorn: hours}}
}

// A comparison's provenance contains the inputs, strips and shoes of all recordings once.
// A shoe with two descriptions counts twice.
func TestJoined(t *testing.T) {
	software := measure.Software{Version: "1", Commit: "abc", Modified: true}
	result := func(file string, sides ...*device.Side) *measure.Result {
		p := provenance.New(software, measure.Settings{Version: "1"})
		provenance.Add(p, measure.Input{ID: file + "-id", File: file, SHA256: "00"}, [2]*device.Side(sides))
		return &measure.Result{Provenance: p}
	}
	a, b := result("a.mcap", side("L", "A", 0), nil), result("b.mcap", side("L", "A", 3), side("R", "A", 0))
	joined := provenance.Of([]*measure.Result{{}, a, b, a})
	assert.Equal(t, software, joined.Software)
	assert.Equal(t, provenance.Algorithm(), joined.Algorithm)
	assert.Equal(t, []measure.Input{{ID: "a.mcap-id", File: "a.mcap", SHA256: "00"}, {ID: "b.mcap-id", File: "b.mcap", SHA256: "00"}}, joined.Inputs)
	var strips, shoes []string
	for _, s := range joined.Strips {
		strips = append(strips, s.Name)
	}
	for _, s := range joined.Shoes {
		shoes = append(shoes, s.Name)
	}
	assert.Equal(t, []string{"L", "R"}, strips)
	assert.Equal(t, []string{"A", "A"}, shoes)
	assert.NotEqual(t, joined.Shoes[0].SHA256, joined.Shoes[1].SHA256)
	assert.Len(t, a.Provenance.Inputs, 1, "that of a recording stays as it is")
	assert.Nil(t, provenance.Of([]*measure.Result{{}}))
}

// The names in JSON are a format that other programs read.
func TestProvenanceInJSON(t *testing.T) {
	p := provenance.New(measure.Software{Version: "1.2", Commit: "abc"}, measure.Settings{Version: "1.2"})
	provenance.Add(p, measure.Input{ID: "0123456789", File: "a.mcap", SHA256: "00"}, [2]*device.Side{side("L", "A", 0), nil})
	text, err := json.Marshal(p)
	require.NoError(t, err)
	var object map[string]any
	require.NoError(t, json.Unmarshal(text, &object))
	assert.Equal(t, "1.2", object["version"])
	assert.Equal(t, "abc", object["commit"])
	assert.Equal(t, false, object["modified"])
	assert.Equal(t, provenance.Algorithm(), object["algorithm"])
	assert.Equal(t, []any{map[string]any{"id": "0123456789", "file": "a.mcap", "sha256": "00"}}, object["inputs"])
	assert.Equal(t, "L", object["strips"].([]any)[0].(map[string]any)["name"])
	assert.Len(t, object["shoes"].([]any)[0].(map[string]any)["sha256"], 64)
	assert.Equal(t, "1.2", object["settings"].(map[string]any)["version"])
	assert.Len(t, object, 9)
}

// The SHA-256 of "abc" is one of the examples of FIPS 180-4, Secure Hash
// Standard (NIST, examples with intermediate values).
func TestSHA256(t *testing.T) {
	path := filepath.Join(t.TempDir(), "abc")
	require.NoError(t, os.WriteFile(path, []byte("abc"), 0o666))
	sum, size, err := provenance.SHA256(context.Background(), path)
	require.NoError(t, err)
	assert.Equal(t, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad", sum)
	assert.Equal(t, int64(3), size)

	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, _, err = provenance.SHA256(ctx, path)
	assert.ErrorIs(t, err, context.Canceled)
	_, _, err = provenance.SHA256(context.Background(), path+" is not there")
	assert.ErrorIs(t, err, os.ErrNotExist)
}
