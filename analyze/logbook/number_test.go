package logbook

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// lose removes the database of a logbook.
func lose(t *testing.T, l *Logbook) {
	require.NoError(t, l.Close())
	for _, ending := range databaseFiles {
		require.NoError(t, remove(filepath.Join(l.Dir(), database)+ending))
	}
}

// identities returns the ids of the recordings of a logbook by their numbers.
func identities(t *testing.T, l *Logbook) map[int64]string {
	all := map[int64]string{}
	kept, err := l.Recordings(Filter{})
	require.NoError(t, err)
	for _, r := range kept {
		require.NotEmpty(t, r.Identity)
		all[r.ID] = r.Identity
	}
	return all
}

// withoutNumbers turns a logbook into one of an older program: no file has a number.
func withoutNumbers(t *testing.T, l *Logbook, kept []Recording, originals [][]byte) {
	for i, r := range kept {
		require.NoError(t, os.WriteFile(r.Path, originals[i], 0o600))
		f, err := fileAt(bg, r.Path, nil)
		require.NoError(t, err)
		_, err = l.db.Exec(`UPDATE recordings SET sha256 = ?, size = ? WHERE id = ?`, f.sum, f.size, r.ID)
		require.NoError(t, err)
	}
}

// threeNumbered adds three recordings, the last made first, and returns them with their
// earlier bytes.
func threeNumbered(t *testing.T, l *Logbook) (kept []Recording, originals [][]byte) {
	v := visit(t, l, "D7")
	for i := range 3 {
		m := about("D7", "", shoe("A"))
		m.Started = m.Started.Add(-time.Duration(i) * time.Minute)
		path := record(t, l.NewRecordingPath(m.Started), m)
		b, err := os.ReadFile(path)
		require.NoError(t, err)
		r, err := l.AddRecording(bg, path, v.ID)
		require.NoError(t, err)
		kept, originals = append(kept, r), append(originals, b)
	}
	return kept, originals
}

func TestRebuildKeepsNumbers(t *testing.T) {
	l := begin(t)
	kept, _ := threeNumbered(t, l)
	require.NoError(t, l.RemoveRecording(2))
	before := identities(t, l)
	lose(t, l)
	recorded := files(t, filepath.Join(l.Dir(), recordings))
	result, err := Rebuild(bg, l.Dir())
	require.NoError(t, err)
	assert.Empty(t, result.Renumbered)
	unchanged(t, recorded, files(t, filepath.Join(l.Dir(), recordings)))
	back := reopen(t, l.Dir())
	assert.Equal(t, before, identities(t, back))

	// The last recordings may have been erased, and their numbers do not come back.
	assert.EqualValues(t, 101, result.GoesOn)
	next := about("D7", "", shoe("B"))
	r := keep(t, back, visit(t, back, "D7"), next)
	assert.EqualValues(t, 101, r.ID)
	_, err = back.Recording(kept[1].ID)
	oneLine(t, err, ErrNotFound)
}

