package ask

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	tea "charm.land/bubbletea/v2"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// typing returns a person who types the given lines and no more.
func typing(lines ...string) (Lines, *bytes.Buffer) {
	typed := make(chan string, len(lines))
	for _, line := range lines {
		typed <- line
	}
	close(typed)
	out := &bytes.Buffer{}
	return Lines{Out: out, Typed: typed}, out
}

var saw = Question{Text: "What did you see?", Several: true, Options: []Option{{"s", "sickles"}, {"k", "sinks"}, {"h", "heel loose"}}}
var decide = Question{Text: "This recording:", Marked: 1, Options: []Option{{"u", "use"}, {"r", "repeat"}, {"d", "discard"}}}

func TestLines(t *testing.T) {
	for _, c := range []struct {
		q     Question
		typed string
		want  string
	}{
		{decide, "", "r"}, {decide, "U", "u"}, {decide, "disc", "d"},
		{saw, "", ""}, {saw, "k, s", "k,s"}, {saw, "heel s", "h,s"}, {saw, "s s", "s"},
		{Question{Text: "Why?"}, " quiet landing ", "quiet landing"},
		{Question{Text: "Why?", Answer: "light"}, "", "light"}, {Question{Text: "Why?", Answer: "light"}, "-", ""},
	} {
		p, _ := typing(c.typed)
		got, err := p.Ask(t.Context(), c.q)
		require.NoError(t, err)
		assert.Equal(t, c.want, got, "%s %q", c.q.Text, c.typed)
	}
	p, out := typing("x", "\x1b[A", "u")
	got, err := p.Ask(t.Context(), decide)
	require.NoError(t, err)
	assert.Equal(t, "u", got)
	assert.Equal(t, "This recording: (u use, [r repeat], d discard)   \"x\": one of u, r, d\n"+
		"This recording: (u use, [r repeat], d discard)   write it without control characters, such as those of the arrow keys\n"+
		"This recording: (u use, [r repeat], d discard) ", out.String())
	_, err = p.Ask(t.Context(), decide)
	assert.ErrorIs(t, err, ErrNoAnswer)
	p, _ = typing("<")
	_, err = p.Ask(t.Context(), decide)
	assert.ErrorIs(t, err, ErrBack)
	stopped, stop := context.WithCancel(t.Context())
	stop()
	_, err = Lines{Out: out}.Ask(stopped, decide)
	assert.ErrorIs(t, err, context.Canceled)
	for range 40 { // which of the two comes first is up to chance
		p, _ = typing()
		_, err = p.Ask(stopped, decide)
		require.ErrorIs(t, err, context.Canceled)
	}
}

// Three keys answer every question with options.
func TestKeys(t *testing.T) {
	press := func(q Question, keys ...string) *form {
		f := newForm(q)
		for _, k := range keys {
			f.key(k, k)
		}
		return f
	}
	for _, c := range []struct {
		q    Question
		keys []string
		want string
	}{
		{decide, []string{"space"}, "r"}, {decide, []string{".", "pgdown"}, "d"}, {decide, []string{"tab", "tab", "enter"}, "u"}, {decide, []string{"d"}, "d"},
		{saw, []string{"s", "h", "enter"}, "s,h"}, {saw, []string{"s", "s", "enter"}, ""},
		{saw, []string{"pgdown"}, ""}, {saw, []string{".", "pgdown", "pgdown"}, "s"}, {saw, []string{".", ".", ".", ".", "pgdown"}, ""},
		{Question{Text: "Weight?"}, []string{"space"}, ""}, {Question{Text: "Weight?", Answer: "52"}, []string{"pgdown"}, "52"},
		{Question{Text: "Most rises?", Answer: "6"}, []string{"-", "enter"}, ""}, {Question{Text: "Why?"}, []string{"-", "enter"}, ""},
		{Question{Text: "Why?"}, []string{"a", "-", "enter"}, "a-"},
		{Question{Text: "Why?"}, []string{"a", "b", "backspace", "enter"}, "a"},
	} {
		f := press(c.q, c.keys...)
		assert.True(t, f.done, "%s %q", c.q.Text, c.keys)
		assert.Equal(t, c.want, f.answer(), "%s %q", c.q.Text, c.keys)
		assert.NotEmpty(t, f.View())
	}
	assert.True(t, press(decide, "pgup").back)
	assert.True(t, press(Question{Text: "Why?"}, "backspace").back)
	assert.True(t, press(decide, "ctrl+c").stopped)
	f := press(decide, "x")
	assert.False(t, f.done)
	assert.Contains(t, f.wrong, "one of u, r, d")
}

