package liveview

import (
	"testing"
	"time"

	tea "charm.land/bubbletea/v2"
	"github.com/charmbracelet/colorprofile"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/cmd/internal/capture"
	"aplomb/device"
	"aplomb/plots/screen"
)

func newHandoverOf(press bool) *handover {
	m := &device.Metadata{Dancer: "D7"}
	for f := range m.Sides {
		m.Sides[f] = &device.Side{
			Strip: &device.Strip{
				Name: "S", Foot: device.Foot(f), Rows: 5, Cols: 8, PitchMM: [2]float64{5, 5}, CellMM: [2]float64{5, 5},
				ADCBits: 12, SaturatesAt: 4095, FirstCell: "back-lateral", Scan: "rows", Calibration: device.Calibration{KPaPerCount: 0.75},
			},
			Shoe: &device.Shoe{Code: "A", PlatformMM: [2]float64{36, 22}, OutlineExponent: 2.5},
		}
	}
	return newHandover(capture.NewMonitor(m, "a.mcap", capture.PressOptions{Ask: press}))
}

// typed sends keys to a window: a key's name, or one character each.
func typed(w *window, keys ...string) {
	for _, k := range keys {
		switch k {
		case "enter":
			w.Update(tea.KeyPressMsg{Code: tea.KeyEnter})
		case "esc":
			w.Update(tea.KeyPressMsg{Code: tea.KeyEscape})
		case "backspace":
			w.Update(tea.KeyPressMsg{Code: tea.KeyBackspace})
		default:
			w.Update(tea.KeyPressMsg{Code: []rune(k)[0], Text: k})
		}
	}
}

func TestKeys(t *testing.T) {
	h := newHandoverOf(false)
	stopped := 0
	w := newWindow(h, func() { stopped++ })
	typed(w, "d")
	assert.Empty(t, h.pending(), "nothing is on the screen yet")
	h.offer()
	w.Update(<-h.fresh)
	typed(w, "d", "u", "n", "a", "d", "x", "backspace", "enter", "n", "q", "esc")
	var got []capture.Mark
	for _, m := range h.pending() {
		assert.WithinDuration(t, time.Now(), m.At, time.Minute)
		m.At = time.Time{}
		got = append(got, m)
	}
	assert.Equal(t, []capture.Mark{{Action: capture.DropLast}, {Action: capture.TakeBack}, {Action: capture.TakeNote, Note: "ad"}}, got)
	assert.Zero(t, stopped)
	typed(w, "n", "a")
	written := time.Now()
	typed(w, "enter")
	assert.True(t, h.pending()[0].At.Before(written), "a note is of the time when it was begun")
	w.Update(tea.PasteMsg{Content: "not a note"})
	typed(w, "n", "a")
	w.Update(tea.PasteMsg{Content: "\tb\nc "})
	typed(w, "enter")
	assert.Equal(t, "ab c", h.pending()[0].Note)
	typed(w, "s")
	assert.Empty(t, h.pending(), "there is no press to skip")
	typed(w, "p")
	require.Equal(t, capture.PressPad, h.pending()[0].Action)
	typed(w, "q", "d")
	assert.Equal(t, 1, stopped)
	assert.Empty(t, h.pending(), "it ends")
	w.Update(tea.KeyPressMsg{Code: 'c', Mod: tea.ModCtrl})
	assert.Equal(t, 2, stopped, "once more for somebody who waits")
	_, cmd := w.Update(ended{})
	require.NotNil(t, cmd)
	assert.IsType(t, tea.QuitMsg{}, cmd())
}

// During a press the keys s and n work; the others wait.
func TestKeysDuringAPress(t *testing.T) {
	h := newHandoverOf(true)
	w := newWindow(h, func() {})
	h.offer()
	w.Update(<-h.fresh)
	typed(w, "d", "u", "p", "n", "s", "enter", "s")
	marks := h.pending()
	require.Len(t, marks, 2)
	assert.Equal(t, "s", marks[0].Note)
	assert.Equal(t, capture.SkipPress, marks[1].Action)
	h.monitor.Do(marks[1])
	h.offer()
	w.Update(<-h.fresh)
	assert.Equal(t, screen.Recording, w.state.Stage)
	h.monitor.Do(capture.Mark{Action: capture.PressPad})
	h.offer()
	w.Update(<-h.fresh)
	assert.Equal(t, screen.Pressing, w.state.Stage)
}

func TestWindowDraws(t *testing.T) {
	h := newHandoverOf(false)
	w := newWindow(h, func() {})
	w.Update(tea.WindowSizeMsg{Width: 100, Height: 30})
	assert.Empty(t, w.View().Content, "nothing has come yet")
	h.monitor.Say("tape moved")
	h.offer()
	w.Update(<-h.fresh)
	assert.Contains(t, w.View().Content, "tape moved")
	w.ending = true
	w.View()
	assert.Equal(t, screen.Ending, w.state.Stage)
}

func TestColoursOfATerminal(t *testing.T) {
	w := newWindow(newHandoverOf(false), func() {})
	for p, want := range map[colorprofile.Profile]screen.Colours{
		colorprofile.NoTTY: screen.NoColours, colorprofile.ASCII: screen.NoColours, colorprofile.ANSI: screen.Colours16,
		colorprofile.ANSI256: screen.Colours256, colorprofile.TrueColor: screen.TrueColours,
	} {
		w.Update(tea.ColorProfileMsg{Profile: p})
		assert.Equal(t, want, w.screen.Colours, "%s", p)
	}
}

// The three keys work as labelled in a guided recording, and a pedal's keys do the same.
func TestThreeKeys(t *testing.T) {
	m := newHandoverOf(false).monitor.Meta
	h := newHandover(capture.NewMonitor(m, "step 1", capture.PressOptions{Guided: true, Releves: 3}))
	w := newWindow(h, func() {})
	h.offer()
	w.Update(<-h.fresh)
	for _, key := range []rune{tea.KeySpace, tea.KeyEnter, tea.KeyPgDown, tea.KeyTab, '.', tea.KeyBackspace, tea.KeyPgUp} {
		w.Update(tea.KeyPressMsg{Code: key})
	}
	var does []capture.Action
	for _, mark := range h.pending() {
		does = append(does, mark.Action)
	}
	next, press, drop := capture.GoOn, capture.PressPad, capture.DropLast
	assert.Equal(t, []capture.Action{next, next, next, press, press, drop, drop}, does)
}

// The recording never waits for a screen that draws nothing. The screen's next picture is
// the newest one.
func TestSlowScreen(t *testing.T) {
	h := newHandoverOf(false)
	w := newWindow(h, func() {})
	for range 100 {
		h.monitor.Say("old")
		h.offer()
	}
	h.monitor.Say("new")
	h.offer()
	w.Update(<-h.fresh)
	assert.Equal(t, "new", w.state.Says[len(w.state.Says)-1])
	for range 100 { // states go round
		h.offer()
		w.Update(<-h.fresh)
	}
}
