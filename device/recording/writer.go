package recording

import (
	"bufio"
	"cmp"
	"errors"
	"fmt"
	"os"
	"slices"
	"sync"
	"time"

	"aplomb/device"
)

// syncEvery is how much of a recording a crash may cost.
const syncEvery = 500 * time.Millisecond

// Writer writes one recording. Its methods may be called from several
// goroutines. Once the disk has failed, every call returns that failure.
type Writer struct {
	disk disk
	path string
	meta device.Metadata
	live bool

	mu       sync.Mutex
	part     string // the name of file
	file     file   // changed by keepSynced alone, and after it by Close
	buf      *bufio.Writer
	log      *log
	unsynced bool
	since    time.Time     // when the first of that was written
	exposed  time.Duration // see Exposed
	ended    bool
	err      error // the disk's first failure
	warnings []string

	stop   chan struct{}
	synced sync.WaitGroup
}

// Create begins a recording as it happens. Frames go to path.part, on the disk
// twice a second, until Close makes the file at path of them. Neither may exist.
func Create(path string, m device.Metadata) (*Writer, error) { return createLive(system{}, path, m) }

func createLive(d disk, path string, m device.Metadata) (*Writer, error) {
	w, err := create(d, path, m, true)
	if err != nil {
		return nil, err
	}
	// From here on there is a recording, with its description and its name.
	if err := cmp.Or(w.buf.Flush(), w.file.Sync(), w.syncName()); err != nil {
		w.abandon()
		return nil, w.failed(err)
	}
	w.unsynced = false
	w.stop = make(chan struct{})
	w.synced.Go(w.keepSynced)
	return w, nil
}

// CreateDirect begins a recording of frames that exist already, in order of
// arrival. They are compressed straight away into path.part, which Close
// renames to path. Neither may exist.
func CreateDirect(path string, m device.Metadata) (*Writer, error) {
	return create(system{}, path, m, false)
}

func create(d disk, path string, m device.Metadata, live bool) (*Writer, error) {
	if err := m.Check(); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	if err := vacant(path); err != nil {
		return nil, err
	}
	w := &Writer{disk: d, path: path, part: path + ".part", meta: m, live: live, unsynced: true, since: time.Now()}
	var err error
	if w.file, err = createPart(d, w.part); err != nil {
		return nil, err
	}
	w.buf = bufio.NewWriterSize(w.file, 1<<16)
	if w.log, err = newLog(w.buf, m, !live); err != nil {
		w.abandon()
		return nil, w.failed(err)
	}
	return w, nil
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
	if !w.unsynced {
		w.unsynced, w.since = true, time.Now()
	}
	return w.err
}

// failed keeps the disk's first failure, with the file it concerns.
func (w *Writer) failed(err error) error {
	if err != nil && w.err == nil {
		w.err = err
		if named := new(os.PathError); !errors.As(err, &named) {
			w.err = fmt.Errorf("%s: %w", w.part, err)
		}
	}
	return w.err
}

// Warnings returns what happened to the file that did not end the recording,
// one line each, oldest first.
func (w *Writer) Warnings() []string {
	w.mu.Lock()
	defer w.mu.Unlock()
	return slices.Clone(w.warnings)
}

// keepSynced puts what was written on the disk every syncEvery, also while the
// strip is silent.
func (w *Writer) keepSynced() {
	tick := time.NewTicker(syncEvery)
	defer tick.Stop()
	for {
		select {
		case <-w.stop:
			return
		case <-tick.C:
		}
		if err := w.keepName(); err != nil {
			w.mu.Lock()
			w.failed(err)
			w.mu.Unlock()
			continue
		}
		w.mu.Lock()
		due, since := w.unsynced, w.since
		w.unsynced = false
		err := w.failed(w.buf.Flush())
		w.mu.Unlock()
		if !due || err != nil {
			continue
		}
		// Without the lock: a slow disk must not hold up the frames.
		err = w.file.Sync()
		w.mu.Lock()
		w.failed(err)
		w.exposed = max(w.exposed, time.Since(since))
		w.mu.Unlock()
	}
}

// Exposed returns the longest that anything written was not yet on the disk,
// which is what a power cut could have cost so far.
func (w *Writer) Exposed() time.Duration {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.exposed
}

// Close ends the recording: the file at path then holds all of it. Where a live
// recording cannot be finished, its .part stays and the error says so.
func (w *Writer) Close() error {
	if !w.end() {
		return nil
	}
	if w.live {
		return w.finish()
	}
	w.failed(w.log.close())
	if err := w.flush(); err != nil {
		w.abandon()
		return err
	}
	w.file.Close() // all of it is on the disk
	if err := publish(w.disk, w.part, w.path); err != nil {
		return fmt.Errorf("%w; the recording is in %s", err, w.part)
	}
	return nil
}

// finish makes the file at path of the .part.
func (w *Writer) finish() error {
	defer w.file.Close()
	w.failed(w.keepName())
	failed, least := w.flush(), w.log.written()
	if failed != nil {
		if w.named() {
			return fmt.Errorf("%w; what came before is in %s, which every command reads", failed, w.part)
		}
		least = 0 // whatever there is in the file that only we still have
	}
	err := pack(w.disk, w.file, w.path, w.meta, least)
	switch {
	case err == nil && failed != nil:
		return fmt.Errorf("%w; what came before is in %s", failed, w.path)
	case err == nil:
		return cmp.Or(w.file.Close(), w.disk.Remove(w.part)) // Windows removes no open file
	case w.named():
		return fmt.Errorf("%w; the recording is in %s, which every command reads", err, w.part)
	default:
		return fmt.Errorf("%w; %s was taken away and could not be written again: the recording is lost", err, w.part)
	}
}

// flush puts the rest on the disk, and after a failure what can be put there.
func (w *Writer) flush() error {
	w.failed(w.buf.Flush())
	if w.failed(w.file.Sync()) == nil && w.unsynced {
		w.exposed = max(w.exposed, time.Since(w.since))
	}
	return w.err
}

// Discard ends the recording and leaves no file. After Close it does nothing.
func (w *Writer) Discard() error {
	if !w.end() {
		return nil
	}
	return w.abandon()
}

// abandon closes the .part and removes it.
func (w *Writer) abandon() error {
	named := w.named()
	err := w.file.Close()
	if named {
		err = cmp.Or(err, w.disk.Remove(w.part))
	}
	return err
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
