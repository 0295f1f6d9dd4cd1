package recording_test

import (
	"bytes"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/foxglove/mcap/go/mcap"
	"github.com/stretchr/testify/require"

	"aplomb/device"
	"aplomb/device/recording"
)

// A power cut leaves what POSIX allows. What was synced stays. Of what was written since, the
// length may have reached the disk or not, and any page of 4 KiB within it, or any sector of
// 512 bytes, may read as zeros. Names given or removed since their folder was synced may be
// there or not, each independently. (Our model, after fsync(2) and Pillai et al., All File
// Systems Are Not Created Equal, OSDI 2014, 433-448.)

// loggingDisk is a disk without faults that logs every operation. A sync takes some time, in
// which frames are written.
type loggingDisk struct {
	recording.System
	slow func() time.Duration

	mu      sync.Mutex
	content [][]byte // by file
	ops     []op
}

// op is a completed operation on a disk.
type op struct {
	at    time.Time
	what  string // create, write, sync, link, remove, folder
	file  int    // of create, write, sync
	name  string // of create, link, remove
	from  string // of link
	bytes int    // of write and sync: the length of the file up to which it takes effect
}

func (d *loggingDisk) note(o op) {
	d.mu.Lock()
	defer d.mu.Unlock()
	o.at = time.Now()
	d.ops = append(d.ops, o)
}

func (d *loggingDisk) Create(name string) (recording.File, error) {
	f, err := d.System.Create(name)
	if err != nil {
		return nil, err
	}
	d.mu.Lock()
	d.content = append(d.content, nil)
	n := len(d.content) - 1
	d.mu.Unlock()
	d.note(op{what: "create", file: n, name: name})
	return &diaryFile{f, d, n}, nil
}

func (d *loggingDisk) Link(name, second string) error {
	err := d.System.Link(name, second)
	d.note(op{what: "link", name: second, from: name})
	return err
}

func (d *loggingDisk) Remove(name string) error {
	err := d.System.Remove(name)
	d.note(op{what: "remove", name: name})
	return err
}

func (d *loggingDisk) SyncDir(string) error {
	d.note(op{what: "folder"})
	return nil
}

type diaryFile struct {
	recording.File
	diary *loggingDisk
	n     int
}

func (f *diaryFile) Write(p []byte) (int, error) {
	f.diary.mu.Lock()
	c := &f.diary.content[f.n]
	*c = append(*c, p...)
	size := len(*c)
	f.diary.mu.Unlock()
	f.diary.note(op{what: "write", file: f.n, bytes: size})
	return f.File.Write(p)
}

func (f *diaryFile) Sync() error {
	f.diary.mu.Lock()
	size := len(f.diary.content[f.n]) // what is written during the sync is not part of it
	f.diary.mu.Unlock()
	time.Sleep(f.diary.slow())
	f.diary.note(op{what: "sync", file: f.n, bytes: size})
	return nil
}

// crash returns the files that a power cut after the first ops leaves, by name. draw decides
// which of the other operations reached the disk.
func (d *loggingDisk) crash(done int, draw *rand.Rand) map[string][]byte {
	written, synced := map[int]int{}, d.synced(done)
	sure := map[string]int{} // the file that each name certainly has
	var pending []op
	apply := func(names map[string]int, o op) {
		switch o.what {
		case "create":
			names[o.name] = o.file
		case "link":
			if n, ok := names[o.from]; ok {
				names[o.name] = n
			}
		case "remove":
			delete(names, o.name)
		}
	}
	all := map[string]int{}
	for _, o := range d.ops[:done] {
		switch o.what {
		case "write":
			written[o.file] = o.bytes
		case "sync":
		case "folder":
			sure, pending = maps.Clone(all), nil
		case "link":
			// The second name may be there although the first one was lost.
			o.file = all[o.from]
			apply(all, o)
			pending = append(pending, op{what: "create", file: o.file, name: o.name})
		default:
			apply(all, o)
			pending = append(pending, o)
		}
	}
	for _, o := range pending {
		if draw.IntN(2) == 0 {
			apply(sure, o)
		}
	}
	zero, page := []float64{0, 0.1, 0.5, 1}[draw.IntN(4)], []int{512, 4096}[draw.IntN(2)]
	files := map[string][]byte{}
	for name, n := range sure {
		low, size := synced[n], written[n]
		switch draw.IntN(3) {
		case 0:
			size = low
		case 1:
			size = low + draw.IntN(size-low+1)
		}
		b := bytes.Clone(d.content[n][:size])
		for at := low / page * page; at < size; at += page {
			if draw.Float64() < zero {
				clear(b[max(at, low):min(at+page, size)])
			}
		}
		files[name] = b
	}
	return files
}

