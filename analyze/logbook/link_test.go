package logbook

import (
	"os"
	"path/filepath"
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A database that is a symbolic link is used at its target. If the target cannot be
// reached, neither a new logbook nor a rebuilt one replaces it.
func TestDatabaseThatIsALink(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("a symbolic link takes a privilege there")
	}
	l := begin(t)
	keep(t, l, visit(t, l, "D7"), about("D7", "", shoe("A")))
	require.NoError(t, l.Close())
	dir, path := l.Dir(), filepath.Join(l.Dir(), database)
	assert.Empty(t, DatabaseLink(dir))

	there := filepath.Join(t.TempDir(), "elsewhere.sqlite")
	require.NoError(t, os.Rename(path, there))
	require.NoError(t, os.Symlink(there, path))
	assert.Equal(t, there, DatabaseLink(dir))
	l, err := Open(dir)
	require.NoError(t, err)
	all, err := l.Recordings(Filter{})
	require.NoError(t, err)
	assert.Len(t, all, 1)
	require.NoError(t, l.Close())

	require.NoError(t, os.Rename(there, there+".away"))
	says := "is a symbolic link to " + there + ", which cannot be reached"
	_, err = Open(dir)
	require.ErrorContains(t, err, says)
	_, err = Rebuild(bg, dir)
	require.ErrorContains(t, err, says)
	require.NoError(t, os.RemoveAll(filepath.Join(dir, recordings)))
	_, err = Open(dir)
	require.ErrorContains(t, err, says)
	assert.NoFileExists(t, there)
}

// A recording that is a symbolic link is reported: no backup contains it, and it stays
// when its dancer is erased.
func TestLinkedRecordingIsReported(t *testing.T) {
	l := begin(t)
	kept := keepThree(t, l, visit(t, l, "D7"))
	elsewhere := filepath.Join(t.TempDir(), "elsewhere.mcap")
	require.NoError(t, os.Rename(kept[1].Path, elsewhere))
	if err := os.Symlink(elsewhere, kept[1].Path); err != nil {
		t.Skip("no symbolic links here:", err)
	}
	findings, err := l.Check(bg)
	require.NoError(t, err)
	require.Len(t, findings, 1)
	assert.Contains(t, findings[0].String(), "a symbolic link to "+elsewhere)

	backup := filepath.Join(t.TempDir(), "backup")
	require.NoError(t, l.Backup(bg, backup))
	absent, err := l.NotIn(backup)
	require.NoError(t, err)
	require.Len(t, absent, 1)
	assert.Equal(t, kept[1].ID, absent[0].ID)

	e, err := l.DeleteDancer(bg, "D7")
	require.NoError(t, err)
	assert.Equal(t, []string{elsewhere}, e.Elsewhere)
	assert.FileExists(t, elsewhere)
}

// A symbolic link in the folder of recordings is refused as a recording, and the file that
// it leads to keeps its mode.
func TestLinkIsNoNewRecording(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("modes mean nothing there")
	}
	l := begin(t)
	v := visit(t, l, "D7")
	elsewhere := record(t, filepath.Join(t.TempDir(), "elsewhere.mcap"), about("D7", "", shoe("A")))
	require.NoError(t, os.Chmod(elsewhere, 0o644))
	link := l.NewRecordingPath(about("D7", "", shoe("A")).Started)
	require.NoError(t, os.Symlink(elsewhere, link))
	_, err := l.AddRecording(bg, link, v.ID)
	require.ErrorContains(t, err, "not a file")
	info, err := os.Stat(elsewhere)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o644), info.Mode())
}
