package link

import (
	"sync"
	"sync/atomic"
	"time"

	"go.bug.st/serial"
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

// chunk is what one read brought, or the error with which a port ended.
type chunk struct {
	port    *port
	bytes   *buffer
	n       int
	arrival time.Time
	err     error
}

// readers are the goroutines that read the ports.
type readers struct {
	clock   Clock
	chunks  chan chunk // has room for every buffer, so that sending never waits
	free    chan *buffer
	made    atomic.Int64 // buffers
	running sync.WaitGroup
	gone    atomic.Bool // all have ended

	stopping chan struct{}
	stop     func()        // tells all to stop; the rest goes on by itself
	over     chan struct{} // closed when all have ended, or patience has
}

func newReaders(clock Clock) *readers {
	r := &readers{
		clock:    clock,
		chunks:   make(chan chunk, maxBuffers+2),
		free:     make(chan *buffer, maxBuffers),
		stopping: make(chan struct{}),
		over:     make(chan struct{}),
	}
	r.stop = sync.OnceFunc(func() {
		close(r.stopping)
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

// start reads line, which it will close, on a goroutine of its own.
func (r *readers) start(p *port, line *line) {
	r.running.Go(func() {
		err := r.read(p, line)
		line.close()
		if err != nil {
			r.chunks <- chunk{port: p, err: err}
		}
	})
}

func (r *readers) read(p *port, from serial.Port) error {
	for {
		b := r.buffer()
		if b == nil {
			return nil
		}
		n := 0
		for n == 0 { // nothing within pollEvery
			select {
			case <-r.stopping:
				return nil
			default:
			}
			var err error
			if n, err = from.Read(b[:]); err != nil {
				return err
			}
		}
		r.chunks <- chunk{port: p, bytes: b, n: n, arrival: r.clock.Now()}
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
