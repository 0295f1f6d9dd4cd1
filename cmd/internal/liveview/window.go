package liveview

import (
	"time"

	tea "charm.land/bubbletea/v2"
	"github.com/charmbracelet/colorprofile"

	"aplomb/cmd/internal/ask"
	"aplomb/cmd/internal/capture"
	"aplomb/device"
	"aplomb/plots/screen"
)

// window is the live view on the terminal: it draws states and handles keys.
type window struct {
	screen     *screen.Screen
	state      *screen.State // nil until one has come
	wide, high int
	noting     bool
	notedAt    time.Time // when the note was begun
	note       []rune
	ending     bool
	marks      chan<- capture.Mark
	spare      chan<- *screen.State
	stop       func() // the recording
}

func newWindow(h *handover, stop func()) *window {
	w := &window{screen: &screen.Screen{}, marks: h.marks, spare: h.spare, stop: stop}
	for f, side := range h.monitor.Meta.Sides {
		if side != nil {
			w.screen.Platforms[f] = screen.NewPlatform(side.Strip, side.Shoe)
		}
	}
	return w
}

type (
	tick  struct{} // a quarter of a second has passed
	ended struct{} // the recording has ended
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
			w.spare <- w.state
		}
		w.state = msg
	case tick:
		return w, every() // the screen shows elapsed times
	case tea.WindowSizeMsg:
		w.wide, w.high = msg.Width, msg.Height
	case tea.ColorProfileMsg:
		w.screen.Colours = coloursOf(msg.Profile)
	case tea.KeyPressMsg:
		w.key(msg)
	case tea.PasteMsg:
		if w.noting {
			w.note = append(w.note, ask.Pasted(msg.Content, device.MaxText-len(w.note))...)
		}
	case ended:
		return w, tea.Quit
	}
	return w, nil
}

// coloursOf returns how many colours a terminal of a profile has.
func coloursOf(p colorprofile.Profile) screen.Colours {
	switch {
	case p >= colorprofile.TrueColor:
		return screen.TrueColours
	case p >= colorprofile.ANSI256:
		return screen.Colours256
	case p >= colorprofile.ANSI:
		return screen.Colours16
	}
	return screen.NoColours
}

func (w *window) key(msg tea.KeyPressMsg) {
	name := msg.String()
	switch {
	case name == "ctrl+c":
		w.end()
	case w.ending:
	case w.noting:
		w.write(name, msg.Text)
	case name == "q":
		w.end()
	case w.state == nil:
	case name == "n":
		w.noting, w.notedAt = true, time.Now()
	case ask.IsNext(name):
		w.mark(capture.GoOn)
	case w.state.Stage == screen.Pressing:
		if name == "s" {
			w.mark(capture.SkipPress)
		}
	case name == "p", ask.IsRepeat(name):
		w.mark(capture.PressPad)
	case name == "d", ask.IsUndo(name):
		w.mark(capture.DropLast)
	case name == "u":
		w.mark(capture.TakeBack)
	}
}

// end ends the recording.
func (w *window) end() {
	w.ending = true
	w.stop()
}

// mark passes on the user's request.
func (w *window) mark(does capture.Action) { w.markAt(time.Now(), does, "") }

// markAt passes on the user's request with the time that it is about: a note is about
// what was seen when its first key was pressed, and typing it takes as long as a relevé.
func (w *window) markAt(at time.Time, does capture.Action, note string) {
	select {
	case w.marks <- capture.Mark{Action: does, At: at, Note: note}:
	default: // keys faster than a user can press them
	}
}

// write handles a key while a note is being written.
func (w *window) write(name, typed string) {
	switch name {
	case "enter":
		if len(w.note) > 0 {
			w.markAt(w.notedAt, capture.TakeNote, string(w.note))
		}
		w.noting, w.note = false, nil
	case "esc":
		w.noting, w.note = false, nil
	case "backspace":
		w.note = w.note[:max(0, len(w.note)-1)]
	default:
		if len(w.note) < device.MaxText {
			w.note = append(w.note, []rune(typed)...)
		}
	}
}

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
