package ask

import (
	"context"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	tea "charm.land/bubbletea/v2"
	"charm.land/lipgloss/v2"

	"aplomb/cmd/internal/text"
	"aplomb/device"
	"aplomb/plots/screen"
)

// Keys is a Person at a terminal, who answers with single keys.
type Keys struct {
	On *os.File // the terminal
}

// Tell implements Person.
func (k Keys) Tell(lines ...string) {
	for _, line := range lines {
		fmt.Fprintln(k.On, line)
	}
}

// Ask implements Person.
func (k Keys) Ask(ctx context.Context, q Question) (string, error) {
	m := newForm(q)
	_, err := tea.NewProgram(m, tea.WithContext(ctx), tea.WithInput(os.Stdin), tea.WithOutput(k.On), tea.WithoutSignalHandler()).Run()
	switch {
	case ctx.Err() != nil:
		return "", ctx.Err()
	case errors.Is(err, tea.ErrProgramKilled):
		return "", ErrNoAnswer
	case err != nil:
		return "", fmt.Errorf("asking at the terminal: %w (--plain does without single keys)", err)
	case m.back:
		return "", ErrBack
	case m.stopped:
		return "", context.Canceled
	}
	return m.answer(), nil
}

// Wait shows the remaining time until it is over or the user presses next.
func (k Keys) Wait(ctx context.Context, text string, length time.Duration) error {
	m := &pause{text: text, end: time.Now().Add(length)}
	_, err := tea.NewProgram(m, tea.WithContext(ctx), tea.WithInput(os.Stdin), tea.WithOutput(k.On), tea.WithoutSignalHandler()).Run()
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case err != nil && !errors.Is(err, tea.ErrProgramKilled):
		return fmt.Errorf("the clock at the terminal: %w (--plain does without it)", err)
	case m.stopped:
		return context.Canceled
	}
	return nil
}

// pause is a clock at a terminal.
type pause struct {
	text    string
	end     time.Time
	over    bool
	stopped bool
}

type tick struct{}

func (p *pause) next() tea.Cmd {
	return tea.Tick(250*time.Millisecond, func(time.Time) tea.Msg { return tick{} })
}

// Init implements tea.Model.
func (p *pause) Init() tea.Cmd { return p.next() }

// Update implements tea.Model.
func (p *pause) Update(msg tea.Msg) (tea.Model, tea.Cmd) {
	key, pressed := msg.(tea.KeyPressMsg)
	switch {
	case pressed && key.String() == "ctrl+c":
		p.stopped = true
	case pressed && IsNext(key.String()), time.Now().After(p.end):
		p.over = true
	}
	switch {
	case p.stopped, p.over:
		return p, tea.Quit
	case pressed:
		return p, nil
	}
	return p, p.next()
}

// View implements tea.Model. Nothing of the clock stays on the screen.
func (p *pause) View() tea.View {
	if p.over || p.stopped {
		return tea.NewView("")
	}
	clock := text.Clock(max(0, time.Until(p.end)))
	return tea.NewView(lipgloss.NewStyle().Bold(true).Render(p.text+" "+clock) + "\n" + screen.Letters(clock) + "\nspace goes on\n")
}

// form is one question at a terminal.
type form struct {
	Question
	marked  int
	chosen  map[string]bool // of several
	text    []rune
	done    bool
	back    bool
	stopped bool
	wrong   string // why the last key was no answer
	high    int    // lines of the terminal; 0 where that is not known
}

func newForm(q Question) *form {
	f := &form{Question: q, marked: q.Marked, chosen: map[string]bool{}, text: []rune(q.Answer)}
	if q.Several { // next alone chooses none
		f.marked = len(q.Options)
	}
	for _, key := range strings.Split(q.Answer, ",") {
		f.chosen[key] = true
	}
	return f
}

// The keys of a keyboard, a presenter's remote or a pedal that stand for the three.
var (
	nextKeys   = []string{"enter", "space", " ", "pgdown", "right", "down"}
	repeatKeys = []string{"tab", ".", "b"}
	undoKeys   = []string{"pgup", "left", "up", "backspace"}
)

// IsNext, IsRepeat and IsUndo report whether a key, as bubbletea names it, is one of the
// three keys.
func IsNext(key string) bool   { return slices.Contains(nextKeys, key) }
func IsRepeat(key string) bool { return slices.Contains(repeatKeys, key) }
func IsUndo(key string) bool   { return slices.Contains(undoKeys, key) }

func (f *form) Init() tea.Cmd { return nil }

// Update implements tea.Model.
func (f *form) Update(msg tea.Msg) (tea.Model, tea.Cmd) {
	if size, is := msg.(tea.WindowSizeMsg); is {
		f.high = size.Height
	}
	if pasted, is := msg.(tea.PasteMsg); is && len(f.Options) == 0 {
		f.text = append(f.text, Pasted(pasted.Content, longest-len(f.text))...)
	}
	key, ok := msg.(tea.KeyPressMsg)
	if !ok {
		return f, nil
	}
	f.key(key.String(), key.Text)
	if f.done || f.back || f.stopped {
		return f, tea.Quit
	}
	return f, nil
}

