//go:build unix

package pipe_test

import (
	"context"
	"io"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device/internal/pipe"
)

func TestAPipeWithoutAWriterEndsWithTheContext(t *testing.T) {
	path := filepath.Join(t.TempDir(), "pipe")
	require.NoError(t, syscall.Mkfifo(path, 0o600))
	ctx, stop := context.WithCancel(t.Context())
	r, err := pipe.Open(ctx, path)
	require.NoError(t, err)
	defer r.Close()
	stop()
	_, err = io.ReadAll(r)
	assert.ErrorIs(t, err, context.Canceled)

	// A writer lets the goroutine that opens the pipe end.
	w, err := os.OpenFile(path, os.O_WRONLY, 0)
	require.NoError(t, err)
	w.Close()
}

func TestAPipeThatStaysOpenEndsWithTheContext(t *testing.T) {
	path := filepath.Join(t.TempDir(), "pipe")
	require.NoError(t, syscall.Mkfifo(path, 0o600))
	ctx, stop := context.WithCancel(t.Context())
	r, err := pipe.Open(ctx, path)
	require.NoError(t, err)
	defer r.Close()
	w, err := os.OpenFile(path, os.O_WRONLY, 0)
	require.NoError(t, err)
	defer w.Close()
	_, err = w.WriteString("abc")
	require.NoError(t, err)
	three := make([]byte, 3)
	_, err = io.ReadFull(r, three)
	require.NoError(t, err)
	assert.Equal(t, "abc", string(three))
	stop()
	_, err = r.Read(three)
	assert.ErrorIs(t, err, context.Canceled)
}

func TestAPipeIsReadToItsEnd(t *testing.T) {
	path := filepath.Join(t.TempDir(), "pipe")
	require.NoError(t, syscall.Mkfifo(path, 0o600))
	go func() { os.WriteFile(path, []byte("all of it"), 0) }()
	all, err := pipe.ReadFile(t.Context(), path)
	require.NoError(t, err)
	assert.Equal(t, "all of it", string(all))
}

func TestFilesAreReadAsPackageOsReadsThem(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "file")
	require.NoError(t, os.WriteFile(path, []byte("all of it"), 0o600))
	all, err := pipe.ReadFile(t.Context(), path)
	require.NoError(t, err)
	assert.Equal(t, "all of it", string(all))

	for _, path := range []string{dir, filepath.Join(dir, "missing")} {
		_, want := os.ReadFile(path)
		_, err = pipe.ReadFile(t.Context(), path)
		assert.EqualError(t, err, want.Error())
	}

	ctx, stop := context.WithCancel(t.Context())
	r, err := pipe.Open(ctx, path)
	require.NoError(t, err)
	defer r.Close()
	stop()
	_, err = r.Read(make([]byte, 1))
	assert.ErrorIs(t, err, context.Canceled)
	_, err = pipe.Open(ctx, path)
	assert.ErrorIs(t, err, context.Canceled)
}
