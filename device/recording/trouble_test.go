package recording_test

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device"
	"aplomb/device/recording"
)

// faultyDisk is a disk with faults.
type faultyDisk struct {
	recording.System
	room     int // bytes that still fit on it
	linkless bool
	blind    bool // nothing can be read back
	nameless bool // names cannot be synced
}

func (d *faultyDisk) SyncDir(dir string) error {
	if d.nameless {
		return &os.PathError{Op: "sync", Path: dir, Err: syscall.EIO}
	}
	return d.System.SyncDir(dir)
}

func (d *faultyDisk) Create(name string) (recording.File, error) {
	f, err := d.System.Create(name)
	if err != nil {
		return nil, err
	}
	return &poorFile{f, d, name}, nil
}

func (d *faultyDisk) Link(name, second string) error {
	if d.linkless {
		return &os.LinkError{Op: "link", Old: name, New: second, Err: syscall.EPERM}
	}
	return d.System.Link(name, second)
}

func (d *faultyDisk) Remove(name string) error {
	if info, err := os.Stat(name); err == nil {
		d.room += int(info.Size())
	}
	return d.System.Remove(name)
}

type poorFile struct {
	recording.File
	disk *faultyDisk
	name string
}

func (f *poorFile) Write(p []byte) (int, error) {
	n, err := f.File.Write(p[:min(len(p), f.disk.room)])
	f.disk.room -= n
	if err == nil && n < len(p) {
		err = &os.PathError{Op: "write", Path: f.name, Err: syscall.ENOSPC}
	}
	return n, err
}

func (f *poorFile) ReadAt(p []byte, at int64) (int, error) {
	if f.disk.blind && at > 0 {
		return 0, &os.PathError{Op: "read", Path: f.name, Err: syscall.EIO}
	}
	return f.File.ReadAt(p, at)
}

const plenty = 1 << 40

// inSeconds writes frames at their times by a fake clock until one is refused, and
// returns the number of frames written.
func inSeconds(w *recording.Writer, frames []device.Frame) (written int, err error) {
	for i := range frames {
		time.Sleep(2500 * time.Microsecond)
		if err := w.Write(&frames[i]); err != nil {
			return i, err
		}
	}
	return len(frames), nil
}

func TestFullDisk(t *testing.T) {
	frames := releves(1600, 40)
	path := tempFile(t)
	synctest.Test(t, func(t *testing.T) {
		d := &faultyDisk{room: 60_000}
		w, err := recording.CreateOn(d, path, meta(5, 8))
		require.NoError(t, err)
		n, err := inSeconds(w, frames)
		require.ErrorIs(t, err, syscall.ENOSPC)
		require.Less(t, n, len(frames))
		closed := w.Close()
		require.ErrorIs(t, closed, err, "the same said once")
		require.EqualError(t, closed, "write "+path+".part: no space left on device; what came before is in "+path+".part, which every command reads")
		require.NoFileExists(t, path)
		got, err := readAll(open(t, path+".part"))
		require.NoError(t, err)
		same(t, frames[:len(got)], got)
		assert.Greater(t, len(got), n-210, "all but the last half second")
	})
}

// For any amount of room on the disk there is one readable recording of all frames that
// fitted, and an error unless all fitted.
func TestFullDiskAnywhere(t *testing.T) {
	frames := releves(400, 40)
	whole := len(part(t, frames, 40))
	refused, unfinished, finished := 0, 0, 0
	for room := 0; room < 2*whole; room += 1777 {
		path := tempFile(t)
		synctest.Test(t, func(t *testing.T) {
			w, err := recording.CreateOn(&faultyDisk{room: room}, path, meta(5, 8))
			if err != nil {
				refused++
				require.ErrorIs(t, err, syscall.ENOSPC)
				require.NoFileExists(t, path+".part")
				return
			}
			n, err := inSeconds(w, frames)
			closed := w.Close()
			if closed == nil {
				finished++
				require.NoError(t, err)
				require.NoFileExists(t, path+".part")
				got, err := readAll(open(t, path))
				require.NoError(t, err)
				same(t, frames, got)
				return
			}
			unfinished++
			require.ErrorIs(t, closed, syscall.ENOSPC)
			require.ErrorContains(t, closed, " is in "+path+".part, which every command reads")
			oneLine(t, closed)
			require.NoFileExists(t, path)
			require.NoFileExists(t, path+".tmp")
			got, err := readAll(open(t, path+".part"))
			require.NoError(t, err)
			same(t, frames[:len(got)], got)
			require.Greater(t, len(got), n-410, "all but a second")
			if room > whole { // the disk became full while the finished file was made
				require.Len(t, got, len(frames))
			}
		})
	}
	t.Logf("%d refused at the start, %d left as .part, %d finished", refused, unfinished, finished)
	assert.Positive(t, refused)
	assert.Positive(t, unfinished)
	assert.Positive(t, finished)
}

