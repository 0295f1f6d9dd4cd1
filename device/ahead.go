package device

import (
	"io"
	"sync"
)

const (
	aheadFrames  = 1024 // frames in a batch; handing over a batch costs as much as reading dozens of frames
	aheadBatches = 10   // batches; together they hold more frames than a chunk of a recording
)

// Ahead is a Source that reads another one in advance, in its own goroutine, so that
// reading and using frames run in parallel. It must be closed. Until then, or until Next
// has returned an error, the other Source must not be used elsewhere.
type Ahead struct {
	full, free chan *batch
	now        *batch // the batch from which Next gives frames
	at         int    // index of its next frame
	err        error  // the error that Next has returned
	stop       chan struct{}
	running    sync.WaitGroup
}

// batch is a run of n frames. err is the error after the last of them, nil where
// more frames follow.
type batch struct {
	frames []Frame
	n      int
	err    error
}

// ReadAhead starts to read src ahead. Where src ends with a context, so does the
// Ahead, after at most the frames that have been read by then.
func ReadAhead(src Source) *Ahead {
	a := &Ahead{full: make(chan *batch, aheadBatches), free: make(chan *batch, aheadBatches), stop: make(chan struct{}), now: new(batch)}
	for range aheadBatches - 1 {
		a.free <- new(batch)
	}
	a.running.Go(func() { a.run(src) })
	return a
}

// run fills free batches until src ends or stop is closed.
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
			a.full <- b // it has room for all batches
			if b.err != nil {
				return
			}
		}
	}
}

// Next returns what the Next of the other Source does. It exchanges f.Counts for
// the counts of the frame instead of copying them.
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

// Close ends the reading and waits for its goroutine. Next then returns
// io.ErrClosedPipe, or the error that it returned before.
func (a *Ahead) Close() {
	if a.err == nil {
		a.err = io.ErrClosedPipe
		a.at = a.now.n
	}
	close(a.stop)
	a.running.Wait()
}
