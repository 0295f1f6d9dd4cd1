package capture

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"aplomb/analyze/live"
	"aplomb/device"
	"aplomb/device/link"
	"aplomb/plots/screen"
	"aplomb/plots/words"
)

// Monitor follows a recording for the user: its pad presses, the readings of the strips,
// the user's marks, and messages.
type Monitor struct {
	Meta  *device.Metadata
	Title string // title of the recording
	Stop  string // reason of the visit not to rise; "" where there is none

	Bell   func(Signal) // rings a signal
	Finish func()       // ends the recording

	// Watch is called after each frame, and when frames stop or resume, with a function
	// that fills a state as State does. It may be nil.
	Watch func(fill func(*screen.State))

	watch  *live.Follower
	press  presses
	guide  guide
	loaded bool // a platform has been
	idle   bool // see Idle
	tally  *Tally
	away   [2]string    // why no frames of a foot arrive
	since  [2]time.Time // when away began
	said   []string
}

// NewMonitor returns the monitor of a recording.
func NewMonitor(m *device.Metadata, title string, press PressOptions) *Monitor {
	o := &Monitor{Meta: m, Title: title, watch: live.New(m)}
	o.press = presses{PressOptions: press, meta: m, watch: o.watch, say: o.Say, prompt: func(string) {}, again: "p"}
	o.guide = guide{
		guided: press.Guided, planned: press.Releves, key: "space", meta: m, watch: o.watch,
		say: o.Say, prompt: func(string) {}, bell: func(s Signal) { o.Bell(s) }, finish: func() { o.Finish() }, skip: o.press.skip, whenWorn: press.Worn,
	}
	o.press.over, o.press.doubted = o.guide.pressed, func() { o.Bell(Halt) }
	o.Bell, o.Finish = func(Signal) {}, func() {}
	if press.Ask {
		o.press.begin()
	} else {
		o.guide.worn = true
	}
	return o
}

// Frame updates the monitor with a recorded frame and the warnings that came with
// it.
func (o *Monitor) Frame(n *Tally, f *device.Frame) {
	o.tally = n
	for _, warning := range n.News() {
		o.Say("warning: " + warning)
	}
	ended, err := o.watch.Add(f)
	if err != nil {
		o.Say("the live view does not follow: " + err.Error()) // the recording continues
		return
	}
	for _, foot := range o.watch.Readings() {
		o.loaded = o.loaded || foot.LoadN >= live.LoadFloorN
	}
	o.press.frame(f)
	if len(ended) > 0 {
		o.press.offer()
		o.guide.update()
	}
	o.show()
}

// show calls Watch.
func (o *Monitor) show() {
	if o.Watch != nil {
		o.Watch(o.State)
	}
}

// Events returns the events of pad presses since it was last called.
func (o *Monitor) Events() []device.Event { return o.press.take() }

// End returns the events that the end of the recording completes.
func (o *Monitor) End() []device.Event {
	o.idle = o.press.step != nil && !o.loaded
	return o.press.end()
}

// Idle reports, after End, whether the recording ended while its first pad press was
// waited for and no platform had been loaded.
func (o *Monitor) Idle() bool { return o.idle }

// Notice records that the frames of a foot have stopped or resumed.
func (o *Monitor) Notice(f device.Foot, why link.Notice) {
	if why.Code == link.Flowing {
		o.Say(fmt.Sprintf("%s: %s", f, words.SignalBack))
	} else if o.away[f] == "" {
		o.since[f] = time.Now()
		o.Say(fmt.Sprintf("%s: no signal: %s", f, why))
		o.Bell(Halt)
	}
	o.away[f] = why.String()
	o.show()
}

// Action is an action of the user during a recording.
type Action int

const (
	TakeNote  Action = iota // write a note into the recording
	DropLast                // discard the last relevé, or the one before those discarded
	TakeBack                // take back the last discard
	SkipPress               // end the requested pad press
	PressPad                // request a pad press
	GoOn                    // continue with the next step of a guided fitting
)

// Mark is an action at a time.
type Mark struct {
	Action Action
	At     time.Time
	Note   string // the text of TakeNote
}

// Do executes an action of the user. keep reports whether the event e is to be recorded.
func (o *Monitor) Do(m Mark) (e device.Event, keep bool) {
	e = device.Event{TimeNS: m.At.UnixNano(), Foot: device.NoFoot, Kind: device.Discard}
	switch m.Action {
	case TakeNote:
		if strings.ContainsFunc(m.Note, device.IsControl) {
			o.Say("note not kept: write it without control characters")
			return e, false
		}
		if err := device.CheckLength(m.Note); err != nil {
			o.Say("note not kept: " + err.Error())
			return e, false
		}
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
		o.guide.update()
	case TakeBack:
		n := o.watch.TakeBack(e.TimeNS)
		if n == 0 {
			o.Say("there is nothing to take back")
			return e, false
		}
		e.Cause, e.Text = device.TakenBack, fmt.Sprintf("relevé %d", n)
		o.Say(fmt.Sprintf("relevé %d counts again", n))
		o.guide.update()
	case SkipPress:
		o.press.skip()
		return e, false
	case PressPad:
		o.guide.warned = false
		o.press.begin()
		return e, false
	case GoOn:
		e.Kind, e.Text = device.Note, o.guide.next(o.press.step != nil)
		return e, e.Text != ""
	default:
		return e, false
	}
	return e, true
}

// messages is how many of the last messages are kept.
const messages = 8

// Say adds a message for the user.
func (o *Monitor) Say(message string) {
	if len(o.said) == messages {
		o.said = slices.Delete(o.said, 0, 1)
	}
	o.said = append(o.said, message)
}

// up reports whether every foot that is recorded carries load.
func (o *Monitor) up() bool {
	for f, now := range o.watch.Readings() {
		if o.Meta.Sides[f] != nil && now.LoadN < live.LoadFloorN {
			return false
		}
	}
	return true
}

// State fills s with the content of the live view. It overwrites s, and s shares no
// memory with the monitor.
func (o *Monitor) State(s *screen.State) {
	s.Stage, s.Press, s.Watched = screen.Recording, o.press.state, o.press.Watched
	switch {
	case o.press.step != nil:
		s.Stage = screen.Pressing
	case o.guide.putOn() && !o.up():
		s.Stage = screen.PuttingOn
	}
	s.Guided, s.Planned, s.Counted, s.Enough = o.guide.guided, o.guide.planned, o.watch.Counted(), o.guide.enough()
	s.Doubt = cmp.Or(o.press.doubt[device.Left], o.press.doubt[device.Right])
	s.File, s.Stop, s.Says = o.Title, o.Stop, append(s.Says[:0], o.said...)
	o.watch.Snapshot(&s.Live)
	for _, f := range device.Feet {
		s.Feet[f] = screen.Line{Away: o.away[f], Since: o.since[f]}
		if o.tally != nil {
			s.Feet[f].Frames, s.Feet[f].Lost = o.tally.Counted(f)
		}
	}
}
