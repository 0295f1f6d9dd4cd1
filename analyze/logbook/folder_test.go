package logbook

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device"
)

func TestOnlyTheOwnerCanRead(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("modes mean nothing there")
	}
	l := begin(t)
	keep(t, l, visit(t, l, "D7"), about("D7", "", shoe("A")))
	to := filepath.Join(t.TempDir(), "backup")
	require.NoError(t, l.Backup(bg, to))
	for _, dir := range []string{l.Dir(), to} {
		require.NoError(t, filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
			require.NoError(t, err)
			info, err := e.Info()
			require.NoError(t, err)
			want := fs.FileMode(0o600)
			if e.IsDir() {
				want = 0o700
			}
			assert.Equal(t, want, info.Mode().Perm(), path)
			return nil
		}))
	}
	require.NoError(t, os.Chmod(l.Dir(), 0o755))
	findings, err := l.Check(bg)
	require.NoError(t, err)
	require.Len(t, findings, 1)
	assert.Contains(t, findings[0].String(), "others than the owner")
}

// newest is the version of the logbook that the program makes.
const newest = 12

func TestConnectionIsSetUp(t *testing.T) {
	l := begin(t)
	for pragma, want := range map[string]string{
		"foreign_keys": "1", "secure_delete": "1", "journal_mode": "wal", "synchronous": "2", "temp_store": "2",
		"busy_timeout": fmt.Sprint(lockTimeout.Milliseconds()), "user_version": fmt.Sprint(newest),
	} {
		var got string
		require.NoError(t, l.db.QueryRow(`PRAGMA `+pragma).Scan(&got))
		assert.Equal(t, want, got, pragma)
	}
}

// Every table is strict by SQLite's rules, and none lacks a check that rejects values of
// the wrong kind.
func TestDatabaseRefusesNonsense(t *testing.T) {
	l := begin(t)
	visit(t, l, "D7")
	var loose int
	require.NoError(t, l.db.QueryRow(`SELECT count(*) FROM pragma_table_list WHERE schema = 'main' AND type = 'table' AND name NOT LIKE 'sqlite_%' AND NOT strict`).Scan(&loose))
	assert.Zero(t, loose)
	for _, query := range []string{
		`UPDATE dancers SET code = ''`, `UPDATE dancers SET birth_year = 'x'`, `UPDATE dancers SET watched = 'both'`, `UPDATE visits SET day = '2026-02-30'`,
		`UPDATE visits SET day = ''`, `UPDATE visits SET pain_after = 11`, `UPDATE visits SET pain_after = 'bad'`, `UPDATE visits SET baseline = 2`,
		`UPDATE visits SET dancer_id = 99`, `UPDATE visits SET mass_kg = 0`, `INSERT INTO feet (dancer_id, foot) VALUES (1, 'middle')`,
		`INSERT INTO mountings (strip_id, name) VALUES (99, 'm')`, `INSERT INTO measures (releve_id, name, value, version) VALUES (99, 'x', 1, '1')`,
	} {
		_, err := l.db.Exec(query)
		assert.ErrorContains(t, err, "constraint failed", query)
	}
}

func TestNewerLogbookIsLeftAsItIs(t *testing.T) {
	l := begin(t)
	visit(t, l, "D7")
	_, err := l.db.Exec(fmt.Sprintf(`PRAGMA user_version = %d`, newest+1))
	require.NoError(t, err)
	refused := func(t *testing.T, dir string) {
		before := files(t, dir)
		_, err := Open(dir)
		oneLine(t, err, ErrNewer, dir, fmt.Sprintf("version %d", newest+1), fmt.Sprintf("up to %d", newest))
		_, err = Rebuild(bg, dir)
		oneLine(t, err, ErrNewer)
		after := files(t, dir)
		delete(before, database+"-shm") // an index of the log that every program makes anew
		delete(after, database+"-shm")
		unchanged(t, before, after)
	}
	// As after a crash of the newer program: the version is in the log.
	crashed := filepath.Join(t.TempDir(), "crashed")
	require.NoError(t, os.CopyFS(crashed, os.DirFS(l.Dir())))
	t.Run("crashed", func(t *testing.T) { refused(t, crashed) })
	require.NoError(t, l.Close())
	t.Run("closed", func(t *testing.T) { refused(t, l.Dir()) })
}