// Recordings of older programs have no number: a rebuild takes it from the former
// database or a copy of it, if one can be read.
func TestRebuildOfOlderRecordings(t *testing.T) {
	t.Run("database damaged", func(t *testing.T) {
		l := begin(t)
		kept, originals := threeNumbered(t, l)
		withoutNumbers(t, l, kept, originals)
		before := identities(t, l)
		_, err := l.db.Exec(`PRAGMA foreign_keys = 0; INSERT INTO feet (dancer_id, foot) VALUES (99, 'left'); UPDATE sqlite_sequence SET seq = 8 WHERE name = 'recordings'`)
		require.NoError(t, err)
		require.NoError(t, l.Close())
		result, err := Rebuild(bg, l.Dir())
		require.NoError(t, err)
		assert.NotEmpty(t, result.Aside)
		assert.Empty(t, result.Renumbered)
		back := reopen(t, l.Dir())
		assert.Equal(t, before, identities(t, back))
		r := keep(t, back, visit(t, back, "D7"), about("D7", "", shoe("B")))
		assert.EqualValues(t, 9, r.ID)

		// The copy that was set aside tells it once more.
		lose(t, back)
		before[9] = r.Identity
		result, err = Rebuild(bg, l.Dir())
		require.NoError(t, err)
		assert.Empty(t, result.Renumbered)
		assert.Equal(t, before, identities(t, reopen(t, l.Dir())))
	})
	t.Run("database gone", func(t *testing.T) {
		l := begin(t)
		kept, originals := threeNumbered(t, l)
		withoutNumbers(t, l, kept[:2], originals[:2])
		lose(t, l)
		result, err := Rebuild(bg, l.Dir())
		require.NoError(t, err)
		assert.EqualValues(t, 103, result.GoesOn)
		// The third carries its number, and 1 and 2 mean no other recording.
		require.Len(t, result.Renumbered, 2)
		for i, n := range result.Renumbered {
			r := kept[1-i] // in order of time
			assert.Equal(t, NewNumber{Number: int64(101 + i), Dancer: "D7", Started: r.Started, Identity: r.Identity, File: filepath.Base(r.Path)}, n)
		}
		back := reopen(t, l.Dir())
		want := map[int64]string{3: kept[2].Identity, 101: kept[1].Identity, 102: kept[0].Identity}
		assert.Equal(t, want, identities(t, back))
		findings, err := back.Check(bg)
		require.NoError(t, err)
		assert.Empty(t, findings)

		// From now on they keep those.
		lose(t, back)
		result, err = Rebuild(bg, l.Dir())
		require.NoError(t, err)
		assert.Empty(t, result.Renumbered)
		assert.Equal(t, want, identities(t, reopen(t, l.Dir())))
	})
}

// A number found in two recordings is assigned to neither.
func TestNumberThatTwoRecordingsCarry(t *testing.T) {
	l, other := begin(t), begin(t)
	kept, _ := threeNumbered(t, l)
	m := about("D9", "", shoe("B"))
	foreign := keep(t, other, visit(t, other, "D9"), m)
	require.NoError(t, copyFile(bg, foreign.Path, filepath.Join(l.Dir(), recordings, "foreign.mcap")))
	// What a program leaves that was killed while it took the second one in.
	require.NoError(t, copyFile(bg, kept[1].Path, filepath.Join(l.Dir(), recordings, "0"+copying)))
	lose(t, l)
	result, err := Rebuild(bg, l.Dir())
	require.NoError(t, err)
	require.Len(t, result.Renumbered, 2)
	require.Len(t, result.Skipped, 1)
	assert.Contains(t, result.Skipped[0].String(), "a copy that was cut short: remove the file")
	got := identities(t, reopen(t, l.Dir()))
	assert.NotContains(t, got, int64(1))
	assert.Equal(t, kept[1].Identity, got[2])
	assert.Equal(t, kept[2].Identity, got[3])
	for _, n := range result.Renumbered {
		assert.EqualValues(t, 1, n.Before)
		assert.Equal(t, n.Identity, got[n.Number])
		assert.NoError(t, n.Unwritten)
	}
}

