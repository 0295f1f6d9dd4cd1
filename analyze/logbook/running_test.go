package logbook

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device"
	"aplomb/device/recording"
)

// recordNow starts a recording in the logbook's folder and leaves it running.
func recordNow(t *testing.T, l *Logbook, m device.Metadata) (w *recording.Writer, path string) {
	t.Helper()
	path = l.NewRecordingPath(m.Started)
	w, err := recording.Create(path, m)
	require.NoError(t, err)
	t.Cleanup(func() { w.Close() })
	require.NoError(t, w.Write(&device.Frame{Seq: 1, TimeUS: 5000, ArrivalNS: m.Started.UnixNano(), Counts: make([]uint16, 6)}))
	return w, path
}

// cutShort leaves a .part in the logbook's folder as a killed program does.
func cutShort(t *testing.T, l *Logbook, m device.Metadata, frames int) (path string) {
	t.Helper()
	from := filepath.Join(t.TempDir(), "r.mcap")
	w, err := recording.Create(from, m)
	require.NoError(t, err)
	for range frames {
		n := made.Add(1)
		require.NoError(t, w.Write(&device.Frame{Seq: n, TimeUS: uint64(n), ArrivalNS: m.Started.UnixNano() + n, Counts: make([]uint16, 6)}))
	}
	require.Eventually(t, func() bool { return w.LongestUnsynced() > 0 || frames == 0 }, time.Minute, time.Millisecond)
	b, err := os.ReadFile(from + ".part")
	require.NoError(t, err)
	require.NoError(t, w.Discard())
	path = l.NewRecordingPath(m.Started) + unfinished
	require.NoError(t, os.WriteFile(path, b, 0o600))
	return path
}

func TestNothingIsErasedThatIsBeingRecorded(t *testing.T) {
	l := begin(t)
	first := visit(t, l, "D7")
	second := visit(t, l, "D7")
	other := visit(t, l, "D8")
	w, path := recordNow(t, l, about("D7", second.Name(), shoe("A")))

	us := fmt.Sprintf("(process %d, started ", os.Getpid())
	_, err := l.DeleteDancer(bg, "d7")
	oneLine(t, err, ErrRecording, l.Dir(), "dancer d7 stays", us, "end it first")
	oneLine(t, l.RemoveVisit(second.ID), ErrRecording, "visit "+second.Name()+" stays", us)
	require.NoError(t, l.KeepsVisit(second))
	assert.FileExists(t, path+".part")

	// Nothing else is in the way.
	require.NoError(t, l.RemoveVisit(first.ID))
	e, err := l.DeleteDancer(bg, "D8")
	require.NoError(t, err)
	assert.Empty(t, e.Unread)
	oneLine(t, l.KeepsVisit(other), ErrNotFound, "nothing is recorded")

	// It has ended, and its program has not yet taken it in: it goes with the dancer.
	require.NoError(t, w.Close())
	e, err = l.DeleteDancer(bg, "D7")
	require.NoError(t, err)
	assert.Equal(t, 1, e.Recordings)
	assert.NoFileExists(t, path)
	_, err = l.AddRecording(bg, record(t, path, about("D7", second.Name(), shoe("A"))), second.ID)
	oneLine(t, err, ErrNotFound)
}

func TestBeingRecordedIsNothingWrong(t *testing.T) {
	l := begin(t)
	v := visit(t, l, "D7")
	w, path := recordNow(t, l, about("D7", v.Name(), shoe("A")))
	us := fmt.Sprintf("being recorded now (process %d, started ", os.Getpid())
	findings, err := l.Check(bg)
	require.NoError(t, err)
	require.Len(t, findings, 1)
	assert.True(t, findings[0].Fine)
	assert.Equal(t, path+".part", findings[0].Where)
	assert.Contains(t, findings[0].String(), us)
	assert.NotRegexp(t, "remove|erase|import", findings[0].String())
	left, err := l.Unfinished()
	require.NoError(t, err)
	assert.Empty(t, left)

	_, err = l.AddRecording(bg, path+".part", v.ID)
	oneLine(t, err, ErrRecording, path+".part", "when it has ended")

	// Rebuilding does not take it in either.
	require.NoError(t, l.Close())
	require.NoError(t, os.Remove(filepath.Join(l.Dir(), database)))
	rebuilt, err := Rebuild(bg, l.Dir())
	require.NoError(t, err)
	require.Len(t, rebuilt.Skipped, 1)
	assert.Contains(t, rebuilt.Skipped[0].String(), us)
	require.NoError(t, w.Close())
}

