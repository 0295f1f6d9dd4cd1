package lookup_test

import (
	"bytes"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
)

var noon = time.Date(2026, 3, 14, 12, 0, 0, 0, time.UTC)

// newLogbook returns a logbook with dancer D7, who came on three days, and some shoes.
func newLogbook(t *testing.T) (lookup.Folder, *logbook.Logbook) {
	folder := lookup.Folder{Named: filepath.Join(t.TempDir(), "book")}
	l, err := logbook.Open(folder.Named)
	require.NoError(t, err)
	t.Cleanup(func() { l.Close() })
	require.NoError(t, l.AddDancer(logbook.Dancer{Code: "D7"}))
	require.NoError(t, l.AddDancer(logbook.Dancer{Code: "D8"}))
	for _, day := range []logbook.Day{"2026-03-13", "2026-03-14", "2026-03-14", "2026-03-15"} {
		_, err := l.AddVisit(logbook.Visit{Dancer: "D7", Day: day})
		require.NoError(t, err)
	}
	for _, code := range []string{"A", "B", "C,1"} {
		require.NoError(t, l.AddShoe(logbook.Shoe{Shoe: device.Shoe{Code: code, PlatformMM: [2]float64{36, 22}, OutlineExponent: 2.5}}))
	}
	return folder, l
}

func TestVisit(t *testing.T) {
	_, l := newLogbook(t)
	for name, want := range map[string]string{"last": "2026-03-15", "today": "2026-03-14-2", "2026-03-13": "2026-03-13", "2026-03-14": "2026-03-14"} {
		v, err := lookup.Visit(l, "d7", name, noon)
		require.NoError(t, err)
		assert.Equal(t, want, v.Name(), name)
	}
	_, err := lookup.Visit(l, "D7", "today", noon.AddDate(0, 0, 7))
	assert.EqualError(t, err, "dancer D7 has no visit today, 2026-03-21: aplomb visit add --dancer D7 adds one")
	_, err = lookup.Visit(l, "D8", "last", noon)
	assert.EqualError(t, err, "dancer D8 has no visit yet: aplomb visit add --dancer D8 adds one")
	_, err = lookup.Visit(l, "D7", "2026-03-01", noon)
	assert.ErrorContains(t, err, "aplomb visit list --dancer D7 shows what is")
	_, err = lookup.Visit(l, "D9", "last", noon)
	assert.ErrorContains(t, err, "aplomb dancer list shows what is")
}

func TestShoes(t *testing.T) {
	_, l := newLogbook(t)
	codes, err := lookup.Shoes(l, []string{"b, a", "c,1"})
	require.NoError(t, err)
	assert.Equal(t, []string{"B", "A", "C,1"}, codes)
	_, err = lookup.Shoes(l, []string{"A,X"})
	assert.ErrorContains(t, err, "aplomb shoe list shows what is")
}

func TestRecordingNumber(t *testing.T) {
	_, l := newLogbook(t)
	for _, typed := range []string{"", "x", "0", "-3", "1.5"} {
		_, err := lookup.Recording(l, typed)
		assert.ErrorAs(t, err, &usage.Error{}, typed)
	}
	_, err := lookup.Recording(l, "3")
	assert.ErrorIs(t, err, logbook.ErrNotFound)
	assert.ErrorContains(t, err, "aplomb show shows what is")
}

func TestChoice(t *testing.T) {
	folder, _ := newLogbook(t)
	for _, c := range []struct {
		lookup.Choice
		args []string
		want string // in the usage error; "" where there is none
	}{
		{lookup.Choice{}, []string{"a.mcap"}, ""},
		{lookup.Choice{Dancer: "D7"}, nil, ""},
		{lookup.Choice{Shoe: "A"}, nil, ""},
		{lookup.Choice{}, nil, "name at least one recording"},
		{lookup.Choice{Dancer: "D7"}, []string{"a.mcap"}, "not both"},
		{lookup.Choice{Visit: "last"}, nil, "whose visit?"},
	} {
		err := c.Check(c.args)
		if c.want == "" {
			assert.NoError(t, err)
			continue
		}
		assert.ErrorAs(t, err, &usage.Error{})
		assert.ErrorContains(t, err, c.want)
	}

	files, err := (&lookup.Choice{}).Find([]string{"a.mcap", "b.mcap"})
	require.NoError(t, err)
	assert.Equal(t, lookup.Recordings{Paths: []string{"a.mcap", "b.mcap"}}, files)
	assert.Empty(t, files.Numbers())
	_, err = (&lookup.Choice{Folder: folder, Dancer: "d7", Visit: "today", Shoe: "a", Now: noon}).Find(nil)
	assert.EqualError(t, err, "no recordings of dancer D7 in visit 2026-03-14-2 in shoe A in the logbook")

	some := lookup.Recordings{Entries: []logbook.Recording{{ID: 3, Feet: [2]*logbook.RecordedFoot{nil, {Shoe: "Ab"}}}}}
	assert.Equal(t, "Ab", some.Spelt("aB"))
	assert.Equal(t, "x", some.Spelt("x"))
	assert.Equal(t, "From recording 3 in the logbook: aplomb show 3 says more.", some.Numbers())
	some.Entries = append(some.Entries, logbook.Recording{ID: 5}, logbook.Recording{ID: 6})
	assert.Equal(t, "From recordings 3, 5 and 6 in the logbook: aplomb show NUMBER says more of each.", some.Numbers())
}

func TestFolder(t *testing.T) {
	folder := lookup.Folder{Named: filepath.Join(t.TempDir(), "book")}
	assert.False(t, folder.Exists())
	err := folder.With(func(*logbook.Logbook) error { return nil })
	assert.ErrorContains(t, err, "begin one with aplomb dancer add CODE, or name another with --logbook")
	var said bytes.Buffer
	add := func(l *logbook.Logbook) error { return l.AddDancer(logbook.Dancer{Code: "D7"}) }
	require.NoError(t, folder.BeginWith(&said, add))
	assert.Equal(t, "a new logbook, in "+folder.Named+"\n", said.String())
	assert.ErrorIs(t, folder.BeginWith(&said, add), logbook.ErrExists)
	assert.True(t, folder.Exists())
	err = folder.With(func(l *logbook.Logbook) error { return l.AddDancer(logbook.Dancer{Code: "D\n8"}) })
	assert.ErrorAs(t, err, &usage.Error{})
}