func TestDatabaseOfSomethingElseIsLeftAsItIs(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, database)
	require.NoError(t, createFiles(dir, path))
	db, err := connect(path, "rw")
	require.NoError(t, err)
	_, err = db.Exec(`CREATE TABLE books (title TEXT)`)
	require.NoError(t, err)
	require.NoError(t, db.Close())
	before := files(t, dir)
	_, err = Open(dir)
	oneLine(t, err, ErrForeign, path)
	unchanged(t, before, files(t, dir))
}

// migrations returns the existing migrations and one more.
func migrations(t *testing.T, next string) fs.FS {
	entries, err := migrationFiles.ReadDir("migrations")
	require.NoError(t, err)
	all := fstest.MapFS{fmt.Sprintf("%03d_next.sql", len(entries)+1): {Data: []byte(next)}}
	for _, e := range entries {
		data, err := migrationFiles.ReadFile("migrations/" + e.Name())
		require.NoError(t, err)
		all[e.Name()] = &fstest.MapFile{Data: data}
	}
	return all
}

func TestOlderLogbookIsBroughtUpToDate(t *testing.T) {
	l := begin(t)
	visit(t, l, "D7")
	require.NoError(t, l.Close())
	newer, err := open(l.Dir(), database, migrations(t, `ALTER TABLE dancers ADD COLUMN height_mm REAL;`))
	require.NoError(t, err)
	defer newer.Close()
	_, err = newer.db.Exec(`UPDATE dancers SET height_mm = 1640`)
	require.NoError(t, err)
	copies, err := asideCopies(l.Dir())
	require.NoError(t, err)
	require.Len(t, copies, 1)
	copied, _, err := openUnchanged(copies[0])
	require.NoError(t, err)
	version, err := versionIn(copied, copies[0])
	require.NoError(t, err)
	require.NoError(t, copied.Close())
	assert.Equal(t, newest, version)
	holds, err := holdsDancer(copies[0], "D7")
	require.NoError(t, err)
	assert.True(t, holds)
	// A dancer is erased from the copy by erasing the copy.
	e, err := newer.DeleteDancer(bg, "D7")
	require.NoError(t, err)
	assert.Equal(t, copies, e.Copies)
	assert.NoFileExists(t, copies[0])
}

func TestMigrationThatFailsChangesNothing(t *testing.T) {
	l := begin(t)
	visit(t, l, "D7")
	require.NoError(t, l.Close())
	_, err := open(l.Dir(), database, migrations(t, `CREATE TABLE half (x TEXT) STRICT; CREATE TABLE dancers (x TEXT) STRICT;`))
	assert.ErrorContains(t, err, fmt.Sprintf("bringing it to version %d", newest+1))
	again := reopen(t, l.Dir())
	_, err = again.Dancer("D7")
	require.NoError(t, err)
	var n int
	require.NoError(t, again.db.QueryRow(`SELECT count(*) FROM sqlite_schema WHERE name = 'half'`).Scan(&n))
	assert.Zero(t, n)
	_, err = readSteps(fstest.MapFS{"002_x.sql": {}})
	assert.ErrorContains(t, err, "expected number 001")
}

func TestDamagedLogbookSaysSo(t *testing.T) {
	fill := func(t *testing.T) string {
		l := begin(t)
		for i := range 40 {
			require.NoError(t, l.AddDancer(Dancer{Code: fmt.Sprint("D", i), Note: strings.Repeat("n", 1000)}))
		}
		keep(t, l, visit(t, l, "D7"), about("D7", "2026-03-14", shoe("A")))
		require.NoError(t, l.Close())
		return l.Dir()
	}
	t.Run("no database", func(t *testing.T) {
		dir := fill(t)
		require.NoError(t, os.WriteFile(filepath.Join(dir, database), []byte(strings.Repeat("garbage ", 1000)), 0o600))
		_, err := Open(dir)
		oneLine(t, err, ErrDamaged, dir, "backup", "rebuild")
	})
	t.Run("pages", func(t *testing.T) {
		dir := fill(t)
		path := filepath.Join(dir, database)
		b, err := os.ReadFile(path)
		require.NoError(t, err)
		for i := 4096; i < len(b); i++ { // all but the first page
			b[i] = 0xA5
		}
		require.NoError(t, os.WriteFile(path, b, 0o600))
		l, err := Open(dir)
		if err == nil {
			defer l.Close()
			_, err = l.Dancers()
		}
		oneLine(t, err, ErrDamaged, dir)
		result, err := Rebuild(bg, dir)
		require.NoError(t, err)
		assert.Equal(t, 1, result.Recordings)
		kept, err := os.ReadFile(result.Aside)
		require.NoError(t, err)
		assert.Equal(t, b, kept, "what was there is set aside")
	})
	t.Run("cut short", func(t *testing.T) {
		dir := fill(t)
		require.NoError(t, os.Truncate(filepath.Join(dir, database), 3*4096))
		l, err := Open(dir)
		if err == nil {
			defer l.Close()
			var findings []Finding
			findings, err = l.Check(bg)
			require.NoError(t, err)
			require.NotEmpty(t, findings)
			assert.Contains(t, findings[0].String(), "rebuild")
			return
		}
		oneLine(t, err, ErrDamaged, dir)
	})
}

