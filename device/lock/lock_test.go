package lock_test

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device/lock"
)

// taking is the path of the lock that this program is to take as the other program.
const taking = "APLOMB_TEST_TAKE"

func TestMain(m *testing.M) {
	if path := os.Getenv(taking); path != "" {
		_, err := lock.Take(path)
		fmt.Println(err)
		io.ReadAll(os.Stdin)
		os.Exit(0)
	}
	os.Exit(m.Run())
}

func TestTakenLockSaysWhoHasIt(t *testing.T) {
	path := filepath.Join(t.TempDir(), "x.lock")
	assert.False(t, lock.Held(path))
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), taking+"="+path)
	stdin, err := cmd.StdinPipe()
	require.NoError(t, err)
	defer stdin.Close()
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	began := time.Now().Add(-time.Second) // the note has whole seconds
	require.NoError(t, cmd.Start())
	said, err := bufio.NewReader(out).ReadString('\n')
	require.NoError(t, err)
	require.Equal(t, "<nil>\n", said)

	var held *lock.HeldError
	_, err = lock.Take(path)
	require.ErrorAs(t, err, &held)
	assert.Equal(t, cmd.Process.Pid, held.Holder.PID)
	assert.WithinRange(t, held.Holder.Started, began, time.Now())
	assert.WithinRange(t, held.Holder.Since, held.Holder.Started, time.Now())
	assert.Regexp(t, `x\.lock is in use by process \d+, started \d{4}-\d\d-\d\d \d\d:\d\d:\d\d, since \d{4}-\d\d-\d\d \d\d:\d\d:\d\d$`, err.Error())
	assert.True(t, lock.Held(path))

	// Killed, it leaves the file and no lock.
	require.NoError(t, cmd.Process.Kill())
	cmd.Wait()
	assert.FileExists(t, path)
	assert.False(t, lock.Held(path))
	l, err := lock.Take(path)
	require.NoError(t, err)
	require.NoError(t, l.Close())
	assert.NoFileExists(t, path)
}

func TestFolderIsNobodyElses(t *testing.T) {
	base := t.TempDir()
	t.Setenv("XDG_RUNTIME_DIR", base)
	t.Setenv("HOME", t.TempDir())
	dir, err := lock.Folder()
	require.NoError(t, err)
	assert.Equal(t, filepath.Join(base, "aplomb"), dir)
	info, err := os.Stat(dir)
	require.NoError(t, err)
	assert.Zero(t, info.Mode().Perm()&0o077)

	// Where others can write, nothing is put.
	require.NoError(t, os.Chmod(base, 0o777))
	dir, err = lock.Folder()
	require.NoError(t, err)
	assert.NotContains(t, dir, base)
}

// Take refuses a path that is not a regular file at once and does not change it.
func TestTakeRefusesWhatIsNoFile(t *testing.T) {
	dir := t.TempDir()
	other, path := filepath.Join(dir, "other"), filepath.Join(dir, "x.lock")
	require.NoError(t, os.WriteFile(other, []byte("stays"), 0o600))
	require.NoError(t, os.Mkdir(path, 0o700))
	_, err := lock.Take(path)
	assert.ErrorContains(t, err, "x.lock: not a file: remove it")
	require.NoError(t, os.Remove(path))
	if err := os.Symlink(other, path); err != nil {
		t.Skip("no symbolic links here:", err)
	}
	_, err = lock.Take(path)
	assert.ErrorContains(t, err, "x.lock: not a file: remove it")
	content, err := os.ReadFile(other)
	require.NoError(t, err)
	assert.Equal(t, "stays", string(content))
}
