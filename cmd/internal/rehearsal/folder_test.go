package rehearsal_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/cmd/internal/rehearsal"
)

// A killed rehearsal leaves its folder, with a lock held by no process. The next
// rehearsal removes it, and keeps the folder of a running one.
func TestAbandonedFolderIsRemoved(t *testing.T) {
	temp := t.TempDir()
	t.Setenv("TMPDIR", temp)
	t.Setenv("TMP", temp) // Windows
	killed := filepath.Join(temp, "aplomb-rehearsal-1")
	other := filepath.Join(temp, "aplomb-rehearsal-notes")
	for _, dir := range []string{killed, other} {
		require.NoError(t, os.MkdirAll(filepath.Join(dir, "logbook"), 0o700))
	}
	require.NoError(t, os.WriteFile(filepath.Join(killed, "rehearsal.lock"), nil, 0o600))

	one, removeOne, err := rehearsal.Folder()
	require.NoError(t, err)
	assert.NoDirExists(t, killed)
	assert.DirExists(t, other, "not made by a rehearsal")
	two, removeTwo, err := rehearsal.Folder()
	require.NoError(t, err)
	assert.DirExists(t, one, "in use")
	require.NoError(t, removeOne())
	require.NoError(t, removeTwo())
	assert.NoDirExists(t, one)
	assert.NoDirExists(t, two)
}