// Earlier versions added a running recording. Its number follows the file.
func TestNumberFollowsThePart(t *testing.T) {
	l := begin(t)
	v := visit(t, l, "D7")
	m := about("D7", v.Name(), shoe("A"))
	w, path := recordNow(t, l, m)
	f, err := fileAt(bg, path+".part", nil)
	require.NoError(t, err)
	_, err = l.db.Exec(`INSERT INTO recordings (visit_id, file, sha256, size, identity, started_ns, algorithm) VALUES (?, ?, ?, ?, ?, ?, 'x')`,
		v.ID, f.name, f.sum, f.size, "partial", m.Started.UnixNano())
	require.NoError(t, err)
	all, err := l.Recordings(Filter{})
	require.NoError(t, err)
	oneLine(t, l.RemoveRecording(all[0].ID), ErrRecording, "recording 1 stays")
	require.NoError(t, w.Close())
	require.NoError(t, l.Close())

	l = reopen(t, l.Dir())
	r, err := l.Recording(all[0].ID)
	require.NoError(t, err)
	assert.Equal(t, path, r.Path)
	assert.NotEqual(t, "partial", r.Identity)
	assert.NotEqual(t, Current, r.Measures)
	findings, err := l.Check(bg)
	require.NoError(t, err)
	assert.Empty(t, findings)
}

func TestUnfinishedRecordings(t *testing.T) {
	l := begin(t)
	v := visit(t, l, "D7")
	m := about("D7", v.Name(), shoe("A"))
	path := cutShort(t, l, m, 5)
	empty := cutShort(t, l, m, 0)
	lost := cutShort(t, l, about("D9", "2026-03-14", shoe("A")), 5)
	require.NoError(t, os.WriteFile(strings.TrimSuffix(path, ".part")+".tmp", []byte("half"), 0o600))
	record(t, l.NewRecordingPath(m.Started), m) // its program is about to take it in
	left, err := l.Unfinished()
	require.NoError(t, err)
	assert.ElementsMatch(t, []string{path, empty, lost}, left)
	findings, err := l.Check(bg)
	require.NoError(t, err)
	assert.Contains(t, fmt.Sprint(findings), path+": a recording that was cut short, in no visit: aplomb import --unfinished takes it in")

	fresh, old := filepath.Join(l.Dir(), recordings, newFileName(m.Started, copying)), filepath.Join(l.Dir(), recordings, newFileName(m.Started, ".mcap"+copying))
	for _, copied := range []string{fresh, old} {
		require.NoError(t, os.WriteFile(copied, []byte("half"), 0o600))
	}
	ago := time.Now().Add(-2 * settled)
	require.NoError(t, os.Chtimes(old, ago, ago))
	require.NoError(t, l.RemoveCutCopies())
	assert.FileExists(t, fresh, "it may be about to get its name")
	assert.NoFileExists(t, old)

	_, err = l.VisitOf(bg, lost)
	oneLine(t, err, ErrNotFound, lost)
	got, err := l.VisitOf(bg, path)
	require.NoError(t, err)
	assert.Equal(t, v.ID, got.ID)
	for _, keeps := range []string{path, lost} {
		removed, err := l.RemoveLeftover(bg, keeps)
		require.NoError(t, err)
		assert.False(t, removed)
		assert.FileExists(t, keeps)
	}
	assert.NoFileExists(t, strings.TrimSuffix(path, ".part")+".tmp")
	removed, err := l.RemoveLeftover(bg, empty)
	require.NoError(t, err)
	assert.True(t, removed)
	_, err = l.AddRecording(bg, path, v.ID)
	require.NoError(t, err)
	removed, err = l.RemoveLeftover(bg, path)
	require.NoError(t, err)
	assert.False(t, removed, "it is the logbook's now")

	// A crash between the finished file and the removal of the .part: the finished one is taken in.
	both := record(t, l.NewRecordingPath(m.Started), m)
	c, err := os.ReadFile(both)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(both+".part", c, 0o600))
	left, err = l.Unfinished()
	require.NoError(t, err)
	assert.ElementsMatch(t, []string{lost, both, both + ".part"}, left)
	require.NoError(t, os.Remove(both+".part"))
	finished := keep(t, l, v, m)
	b, err := os.ReadFile(finished.Path)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(finished.Path+".part", b, 0o600))
	removed, err = l.RemoveLeftover(bg, finished.Path+".part")
	require.NoError(t, err)
	assert.True(t, removed)
	assert.FileExists(t, finished.Path)

	// A copy that was cut off before it was taken in, of what was then taken in anew.
	again := l.NewRecordingPath(m.Started)
	require.NoError(t, os.WriteFile(again, b, 0o600))
	elsewhere := record(t, l.NewRecordingPath(m.Started), m)
	for path, twice := range map[string]bool{again: true, elsewhere: false} {
		removed, err = l.RemoveLeftover(bg, path)
		require.NoError(t, err)
		assert.Equal(t, twice, removed)
	}
	assert.NoFileExists(t, again)
	assert.FileExists(t, elsewhere)
	assert.FileExists(t, finished.Path)
}

