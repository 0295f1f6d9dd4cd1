package device

import (
	"io"
	"sync"
)

const (
	aheadFrames  = 1024 // in a batch: many, since handing one over costs as much as reading dozens of frames
	aheadBatches = 10   // as many frames as a chunk of a recording unpacks to, and more
)

// Ahead is a Source that reads another in a goroutine of its own, so that a
// second processor unpacks the frames to come while the first looks at these.
// Whoever makes one closes it; until then, or until Next has returned an error,
// the other Source is not to be touched.
type Ahead struct {
	full, free chan *batch
	now        *batch // being read
	at         int    // its next frame
	err        error  // what ended it
	stop       chan struct{}
	running    sync.WaitGroup
}

// batch is a run of frames, and what came after the last of them, nil where
// there is more.
type batch struct {
	frames []Frame
	n      int
	err    error
}

// ReadAhead returns src read ahead.
func ReadAhead(src Source) *Ahead {
	a := &Ahead{full: make(chan *batch, aheadBatches), free: make(chan *batch, aheadBatches), stop: make(chan struct{}), now: new(batch)}
	for range aheadBatches - 1 {
		a.free <- new(batch)
	}
	a.running.Go(func() { a.run(src) })
	return a
}

func (a *Ahead) run(src Source) {
	for {
		select {
		case <-a.stop:
			return
		case b := <-a.free:
			for b.n = 0; b.n < aheadFrames && b.err == nil; b.n++ {
				if b.n == len(b.frames) {
					b.frames = append(b.frames, Frame{})
				}
				if b.err = src.Next(&b.frames[b.n]); b.err != nil {
					break
				}
			}
			a.full <- b // there is room for all
			if b.err != nil {
				return
			}
		}
	}
}

// Next is that of the other Source. It gives f the counts of the frame as they
// lie and takes those of f in exchange.
func (a *Ahead) Next(f *Frame) error {
	for a.at == a.now.n {
		if a.err != nil {
			return a.err
		}
		if a.err = a.now.err; a.err != nil {
			return a.err
		}
		a.free <- a.now
		a.now, a.at = <-a.full, 0
	}
	*f, a.now.frames[a.at] = a.now.frames[a.at], *f
	a.at++
	return nil
}

// Close ends the reading, also in the middle, and waits for it to have ended.
func (a *Ahead) Close() {
	if a.err == nil {
		a.err = io.ErrClosedPipe
		a.at = a.now.n
	}
	close(a.stop)
	a.running.Wait()
}
