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

// syncEvery is the interval at which a live recording is synced to the disk. A crash
// loses at most that much of it.
const syncEvery = 500 * time.Millisecond

// Writer writes one recording. Its methods may be called from several goroutines. After a
// failure of the disk every call returns that failure.
type Writer struct {
	disk disk
	path string
	meta device.Metadata
	live bool

	mu       sync.Mutex
	part     string // the name of file
	file     file   // changed by keepSynced alone, and after it has ended by Close
	buf      *bufio.Writer
	out      *messageWriter
	unsynced bool          // something has been written that is not known to be on the disk
	since    time.Time     // when the first of that was written
	longest  time.Duration // see LongestUnsynced
	ended    bool
	err      error // the first failure of the disk
	warnings []string

	stop   chan struct{}
	synced sync.WaitGroup
}

// Create begins a live recording. Frames are written to path.part, which is synced to the
// disk twice a second, and Close creates the file at path from it. If either exists the
// error matches ErrExists, or ErrInUse while another process writes it. Both are readable
// by their owner alone, because they identify the dancer.
func Create(path string, m device.Metadata) (*Writer, error) { return createLive(system{}, path, m) }

func createLive(d disk, path string, m device.Metadata) (*Writer, error) {
	w, err := create(d, path, m, true)
	if err != nil {
		return nil, err
	}
	// From here on the .part is readable, with its description and its name.
	if err := cmp.Or(w.buf.Flush(), w.file.Sync(), w.syncFolder()); err != nil {
		w.abandon()
		return nil, w.failed(err)
	}
	w.unsynced = false
	w.stop = make(chan struct{})
	w.synced.Go(w.keepSynced)
	return w, nil
}

// CreateDirect begins a recording of existing frames in order of arrival. They are
// compressed at once into path.part, which Close renames to path. Errors and permissions
// are as those of Create.
func CreateDirect(path string, m device.Metadata) (*Writer, error) {
	return createDirect(system{}, path, m)
}

func createDirect(d disk, path string, m device.Metadata) (*Writer, error) {
	w, err := create(d, path, m, false)
	if err != nil {
		return nil, err
	}
	if err := w.buf.Flush(); err != nil { // so that the .part is readable from here on
		w.abandon()
		return nil, w.failed(err)
	}
	return w, nil
}

func create(d disk, path string, m device.Metadata, live bool) (*Writer, error) {
	if err := m.Check(); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	if err := checkFree(path); err != nil {
		return nil, err
	}
	w := &Writer{disk: d, path: path, part: path + ".part", meta: m, live: live, unsynced: true, since: time.Now()}
	var err error
	if w.file, err = createPart(d, w.part); err != nil {
		return nil, err
	}
	w.buf = bufio.NewWriterSize(w.file, 1<<16)
	if w.out, err = newMessageWriter(w.buf, m, !live); err != nil {
		w.abandon()
		return nil, w.failed(err)
	}
	return w, nil
}

// Write adds a frame. It does not retain f. An error for a frame that the recording
// cannot contain changes nothing.
func (w *Writer) Write(f *device.Frame) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	if err := w.ready(); err != nil {
		return err
	}
	if err := w.out.check(f); err != nil {
		return fmt.Errorf("%s: %w", w.path, err)
	}
	if late := int64(w.out.latest) - f.ArrivalNS; late > 0 && !w.live {
		return fmt.Errorf("%s: a frame of the %s foot arrived %.3f s before the last one written: give them in order of arrival",
			w.path, f.Foot, float64(late)/1e9)
	}
	return w.failed(w.out.frame(f))
}

// WriteEvent adds an event.
func (w *Writer) WriteEvent(e device.Event) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	if err := w.ready(); err != nil {
		return err
	}
	if err := e.Check(); err != nil {
		return fmt.Errorf("%s: %w", w.path, err)
	}
	return w.failed(w.out.event(&e))
}

// ready returns an error where nothing more can be written; otherwise it marks the file
// as unsynced.
func (w *Writer) ready() error {
	if w.ended {
		return fmt.Errorf("%s: %w", w.path, ErrEnded)
	}
	if !w.unsynced {
		w.unsynced, w.since = true, time.Now()
	}
	return w.err
}

// failed stores the first failure of the disk, with the name of the file, and returns it.
func (w *Writer) failed(err error) error {
	if err != nil && w.err == nil {
		w.err = err
		if pathError := new(os.PathError); !errors.As(err, &pathError) {
			w.err = fmt.Errorf("%s: %w", w.part, err)
		}
	}
	return w.err
}

// Warnings returns, oldest first, a line for each time that the .part was removed and had
// to be written again.
func (w *Writer) Warnings() []string {
	w.mu.Lock()
	defer w.mu.Unlock()
	return slices.Clone(w.warnings)
}

// keepSynced syncs new data to the disk every syncEvery, and restores the name of the
// .part, until w.stop is closed.
func (w *Writer) keepSynced() {
	tick := time.NewTicker(syncEvery)
	defer tick.Stop()
	for {
		select {
		case <-w.stop:
			return
		case <-tick.C:
		}
		if err := w.restoreName(); err != nil {
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
		// The lock is not held here, so that a slow disk does not delay frames.
		err = w.file.Sync()
		w.mu.Lock()
		w.failed(err)
		w.longest = max(w.longest, time.Since(since))
		w.mu.Unlock()
	}
}

// LongestUnsynced returns the longest time so far for which written data were not synced:
// a power cut could have lost that much.
func (w *Writer) LongestUnsynced() time.Duration {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.longest
}

// Close ends the recording. The file at path then contains all of it; where it cannot be
// created, the .part stays and the error says so.
func (w *Writer) Close() error {
	if !w.end() {
		return nil
	}
	if w.live {
		return w.finish()
	}
	w.failed(w.out.close())
	if err := w.flush(); err != nil {
		w.abandon()
		return err
	}
	w.file.Close() // all of it is on the disk
	if err := publish(w.disk, w.part, w.path); err != nil {
		where := w.part
		if _, gone := os.Lstat(where); gone != nil {
			where = w.path
		}
		return fmt.Errorf("%w; the recording is in %s", err, where)
	}
	return nil
}

// finish creates the file at path from the .part.
func (w *Writer) finish() error {
	defer w.file.Close()
	w.failed(w.restoreName())
	failed, minMessages := w.flush(), w.out.written()
	if failed != nil {
		if w.hasName() {
			return fmt.Errorf("%w; what came before is in %s, which every command reads", failed, w.part)
		}
		minMessages = 0 // the open file has no name left, so save all that can be read of it
	}
	err := pack(w.disk, w.file, w.path, w.meta, minMessages)
	switch {
	case err == nil && failed != nil:
		return fmt.Errorf("%w; what came before is in %s", failed, w.path)
	case err == nil:
		return cmp.Or(w.file.Close(), w.disk.Remove(w.part)) // Windows removes no open file
	case w.hasName():
		return fmt.Errorf("%w; the recording is in %s, which every command reads", err, w.part)
	default:
		return fmt.Errorf("%w; %s was taken away and could not be written again: the recording is lost", err, w.part)
	}
}

// flush syncs the data that are still in memory, as far as possible, and returns the
// first failure of the disk.
func (w *Writer) flush() error {
	w.failed(w.buf.Flush())
	if w.failed(w.file.Sync()) == nil && w.unsynced {
		w.longest = max(w.longest, time.Since(w.since))
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
	hasName := w.hasName()
	err := w.file.Close()
	if hasName {
		err = cmp.Or(err, w.disk.Remove(w.part))
	}
	return err
}

// end stops all writing. It returns false where it had already been called.
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
