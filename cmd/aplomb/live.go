package main

import (
	"errors"
	"fmt"
	"os"
	"slices"
	"time"

	tea "charm.land/bubbletea/v2"
	"github.com/charmbracelet/colorprofile"

	"aplomb/analyze/live"
	"aplomb/device"
	"aplomb/plots/screen"
)

// drawEvery is how often a new picture may be drawn. A frame waits no longer for
// one; what came meanwhile is drawn with it.
const drawEvery = 25 * time.Millisecond

// view is the recording's side of the live view: it belongs to the goroutine
// that records, which never waits for the screen. It hands over what there is
// to see, and of two pictures that were not drawn yet the newer one stays.
type view struct {
	meta  *device.Metadata
	out   string // what the recording is called
	stop  string // what the visit has to say of pain
	watch *live.Watch
	tally *tally
	press *live.Press // nil where none is asked for, or none any more

	stage   screen.Stage
	pressed live.Pressed
	away    [2]string
	since   [2]time.Time // when away began
	says    []string
	events  []device.Event // marked, to be written

	keys  chan key           // from the screen
	fresh chan *screen.State // to the screen, one at most
	spare chan *screen.State // and back
	drawn time.Time
}

// key is what somebody asked for at a moment.
type key struct {
	does keyDoes
	at   time.Time
	text string // of a note
}

type keyDoes int

const (
	takesNote keyDoes = iota
	discards
	takesBack
	skipsPress
)

// states is how many there are: one with the screen, one on the way, one being filled.
const states = 3

func newView(m *device.Metadata, out string, press bool) *view {
	v := &view{
		meta: m, out: out, watch: live.New(m), stage: screen.Recording,
		keys: make(chan key, 64), fresh: make(chan *screen.State, 1), spare: make(chan *screen.State, states),
	}
	if press {
		v.press, v.stage = &live.Press{}, screen.Pressing
	}
	for range states {
		v.spare <- &screen.State{}
	}
	return v
}

// ready follows the press with which a recording begins.
func (v *view) ready(f *device.Frame) (bool, error) {
	if _, err := v.watch.Add(f); err != nil {
		return false, err
	}
	v.pressed = v.press.See(f.ArrivalNS, [2]float64{v.watch.LoadN(device.Left), v.watch.LoadN(device.Right)})
	skipped := false
	for _, k := range v.pending() {
		skipped = skipped || k.does == skipsPress
	}
	switch {
	case v.pressed == live.Swapped:
		return false, swapped(v.meta)
	case v.pressed == live.Done:
		v.say("that was the left platform: recording")
	case skipped:
		v.say("recording, without a press: which strip is under which foot was not tested")
	default:
		v.draw()
		return false, nil
	}
	v.watch, v.stage = live.New(v.meta), screen.Recording
	return true, nil
}

// swapped says that the right strip answered the press on the left platform.
func swapped(m *device.Metadata) error {
	return fmt.Errorf("the left platform was to be pressed and strip %s of the right foot answered: swap the strips or their cables; nothing was recorded",
		m.Sides[device.Right].Strip.Name)
}

// frame follows a frame that is recorded.
func (v *view) frame(n *tally, f *device.Frame) {
	v.tally = n
	if _, err := v.watch.Add(f); err != nil {
		v.say("the live view does not follow: " + err.Error()) // the recording does
	}
	v.draw()
}

// notice follows what the link says of a foot.
func (v *view) notice(f device.Foot, why string) {
	if why == "" {
		v.say(fmt.Sprintf("%s: frames come again", f))
	} else if v.away[f] == "" {
		v.since[f] = time.Now()
		v.say(fmt.Sprintf("%s: no frames (%s)", f, why))
	}
	v.away[f] = why
	v.drawn = time.Time{}
	v.draw()
}

// marks does what keys asked for, and returns what of it is to be written.
func (v *view) marks() []device.Event {
	v.events = v.events[:0]
	for _, k := range v.pending() {
		e := device.Event{TimeNS: k.at.UnixNano(), Foot: device.NoFoot, Kind: device.Discard}
		switch k.does {
		case takesNote:
			e.Kind, e.Text = device.Note, k.text
			v.say("note kept: " + k.text)
		case discards:
			n := v.watch.Discard(e.TimeNS)
			if n == 0 {
				v.say("there is no relevé to discard")
				continue
			}
			e.Text = fmt.Sprintf("relevé %d", n)
			v.say(fmt.Sprintf("relevé %d discarded: u takes that back", n))
		case takesBack:
			n := v.watch.TakeBack(e.TimeNS)
			if n == 0 {
				v.say("there is nothing to take back")
				continue
			}
			e.Cause, e.Text = device.TakenBack, fmt.Sprintf("relevé %d", n)
			v.say(fmt.Sprintf("relevé %d counts again", n))
		default:
			continue
		}
		v.events = append(v.events, e)
	}
	return v.events
}

// pending returns the keys pressed since it was last called.
func (v *view) pending() (all []key) {
	for {
		select {
		case k := <-v.keys:
			all = append(all, k)
		default:
			return all
		}
	}
}

// say notes what happened. It is drawn with the next picture.
func (v *view) say(text string) {
	const kept = 8
	if len(v.says) == kept {
		v.says = slices.Delete(v.says, 0, 1)
	}
	v.says = append(v.says, text)
	v.drawn = time.Time{}
}