func TestCheckFindsWhatIsWrong(t *testing.T) {
	l := begin(t)
	v := visit(t, l, "D7")
	kept := keepThree(t, l, v)
	findings, err := l.Check(bg)
	require.NoError(t, err)
	assert.Empty(t, findings)

	require.NoError(t, os.Remove(kept[0].Path))
	b, err := os.ReadFile(kept[1].Path)
	require.NoError(t, err)
	b[len(b)/2] ^= 1
	require.NoError(t, os.WriteFile(kept[1].Path, b, 0o600))
	loose := record(t, filepath.Join(l.Dir(), recordings, "loose.mcap"), about("D7", "", shoe("B")))
	torn := filepath.Join(l.Dir(), recordings, "x.mcap"+copying)
	require.NoError(t, os.WriteFile(torn, nil, 0o600))
	_, err = l.db.Exec(`PRAGMA foreign_keys = 0; INSERT INTO feet (dancer_id, foot) VALUES (99, 'left')`)
	require.NoError(t, err)
	findings, err = l.Check(bg)
	require.NoError(t, err)
	require.Len(t, findings, 1, "first the database")
	assert.Contains(t, findings[0].String(), "feet points at a row of dancers that is not there")
	_, err = l.db.Exec(`DELETE FROM feet`)
	require.NoError(t, err)

	findings, err = l.Check(bg)
	require.NoError(t, err)
	var all []string
	for _, f := range findings {
		all = append(all, f.String())
		assert.NotContains(t, f.String(), "\n")
	}
	assert.ElementsMatch(t, []string{
		kept[0].Path + ": the recording is missing: put it back from a backup, or erase it (aplomb logbook erase 1)",
		kept[1].Path + fmt.Sprintf(": the recording has changed (%d bytes, then %d): put it back from a backup, or erase it (aplomb logbook erase 2)", len(b), len(b)),
		loose + ": in no visit: aplomb import FILE --dancer CODE --visit VISIT takes it in; or remove the file",
		torn + ": a copy that was cut short: remove the file",
	}, all)
}

func TestBackupIsALogbook(t *testing.T) {
	l := begin(t)
	r := keep(t, l, visit(t, l, "D7"), about("D7", "", shoe("A")))
	to := filepath.Join(t.TempDir(), "b")
	require.NoError(t, l.Backup(bg, to))
	visit(t, l, "D8")
	back := reopen(t, to)
	got, err := back.Recording(r.ID)
	require.NoError(t, err)
	assert.Equal(t, r.SHA256, got.SHA256)
	assert.NotEqual(t, r.Path, got.Path)
	_, err = back.Dancer("D8")
	oneLine(t, err, ErrNotFound)
	findings, err := back.Check(bg)
	require.NoError(t, err)
	assert.Empty(t, findings)

	assert.ErrorContains(t, l.Backup(bg, to), "exists")
	assert.ErrorContains(t, l.Backup(bg, filepath.Join(l.Dir(), "b")), "within the logbook")
	assert.Error(t, l.Backup(bg, filepath.Join(t.TempDir(), "none", "b")))
	all, err := l.Backups()
	require.NoError(t, err)
	require.Len(t, all, 1)
	assert.Equal(t, to, all[0].Path)
}

