package link

import (
	"sync"
	"sync/atomic"
	"time"
)

const (
	// A buffer holds the bytes of one read. All buffers together hold more than
	// ten seconds of a line at 921600 baud, or three where a USB adapter passes
	// on 64 bytes at a time. When a caller of Next is slower than that, the system
	// loses bytes, and the numbers of the frames show it.
	bufferSize = 1024
	maxBuffers = 4096

	// pollEvery is the interval at which a reader without bytes checks whether to stop.
	pollEvery = 50 * time.Millisecond
	// closeTimeout is how long Close waits for the ports to be closed.
	closeTimeout = time.Second
)

type buffer = [bufferSize]byte

// chunk is the bytes of one read, the error with which a line ended, or the result
// of a search.
type chunk struct {
	line    *line
	bytes   *buffer
	n       int
	arrival time.Time
	err     error
	found   *found
}

// readers are the goroutines that read the lines and search for ports.
type readers struct {
	clock  Clock
	chunks chan chunk // has room for every buffer, so that sending hardly ever waits
	free   chan *buffer
	made   atomic.Int64 // number of buffers

	mu       sync.Mutex // ensures that no goroutine starts after stopping was closed
	running  sync.WaitGroup
	allEnded atomic.Bool
	stopping chan struct{}
	stop     func()        // tells all goroutines to end, and returns at once
	over     chan struct{} // closed when all have ended, or closeTimeout after stop
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
			r.allEnded.Store(true)
			close(ended)
		}()
		go func() {
			select {
			case <-ended:
			case <-time.After(closeTimeout):
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

// run runs f in a new goroutine. After stopping it returns false and does not run f.
func (r *readers) run(f func()) bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.stopped() {
		return false
	}
	r.running.Go(f)
	return true
}

// start begins to read l and closes it at the end.
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

// read sends the bytes of l as chunks until l ends or the readers stop.
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

// listen waits for bytes and reads them into b. It returns 0 after an error and
// when it is time to stop.
func (r *readers) listen(l *line, b *buffer) (n int, err error) {
	for n == 0 && err == nil && !l.leave.Load() && !r.stopped() { // nothing within pollEvery
		n, err = l.Read(b[:])
	}
	return n, err
}

// send sends c to Next. It blocks only where Next is no longer called.
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

// buffer returns a free buffer, or nil when it is time to stop.
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

// release makes the buffer of c free again and clears c.
func (r *readers) release(c *chunk) {
	r.free <- c.bytes
	*c = chunk{}
}

// ended reports whether all goroutines have ended. It is called after over is closed.
func (r *readers) ended() bool { return r.allEnded.Load() }