func TestPartThatCannotBeReadBack(t *testing.T) {
	path, frames := tempFile(t), releves(1600, 40)
	w, err := recording.CreateOn(&faultyDisk{room: plenty, blind: true}, path, meta(5, 8))
	require.NoError(t, err)
	write(t, w, frames)
	err = w.Close()
	require.EqualError(t, err, "read "+path+".part: input/output error; the recording is in "+path+".part, which every command reads")
	got, err := readAll(open(t, path+".part"))
	require.NoError(t, err)
	same(t, frames, got)
	require.NoFileExists(t, path)
	require.NoFileExists(t, path+".tmp")
}

// A recording whose name cannot be synced keeps the name that has been, and the error names
// a file that is there.
func TestNameThatCannotBeSynced(t *testing.T) {
	frames := releves(40, 6)
	for _, linkless := range []bool{false, true} {
		for _, live := range []bool{false, true} {
			path := tempFile(t)
			d := &faultyDisk{room: plenty, linkless: linkless}
			create := recording.CreateDirectOn
			if live {
				create = recording.CreateOn
			}
			w, err := create(d, path, meta(1, 6))
			require.NoError(t, err)
			write(t, w, frames)
			d.nameless = true
			err = w.Close()
			require.ErrorIs(t, err, syscall.EIO)
			where := path + ".part"
			if linkless && !live {
				where = path
			}
			assert.ErrorContains(t, err, "; the recording is in "+where)
			got, err := readAll(open(t, where))
			require.NoError(t, err)
			same(t, frames, got)
		}
	}
}

// A memory stick may have no hard links.
func TestDiskWithoutHardLinks(t *testing.T) {
	path, frames := tempFile(t), releves(40, 6)
	for _, there := range []bool{false, true} {
		w, err := recording.CreateOn(&faultyDisk{room: plenty, linkless: true}, path+"x", meta(1, 6))
		require.NoError(t, err)
		write(t, w, frames)
		if there {
			require.NoError(t, os.WriteFile(path+"x", []byte("theirs"), 0o666))
			require.ErrorContains(t, w.Close(), path+"x exists")
			assert.FileExists(t, path+"x.part")
			continue
		}
		require.NoError(t, w.Close())
		got, err := readAll(open(t, path+"x"))
		require.NoError(t, err)
		same(t, frames, got)
		require.NoError(t, os.Remove(path+"x"))
	}
}

// A .part removed during the recording is reported within a second, and no frame is lost.
func TestPartRemovedDuringRecording(t *testing.T) {
	frames := releves(1600, 40)
	for name, c := range map[string]struct {
		take func(path string) error
		says string
		kept string // another file that stays beside the recording
		part string // the .part in which the recording continues
	}{
		"removed": {
			take: func(path string) error { return os.Remove(path + ".part") },
			says: "r.mcap.part was removed while it was recorded into; it has been written again and nothing is lost",
			part: "r.mcap.part",
		},
		"its folder removed": {
			take: func(path string) error { return os.RemoveAll(filepath.Dir(path)) },
			says: "r.mcap.part was removed while it was recorded into; it has been written again and nothing is lost",
			part: "r.mcap.part",
		},
		"renamed": {
			take: func(path string) error { return os.Rename(path+".part", path+".mine") },
			says: "r.mcap.part was removed while it was recorded into; it has been written again and nothing is lost",
			part: "r.mcap.part", kept: "r.mcap.mine",
		},
		"replaced": {
			take: func(path string) error {
				return errors.Join(os.Remove(path+".part"), os.WriteFile(path+".part", []byte("theirs"), 0o666))
			},
			says: "r-2.mcap.part and nothing is lost",
			part: "r-2.mcap.part", kept: "r.mcap.part",
		},
	} {
		t.Run(name, func(t *testing.T) {
			dir := filepath.Join(t.TempDir(), "fitting")
			require.NoError(t, os.Mkdir(dir, 0o777))
			path := filepath.Join(dir, "r.mcap")
			synctest.Test(t, func(t *testing.T) {
				w, err := recording.Create(path, meta(5, 8))
				require.NoError(t, err)
				_, err = inSeconds(w, frames[:500])
				require.NoError(t, err)
				require.Empty(t, w.Warnings())
				require.NoError(t, c.take(path))
				_, err = inSeconds(w, frames[500:900]) // a second
				require.NoError(t, err)
				require.Len(t, w.Warnings(), 1)
				assert.Contains(t, w.Warnings()[0], c.says)
				got, err := readAll(open(t, filepath.Join(dir, c.part)))
				require.NoError(t, err)
				require.Greater(t, len(got), 650, "it is on the disk again")
				same(t, frames[:len(got)], got)
				_, err = inSeconds(w, frames[900:])
				require.NoError(t, err)
				require.NoError(t, w.Close())
			})
			got, err := readAll(open(t, path))
			require.NoError(t, err)
			same(t, frames, got)
			want := []string{"r.mcap"}
			if c.kept != "" {
				want = append(want, c.kept)
			}
			there, err := os.ReadDir(dir)
			require.NoError(t, err)
			names := []string{}
			for _, f := range there {
				names = append(names, f.Name())
			}
			assert.ElementsMatch(t, want, names)
		})
	}
}

