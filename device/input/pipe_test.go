//go:build unix

package input_test

import (
	"context"
	"fmt"
	"io"
	"net"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device/input"
)

func TestAPipeWithoutAWriterEndsWithTheContext(t *testing.T) {
	path := filepath.Join(t.TempDir(), "pipe")
	require.NoError(t, syscall.Mkfifo(path, 0o600))
	ctx, stop := context.WithCancel(t.Context())
	r, err := input.OpenStream(ctx, path)
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
	r, err := input.OpenStream(ctx, path)
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
	r, err := input.OpenStream(t.Context(), path)
	require.NoError(t, err)
	defer r.Close()
	all, err := io.ReadAll(r)
	require.NoError(t, err)
	assert.Equal(t, "all of it", string(all))
}

func TestFilesAreReadAsPackageOsReadsThem(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "file")
	require.NoError(t, os.WriteFile(path, []byte("all of it"), 0o600))
	all, err := input.ReadFile(t.Context(), path, 9)
	require.NoError(t, err)
	assert.Equal(t, "all of it", string(all))

	missing := filepath.Join(dir, "missing")
	_, want := os.ReadFile(missing)
	_, err = input.ReadFile(t.Context(), missing, 9)
	assert.EqualError(t, err, want.Error())

	ctx, stop := context.WithCancel(t.Context())
	r, err := input.OpenStream(ctx, path)
	require.NoError(t, err)
	defer r.Close()
	stop()
	_, err = r.Read(make([]byte, 1))
	assert.ErrorIs(t, err, context.Canceled)
	_, err = input.OpenStream(ctx, path)
	assert.ErrorIs(t, err, context.Canceled)
}

func TestAFileIsReadUpToItsLimit(t *testing.T) {
	path := filepath.Join(t.TempDir(), "file")
	require.NoError(t, os.WriteFile(path, make([]byte, 2049), 0o600))
	_, err := input.ReadFile(t.Context(), path, 2048)
	assert.EqualError(t, err, path+": more than 2 KiB: is it the right file?")

	endless := filepath.Join(t.TempDir(), "endless")
	require.NoError(t, os.Symlink("/dev/zero", endless))
	_, err = input.ReadFile(t.Context(), endless, 2048)
	assert.EqualError(t, err, endless+": a device: name a file")
}

// A shell opens the pipes of <(...) and of a pipe into /dev/stdin for the process.
func TestAPipeOfTheShellIsReadUpToItsLimit(t *testing.T) {
	r, w, err := os.Pipe()
	require.NoError(t, err)
	defer r.Close()
	_, err = w.WriteString("all of it")
	require.NoError(t, err)
	require.NoError(t, w.Close())
	all, err := input.ReadFile(t.Context(), fmt.Sprintf("/dev/fd/%d", r.Fd()), 9)
	require.NoError(t, err)
	assert.Equal(t, "all of it", string(all))
}

func TestOnlyRegularFilesAreOpened(t *testing.T) {
	dir := t.TempDir()
	pipe, socket := filepath.Join(dir, "pipe"), filepath.Join(dir, "s")
	require.NoError(t, syscall.Mkfifo(pipe, 0o600))
	listener, err := net.Listen("unix", socket)
	require.NoError(t, err)
	defer listener.Close()
	for path, kind := range map[string]string{
		dir: "a folder", pipe: "a pipe", socket: "a socket", os.DevNull: "a device",
	} {
		_, err := input.Open(path)
		var wrong *input.KindError
		require.ErrorAs(t, err, &wrong)
		assert.Equal(t, kind, wrong.Kind)
		if path == pipe {
			continue
		}
		_, err = input.OpenStream(t.Context(), path)
		assert.EqualError(t, err, path+": "+kind+": name a file")
	}
}

func TestAFileOfHolesIsRefused(t *testing.T) {
	path := filepath.Join(t.TempDir(), "sparse")
	file, err := os.Create(path)
	require.NoError(t, err)
	defer file.Close()
	_, err = file.WriteString("begins as a file does")
	require.NoError(t, err)
	require.NoError(t, file.Truncate(input.MaxHoles)) // what a power cut leaves
	opened, err := input.Open(path)
	require.NoError(t, err)
	opened.Close()

	require.NoError(t, file.Truncate(1<<40))
	_, err = file.WriteAt([]byte("and ends"), 1<<40)
	require.NoError(t, err)
	_, err = input.Open(path)
	assert.EqualError(t, err, path+": 1099511627784 bytes, most of which were never written: copy the file again")
}

// FuzzReadFile reads files of any length with any limit. It never returns more bytes than
// the limit, and loses none without an error.
func FuzzReadFile(f *testing.F) {
	f.Add([]byte("abc"), uint8(3))
	f.Add([]byte("abc"), uint8(2))
	f.Add([]byte{}, uint8(0))
	path := filepath.Join(f.TempDir(), "file")
	f.Fuzz(func(t *testing.T, data []byte, limit uint8) {
		require.NoError(t, os.WriteFile(path, data, 0o600))
		got, err := input.ReadFile(t.Context(), path, int64(limit))
		if len(data) > int(limit) {
			require.Error(t, err)
			require.Empty(t, got)
			return
		}
		require.NoError(t, err)
		require.Equal(t, string(data), string(got))
	})
}
