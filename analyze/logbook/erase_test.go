package logbook

import (
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device"
)

// secrets are what must not be found anywhere once the dancer is erased, in any
// encoding that the files have: the database and recordings hold UTF-8.
var secrets = []string{"Quicksilver-77", "quicksilver-77", "SECRETNOTE", "SECRETVISIT", "SECRETSHOE", "secretshoe", "SECRETPADDING", "SECRETOLDNOTE", "SECRETFLOOR"}

// fillSecret fills a logbook with one dancer to erase and one to keep.
func fillSecret(t *testing.T, l *Logbook) (gone, stays Recording) {
	t.Helper()
	const code = "Quicksilver-77"
	long := strings.Repeat("SECRETNOTE ", 2000) // more than a page
	require.NoError(t, l.AddDancer(Dancer{Code: code, Note: "SECRETOLDNOTE " + long}))
	require.NoError(t, l.EditDancer(Dancer{Code: code, Note: long, BirthYear: 2008}))
	own := shoe("SECRETSHOE")
	own.Padding = "SECRETPADDING"
	require.NoError(t, l.AddShoe(Shoe{Shoe: own, Owner: code}))
	require.NoError(t, l.AddShoe(Shoe{Shoe: shoe("A")}))
	v := visit(t, l, code)
	v.Note, v.Floor, v.PainAfter = "SECRETVISIT", "SECRETFLOOR", ptr(5)
	require.NoError(t, l.EditVisit(v))
	gone = keep(t, l, v, about(code, "", own))
	require.NoError(t, l.PutMeasures(gone.ID, result("1", releve(1, device.Left, 1, 0.5))))
	later := about(code, "", shoe("A"))
	later.Started = started.Add(time.Minute)
	keep(t, l, v, later)
	record(t, filepath.Join(l.Dir(), recordings, "Quicksilver-77 loose.mcap"), about(code, "", own))
	stays = keep(t, l, visit(t, l, "D8"), about("D8", "", shoe("A")))
	return gone, stays
}

// holds returns the files below dir that contain a secret in their bytes or name.
func holds(t *testing.T, dir string) (all []string) {
	for name, content := range files(t, dir) {
		for _, s := range secrets {
			if strings.Contains(content, s) || strings.Contains(name, s) {
				all = append(all, name+": "+s)
			}
		}
	}
	return all
}

func TestErasedDancerLeavesNoByte(t *testing.T) {
	l := begin(t)
	gone, stays := fillSecret(t, l)
	require.NotEmpty(t, holds(t, l.Dir()), "the search can find what is there")
	copied := asideName(filepath.Join(l.Dir(), database), "damaged")
	require.NoError(t, os.WriteFile(copied, []byte("SECRETNOTE"), 0o600))
	// As another tool would leave it that does not clean what it frees.
	_, err := l.db.Exec(`PRAGMA secure_delete = 0; CREATE TABLE scratch (x TEXT) STRICT;
		INSERT INTO scratch VALUES (replace(hex(zeroblob(10000)), '0', 'SECRETNOTE ')); DROP TABLE scratch; PRAGMA secure_delete = 1`)
	require.NoError(t, err)
	junk := filepath.Join(l.Dir(), recordings, "junk")
	require.NoError(t, os.WriteFile(junk, []byte("?"), 0o600))

	e, err := l.DeleteDancer(bg, "quicksilver-77")
	require.NoError(t, err)
	assert.Equal(t, Erasure{Recordings: 3, Copies: []string{copied}, Unread: []string{junk}}, e)
	// Reading the files in this process takes SQLite's locks away, but nobody else is here.
	assert.Empty(t, holds(t, l.Dir()), "while the logbook is open")
	assert.NoFileExists(t, gone.Path)
	assert.FileExists(t, copied[:len(copied)-len(filepath.Base(copied))]+database)

	_, err = l.Dancer("Quicksilver-77")
	oneLine(t, err, ErrNotFound)
	_, err = l.DeleteDancer(bg, "Quicksilver-77")
	oneLine(t, err, ErrNotFound)
	_, err = l.Shoe("SECRETSHOE")
	oneLine(t, err, ErrNotFound)
	left, err := l.Recordings(Filter{})
	require.NoError(t, err)
	assert.Equal(t, []Recording{stays}, left)
	found, err := l.Check(bg)
	require.NoError(t, err)
	assert.Equal(t, []Finding{{Where: junk, What: "in no visit", Do: "aplomb import FILE --dancer CODE --visit VISIT takes it in; or remove the file"}}, found)

	require.NoError(t, l.Close())
	assert.Empty(t, holds(t, l.Dir()), "after closing")
}

