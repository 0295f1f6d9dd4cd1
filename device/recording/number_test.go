package recording_test

import (
	"bytes"
	"io"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/foxglove/mcap/go/mcap"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device/recording"
)

// numbered returns the path of a copy of a recording with a number.
func numbered(t testing.TB, path string, number int64) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, recording.CopyNumbered(t.Context(), &b, path, number))
	to := filepath.Join(t.TempDir(), filepath.Base(path))
	require.NoError(t, os.WriteFile(to, b.Bytes(), 0o666))
	return to
}

func numberOf(t testing.TB, path string) int64 {
	t.Helper()
	n, err := recording.Number(t.Context(), path)
	require.NoError(t, err)
	return n
}

// Numbering a recording leaves its id, frames and metadata unchanged.
func TestNumber(t *testing.T) {
	frames := releves(300, 6)
	path := recorded(t, recording.Create, meta(2, 3), frames)
	assert.Zero(t, numberOf(t, path))
	once := numbered(t, path, 12)
	assert.EqualValues(t, 12, numberOf(t, once))
	twice := numbered(t, once, 7)
	assert.EqualValues(t, 7, numberOf(t, twice), "the last one counts")
	for _, p := range []string{once, twice} {
		assert.Equal(t, identityOf(t, path), identityOf(t, p))
		r := open(t, p)
		got, err := readAll(r)
		require.NoError(t, err)
		same(t, frames, got)
		assert.True(t, r.Whole())
		assert.Equal(t, open(t, path).Meta(), r.Meta())
		assert.Equal(t, 150, r.Count(0))
	}
	before, err := os.ReadFile(path)
	require.NoError(t, err)
	after, err := os.ReadFile(once)
	require.NoError(t, err)
	assert.Less(t, len(after), len(before)+200)
	at := bytes.Index(after, []byte("logbook")) - 13 // the record before its name
	assert.Equal(t, before[:at], after[:at])
}

// A number is refused if a logbook would have none left after it.
func TestNumberHasBounds(t *testing.T) {
	path := recorded(t, recording.Create, meta(2, 3), releves(20, 6))
	for _, n := range []int64{math.MaxInt64, math.MaxInt64 - 7, 1 << 40, 0, -1, math.MinInt64} {
		assert.Zero(t, numberOf(t, numbered(t, path, n)), n)
	}
}

// The reader of the MCAP library finds a number by the index of metadata, and every
// checksum and offset is right.
func TestNumberReadByTheLibrary(t *testing.T) {
	path := numbered(t, recorded(t, recording.Create, meta(2, 3), releves(300, 6)), 12)
	file, err := os.Open(path)
	require.NoError(t, err)
	defer file.Close()
	r, err := mcap.NewReader(file)
	require.NoError(t, err)
	defer r.Close()
	info, err := r.Info()
	require.NoError(t, err)
	require.Len(t, info.MetadataIndexes, 4)
	assert.EqualValues(t, 4, info.Statistics.MetadataCount)
	m, err := r.GetMetadata(info.MetadataIndexes[3].Offset)
	require.NoError(t, err)
	assert.Equal(t, "logbook", m.Name)
	assert.Equal(t, map[string]string{"number": "12"}, m.Metadata)
	it, err := r.Messages(mcap.UsingIndex(true))
	require.NoError(t, err)
	n := 0
	for {
		if _, _, _, err := it.NextInto(nil); err != nil {
			require.ErrorIs(t, err, io.EOF)
			break
		}
		n++
	}
	assert.Equal(t, 300, n)

	// Every summary offset leads to records of its kind.
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	l, err := mcap.NewLexer(bytes.NewReader(b), &mcap.LexerOptions{ValidateChunkCRCs: true})
	require.NoError(t, err)
	offsets := 0
	for {
		token, record, err := l.Next(nil)
		require.NoError(t, err)
		if token == mcap.TokenFooter {
			break
		}
		if token == mcap.TokenSummaryOffset {
			o, err := mcap.ParseSummaryOffset(record)
			require.NoError(t, err)
			assert.Equal(t, byte(o.GroupOpcode), b[o.GroupStart])
			offsets++
		}
	}
	assert.Equal(t, 5, offsets)
}