// The .part is removed just before the end and cannot be rewritten.
func TestPartRemovedBeforeTheEnd(t *testing.T) {
	frames := releves(400, 40)
	size := len(part(t, frames, 40))
	for _, full := range []bool{false, true} {
		path := tempFile(t)
		d := &faultyDisk{room: plenty}
		w, err := recording.CreateOn(d, path, meta(5, 8))
		require.NoError(t, err)
		write(t, w, frames)
		require.NoError(t, os.Remove(path+".part"))
		if full {
			d.room = size + 9*size/10 // enough for the finished file, but not for another .part
		}
		err = w.Close()
		if full {
			require.ErrorContains(t, err, "cannot be written again: ")
			require.ErrorContains(t, err, "what came before is in "+path)
			oneLine(t, err)
		} else {
			require.NoError(t, err)
		}
		got, err := readAll(open(t, path))
		require.NoError(t, err)
		same(t, frames, got)
	}
	path := tempFile(t)
	d := &faultyDisk{room: plenty}
	w, err := recording.CreateOn(d, path, meta(5, 8))
	require.NoError(t, err)
	require.NoError(t, os.Remove(path+".part"))
	d.room = 0
	require.ErrorContains(t, w.Close(), "the recording is lost")
}

// A crash during the naming of the finished file may leave it under two names. Another
// recording under the first name must not change it.
func TestLeftoverOfACrash(t *testing.T) {
	path, frames := tempFile(t), releves(400, 6)
	record := func() {
		w, err := recording.Create(path, meta(1, 6))
		require.NoError(t, err)
		write(t, w, frames)
		require.NoError(t, w.Close())
	}
	record()
	first, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, os.Link(path, path+".tmp"))
	require.NoError(t, os.Rename(path, path+".first"))
	frames = frames[:100]
	record()
	still, err := os.ReadFile(path + ".first")
	require.NoError(t, err)
	require.Equal(t, first, still)
	require.NoFileExists(t, path+".tmp")
}

func TestCheckPath(t *testing.T) {
	path := tempFile(t)
	require.NoError(t, recording.CheckPath(path))
	require.NoFileExists(t, path+".part")

	w, err := recording.Create(path, meta(1, 1))
	require.NoError(t, err)
	refuses := func(says string, kind error) {
		t.Helper()
		for _, err := range []error{recording.CheckPath(path), func() error { _, err := recording.Create(path, meta(1, 1)); return err }()} {
			require.ErrorContains(t, err, says)
			require.ErrorIs(t, err, kind)
			oneLine(t, err)
		}
	}
	refuses(fmt.Sprintf("r.mcap.part exists: another aplomb is recording into it (process %d, started 20", os.Getpid()), recording.ErrInUse)
	by := recording.WrittenBy(path + ".part")
	require.NotNil(t, by)
	require.WithinRange(t, by.Since, by.Started, time.Now())
	left, err := os.ReadFile(path + ".part")
	require.NoError(t, err)
	require.NoError(t, w.Close())
	require.Nil(t, recording.WrittenBy(path))
	refuses("r.mcap exists: move it away or choose another name", recording.ErrExists)
	require.NoError(t, os.Rename(path, path+".2"))
	require.NoError(t, os.WriteFile(path+".part", left, 0o666))
	refuses("r.mcap.part exists: a recording that was cut short, which every command reads; move it to a name of its own or choose another", recording.ErrExists)

	path = filepath.Join(path+".2", "r.mcap")
	refuses("not a directory", syscall.ENOTDIR)
	path = filepath.Join(filepath.Dir(filepath.Dir(path)), "none", "r.mcap")
	refuses("no such file or directory", os.ErrNotExist)
}

// slowDisk is a disk on which every sync takes some time.
type slowDisk struct{ recording.System }

type slowFile struct{ recording.File }

func (slowDisk) Create(name string) (recording.File, error) {
	f, err := recording.System{}.Create(name)
	return slowFile{f}, err
}

func (f slowFile) Sync() error {
	time.Sleep(300 * time.Millisecond)
	return f.File.Sync()
}

// Frames written just after the start of a sync wait for the next one.
func TestLongestUnsynced(t *testing.T) {
	frames := releves(1600, 40)
	path := tempFile(t)
	synctest.Test(t, func(t *testing.T) {
		w, err := recording.CreateOn(slowDisk{}, path, meta(5, 8))
		require.NoError(t, err)
		assert.Zero(t, w.LongestUnsynced())
		_, err = inSeconds(w, frames)
		require.NoError(t, err)
		assert.InDelta(t, 0.8, w.LongestUnsynced().Seconds(), 0.005)
		require.NoError(t, w.Close())
		assert.InDelta(t, 0.8, w.LongestUnsynced().Seconds(), 0.005)
	})
}
