package logbook

import (
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device/correction"
)

// inSmallDisks is set in the process in which TestFullDisk may mount disks of its own.
const inSmallDisks = "LOGBOOK_TEST_SMALL_DISKS"

// TestFullDisk runs itself again in a process with its own mounts, see
// user_namespaces(7), with a small disk in memory for each case.
func TestFullDisk(t *testing.T) {
	if os.Getenv(inSmallDisks) != "" {
		t.Run("rebuild", rebuildOnFullDisk)
		t.Run("read", readOnFullDisk)
		t.Run("erase", eraseOnFullDisk)
		t.Run("relabel", relabelOnFullDisk)
		return
	}
	inside := exec.Command(os.Args[0], "-test.run=^TestFullDisk$", "-test.v")
	inside.Env = append(os.Environ(), inSmallDisks+"=1")
	inside.SysProcAttr = &syscall.SysProcAttr{
		Cloneflags:  syscall.CLONE_NEWUSER | syscall.CLONE_NEWNS,
		UidMappings: []syscall.SysProcIDMap{{ContainerID: 0, HostID: os.Getuid(), Size: 1}},
		GidMappings: []syscall.SysProcIDMap{{ContainerID: 0, HostID: os.Getgid(), Size: 1}},
	}
	out, err := inside.CombinedOutput()
	if ran := new(exec.ExitError); err != nil && !errors.As(err, &ran) || strings.Contains(string(out), noMount) {
		t.Skipf("no mounts of one's own on this system: %v", err)
	}
	assert.NoError(t, err, "%s", out)
}

const noMount = "no disk can be mounted"

// onSmallDisk copies a logbook to a small disk on which fill leaves a number of bytes
// free and free frees the rest.
func onSmallDisk(t *testing.T, from string) (dir string, fill func(room int64), free func()) {
	t.Helper()
	disk := t.TempDir()
	if err := syscall.Mount("none", disk, "tmpfs", 0, "size=4m"); err != nil {
		t.Skip(noMount, err)
	}
	t.Cleanup(func() { assert.NoError(t, syscall.Unmount(disk, 0)) })
	dir, filler := filepath.Join(disk, "book"), filepath.Join(disk, "filler")
	require.NoError(t, os.CopyFS(dir, os.DirFS(from)))
	fill = func(room int64) {
		var at syscall.Statfs_t
		require.NoError(t, syscall.Statfs(disk, &at))
		require.NoError(t, os.WriteFile(filler, make([]byte, int64(at.Bavail)*at.Bsize-room), 0o600))
	}
	return dir, fill, func() { require.NoError(t, os.Remove(filler)) }
}

// closedBook returns the folder of a closed logbook with three recordings of D7 and
// the dancer D8.
func closedBook(t *testing.T) string {
	l := begin(t)
	keepThree(t, l, visit(t, l, "D7"))
	visit(t, l, "D8")
	require.NoError(t, l.Close())
	return l.Dir()
}

// rebuildOnFullDisk checks that a rebuild ends with a logbook of all recordings, or with
// an error and no logbook.
func rebuildOnFullDisk(t *testing.T) {
	from := closedBook(t)
	require.NoError(t, os.Remove(filepath.Join(from, database)))
	refused, done := 0, 0
	for room := int64(64 << 10); room < 800<<10; room += 64 << 10 {
		dir, fill, free := onSmallDisk(t, from)
		fill(room)
		_, err := Rebuild(bg, dir)
		free()
		copies, e := asideCopies(dir)
		require.NoError(t, e)
		assert.Empty(t, copies, "room %d", room)
		if err != nil {
			refused++
			oneLine(t, err, ErrFull, dir, "make room")
			_, err = Rebuild(bg, dir)
			require.NoError(t, err)
		} else {
			done++
		}
		l, err := Open(dir)
		require.NoError(t, err, "room %d", room)
		all, err := l.Recordings(Filter{})
		require.NoError(t, err)
		assert.Len(t, all, 3)
		require.NoError(t, l.Close())
	}
	assert.Positive(t, refused)
	assert.Positive(t, done)
}

// readOnFullDisk checks that reading works on a full disk and that changes report that
// room is needed.
func readOnFullDisk(t *testing.T) {
	dir, fill, free := onSmallDisk(t, closedBook(t))
	fill(0)
	l, err := Open(dir)
	require.NoError(t, err)
	all, err := l.Recordings(Filter{})
	require.NoError(t, err)
	assert.Len(t, all, 3)
	oneLine(t, l.AddDancer(Dancer{Code: "D9"}), ErrFull, dir, "make room")
	require.NoError(t, l.Close())
	free()
	l, err = Open(dir)
	require.NoError(t, err)
	assert.NoError(t, l.AddDancer(Dancer{Code: "D9"}))
	require.NoError(t, l.Close())
}

// eraseOnFullDisk checks that an erasure that cannot be completed reports it, and is
// completed once there is room.
func eraseOnFullDisk(t *testing.T) {
	dir, fill, free := onSmallDisk(t, closedBook(t))
	l, err := Open(dir)
	require.NoError(t, err)
	fill(100 << 10)
	_, err = l.DeleteDancer(bg, "D8")
	oneLine(t, err, ErrTraces, dir, "dancer D8 is deleted", "make room")
	assert.NotContains(t, err.Error(), "nothing was changed")
	require.NoError(t, l.Close())
	l, err = Open(dir)
	require.NoError(t, err)
	_, err = l.Dancer("D8")
	assert.ErrorIs(t, err, ErrNotFound)
	require.NoError(t, l.Close())
	free()
	l, err = Open(dir)
	require.NoError(t, err)
	require.NoError(t, l.Writable())
	require.NoError(t, l.Close())
	for name, content := range files(t, dir) {
		assert.NotContains(t, content, "D8", name)
	}
}

// relabelOnFullDisk checks that no correction stays beside the recording if the database
// cannot store it.
func relabelOnFullDisk(t *testing.T) {
	dir, fill, _ := onSmallDisk(t, closedBook(t))
	l, err := Open(dir)
	require.NoError(t, err)
	fill(8 << 10)
	floor := "stage"
	_, err = l.Relabel(bg, 1, 0, correction.Entry{Floor: &floor})
	oneLine(t, err, ErrFull, dir)
	require.NoError(t, l.Close())
	left, err := filepath.Glob(filepath.Join(dir, recordings, "*correction*"))
	require.NoError(t, err)
	assert.Empty(t, left)
}