// A logbook that was begun by mistake beside the recordings of another takes them over.
func TestRebuildMerges(t *testing.T) {
	l := begin(t)
	kept, _ := threeNumbered(t, l)
	lose(t, l)
	aside := l.Dir() + "-recordings"
	require.NoError(t, os.Rename(filepath.Join(l.Dir(), recordings), aside))
	mistake := reopen(t, l.Dir())
	require.NoError(t, mistake.AddDancer(Dancer{Code: "D8", Note: "stays"}))
	own := keep(t, mistake, visit(t, mistake, "D8"), about("D8", "", shoe("A")))
	for _, r := range kept {
		require.NoError(t, os.Rename(filepath.Join(aside, filepath.Base(r.Path)), r.Path))
	}
	require.NoError(t, mistake.Close())

	result, err := Rebuild(bg, l.Dir())
	require.NoError(t, err)
	assert.True(t, result.Merged)
	assert.Equal(t, 3, result.TakenIn)
	assert.Equal(t, 2, result.Dancers)
	assert.Empty(t, result.Aside)
	assert.Empty(t, result.Skipped)
	back := reopen(t, l.Dir())
	// 1 is what it was since the mistake.
	assert.Equal(t, map[int64]string{1: own.Identity, 2: kept[1].Identity, 3: kept[2].Identity, 4: kept[0].Identity}, identities(t, back))
	require.Len(t, result.Renumbered, 1)
	assert.EqualValues(t, 1, result.Renumbered[0].Before)
	d, err := back.Dancer("D8")
	require.NoError(t, err)
	assert.Equal(t, "stays", d.Note)
	findings, err := back.Check(bg)
	require.NoError(t, err)
	assert.Empty(t, findings)
	_, err = Rebuild(bg, l.Dir())
	assert.ErrorContains(t, err, "the database is whole")
}

// A database of 0 bytes or without its tables is treated as lost if there are recordings.
func TestEmptiedDatabaseIsALostOne(t *testing.T) {
	full := begin(t)
	_, _ = threeNumbered(t, full)
	require.NoError(t, full.Close())
	for what, empty := range map[string]func(path string) error{
		"is empty":            func(path string) error { return os.WriteFile(path, nil, 0o600) },
		"has lost its tables": func(path string) error { return dropTables(path, true) },
		"has no tables":       func(path string) error { return dropTables(path, false) },
	} {
		t.Run(what, func(t *testing.T) {
			dir := filepath.Join(t.TempDir(), "book")
			require.NoError(t, os.CopyFS(dir, os.DirFS(full.Dir())))
			path := filepath.Join(dir, database)
			require.NoError(t, empty(path))
			before := files(t, dir)
			_, err := Open(dir)
			oneLine(t, err, ErrDamaged, dir, "its database logbook.sqlite "+what, "aplomb logbook rebuild")
			unchanged(t, before, files(t, dir))
			result, err := Rebuild(bg, dir)
			require.NoError(t, err)
			assert.Equal(t, 3, result.Recordings)
			assert.NotEmpty(t, result.Aside)
		})
	}
	// Without recordings an empty one is a new logbook, as where its first program was killed.
	dir := t.TempDir()
	require.NoError(t, createFiles(dir, filepath.Join(dir, database)))
	reopen(t, dir)
}

// dropTables empties the database at path, and keeps or removes its mark as a logbook.
func dropTables(path string, marked bool) error {
	if err := os.Remove(path); err != nil {
		return err
	}
	if err := os.WriteFile(path, nil, 0o600); err != nil {
		return err
	}
	db, err := connect(path, "rw", "journal_mode(wal)")
	if err != nil {
		return err
	}
	defer db.Close()
	if marked {
		_, err = db.Exec(`PRAGMA application_id = 1097886721; PRAGMA user_version = 6`)
	}
	return err
}

// No two recordings get the same number, none gets a number used before, and a number
// claimed by one recording alone is kept.
func TestAssignNumbers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		claims := rapid.SliceOf(rapid.Int64Range(0, 9)).Draw(t, "claims")
		given := rapid.Int64Range(0, 9).Draw(t, "given")
		highest := rapid.Int64Range(0, 12).Draw(t, "highest")
		claimants := map[int64]int{}
		for _, c := range claims {
			claimants[c]++
		}
		got := map[int64]bool{}
		last := int64(0)
		for i, n := range assignNumbers(claims, given, highest) {
			if got[n] {
				t.Fatalf("%d twice", n)
			}
			got[n] = true
			c := claims[i]
			if c > given && claimants[c] == 1 {
				if n != c {
					t.Fatalf("%d became %d", c, n)
				}
				continue
			}
			if n <= given || n <= highest || claimants[n] > 0 || n <= last {
				t.Fatalf("%d, with the claims %v above %d and %d", n, claims, given, highest)
			}
			last = n
		}
	})
}
