package batch_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze"
	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/cmd/internal/batch"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/recordtest"
	"aplomb/cmd/internal/software"
)

func TestBatch(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	began := time.Date(2026, 3, 14, 10, 0, 0, 0, time.UTC)
	a, b, bad := filepath.Join(dir, "a.mcap"), filepath.Join(dir, "b.mcap"), filepath.Join(dir, "bad.mcap")
	recordtest.Record(t, a, "A", a, began, -6)
	recordtest.Record(t, b, "B", b, began.Add(time.Hour), -1)
	require.NoError(t, os.WriteFile(bad, []byte("no recording"), 0o666))
	var said bytes.Buffer

	// One bad file is named and left out.
	p := lookup.Recordings{Paths: []string{a, b}}
	c, results, err := batch.Compare(t.Context(), &said, &p, "", analyze.Options{})
	require.NoError(t, err)
	assert.Len(t, results, 2)
	assert.Equal(t, "A", c.Shoes[0].Shoe)
	assert.Empty(t, said.String())
	assert.Zero(t, p.LeftOut)
	p.Paths = []string{a, bad, b}
	results, err = batch.Analyze(t.Context(), &said, &p, analyze.Options{})
	require.NoError(t, err)
	assert.Len(t, results, 2)
	assert.Equal(t, []string{a, b}, p.Paths)
	assert.Equal(t, 1, p.LeftOut)
	assert.Regexp(t, `^aplomb: .*bad\.mcap: not a recording.*\n$`, said.String())
	said.Reset()
	none := lookup.Recordings{Paths: []string{bad}}
	_, err = batch.Analyze(t.Context(), &said, &none, analyze.Options{})
	assert.ErrorContains(t, err, "bad.mcap")
	assert.Empty(t, said.String())

	// Of the logbook's, what cannot be measured is left out.
	p.Paths = []string{a, b, bad}
	p.Entries = []logbook.Recording{{ID: 7, Dancer: "d7"}, {ID: 8, Dancer: "d7"}, {ID: 9, Dancer: "d7"}}
	results, err = batch.Analyze(t.Context(), &said, &p, analyze.Options{})
	require.NoError(t, err)
	assert.Len(t, results, 2)
	assert.Equal(t, []string{a, b}, p.Paths)
	assert.Equal(t, "recording 8", results[1].Recording.File)
	assert.Equal(t, "d7", results[1].Recording.Dancer, "as the logbook spells it, and not the recording")
	assert.Regexp(t, `^warning: recording 9 is left out \(.*\): .*bad\.mcap.*\n$`, said.String())
	alone := lookup.Recordings{Paths: []string{bad}, Entries: []logbook.Recording{{ID: 9}}}
	_, err = batch.Analyze(t.Context(), &said, &alone, analyze.Options{})
	assert.ErrorContains(t, err, "recording 9 cannot be measured")

	// Numbers are those of one analysis of all together, and recordings that share no shoe
	// are groups. Results come in order, with the errors between them.
	again := filepath.Join(dir, "again.mcap")
	recordtest.Record(t, again, "A", again, began.Add(2*time.Hour), -5)
	paths := []string{a, b, bad, again}
	assert.Equal(t, [][]int{{0, 3}, {1}, {2}}, analyze.Apart(t.Context(), paths))
	var prepared []*analyze.Prepared
	for _, path := range []string{a, b, again} {
		one, err := analyze.Prepare(t.Context(), path)
		require.NoError(t, err)
		prepared = append(prepared, one)
	}
	together, err := analyze.Together(t.Context(), prepared, analyze.Options{Software: software.Provenance()})
	require.NoError(t, err)
	var order []int
	var got []*measure.Result
	many := lookup.Recordings{Paths: paths}
	err = batch.Each(t.Context(), io.Discard, &many, analyze.Options{}, func(i int, r *measure.Result, err error) error {
		order = append(order, i)
		assert.Equal(t, i == 2, err != nil)
		if err == nil {
			got = append(got, r)
		}
		return nil
	})
	require.NoError(t, err)
	assert.Equal(t, []int{0, 1, 2, 3}, order)
	want, err := json.Marshal(together)
	require.NoError(t, err)
	have, err := json.Marshal(got)
	require.NoError(t, err)
	assert.JSONEq(t, string(want), string(have))

	// What was finished before a signal is kept.
	ctx, stop := context.WithCancel(t.Context())
	many = lookup.Recordings{Paths: []string{b, a, again, a, again, a, again, a}}
	var noted bytes.Buffer
	err = batch.Each(ctx, &noted, &many, analyze.Options{}, func(int, *measure.Result, error) error { stop(); return nil })
	assert.ErrorIs(t, err, context.Canceled)
	require.NotEmpty(t, many.Paths)
	assert.Equal(t, b, many.Paths[0])
	assert.Contains(t, noted.String(), fmt.Sprint(len(many.Paths), " of 8 recordings analyzed"))

	// A signal is no reason to leave a recording out.
	ctx, stop = context.WithCancel(t.Context())
	stop()
	_, err = batch.Analyze(ctx, &said, &p, analyze.Options{})
	assert.True(t, errors.Is(err, context.Canceled))
}
