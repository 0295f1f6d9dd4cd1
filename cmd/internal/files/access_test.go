package files_test

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/cmd/internal/files"
)

func text(s string) func(io.Writer) error {
	return func(w io.Writer) error { _, err := io.WriteString(w, s); return err }
}

// If writing fails, the existing file stays unchanged, and nothing is left behind.
func TestFailedWrite(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.html")
	require.NoError(t, files.Access{}.Write(path, text("one")))
	full := errors.New("no space")
	err := files.Access{}.Write(path, func(w io.Writer) error { return errors.Join(text("tw")(w), full) })
	assert.ErrorIs(t, err, full)
	held, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, "one", string(held))
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Len(t, entries, 1)

	nowhere := filepath.Join(dir, "none", "a.html")
	err = files.Access{}.Write(nowhere, text("one"))
	assert.ErrorIs(t, err, fs.ErrNotExist)
	assert.ErrorContains(t, err, nowhere+":", "not the temporary file's name")
}

// Without Shared only the owner can read the new file, also if it replaces a file that
// others could read; with Shared the mode is the system's default.
func TestWhoCanRead(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("modes mean nothing there")
	}
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	mode := func(name string) fs.FileMode {
		info, err := os.Lstat(at(name))
		require.NoError(t, err)
		return info.Mode()
	}
	require.NoError(t, os.WriteFile(at("plain"), nil, 0o666))
	require.NoError(t, os.Mkdir(at("plain folder"), 0o777))

	own, shared := files.Access{}, files.Access{Shared: true}
	require.NoError(t, os.WriteFile(at("own"), nil, 0o666))
	require.NoError(t, own.Write(at("own"), text("one")))
	assert.Equal(t, fs.FileMode(0o600), mode("own"))
	require.NoError(t, own.MkdirAll(at("a/b")))
	assert.Equal(t, fs.ModeDir|0o700, mode("a"))
	assert.Equal(t, fs.ModeDir|0o700, mode("a/b"))
	require.NoError(t, own.Apply(at("own")))
	assert.Equal(t, fs.FileMode(0o600), mode("own"))

	require.NoError(t, shared.Apply(at("own")))
	assert.Equal(t, mode("plain"), mode("own"))
	require.NoError(t, shared.Write(at("shared"), text("one")))
	assert.Equal(t, mode("plain"), mode("shared"))
	require.NoError(t, shared.MkdirAll(at("c")))
	assert.Equal(t, mode("plain folder"), mode("c"))
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Len(t, entries, 6, "nothing is left of finding the mode out")
}

// A written file is a new one: a symbolic link is replaced and not followed.
func TestLinkIsReplaced(t *testing.T) {
	dir := t.TempDir()
	theirs, path := filepath.Join(dir, "theirs"), filepath.Join(dir, "a.html")
	require.NoError(t, os.WriteFile(theirs, []byte("theirs"), 0o666))
	for _, link := range []string{path, path + ".part"} {
		require.NoError(t, os.Symlink(theirs, link))
	}
	require.NoError(t, files.Access{}.Write(path, text("ours")))
	held, err := os.ReadFile(theirs)
	require.NoError(t, err)
	assert.Equal(t, "theirs", string(held))
	info, err := os.Lstat(path)
	require.NoError(t, err)
	assert.True(t, info.Mode().IsRegular())
}