// draw hands over a picture where one is due.
func (v *view) draw() {
	now := time.Now()
	if now.Sub(v.drawn) < drawEvery {
		return
	}
	v.drawn = now
	var s *screen.State
	select {
	case s = <-v.spare:
	case s = <-v.fresh: // was not taken yet
	}
	s.Stage, s.Pressed, s.File, s.Stop, s.Says = v.stage, v.pressed, v.out, v.stop, append(s.Says[:0], v.says...)
	v.watch.Snapshot(&s.Live)
	for _, f := range device.Feet {
		s.Feet[f] = screen.Line{Away: v.away[f], Since: v.since[f]}
		if v.tally != nil {
			s.Feet[f].Frames, s.Feet[f].Lost = v.tally.counted(f)
		}
	}
	select {
	case old := <-v.fresh:
		v.spare <- old
	default:
	}
	v.fresh <- s
}

// window is the screen's side: what is on it, and the keys.
type window struct {
	screen     *screen.Screen
	state      *screen.State
	wide, high int
	noting     bool
	note       []rune
	ending     bool
	view       *view
	stop       func() // the recording
}

type (
	tick  struct{}
	ended struct{}
)

func every() tea.Cmd {
	return tea.Tick(250*time.Millisecond, func(time.Time) tea.Msg { return tick{} })
}

func (w *window) Init() tea.Cmd { return every() }

// Update implements tea.Model.
func (w *window) Update(msg tea.Msg) (tea.Model, tea.Cmd) {
	switch msg := msg.(type) {
	case *screen.State:
		if w.state != nil {
			w.view.spare <- w.state
		}
		w.state = msg
	case tick:
		return w, every() // for how long something has been so
	case tea.WindowSizeMsg:
		w.wide, w.high = msg.Width, msg.Height
	case tea.ColorProfileMsg:
		w.screen.Colours = msg.Profile >= colorprofile.ANSI256 // fewer have no scale of one hue
	case tea.KeyPressMsg:
		w.key(msg)
	case ended:
		return w, tea.Quit
	}
	return w, nil
}

func (w *window) key(msg tea.KeyPressMsg) {
	press := func(does keyDoes, text string) {
		select {
		case w.view.keys <- key{does, time.Now(), text}:
		default: // nobody presses so fast
		}
	}
	name := msg.String()
	switch {
	case name == "ctrl+c":
		w.ending = true
		w.stop()
	case w.ending:
	case w.noting:
		switch name {
		case "enter":
			if len(w.note) > 0 {
				press(takesNote, string(w.note))
			}
			w.noting, w.note = false, nil
		case "esc":
			w.noting, w.note = false, nil
		case "backspace":
			w.note = w.note[:max(0, len(w.note)-1)]
		default:
			if len(w.note) < maxNote {
				w.note = append(w.note, []rune(msg.Text)...)
			}
		}
	case name == "q":
		w.ending = true
		w.stop()
	case w.state == nil:
	case w.state.Stage == screen.Pressing:
		if name == "s" {
			press(skipsPress, "")
		}
	case name == "n":
		w.noting = true
	case name == "d":
		press(discards, "")
	case name == "u":
		press(takesBack, "")
	}
}

// maxNote is how long a note may be, characters.
const maxNote = 500

// View implements tea.Model.
func (w *window) View() tea.View {
	v := tea.NewView("")
	v.AltScreen = true
	v.WindowTitle = "aplomb"
	if w.state == nil || w.wide == 0 {
		return v
	}
	w.state.Noting, w.state.Note, w.state.Now = w.noting, string(w.note), time.Now()
	if w.ending {
		w.state.Stage = screen.Ending
	}
	v.SetContent(w.screen.Draw(w.state, w.wide, w.high))
	return v
}

// canShow says whether there is a terminal to draw the live view on and to
// press keys at.
func canShow(stdin *os.File, stderr any) (*os.File, bool) {
	f, ok := stderr.(*os.File)
	return f, ok && isTerminal(f) && isTerminal(stdin) && os.Getenv("TERM") != "dumb"
}

// show records with r and shows how it goes on a terminal, until the link ends.
// stop is to end the link.
func (v *view) show(r *recorder, on *os.File, stop func()) (n *tally, err error) {
	w := &window{screen: &screen.Screen{}, view: v, stop: stop}
	for f, side := range v.meta.Sides {
		if side != nil {
			w.screen.Platforms[f] = screen.NewPlatform(side.Strip, side.Shoe)
		}
	}
	program := tea.NewProgram(w, tea.WithInput(os.Stdin), tea.WithOutput(on), tea.WithoutSignalHandler(), tea.WithFPS(120))
	v.draw()
	done := make(chan struct{})
	go func() {
		defer close(done)
		n, err = r.record()
		program.Send(ended{})
	}()
	go func() {
		for {
			select {
			case s := <-v.fresh:
				program.Send(s)
			case <-done:
				return
			}
		}
	}()
	_, failed := program.Run()
	stop() // where the terminal has gone, the recording ends well
	<-done
	if failed != nil && !errors.Is(failed, tea.ErrProgramKilled) {
		failed = fmt.Errorf("the live view: %w (--plain does without it)", failed)
		return n, errors.Join(err, failed)
	}
	return n, err
}
