package lock

import (
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The name of a program may contain what separates it from the fields behind it
// (proc_pid_stat(5)).
func TestStartOfProgramOfAnyName(t *testing.T) {
	sleep, err := exec.LookPath("sleep")
	require.NoError(t, err)
	path := filepath.Join(t.TempDir(), "a) b (c")
	require.NoError(t, os.Symlink(sleep, path))
	cmd := exec.Command(path, "60")
	began := time.Now()
	require.NoError(t, cmd.Start())
	defer cmd.Wait()
	defer cmd.Process.Kill()
	// btime has whole seconds
	assert.WithinRange(t, startOf(cmd.Process.Pid), began.Add(-2*time.Second), time.Now().Add(2*time.Second))
}