func (f *form) key(name, typed string) {
	f.wrong = ""
	switch {
	case name == "ctrl+c":
		f.stopped = true
	case len(f.Options) == 0:
		f.write(name, typed)
	case f.choosesOption(name):
	case IsNext(name):
		f.take()
	case IsRepeat(name):
		f.marked = (f.marked + 1) % f.rows()
	case IsUndo(name) || name == "u" || name == "esc":
		f.back = true
	default:
		f.wrong = "one of " + f.keys() + "; space takes what is marked, backspace goes back"
	}
}

// rows returns the number of lines that can be marked: of several there is one more,
// which ends the question.
func (f *form) rows() int {
	if f.Several {
		return len(f.Options) + 1
	}
	return len(f.Options)
}

// choosesOption processes a key that belongs to an option.
func (f *form) choosesOption(name string) bool {
	i := slices.IndexFunc(f.Options, func(o Option) bool { return strings.EqualFold(o.Key, name) })
	if i < 0 {
		return false
	}
	f.marked = i
	if f.Several {
		f.chosen[f.Options[i].Key] = !f.chosen[f.Options[i].Key]
		f.marked = len(f.Options)
	} else {
		f.done = true
	}
	return true
}

// take takes the marked option.
func (f *form) take() {
	if f.Several && f.marked < len(f.Options) {
		f.choosesOption(f.Options[f.marked].Key)
		return
	}
	f.done = true
}

// longest is the largest length of a text, characters.
const longest = 200

// write handles a key where any text is an answer.
func (f *form) write(name, typed string) {
	if len(f.text) == 0 && IsNext(name) { // no text begins with a blank
		f.done = true
		return
	}
	switch name {
	case "enter", "pgdown":
		f.done = true
	case "esc", "pgup":
		f.back = true
	case "backspace":
		if len(f.text) == 0 {
			f.back = true
		}
		f.text = f.text[:max(0, len(f.text)-1)]
	default:
		if typed == noAnswer && string(f.text) == f.Answer {
			f.text = nil // in place of what is suggested
		}
		if len(f.text) < longest {
			f.text = append(f.text, []rune(typed)...)
		}
	}
}

// Pasted returns pasted text as one line of at most room characters.
func Pasted(text string, room int) []rune {
	line := strings.Map(func(r rune) rune {
		if device.IsControl(r) || r == utf8.RuneError {
			return ' '
		}
		return r
	}, text)
	all := []rune(strings.TrimSpace(line))
	return all[:min(len(all), max(0, room))]
}

// answer returns the answer once the question is done.
func (f *form) answer() string {
	switch {
	case len(f.Options) == 0:
		if said := strings.TrimSpace(string(f.text)); said != noAnswer {
			return said
		}
		return ""
	case !f.Several:
		return f.Options[f.marked].Key
	}
	var keys []string
	for _, o := range f.Options {
		if f.chosen[o.Key] {
			keys = append(keys, o.Key)
		}
	}
	return strings.Join(keys, ",")
}

// View implements tea.Model. What was answered stays on the screen in one line.
func (f *form) View() tea.View {
	bold := lipgloss.NewStyle().Bold(true)
	if f.back || f.stopped {
		return tea.NewView("")
	}
	var b strings.Builder
	for _, note := range f.Notes {
		b.WriteString(note + "\n")
	}
	if f.done {
		b.WriteString(f.Text + " " + bold.Render(f.answerText()) + "\n")
		return tea.NewView(b.String())
	}
	b.WriteString(bold.Render(f.Text) + "\n")
	if len(f.Options) == 0 {
		b.WriteString("> " + string(f.text) + "_\n")
	}
	var rows []string
	for i, o := range f.Options {
		mark := "  "
		if i == f.marked {
			mark = "> "
		}
		box := ""
		if f.Several {
			box = map[bool]string{true: "[x] ", false: "[ ] "}[f.chosen[o.Key]]
		}
		line := mark + box + o.Key + "  " + o.Label
		if o.Key == o.Label {
			line = mark + box + o.Key
		}
		if i == f.marked {
			line = bold.Render(line)
		}
		rows = append(rows, line)
	}
	if f.Several {
		line := "  that is all"
		if f.marked == len(f.Options) {
			line = bold.Render("> that is all")
		}
		rows = append(rows, line)
	}
	for _, line := range f.visible(rows) {
		b.WriteString(line + "\n")
	}
	b.WriteString(f.wrong)
	return tea.NewView(b.String())
}

// visible returns the rows around the marked one that fit a low terminal together with the
// question, which would otherwise scroll out of sight, and the note on a wrong key.
func (f *form) visible(rows []string) []string {
	room := max(1, f.high-2)
	if f.high == 0 || len(rows) <= room {
		return rows
	}
	first := min(max(0, f.marked-room/2), len(rows)-room)
	return rows[first : first+room]
}

// answerText returns the answer in words.
func (f *form) answerText() string {
	if len(f.Options) == 0 {
		return f.answer()
	}
	var labels []string
	for _, o := range f.Options {
		if !f.Several && o.Key == f.Options[f.marked].Key || f.Several && f.chosen[o.Key] {
			labels = append(labels, o.Label)
		}
	}
	if len(labels) == 0 {
		return "none"
	}
	return strings.Join(labels, ", ")
}
