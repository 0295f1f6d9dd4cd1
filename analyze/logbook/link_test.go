package logbook

import (
	"os"
	"path/filepath"
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A database that is a symbolic link is used where it is. Where it cannot be reached
// nothing is made in its place, neither a new logbook nor a rebuilt one.
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