// The files left by a killed backup or rebuild are reported until they are removed.
func TestUnfinishedCopiesOfTheLogbook(t *testing.T) {
	l := begin(t)
	fillSecret(t, l)
	place := t.TempDir()
	cut, whole := filepath.Join(place, "cut"), filepath.Join(place, "whole")
	require.NoError(t, l.Backup(bg, cut))
	require.NoError(t, os.Rename(cut, cut+".part"))
	rebuilding := asideName(filepath.Join(l.Dir(), database), unfinishedCopy)
	require.NoError(t, os.WriteFile(rebuilding, []byte("SECRETNOTE"), 0o600))

	state := func() BackupState {
		all, err := l.Backups()
		require.NoError(t, err)
		require.Len(t, all, 1)
		return all[0].State
	}
	assert.Equal(t, BackupUnfinished, state())
	findings, err := l.Check(bg)
	require.NoError(t, err)
	assert.Contains(t, fmt.Sprint(findings), cut+".part: a backup that was cut short, with recordings in it")
	assert.Contains(t, fmt.Sprint(findings), rebuilding+": the remains of an interrupted rebuild")

	// While a program makes a backup, no other does, and nobody is erased.
	alone, err := work(l.Dir())
	require.NoError(t, err)
	assert.Equal(t, BackupRunning, state())
	us := fmt.Sprintf("(process %d, started ", os.Getpid())
	oneLine(t, l.Backup(bg, whole), ErrLocked, "under way", us)
	_, err = l.DeleteDancer(bg, "Quicksilver-77")
	oneLine(t, err, ErrLocked, "under way", us)
	_, err = Rebuild(bg, l.Dir())
	oneLine(t, err, ErrLocked, "under way", us)
	require.NoError(t, alone.Close())

	e, err := l.DeleteDancer(bg, "Quicksilver-77")
	require.NoError(t, err)
	assert.Equal(t, []string{rebuilding}, e.Copies)
	require.Len(t, e.Backups, 1)
	assert.Equal(t, cut+".part", e.Backups[0].Path)
	assert.Contains(t, e.Backups[0].Why, "cut short")

	require.NoError(t, os.WriteFile(rebuilding, []byte("?"), 0o600))
	_, err = Rebuild(bg, l.Dir())
	assert.ErrorContains(t, err, "whole")
	assert.NoFileExists(t, rebuilding)

	require.NoError(t, l.Backup(bg, whole))
	assert.NoDirExists(t, cut+".part")
	all, err := l.Backups()
	require.NoError(t, err)
	require.Len(t, all, 1)
	assert.Equal(t, whole, all[0].Path)

	// A folder in which there is something else is not ours to remove.
	require.NoError(t, os.Rename(whole, whole+".part"))
	require.NoError(t, os.WriteFile(filepath.Join(whole+".part", "letter.txt"), nil, 0o600))
	require.NoError(t, l.Backup(bg, filepath.Join(place, "next")))
	assert.FileExists(t, filepath.Join(whole+".part", "letter.txt"))
}