// A dancer's own pair stays when the dancer is erased if another dancer was recorded in
// it.
func TestErasedDancersShoeStaysWithWhoWoreIt(t *testing.T) {
	l := begin(t)
	require.NoError(t, l.AddDancer(Dancer{Code: "D7"}))
	require.NoError(t, l.AddShoe(Shoe{Shoe: shoe("A"), Owner: "D7"}))
	r := keep(t, l, visit(t, l, "D8"), about("D8", "", shoe("A")))
	_, err := l.DeleteDancer(bg, "D7")
	require.NoError(t, err)
	s, err := l.Shoe("A")
	require.NoError(t, err)
	assert.Equal(t, Shoe{Shoe: shoe("A"), Version: 1, Current: true, Used: true}, s)
	again, err := l.Recording(r.ID)
	require.NoError(t, err)
	assert.Equal(t, r, again)
}

func TestErasureNamesBackups(t *testing.T) {
	l := begin(t)
	before := filepath.Join(t.TempDir(), "before")
	require.NoError(t, l.Backup(bg, before))
	fillSecret(t, l)
	place := t.TempDir()
	with, broken, moved, headless := filepath.Join(place, "with"), filepath.Join(place, "broken"), filepath.Join(place, "moved"), filepath.Join(place, "headless")
	for _, to := range []string{with, broken, moved, headless} {
		require.NoError(t, l.Backup(bg, to))
	}
	require.NoError(t, reopen(t, with).Close()) // a backup that was used
	require.NoError(t, os.RemoveAll(moved))
	require.NoError(t, os.WriteFile(filepath.Join(broken, database), []byte(strings.Repeat("?", 4096)), 0o600))
	require.NoError(t, os.Remove(filepath.Join(headless, database)))
	untouched := files(t, with)

	e, err := l.DeleteDancer(bg, "Quicksilver-77")
	require.NoError(t, err)
	require.Len(t, e.Backups, 4)
	assert.Equal(t, BackupWith{Path: with}, e.Backups[0])
	assert.Equal(t, broken, e.Backups[1].Path)
	assert.Contains(t, e.Backups[1].Why, "cannot be looked into")
	assert.Equal(t, moved, e.Backups[2].Path)
	assert.Contains(t, e.Backups[2].Why, "not there now")
	assert.Equal(t, headless, e.Backups[3].Path)
	assert.Contains(t, e.Backups[3].Why, "its recordings are there")
	unchanged(t, untouched, files(t, with)) // looked into, not changed

	all, err := l.Backups()
	require.NoError(t, err)
	assert.Len(t, all, 5)
	require.NoError(t, l.ForgetBackup(moved))
	oneLine(t, l.ForgetBackup(moved), ErrNotFound)
}

// A reader in another connection keeps pages in the log; the erasure is completed when
// the logbook is next opened without it.
func TestErasingIsFinishedLater(t *testing.T) {
	l := begin(t)
	fillSecret(t, l)
	other := reopen(t, l.Dir())
	tx, err := other.db.BeginTx(t.Context(), &sql.TxOptions{ReadOnly: true})
	require.NoError(t, err)
	var n int
	require.NoError(t, tx.QueryRow(`SELECT count(*) FROM dancers`).Scan(&n))
	_, err = l.db.Exec(`PRAGMA busy_timeout = 50`)
	require.NoError(t, err)

	_, err = l.DeleteDancer(bg, "Quicksilver-77")
	oneLine(t, err, ErrLocked, l.Dir(), "opened next")
	_, err = l.Dancer("Quicksilver-77")
	oneLine(t, err, ErrNotFound)
	findings, err := l.Check(bg)
	require.NoError(t, err)
	assert.Contains(t, fmt.Sprint(findings), "still to be erased")

	require.NoError(t, tx.Rollback())
	require.NoError(t, other.Close())
	require.NoError(t, l.Close())
	assert.Empty(t, holds(t, reopen(t, l.Dir()).Dir()))
}

// A crash between deleting the rows and deleting the files leaves a list of the files.
func TestErasingOutlastsACrash(t *testing.T) {
	l := begin(t)
	gone, _ := fillSecret(t, l)
	_, err := l.db.Exec(`INSERT INTO erasing (file) SELECT file FROM recordings WHERE id = ?`, gone.ID)
	require.NoError(t, err)
	_, err = l.db.Exec(`DELETE FROM recordings WHERE id = ?`, gone.ID)
	require.NoError(t, err)
	require.NoError(t, l.Close())
	require.FileExists(t, gone.Path)
	reopen(t, l.Dir())
	assert.NoFileExists(t, gone.Path)
}