func TestNumberInAPart(t *testing.T) {
	frames := releves(40, 6)
	path := tempFile(t)
	w, err := recording.Create(path, meta(2, 3))
	require.NoError(t, err)
	write(t, w, frames)
	part := filepath.Join(t.TempDir(), "torn.mcap.part")
	b := waitForPart(t, path, len(frames))
	require.NoError(t, w.Discard())
	require.NoError(t, os.WriteFile(part, b[:len(b)-3], 0o666))
	got := numbered(t, part, 3)
	assert.EqualValues(t, 3, numberOf(t, got))
	assert.Equal(t, identityOf(t, part), identityOf(t, got))
	assert.EqualValues(t, 4, numberOf(t, numbered(t, got, 4)))
}

// Existing damage of a file is still found after numbering.
func TestNumberHidesNoDamage(t *testing.T) {
	path := recorded(t, recording.Create, meta(2, 3), releves(300, 6))
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	at := bytes.Index(b, []byte("aplomb test"))
	b[at] = 'b' // of the description, which only the checksum of all the data covers
	require.NoError(t, os.WriteFile(path, b, 0o666))
	readable := func(path string) error {
		r, err := recording.Open(t.Context(), path)
		if err == nil {
			defer r.Close()
			_, err = readAll(r)
		}
		return err
	}
	require.ErrorIs(t, readable(path), recording.ErrDamaged)
	var hidden bytes.Buffer
	if err := recording.CopyNumbered(t.Context(), &hidden, path, 1); err != nil {
		oneLineOf(t, err)
	} else {
		assert.ErrorIs(t, readable(numbered(t, path, 1)), recording.ErrDamaged)
	}

	b[at] = 'a'
	b[len(b)-40] ^= 1 // of the summary
	require.NoError(t, os.WriteFile(path, b, 0o666))
	var out bytes.Buffer
	oneLineOf(t, recording.CopyNumbered(t.Context(), &out, path, 1))
	assert.Zero(t, out.Len())
}

func oneLineOf(t *testing.T, err error) {
	t.Helper()
	require.ErrorIs(t, err, recording.ErrDamaged)
	oneLine(t, err)
}

// FuzzNumber numbers arbitrary bytes. A file that reads as a recording has the number and
// the same id afterwards.
func FuzzNumber(f *testing.F) {
	dir := f.TempDir()
	whole := filepath.Join(dir, "whole.mcap")
	w, err := recording.CreateDirect(whole, meta(1, 3))
	require.NoError(f, err)
	write(f, w, releves(40, 3))
	require.NoError(f, w.Close())
	b, err := os.ReadFile(whole)
	require.NoError(f, err)
	f.Add(b)
	f.Add(b[:len(b)/2])
	f.Add(b[:len(b)-37]) // without footer and magic

	path, to := filepath.Join(dir, "fuzz.mcap"), filepath.Join(dir, "numbered.mcap")
	f.Fuzz(func(t *testing.T, b []byte) {
		require.NoError(t, os.WriteFile(path, b, 0o666))
		var out bytes.Buffer
		if err := recording.CopyNumbered(t.Context(), &out, path, 5); err != nil {
			oneLine(t, err)
			return
		}
		require.NoError(t, os.WriteFile(to, out.Bytes(), 0o666))
		n, err := recording.Number(t.Context(), to)
		require.NoError(t, err)
		require.EqualValues(t, 5, n)
		before, err := recording.Identity(t.Context(), path)
		if err != nil {
			return
		}
		after, err := recording.Identity(t.Context(), to)
		require.NoError(t, err)
		require.Equal(t, before, after)
	})
}
