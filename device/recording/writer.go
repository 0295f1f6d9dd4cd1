package recording

import (
	"bufio"
	"cmp"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"time"

	"aplomb/device"
)

// syncEvery is how much of a recording a crash may cost.
const syncEvery = 500 * time.Millisecond

// Writer writes one recording. Its methods may be called from several
// goroutines. Once the disk has failed, every call returns that failure.
type Writer struct {
	path, part string
	meta       Meta
	live       bool

	mu       sync.Mutex
	file     *os.File
	buf      *bufio.Writer
	log      *log
	unsynced bool
	ended    bool
	err      error // the disk's first failure

	stop   chan struct{}
	synced sync.WaitGroup
}

// Create begins a recording as it happens. Frames go to path.part, on the disk
// twice a second, until Close makes the file at path of them. Neither may exist.
func Create(path string, m Meta) (*Writer, error) {
	w, err := create(path, m, true)
	if err != nil {
		return nil, err
	}
	w.stop = make(chan struct{})
	w.synced.Add(1)
	go w.keepSynced()
	return w, nil
}

// CreateDirect begins a recording of frames that exist already, in order of
// arrival. They are compressed straight away into path.part, which Close
// renames to path. Neither may exist.
func CreateDirect(path string, m Meta) (*Writer, error) { return create(path, m, false) }

func create(path string, m Meta, live bool) (*Writer, error) {
	if err := m.Check(); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	w := &Writer{path: path, part: path + ".part", meta: m, live: live}
	if err := vacant(path); err != nil {
		return nil, err
	}
	file, err := os.OpenFile(w.part, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if errors.Is(err, os.ErrExist) {
		return nil, fmt.Errorf("%s exists: a recording that is still running or was cut short; every command reads it; move it away or choose another name", w.part)
	}
	if err != nil {
		return nil, err
	}
	w.file, w.buf, w.unsynced = file, bufio.NewWriterSize(file, 1<<16), true
	if w.log, err = newLog(w.buf, m, !live); err != nil {
		file.Close()
		os.Remove(w.part)
		return nil, w.failed(err)
	}
	return w, nil
}

// vacant reports that something is at path already.
func vacant(path string) error {
	_, err := os.Lstat(path)
	if err == nil {
		return fmt.Errorf("%s exists: move it away or choose another name", path)
	}
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	return err
}

// Write adds a frame. It keeps nothing of f. A frame that the recording cannot
// hold is an error and changes nothing.
func (w *Writer) Write(f *device.Frame) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	if err := w.ready(); err != nil {
		return err
	}
	if err := w.log.accepts(f); err != nil {
		return fmt.Errorf("%s: %w", w.path, err)
	}
	if late := int64(w.log.latest) - f.ArrivalNS; late > 0 && !w.live {
		return fmt.Errorf("%s: a frame of the %s foot arrived %.3f s before the last one written: give them in order of arrival",
			w.path, f.Foot, float64(late)/1e9)
	}
	return w.failed(w.log.frame(f))
}

// WriteEvent adds an event.
func (w *Writer) WriteEvent(e device.Event) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	if err := w.ready(); err != nil {
		return err
	}
	if e.TimeNS < 0 {
		return fmt.Errorf("%s: an event before 1970 (%d ns)", w.path, e.TimeNS)
	}
	return w.failed(w.log.event(&e))
}

// ready reports why nothing more can be written, and notes that something will be.
func (w *Writer) ready() error {
	if w.ended {
		return fmt.Errorf("%s: the recording has ended", w.path)
	}
	w.unsynced = true
	return w.err
}

// failed keeps the disk's first failure, with the file it concerns.
func (w *Writer) failed(err error) error {
	if err != nil && w.err == nil {
		w.err = fmt.Errorf("%s: %w", w.part, err)
	}
	return w.err
}

// keepSynced puts what was written on the disk every syncEvery, also while the
// strip is silent.
func (w *Writer) keepSynced() {
	defer w.synced.Done()
	tick := time.NewTicker(syncEvery)
	defer tick.Stop()
	for {
		select {
		case <-w.stop:
			return
		case <-tick.C:
		}
		w.mu.Lock()
		due := w.unsynced
		w.unsynced = false
		err := w.failed(w.buf.Flush())
		w.mu.Unlock()
		if !due || err != nil {
			continue
		}
		// Without the lock: a slow disk must not hold up the frames.
		if err := w.file.Sync(); err != nil {
			w.mu.Lock()
			w.failed(err)
			w.mu.Unlock()
		}
	}
}

// Close ends the recording: the file at path then holds all of it. Where a live
// recording cannot be finished, path.part stays and the error says so.
func (w *Writer) Close() error {
	if !w.end() {
		return nil
	}
	if err := w.flush(); err != nil {
		if !w.live {
			os.Remove(w.part)
			return err
		}
		return fmt.Errorf("%w; what was recorded before is in %s", err, w.part)
	}
	if !w.live {
		return publish(w.part, w.path)
	}
	if err := pack(w.part, w.path, w.meta, w.log.written()); err != nil {
		return fmt.Errorf("%w; the recording is in %s, which every command reads", err, w.part)
	}
	return os.Remove(w.part)
}

// flush puts the rest on the disk and closes the file.
func (w *Writer) flush() error {
	defer w.file.Close()
	if w.err != nil {
		return w.err
	}
	if !w.live {
		w.failed(w.log.close())
	}
	return w.failed(cmp.Or(w.buf.Flush(), w.file.Sync(), w.file.Close()))
}

// Discard ends the recording and leaves no file. After Close it does nothing.
func (w *Writer) Discard() error {
	if !w.end() {
		return nil
	}
	return cmp.Or(w.file.Close(), os.Remove(w.part))
}

// end stops writing, once; false where it had stopped before.
func (w *Writer) end() bool {
	w.mu.Lock()
	before := w.ended
	w.ended = true
	w.mu.Unlock()
	if before {
		return false
	}
	if w.stop != nil {
		close(w.stop)
		w.synced.Wait()
	}
	return true
}

// publish renames a finished file to the name it was made for, where nothing
// may be, and sees to it that the name is on the disk.
func publish(from, to string) error {
	if err := vacant(to); err != nil {
		return err
	}
	if err := os.Rename(from, to); err != nil {
		return err
	}
	if runtime.GOOS == "windows" {
		return nil // a folder cannot be synced there
	}
	dir, err := os.Open(filepath.Dir(to))
	if err != nil {
		return err
	}
	return cmp.Or(dir.Sync(), dir.Close())
}