func TestRebuildRestoresWhatRecordingsCarry(t *testing.T) {
	l := begin(t)
	require.NoError(t, l.AddDancer(Dancer{Code: "D7", Note: "gone"}))
	require.NoError(t, l.AddShoe(Shoe{Shoe: shoe("never worn")}))
	visit(t, l, "D7")
	second := visit(t, l, "D7")
	worn := shoe("A")
	worn.HoursWorn = 5
	m := about("D7", second.Name(), worn)
	m.Started = started.Add(time.Hour)
	// A name that does not sort by time.
	_, err := l.AddRecording(bg, record(t, filepath.Join(l.Dir(), recordings, "0.mcap"), m), second.ID)
	require.NoError(t, err)
	first := about("D7", second.Name(), shoe("A"))
	keep(t, l, second, first)
	third := about("D8", "", shoe("A"))
	third.Started, third.Sides[device.Right] = started.Add(2*time.Hour), nil
	keep(t, l, visit(t, l, "D8"), third)
	before, err := l.Recordings(Filter{})
	require.NoError(t, err)
	folder := filepath.Join(l.Dir(), recordings)
	nobody := record(t, filepath.Join(folder, "nobody.mcap"), about("", "", shoe("A")))
	long := record(t, filepath.Join(folder, "long.mcap"), about(strings.Repeat("x", 300), "", shoe("A")))
	nowhere := record(t, filepath.Join(folder, "nowhere.mcap"), about("D7", "../../x", shoe("A")))
	junk := filepath.Join(folder, "junk")
	require.NoError(t, os.WriteFile(junk, nil, 0o600))
	twice := filepath.Join(folder, "z-twice.mcap")
	require.NoError(t, copyFile(bg, before[0].Path, twice))

	_, err = Rebuild(bg, l.Dir())
	assert.ErrorContains(t, err, "the database is whole")
	require.NoError(t, l.Close())
	require.NoError(t, os.Remove(filepath.Join(l.Dir(), database)))
	recorded := files(t, folder)
	_, err = Open(l.Dir())
	oneLine(t, err, ErrDamaged, l.Dir(), "rebuild")
	assert.False(t, Exists(l.Dir()), "an empty one would be in the way of rebuilding")

	result, err := Rebuild(bg, l.Dir())
	require.NoError(t, err)
	back := reopen(t, l.Dir())
	holds, err := back.Contents()
	require.NoError(t, err)
	assert.Equal(t, Contents{Dancers: 2, Visits: 2, Shoes: 1, Strips: 2, Recordings: 3, Bytes: before[0].Size + before[1].Size + before[2].Size}, holds)
	assert.Equal(t, holds, result.Contents)
	assert.Empty(t, result.Aside)
	var skipped []string
	for _, f := range result.Skipped {
		skipped = append(skipped, f.Where)
		assert.NotContains(t, f.String(), "\n")
	}
	assert.ElementsMatch(t, []string{nobody, long, nowhere, junk, twice}, skipped)
	assert.Contains(t, strings.Join(result.Lost, "\n"), "pain")
	assert.Contains(t, strings.Join(result.Lost, "\n"), "plans")

	after, err := back.Recordings(Filter{})
	require.NoError(t, err)
	require.Len(t, after, 3)
	for i := range before {
		// The numbers of rows and of shoe versions may be others: here the first
		// recorded was the second to be made.
		for _, r := range [][]Recording{before, after} {
			r[i].ID, r[i].VisitID = 0, 0
			for _, f := range r[i].Feet {
				if f != nil {
					f.ShoeVersion = 0
				}
			}
		}
	}
	assert.Equal(t, before, after)
	v, err := back.VisitNamed("D7", "2026-03-14-2")
	require.NoError(t, err)
	assert.Equal(t, Visit{ID: v.ID, Dancer: "D7", Day: "2026-03-14", Number: 2, Support: "barre", Rise: "roll-up", Position: "first", Floor: "vinyl", MassKG: 55}, v)
	s, err := back.ShoeVersions("A")
	require.NoError(t, err)
	assert.Equal(t, []Shoe{{Shoe: shoe("A"), Version: 1, Used: true}, {Shoe: worn, Version: 2, Current: true, Used: true}}, s)
	unchanged(t, recorded, files(t, folder))
	_, err = Rebuild(bg, t.TempDir())
	assert.ErrorContains(t, err, "nothing to rebuild from")
}
