//go:build unix

package logbook

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Modes do not bind root, so as root another user tries.
func TestReadOnlyLogbookSaysSo(t *testing.T) {
	l := begin(t)
	visit(t, l, "D7")
	require.NoError(t, l.Close())
	before := files(t, l.Dir())
	program := filepath.Join(t.TempDir(), "other")
	binary, err := os.ReadFile(os.Args[0])
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(program, binary, 0o755))
	for _, path := range []string{program, l.Dir()} { // others may pass
		for dir := filepath.Dir(path); dir != os.TempDir() && dir != "/"; dir = filepath.Dir(dir) {
			require.NoError(t, os.Chmod(dir, 0o755))
		}
	}
	require.NoError(t, os.Chmod(filepath.Join(l.Dir(), database), 0o444))
	for _, dir := range []string{filepath.Join(l.Dir(), recordings), l.Dir()} {
		require.NoError(t, os.Chmod(dir, 0o555))
		defer os.Chmod(dir, 0o755)
	}
	cmd := exec.CommandContext(t.Context(), program, l.Dir())
	cmd.Env = append(os.Environ(), task+"=visits")
	cmd.Dir = "/"
	if os.Geteuid() == 0 {
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
	}
	out, err := cmd.CombinedOutput()
	assert.Error(t, err)
	assert.Contains(t, string(out), l.Dir()+": cannot be written")
	assert.Contains(t, string(out), "make the folder writable, or use a copy of it")
	assert.Equal(t, 1, strings.Count(string(out), "\n"))
	unchanged(t, before, files(t, l.Dir()))
}
