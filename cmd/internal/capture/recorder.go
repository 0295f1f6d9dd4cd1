// Package capture records the frames of strips as they arrive, and reports on the
// recording in progress.
package capture

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	"aplomb/device"
	"aplomb/device/link"
	"aplomb/device/recording"
)

// Source is the source of a recording's frames: a link, or a simulated session. Next
// returns io.EOF when the context with which the source was opened is done.
type Source interface {
	device.Source
	Stats() [2]link.Stats
	Events() []device.Event
	Warnings() []link.Notice
	Close() error
}

// OpenLink opens the ports of the strips that m names, as a source.
func OpenLink(ctx context.Context, opt link.Options, m *device.Metadata) (Source, error) {
	for f, side := range m.Sides {
		if side != nil {
			opt.Strips[f] = side.Strip
		}
	}
	l, err := link.Open(ctx, opt)
	if err != nil {
		return nil, err // a nil *link.Link would be a Source that is not nil
	}
	return l, nil
}

// Recorder makes one recording. Its functions but Open may be nil; they are
// called by the goroutine that calls Run.
type Recorder struct {
	// Open opens the source, which calls notify when the frames of a foot stop arriving
	// and when they resume.
	Open   func(ctx context.Context, notify func(device.Foot, link.Notice)) (Source, error)
	Meta   device.Metadata
	Path   string
	Length time.Duration // of the recording; 0 until the context of Run is done

	// Begun is called once the file exists. Its error ends the recording and leaves no file.
	Begun func() error
	// Recorded is called after every frame that is recorded, or will be.
	Recorded func(*Tally, *device.Frame)
	// Marks returns what a person has marked since it was last called.
	Marks func() []device.Event
	// End returns what the end of the recording completes.
	End func() []device.Event
	// Drop reports, after End, whether the recording contains nothing worth keeping.
	Drop func() bool
	// Notify is passed to Open as its notify.
	Notify func(device.Foot, link.Notice)

	source Source
	stop   func()
}

// ErrUnloaded is returned where a recording was dropped because the strips were never
// loaded.
var ErrUnloaded = errors.New("stopped before a platform was loaded; nothing was recorded")

// Run records until ctx is done or the length is reached. Until every foot has sent a
// frame nothing is written, and an error leaves no file; after that an error leaves the
// recording of everything before it, and the tally reports that in Kept. The tally is nil
// where the source could not be opened.
func (r *Recorder) Run(ctx context.Context) (*Tally, error) {
	ctx, r.stop = context.WithCancel(ctx)
	defer r.stop()
	source, err := r.Open(ctx, r.Notify)
	if err != nil {
		return nil, err
	}
	defer source.Close()
	r.source = source
	n := &Tally{source: source, meta: r.Meta}
	return n, r.record(n)
}

func (r *Recorder) record(n *Tally) error {
	first, err := r.hearAll(n)
	if err != nil {
		return err
	}
	w, err := recording.Create(r.Path, n.meta)
	if err != nil {
		return err
	}
	if r.Begun != nil {
		if err := r.Begun(); err != nil {
			return cmp.Or(err, w.Discard())
		}
	}
	n.File = w
	err = r.copy(n, w, first)
	if err == nil && r.Drop != nil && r.Drop() {
		return cmp.Or(w.Discard(), ErrUnloaded)
	}
	closed := w.Close()
	n.Kept = closed == nil
	if err != nil && errors.Is(closed, err) {
		return closed // the same error twice
	}
	return errors.Join(err, closed)
}

// hearAll waits for a frame of every foot, because a recording begins with a description
// of the frames of each strip. It returns the frames received meanwhile.
func (r *Recorder) hearAll(n *Tally) (first []device.Frame, err error) {
	heard := [2]bool{n.meta.Sides[device.Left] == nil, n.meta.Sides[device.Right] == nil}
	for !heard[device.Left] || !heard[device.Right] {
		var f device.Frame
		if err := r.source.Next(&f); err != nil {
			return nil, unheardError(heard, n.frames, err)
		}
		n.add(&f)
		if !heard[f.Foot] {
			heard[f.Foot] = true
			side := *n.meta.Sides[f.Foot]
			s := r.source.Stats()[f.Foot]
			side.Format, side.Clock = s.Line.Format.String(), s.Clock
			n.meta.Sides[f.Foot] = &side
		}
		f.Counts = slices.Clone(f.Counts)
		first = append(first, f)
		r.recorded(n, &f)
	}
	return first, nil
}

// unheardError returns the error of a recording that did not begin, with what happened to
// the frames received.
func unheardError(heard [2]bool, frames int, err error) error {
	if errors.Is(err, io.EOF) {
		foot := device.Left
		if heard[device.Left] {
			foot = device.Right
		}
		err = fmt.Errorf("stopped before a frame of the %s foot had come", foot)
	}
	if frames == 0 {
		return fmt.Errorf("%w; nothing was recorded", err)
	}
	return fmt.Errorf("%w; nothing was recorded, the %d frames of the other foot were not kept", err, frames)
}

// copy writes first, and then frames, events and marks until the source ends.
func (r *Recorder) copy(n *Tally, w *recording.Writer, first []device.Frame) error {
	for i := range first {
		if err := w.Write(&first[i]); err != nil {
			return err
		}
	}
	var f device.Frame
	for {
		err := r.source.Next(&f)
		events := r.source.Events()
		if r.Marks != nil {
			events = append(events, r.Marks()...)
		}
		if err != nil && r.End != nil {
			events = append(events, r.End()...)
		}
		for _, e := range events {
			if err := w.WriteEvent(e); err != nil {
				return err
			}
		}
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		if err := w.Write(&f); err != nil {
			return err
		}
		n.add(&f)
		r.recorded(n, &f)
	}
}

// recorded is called after every frame. It ends the recording at its length.
func (r *Recorder) recorded(n *Tally, f *device.Frame) {
	if r.Length > 0 && n.frames == 1 {
		time.AfterFunc(r.Length, r.stop) // also where no frame comes any more
	}
	if r.Length > 0 && n.Length() >= r.Length {
		r.stop()
	}
	if r.Recorded != nil {
		r.Recorded(n, f)
	}
}
