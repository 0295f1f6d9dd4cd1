package logbook

import (
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze"
	"aplomb/analyze/measure"
)

// version2 copies the logbook in testdata/version2, which version 0.1.0 of the program
// made in the second format. Only the owner can read the copy.
func version2(t *testing.T) string {
	dir := filepath.Join(t.TempDir(), "book")
	require.NoError(t, os.CopyFS(dir, os.DirFS("testdata/version2")))
	require.NoError(t, filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		require.NoError(t, err)
		if e.IsDir() {
			return os.Chmod(path, 0o700)
		}
		return os.Chmod(path, 0o600)
	}))
	return dir
}

// A logbook of the first version of the program stays readable, with all its content. Its
// measures are stale until they are recomputed, and nothing is lost by that.
func TestLogbookOfTheFirstVersion(t *testing.T) {
	l := reopen(t, version2(t))
	copies, err := asideCopies(l.Dir())
	require.NoError(t, err)
	require.Len(t, copies, 1, "the database of before is kept")
	if info, err := os.Stat(copies[0]); runtime.GOOS != "windows" {
		require.NoError(t, err)
		assert.Equal(t, fs.FileMode(0o600), info.Mode(), "it names the dancers too")
	}
	require.NoError(t, os.Remove(copies[0]))
	findings, err := l.Check(bg)
	require.NoError(t, err)
	assert.Empty(t, findings)

	c, err := l.Contents()
	require.NoError(t, err)
	assert.Equal(t, [5]int{2, 3, 3, 2, 4}, [5]int{c.Dancers, c.Visits, c.Shoes, c.Strips, c.Recordings})
	d, err := l.Dancer("D7")
	require.NoError(t, err)
	assert.Equal(t, Dancer{Code: "D7", BirthYear: 2008, Watched: "left", Note: "first of the room"}, d)
	v, err := l.VisitNamed("D7", "2026-03-07")
	require.NoError(t, err)
	assert.Equal(t, Visit{ID: v.ID, Dancer: "D7", Day: "2026-03-07", Number: 1, Support: "barre", Rise: "roll-up", Floor: "vinyl", MassKG: 52, Baseline: true}, v)
	shoes, err := l.ShoeVersions("A")
	require.NoError(t, err)
	require.Len(t, shoes, 2)
	assert.Equal(t, 3.0, shoes[1].HoursWorn)
	course, err := l.PlanProgress(v.ID)
	require.NoError(t, err)
	assert.Equal(t, uint64(7), course.Plan.Seed)
	assert.Equal(t, 2, course.Next)

	all, err := l.Recordings(Filter{})
	require.NoError(t, err)
	require.Len(t, all, 4)
	for _, r := range all {
		assert.Equal(t, Stale, r.Measures)
		assert.Equal(t, "0.1.0-dev", r.Version)
	}
	before, err := l.Releves(1)
	require.NoError(t, err)
	require.Len(t, before, 4)
	assert.InDelta(t, -2.7, valueOf(t, before[0], measure.Over).Value, 0.05) // as the first version printed it
	assert.Equal(t, measure.TooCloseToCall, before[0].Verdict)
	_, err = l.FollowUp("D7", measure.Over, nil, fresh())
	oneLine(t, err, ErrNotMeasured)

	for _, r := range all {
		result, err := analyze.File(bg, r.Path, analyze.Options{Software: measure.Software{Version: "test"}})
		require.NoError(t, err)
		require.NoError(t, l.PutMeasures(r.ID, result))
	}
	f, err := l.FollowUp("D7", measure.Over, nil, fresh())
	require.NoError(t, err)
	assert.NotEmpty(t, f.Series)
	after, err := l.Recordings(Filter{})
	require.NoError(t, err)
	for i, r := range after {
		assert.Equal(t, Current, r.Measures)
		assert.Empty(t, all[i].Identity, "the first version knew none")
		assert.NotEmpty(t, r.Identity)
		r.Measures, r.Version, r.Identity = all[i].Measures, all[i].Version, all[i].Identity
		assert.Equal(t, all[i], r)
	}
}

// A backup made by the first version is read without changing it: it may be on a
// read-only disk.
func TestDancerInABackupOfTheFirstVersion(t *testing.T) {
	dir := version2(t)
	before := files(t, dir)
	holds, err := holdsDancer(filepath.Join(dir, database), "d7")
	require.NoError(t, err)
	assert.True(t, holds)
	unchanged(t, before, files(t, dir))
}

// Programs that migrate a logbook at once leave one copy of it, which is whole.
func TestMigratedByTwoPrograms(t *testing.T) {
	dir := version2(t)
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			l, err := Open(dir)
			if assert.NoError(t, err) {
				assert.NoError(t, l.Close())
			}
		})
	}
	all.Wait()
	copies, err := asideCopies(dir)
	require.NoError(t, err)
	require.Len(t, copies, 1)
	assert.False(t, isUnfinished(copies[0]))
	db, err := connect(copies[0], "ro")
	require.NoError(t, err)
	defer db.Close()
	version, err := versionIn(db, copies[0])
	require.NoError(t, err)
	assert.Equal(t, 2, version)
}
