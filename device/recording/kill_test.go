//go:build unix

package recording_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"sync/atomic"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device/recording"
)

// killingDisk is a disk that kills its process (SIGKILL) in place of its nth operation. The disk
// does not change between two operations, so this covers all times.
type killingDisk struct {
	recording.System
	left atomic.Int64
}

func (k *killingDisk) count() {
	if k.left.Add(-1) == 0 {
		syscall.Kill(os.Getpid(), syscall.SIGKILL)
		select {}
	}
}

func (k *killingDisk) Create(name string) (recording.File, error) {
	k.count()
	f, err := k.System.Create(name)
	return &killerFile{f, k}, err
}

func (k *killingDisk) Link(name, second string) error { k.count(); return k.System.Link(name, second) }
func (k *killingDisk) Remove(name string) error       { k.count(); return k.System.Remove(name) }
func (k *killingDisk) SyncDir(dir string) error       { k.count(); return k.System.SyncDir(dir) }

type killerFile struct {
	recording.File
	k *killingDisk
}

func (f *killerFile) Write(p []byte) (int, error) { f.k.count(); return f.File.Write(p) }
func (f *killerFile) Sync() error                 { f.k.count(); return f.File.Sync() }

// A process is killed before every operation of a recording that is shorter than the
// interval between two syncs, and before every operation of finishing the file.
func TestKilled(t *testing.T) {
	const into, after = "APLOMB_TEST_KILLED_INTO", "APLOMB_TEST_KILLED_AFTER"
	frames := releves(1000, 40)
	if path := os.Getenv(into); path != "" { // this is the process to be killed
		n, err := strconv.Atoi(os.Getenv(after))
		require.NoError(t, err)
		k := new(killingDisk)
		k.left.Store(int64(n))
		w, err := recording.CreateOn(k, path, meta(5, 8))
		require.NoError(t, err)
		write(t, w, frames)
		require.NoError(t, w.Close())
		return
	}
	scratch := t.TempDir()
	began, part, both, finished := 0, 0, 0, 0
	for n := 1; finished == 0; n++ {
		require.Less(t, n, 40, "it does not come to an end")
		path := tempFile(t)
		cmd := exec.Command(os.Args[0], "-test.run=^TestKilled$")
		cmd.Env = append(os.Environ(), into+"="+path, after+"="+strconv.Itoa(n))
		out, err := cmd.CombinedOutput()
		if !cmd.ProcessState.Sys().(syscall.WaitStatus).Signaled() {
			require.NoError(t, err, "%s", out)
			finished++
		}
		files := map[string][]byte{}
		entries, err := os.ReadDir(filepath.Dir(path))
		require.NoError(t, err)
		for _, e := range entries {
			at := filepath.Join(filepath.Dir(path), e.Name())
			files[at], err = os.ReadFile(at)
			require.NoError(t, err)
		}
		if len(files) == 0 || len(files[path+".part"]) == 0 && files[path] == nil {
			began++ // the recording had not begun
			continue
		}
		got := readAfterCrash(t, scratch, path, files, frames)
		switch {
		case files[path] == nil:
			part++
			assert.ErrorContains(t, recording.CheckPath(path), "a recording that was cut short", "its lock has gone with it")
			if files[path+".tmp"] != nil {
				assert.Len(t, frames, got, "all of it is on the disk before it is rewritten")
			}
		case files[path+".part"] != nil:
			both++
		}
	}
	t.Logf("killed at %d instants: %d before the recording began, %d left the .part, %d both, then it was finished", began+part+both, began, part, both)
	assert.LessOrEqual(t, began, 2)
	assert.Positive(t, both)
}
