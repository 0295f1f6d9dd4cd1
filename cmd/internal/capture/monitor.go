package capture

import (
	"fmt"
	"slices"
	"time"

	"aplomb/analyze/live"
	"aplomb/device"
	"aplomb/device/link"
	"aplomb/plots/screen"
)

// Monitor follows a recording for the person who makes it: the press that it
// begins with, what the strips read, what the person marks, and messages.
type Monitor struct {
	Meta  *device.Metadata
	Title string // what the recording is called
	Stop  string // why nobody should rise, from the visit; "" where nothing says so

	watch   *live.Follower
	press   *live.PressTest // nil where none is asked for
	stage   screen.Stage
	pressed live.PressState
	tally   *Tally
	away    [2]string    // why no frames of a foot come
	since   [2]time.Time // when away began
	said    []string
}

// NewMonitor returns the monitor of a recording that begins with a press on the
// left platform, or at once.
func NewMonitor(m *device.Metadata, title string, press bool) *Monitor {
	o := &Monitor{Meta: m, Title: title, watch: live.New(m), stage: screen.Recording}
	if press {
		o.press, o.stage = &live.PressTest{}, screen.Pressing
	}
	return o
}

// Pressing reports whether the press is still waited for.
func (o *Monitor) Pressing() bool { return o.stage == screen.Pressing }

// Ready gives a frame to the press test and returns whether the recording may
// begin. With skip it begins without a press. An error means that the right strip
// responded to the press on the left platform.
func (o *Monitor) Ready(f *device.Frame, skip bool) (bool, error) {
	if _, err := o.watch.Add(f); err != nil {
		return false, err
	}
	o.pressed = o.press.Update(f.ArrivalNS, [2]float64{o.watch.LoadN(device.Left), o.watch.LoadN(device.Right)})
	switch {
	case o.pressed == live.PressSwapped:
		return false, fmt.Errorf("the left platform was to be pressed and strip %s of the right foot answered: swap the strips or their cables; nothing was recorded",
			o.Meta.Sides[device.Right].Strip.Name)
	case o.pressed == live.PressDone:
		o.Say("that was the left platform: recording")
	case skip:
		o.Say("recording, without a press: which strip is under which foot was not tested")
	default:
		return false, nil
	}
	o.watch, o.stage = live.New(o.Meta), screen.Recording
	return true, nil
}

// Frame updates the monitor with a recorded frame and the warnings that came with
// it.
func (o *Monitor) Frame(n *Tally, f *device.Frame) {
	o.tally = n
	for _, warning := range n.News() {
		o.Say("warning: " + warning)
	}
	if _, err := o.watch.Add(f); err != nil {
		o.Say("the live view does not follow: " + err.Error()) // the recording does
	}
}

// Notice notes that the frames of a foot have stopped or come again.
func (o *Monitor) Notice(f device.Foot, why link.Notice) {
	if why.Code == link.Flowing {
		o.Say(fmt.Sprintf("%s: frames come again", f))
	} else if o.away[f] == "" {
		o.since[f] = time.Now()
		o.Say(fmt.Sprintf("%s: no frames (%s)", f, why))
	}
	o.away[f] = why.String()
}

// Action is what a person does about a recording.
type Action int

const (
	TakeNote  Action = iota // write a note into the recording
	DropLast                // discard the last relevé, or the one before those discarded
	TakeBack                // take back the last discard
	SkipPress               // begin without the press
)

// Mark is an action at a moment.
type Mark struct {
	Action Action
	At     time.Time
	Note   string // the text of TakeNote
}

// Do carries out an action of the person. keep says whether the recording keeps the
// event e of it.
func (o *Monitor) Do(m Mark) (e device.Event, keep bool) {
	e = device.Event{TimeNS: m.At.UnixNano(), Foot: device.NoFoot, Kind: device.Discard}
	switch m.Action {
	case TakeNote:
		e.Kind, e.Text = device.Note, m.Note
		o.Say("note kept: " + m.Note)
	case DropLast:
		n := o.watch.Discard(e.TimeNS)
		if n == 0 {
			o.Say("there is no relevé to discard")
			return e, false
		}
		e.Text = fmt.Sprintf("relevé %d", n)
		o.Say(fmt.Sprintf("relevé %d discarded: u takes that back", n))
	case TakeBack:
		n := o.watch.TakeBack(e.TimeNS)
		if n == 0 {
			o.Say("there is nothing to take back")
			return e, false
		}
		e.Cause, e.Text = device.TakenBack, fmt.Sprintf("relevé %d", n)
		o.Say(fmt.Sprintf("relevé %d counts again", n))
	default:
		return e, false
	}
	return e, true
}

// messages is how many of the last messages are kept.
const messages = 8

// Say adds a message for the person.
func (o *Monitor) Say(message string) {
	if len(o.said) == messages {
		o.said = slices.Delete(o.said, 0, 1)
	}
	o.said = append(o.said, message)
}

// State fills s with what the live view shows. It overwrites what s held before,
// and s shares no memory with the monitor.
func (o *Monitor) State(s *screen.State) {
	s.Stage, s.Pressed, s.File, s.Stop, s.Says = o.stage, o.pressed, o.Title, o.Stop, append(s.Says[:0], o.said...)
	o.watch.Snapshot(&s.Live)
	for _, f := range device.Feet {
		s.Feet[f] = screen.Line{Away: o.away[f], Since: o.since[f]}
		if o.tally != nil {
			s.Feet[f].Frames, s.Feet[f].Lost = o.tally.Counted(f)
		}
	}
}