// A rest ends with its time or with next; other keys do not change it.
func TestRestClock(t *testing.T) {
	press := func(keys ...tea.KeyPressMsg) (*pause, tea.Cmd) {
		p := &pause{text: "Rest:", end: time.Now().Add(time.Hour)}
		var does tea.Cmd
		for _, k := range keys {
			_, does = p.Update(k)
		}
		return p, does
	}
	p, does := press(tea.KeyPressMsg{Code: 'x', Text: "x"}, tea.KeyPressMsg{Code: tea.KeyBackspace})
	assert.Nil(t, does)
	assert.Contains(t, p.View().Content, "60:00")
	for _, next := range []rune{tea.KeySpace, tea.KeyEnter, tea.KeyPgDown} {
		p, does = press(tea.KeyPressMsg{Code: next})
		require.NotNil(t, does)
		assert.IsType(t, tea.QuitMsg{}, does())
		assert.True(t, p.over)
		assert.Empty(t, p.View().Content)
	}
	p, _ = press(tea.KeyPressMsg{Code: 'c', Mod: tea.ModCtrl})
	assert.True(t, p.stopped)
	p = &pause{end: time.Now().Add(-time.Second)}
	p.Update(tick{})
	assert.True(t, p.over)
}

func TestSeriesGoesBack(t *testing.T) {
	var first, second string
	steps := []Step{
		{func() (Question, bool) { return Question{Text: "first", Answer: first}, true }, func(a string) error {
			if first = a; a == "" {
				return errors.New("this one is needed")
			}
			return nil
		}},
		{func() (Question, bool) { return Question{Text: "never"}, false }, func(string) error { return errors.New("not asked") }},
		{func() (Question, bool) { return Question{Text: "second"}, true }, func(a string) error { second = a; return nil }},
	}
	p, out := typing("", "a", "<", "b", "c")
	require.NoError(t, Series(t.Context(), p, steps))
	assert.Equal(t, "b", first)
	assert.Equal(t, "c", second)
	assert.Contains(t, out.String(), "this one is needed")
	assert.NotContains(t, out.String(), "never")
	p, _ = typing("<")
	assert.ErrorIs(t, Series(t.Context(), p, steps), ErrBack)
}

// On a low terminal the question and the marked option are visible.
func TestALowTerminal(t *testing.T) {
	pain := Question{Text: "Pain now:"}
	for i := range 11 {
		pain.Options = append(pain.Options, Option{string(rune('a' + i)), fmt.Sprint(i)})
	}
	for _, high := range []int{3, 5, 12, 13, 24} {
		f := newForm(pain)
		f.Update(tea.WindowSizeMsg{Width: 20, Height: high})
		for i := range 11 {
			shown := strings.Split(f.View().Content, "\n")
			assert.LessOrEqual(t, len(shown), high)
			assert.Contains(t, shown[0], "Pain now:")
			assert.Contains(t, f.View().Content, fmt.Sprintf("> %c  %d", 'a'+i, i))
			f.Update(tea.KeyPressMsg{Code: tea.KeyTab})
		}
	}
}

// What is pasted at a question for words is its text, on one line and not too long; at
// other questions it chooses nothing.
func TestPaste(t *testing.T) {
	f := newForm(Question{Text: "Why?"})
	f.Update(tea.PasteMsg{Content: "landed\nhard \x1b\u202e\xff"})
	assert.Equal(t, "landed hard", string(f.text))
	f.Update(tea.PasteMsg{Content: strings.Repeat("é\n", 10_000)})
	assert.Len(t, f.text, longest)
	assert.False(t, f.done)
	f = newForm(decide)
	f.Update(tea.PasteMsg{Content: "u d\n"})
	assert.False(t, f.done)
}
