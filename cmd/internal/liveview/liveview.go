// Package liveview shows a recording in progress on a terminal, and handles the user's
// keys.
package liveview

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"sync/atomic"
	"time"

	tea "charm.land/bubbletea/v2"

	"aplomb/cmd/internal/capture"
	"aplomb/cmd/internal/console"
	"aplomb/device"
	"aplomb/device/link"
	"aplomb/plots/screen"
)

// Possible returns the terminal that out writes to, and whether the live view
// can be drawn on it and keys be pressed at it.
func Possible(out io.Writer) (*os.File, bool) {
	f, ok := console.Terminal(out)
	return f, ok && console.Attended(out) && console.MovesCursor()
}

// Run records with r and shows the progress on a terminal, until ctx is done or the user
// ends it.
func Run(ctx context.Context, r *capture.Recorder, m *capture.Monitor, on *os.File) (n *capture.Tally, err error) {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	h := newHandover(m)
	h.follow(r)
	var quit atomic.Bool
	r.Drop = func() bool { return quit.Load() && m.Idle() }
	end := func() {
		quit.Store(true)
		stop()
	}
	m.Finish, m.Bell = end, capture.NewBell(ctx, on).Ring
	program := tea.NewProgram(newWindow(h, end), tea.WithInput(os.Stdin), tea.WithOutput(on), tea.WithoutSignalHandler(), tea.WithFPS(120))
	h.offer()
	done := make(chan struct{})
	go func() {
		defer close(done)
		n, err = r.Run(ctx)
		program.Send(ended{})
	}()
	go func() {
		for {
			select {
			case s := <-h.fresh:
				program.Send(s)
			case <-done:
				return
			}
		}
	}()
	_, failed := program.Run()
	stop() // when the terminal is closed, the recording is still completed
	<-done
	if failed != nil && !errors.Is(failed, tea.ErrProgramKilled) {
		return n, errors.Join(err, fmt.Errorf("the live view: %w (--plain does without it)", failed))
	}
	return n, err
}

// drawEvery is the interval at which a new state is offered to the screen. A frame is
// drawn after this time at the latest, with all other frames received meanwhile.
const drawEvery = 25 * time.Millisecond

// handover passes states from the recording to the screen, and marks back. It belongs to
// the goroutine that records, which never waits for the screen: a state that was not
// drawn yet is replaced by a newer one.
type handover struct {
	monitor *capture.Monitor
	marks   chan capture.Mark  // from the screen
	fresh   chan *screen.State // to the screen, one at most
	spare   chan *screen.State // and back
	offered time.Time
	events  []device.Event
}

// states is the number of states in use: one with the screen, one on the way, one
// being filled.
const states = 3

func newHandover(m *capture.Monitor) *handover {
	h := &handover{
		monitor: m, marks: make(chan capture.Mark, 64),
		fresh: make(chan *screen.State, 1), spare: make(chan *screen.State, states),
	}
	for range states {
		h.spare <- &screen.State{}
	}
	return h
}

// follow sets the functions of r that update the monitor.
func (h *handover) follow(r *capture.Recorder) {
	r.Recorded = func(n *capture.Tally, f *device.Frame) {
		h.monitor.Frame(n, f)
		h.offerIfDue()
	}
	r.Notify = func(f device.Foot, why link.Notice) {
		h.monitor.Notice(f, why)
		h.offer()
	}
	r.Marks, r.End = h.do, h.monitor.End
}

// do executes the user's marks and returns the events to be written, including those of
// pad presses.
func (h *handover) do() []device.Event {
	h.events = h.events[:0]
	marks := h.pending()
	for _, m := range marks {
		if e, keep := h.monitor.Do(m); keep {
			h.events = append(h.events, e)
		}
	}
	h.events = append(h.events, h.monitor.Events()...)
	if len(marks) > 0 {
		h.offer()
	}
	return h.events
}

// pending returns the marks made since it was last called.
func (h *handover) pending() (all []capture.Mark) {
	for {
		select {
		case m := <-h.marks:
			all = append(all, m)
		default:
			return all
		}
	}
}

// offerIfDue offers a state where one is due.
func (h *handover) offerIfDue() {
	if time.Since(h.offered) >= drawEvery {
		h.offer()
	}
}

// offer hands the state as it is now over to the screen.
func (h *handover) offer() {
	h.offered = time.Now()
	var s *screen.State
	select {
	case s = <-h.spare:
	case s = <-h.fresh: // was not taken yet
	}
	h.monitor.State(s)
	select {
	case old := <-h.fresh:
		h.spare <- old
	default:
	}
	h.fresh <- s
}
