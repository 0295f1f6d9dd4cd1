package reproduce_test

import (
	"bytes"
	"context"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/cmd/internal/export"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/recordtest"
	"aplomb/cmd/internal/reproduce"
	"aplomb/device/correction"
	"aplomb/device/recording"
)

// A package is reproduced also if one recording is corrected and another damaged. A
// correction that somebody added later is named and not applied.
func TestPackage(t *testing.T) {
	dir := t.TempDir()
	var paths []string
	began := time.Date(2026, 3, 14, 10, 0, 0, 0, time.UTC)
	for i, name := range []string{"corrected", "damaged"} {
		path := filepath.Join(dir, name+".mcap")
		recordtest.Record(t, path, "A", name, began.Add(time.Duration(i)*time.Hour), -3)
		paths = append(paths, path)
	}
	position := "sixth"
	c, err := recording.PrepareCorrection(t.Context(), paths[0], "", correction.Entry{At: began, Position: &position})
	require.NoError(t, err)
	require.NoError(t, c.Write())
	data, err := os.ReadFile(paths[1])
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(paths[1], data[:len(data)*9/10], 0o600))

	out := filepath.Join(dir, "package")
	made, err := export.Collect(t.Context(), io.Discard, lookup.Kept{Recordings: lookup.Recordings{Paths: paths}}, false)
	require.NoError(t, err)
	o := export.Options{Dir: out, Formats: []string{"csv"}, Tables: []string{export.AllTables}}
	require.NoError(t, export.Write(t.Context(), o, made))

	r, err := reproduce.Package(t.Context(), io.Discard, out, false)
	require.NoError(t, err)
	var said bytes.Buffer
	r.Write(&said, false)
	assert.True(t, r.Reproduced(), said.String()+r.Failure())
	assert.Equal(t, 2, r.Recordings)
	assert.Equal(t, r.Tables, r.Identical)
	assert.Positive(t, r.Same.Numbers)

	var id string
	for _, one := range made.Source.Units[0].Recordings {
		if one.Correction == "" {
			id = one.ID
		}
	}
	added := "recordings/" + correction.Name(id)
	require.NoError(t, os.WriteFile(filepath.Join(out, added), []byte("{}"), 0o600))
	r, err = reproduce.Package(t.Context(), io.Discard, out, true)
	require.NoError(t, err)
	assert.Equal(t, []reproduce.Fault{{Path: added, Kind: reproduce.Unlisted}}, r.Faults)
	assert.False(t, r.Reproduced())

	ctx, stop := context.WithCancel(t.Context())
	stop()
	_, err = reproduce.Package(ctx, io.Discard, out, false)
	assert.ErrorIs(t, err, context.Canceled)
}
