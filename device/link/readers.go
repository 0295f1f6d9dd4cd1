package link

import (
	"sync"
	"sync/atomic"
	"time"
)

const (
	// A buffer holds what one read brings. All of them together hold more than
	// ten seconds of a line at 921600 baud, or three where a USB adapter hands
	// on 64 bytes at a time; when a caller of Next is slower than that, bytes
	// are lost before they reach us, and the frames' numbers show it.
	bufferSize = 1024
	maxBuffers = 4096

	// pollEvery is how often a reader that hears nothing looks whether to stop.
	pollEvery = 50 * time.Millisecond
	// patience is how long a port may take to let go.
	patience = time.Second
)

type buffer = [bufferSize]byte

// chunk is what one read brought, the error with which a line ended, or what a
// search has found.
type chunk struct {
	line    *line
	bytes   *buffer
	n       int
	arrival time.Time
	err     error
	found   *found
}

// readers are the goroutines that read the lines, and that look for them.
type readers struct {
	clock  Clock
	chunks chan chunk // has room for every buffer, so that sending hardly waits
	free   chan *buffer
	made   atomic.Int64 // buffers

	mu       sync.Mutex // so that nothing starts to run once all is to stop
	running  sync.WaitGroup
	gone     atomic.Bool // all have ended
	stopping chan struct{}
	stop     func()        // tells all to stop; the rest goes on by itself
	over     chan struct{} // closed when all have ended, or patience has
}

func newReaders(clock Clock) *readers {
	r := &readers{
		clock:    clock,
		chunks:   make(chan chunk, maxBuffers+64),
		free:     make(chan *buffer, maxBuffers),
		stopping: make(chan struct{}),
		over:     make(chan struct{}),
	}
	r.stop = sync.OnceFunc(func() {
		r.mu.Lock()
		close(r.stopping)
		r.mu.Unlock()
		ended := make(chan struct{})
		go func() {
			r.running.Wait()
			r.gone.Store(true)
			close(ended)
		}()
		go func() {
			select {
			case <-ended:
			case <-time.After(patience):
			}
			close(r.over)
		}()
	})
	return r
}

func (r *readers) stopped() bool {
	select {
	case <-r.stopping:
		return true
	default:
		return false
	}
}

// run has f run on a goroutine of its own. It returns false, and f does not
// run, when it is time to stop.
func (r *readers) run(f func()) bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.stopped() {
		return false
	}
	r.running.Go(f)
	return true
}

// start reads l, which it will close.
func (r *readers) start(l *line) {
	if !r.run(func() {
		err := r.read(l)
		l.close()
		if err != nil {
			r.send(chunk{line: l, err: err})
		}
	}) {
		l.close()
	}
}

func (r *readers) read(l *line) error {
	for {
		b := r.buffer()
		if b == nil {
			return nil
		}
		n, err := r.listen(l, b)
		if n == 0 {
			r.free <- b
			return err
		}
		r.send(chunk{line: l, bytes: b, n: n, arrival: r.clock.Now()})
	}
}

// listen waits for bytes. There are none after an error, or when it is time to leave.
func (r *readers) listen(l *line, b *buffer) (n int, err error) {
	for n == 0 && err == nil && !l.leave.Load() && !r.stopped() { // nothing within pollEvery
		n, err = l.Read(b[:])
	}
	return n, err
}

// send hands c over. Only a caller of Next that has gone leaves no room for it.
func (r *readers) send(c chunk) {
	select {
	case r.chunks <- c:
		return
	default:
	}
	select {
	case r.chunks <- c:
	case <-r.stopping:
	}
}

// buffer returns a buffer that is free, or nil when it is time to stop.
func (r *readers) buffer() *buffer {
	select {
	case b := <-r.free:
		return b
	default:
	}
	if r.made.Add(1) <= maxBuffers {
		return new(buffer)
	}
	r.made.Add(-1)
	select {
	case b := <-r.free:
		return b
	case <-r.stopping:
		return nil
	}
}

// giveBack makes the buffer of c, and c itself, free again.
func (r *readers) giveBack(c *chunk) {
	r.free <- c.bytes
	*c = chunk{}
}

// ended says whether all readers have; it is for after over.
func (r *readers) ended() bool { return r.gone.Load() }