// After a power cut at any time everything that was synced can be read; unreadable frames
// are at most a second old; no frame is read that was not written; frames before and
// after a page that the disk lost are read; and the reader reports that something is
// missing.
func TestPowerCut(t *testing.T) {
	const (
		made = 400 // frames a second of both feet together
		rate = 100 // frames a second that are used, to save time
		part = 0   // the first file that is created
	)
	scratch, draws := t.TempDir(), 8
	if os.Getenv("APLOMB_LONG") != "" {
		draws = 150
	}
	for seed, c := range []struct {
		name string
		cols int // of 8 rows
		slow func(*rand.Rand) time.Duration
	}{
		{"quick disk", 5, func(*rand.Rand) time.Duration { return time.Millisecond }},
		{"slow disk", 20, func(r *rand.Rand) time.Duration { return time.Duration(r.IntN(450)) * time.Millisecond }},
		{"slowest disk", 75, func(*rand.Rand) time.Duration { return 495 * time.Millisecond }},
	} {
		t.Run(c.name, func(t *testing.T) {
			draw := rand.New(rand.NewPCG(uint64(seed), 7))
			path := tempFile(t)
			d := &loggingDisk{slow: func() time.Duration { return c.slow(draw) }}
			var frames []device.Frame
			for i, f := range releves(7.5*made, 8*c.cols)[4.5*made:] { // half of them without load, which take a byte a cell
				if i/2%(made/rate) == 0 {
					frames = append(frames, f)
				}
			}
			var began int
			var end time.Time
			synctest.Test(t, func(t *testing.T) {
				w, err := recording.CreateOn(d, path, meta(8, c.cols))
				require.NoError(t, err)
				began = len(d.ops)
				for i := range frames {
					time.Sleep(time.Second / rate)
					f := &frames[i]
					f.ArrivalNS = time.Now().UnixNano()
					require.NoError(t, w.Write(f))
				}
				require.NoError(t, w.Close())
				end = time.Now()
			})
			oldest, crashes := time.Duration(0), 0
			for done := began; done <= len(d.ops); done++ {
				cut := end
				if done < len(d.ops) {
					cut = d.ops[done].at // the latest time at which no more than this was done
				}
				sure := whole(d.content[part][:d.synced(done)[part]])
				for range draws {
					got := readAfterCrash(t, scratch, path, d.crash(done, draw), frames)
					crashes++
					require.GreaterOrEqual(t, got, sure, "after %+v", d.ops[done-1])
					if got < len(frames) {
						oldest = max(oldest, cut.Sub(time.Unix(0, frames[got].ArrivalNS)))
					}
				}
			}
			t.Logf("%d power cuts at %d moments, the oldest frame lost was %.3f s old", crashes, len(d.ops)-began+1, oldest.Seconds())
			require.LessOrEqual(t, oldest, time.Second)
			require.Positive(t, oldest)
		})
	}
}

// synced returns how many bytes of each file are certainly on the disk.
func (d *loggingDisk) synced(done int) map[int]int {
	sure := map[int]int{}
	for _, o := range d.ops[:done] {
		if o.what == "sync" {
			sure[o.file] = max(sure[o.file], o.bytes)
		}
	}
	return sure
}

// whole returns the number of messages that end within b.
func whole(b []byte) (n int) {
	records(b, func(op mcap.OpCode, end int) {
		if op == mcap.OpMessage && end <= len(b) {
			n++
		}
	})
	return n
}

// readAfterCrash reads in dir the rest of the recording at path after a crash and returns
// the number of frames before the first missing one. A finished file must contain all of
// them.
func readAfterCrash(t *testing.T, dir, path string, files map[string][]byte, frames []device.Frame) int {
	t.Helper()
	most := -1
	for name, b := range files {
		if name != path && name != path+".part" {
			continue
		}
		at := filepath.Join(dir, filepath.Base(name))
		require.NoError(t, os.WriteFile(at, b, 0o666))
		r, err := recording.Open(t.Context(), at)
		require.NoError(t, err, name)
		got, err := readAll(r)
		require.NoError(t, err, name)
		require.NoError(t, r.Close())
		requirePartOf(t, frames, got)
		if name == path {
			require.Len(t, got, len(frames))
			require.Empty(t, r.Missing())
		} else {
			require.Contains(t, r.Missing(), "it was never closed")
		}
		n := 0
		for n < len(got) && got[n].ArrivalNS == frames[n].ArrivalNS {
			n++
		}
		most = max(most, n)
	}
	require.NotEqual(t, -1, most, "no recording is left of %v", slices.Sorted(maps.Keys(files)))
	return most
}
