package bench

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"aplomb/analyze/calibrate"
	"aplomb/cmd/internal/console"
	"aplomb/device"
	"aplomb/device/link"
)

// port reads a strip while a user loads it.
type port struct {
	frames   device.Source
	close    func() error
	out      io.Writer
	progress *console.Progress
	answers  <-chan string // typed lines; closed at the end of the input; nil without a user
	zero     []float64     // counts of each cell; nil until known
}

// Durations for which steps are read.
const (
	unloadedFor = 5 * time.Second
	loadFor     = 4 * time.Second  // since the load last changed
	creepFor    = 11 * time.Second // under the load from which creep is found
)

// openPort opens the serial port of a strip.
func openPort(ctx context.Context, s *device.Strip, out io.Writer, name string, baud int) (*port, error) {
	opt := link.Options{Baud: baud}
	opt.Ports[s.Foot], opt.Strips[s.Foot] = name, s
	p := newPort(nil, out)
	opt.Notify = func(_ device.Foot, why link.Notice) {
		p.progress.Clear()
		if why.Code == link.Flowing {
			fmt.Fprintln(p.out, "frames come again: repeat this step if its weight was changed meanwhile")
		} else {
			fmt.Fprintf(p.out, "no frames (%s); waiting for them\n", why)
		}
	}
	l, err := link.Open(ctx, opt)
	if err != nil {
		return nil, err
	}
	p.frames, p.close = l, l.Close
	return p, nil
}

func newPort(frames device.Source, out io.Writer) *port {
	return &port{frames: frames, close: func() error { return nil }, out: out, progress: console.NewProgress(out)}
}

var (
	// ErrAlone is returned for a step that needs a user, without a terminal.
	ErrAlone = errors.New("each step has to be confirmed, and this is no terminal: name a file for each step instead, as in 5kg=load.csv")
	// ErrStopped is returned where the user or a signal ended the calibration.
	ErrStopped = errors.New("stopped; nothing was written")
)

// still shows a prompt and, once Enter was pressed, reads the strip for unloadedFor.
// Without a user it reads at once.
func (p *port) still(prompt string) (r Readings, err error) {
	if p.answers != nil {
		if _, err := p.until(prompt, func(*Readings) bool { return false }); err != nil {
			return r, err
		}
	}
	return p.collect(func(r *Readings, _ bool) bool { return r.span() >= unloadedFor.Seconds() })
}

// loaded asks for a load and reads it, from before it is put on until it has been
// on for long enough and Enter was pressed, whichever is later.
func (p *port) loaded(prompt string, long time.Duration) (Readings, error) {
	if p.answers == nil {
		return Readings{}, ErrAlone
	}
	return p.until(prompt, func(r *Readings) bool {
		on := calibrate.LoadChangedAt(r.TimeS, r.Frames, p.zero)
		left := long.Seconds() - (r.TimeS[len(r.TimeS)-1] - on)
		if left > 0 {
			p.progress.Show("  leave it on for %.0f s more", left+0.5)
		}
		return left > 0
	})
}

// passed asks for a pass of a roller and reads the whole pass.
func (p *port) passed(prompt string) (Readings, error) {
	if p.answers == nil {
		return Readings{}, ErrAlone
	}
	return p.until(prompt, func(*Readings) bool { return false })
}

// until reads until Enter has been pressed and more returns false. It calls more
// only after Enter, a few times a second.
func (p *port) until(prompt string, more func(*Readings) bool) (Readings, error) {
	fmt.Fprintln(p.out, prompt)
	answered, gone := false, false
	r, err := p.collect(func(r *Readings, due bool) bool {
		select {
		case _, open := <-p.answers:
			answered, gone = true, !open
		default:
		}
		switch {
		case gone:
			return true
		case !due:
			return false
		case !answered:
			p.progress.Show("  %s", p.reading(r))
			return false
		}
		return !more(r)
	})
	if err == nil && gone {
		err = ErrStopped
	}
	return r, err
}

// inspectEvery is how often the readings of a step are inspected, s.
const inspectEvery = 0.2

// collect reads frames until enough returns true. due tells enough that
// inspectEvery has passed since it was last set.
func (p *port) collect(enough func(r *Readings, due bool) bool) (r Readings, err error) {
	defer p.progress.Clear()
	var f device.Frame
	inspected := 0.0
	for {
		err := p.frames.Next(&f)
		if errors.Is(err, io.EOF) {
			return r, ErrStopped
		}
		if err == nil {
			err = r.add(&f, 0)
		}
		if err != nil {
			return r, err
		}
		now := r.TimeS[len(r.TimeS)-1]
		due := now-inspected >= inspectEvery || now < inspected
		if due {
			inspected = now
		}
		if enough(&r, due) {
			return r, nil
		}
	}
}

// reading describes the present reading of the strip, and whether it has settled.
func (p *port) reading(r *Readings) string {
	now, before := r.mean(p.zero, 0, 0.5), r.mean(p.zero, 0.5, 1)
	said := fmt.Sprintf("%.1f counts a cell", now)
	if settled(now, before) {
		return said + ", settled: press Enter"
	}
	return said + ", settling"
}

// settled reports whether the mean counts of two half seconds differ by no more than
// half a count and a hundredth of the count together.
func settled(now, before float64) bool {
	d := now - before
	return d*d <= 0.25+1e-4*now*now
}
