package console_test

import (
	"bytes"
	"context"
	"errors"
	"io"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/cmd/internal/console"
)

func TestPerson(t *testing.T) {
	var out bytes.Buffer
	p := console.NewPerson(t.Context(), &out, strings.NewReader(" 36 \n\x1b[A\nwide\n38\nYes\n\n"))
	answer, err := p.Ask("width:")
	require.NoError(t, err)
	assert.Equal(t, "36", answer)

	var taken []string
	require.NoError(t, p.AskUntil("depth:", func(answer string) error {
		taken = append(taken, answer)
		if answer == "wide" {
			return errors.New("no length")
		}
		return nil
	}))
	assert.Equal(t, []string{"wide", "38"}, taken)
	assert.Contains(t, out.String(), "  write it without control characters, such as those of the arrow keys\ndepth:   no length\n")

	for _, want := range []bool{true, false, false} { // yes, Enter, the end
		yes, err := p.Confirm("write?")
		require.NoError(t, err)
		assert.Equal(t, want, yes)
	}
	_, err = p.Ask("more:")
	assert.ErrorIs(t, err, console.ErrNoAnswer)
}

// An unanswered question ends with the context.
func TestAskStopped(t *testing.T) {
	in, _ := io.Pipe()
	ctx, stop := context.WithCancel(t.Context())
	p := console.NewPerson(ctx, io.Discard, in)
	stop()
	_, err := p.Ask("width:")
	assert.ErrorIs(t, err, context.Canceled)
	ended := make(chan string)
	close(ended)
	p.Lines = ended
	for range 40 { // which of the two comes first is up to chance
		_, err := p.Ask("width:")
		require.ErrorIs(t, err, context.Canceled)
	}
}

func TestNobodyAtATerminal(t *testing.T) {
	assert.Nil(t, console.AtTerminal(t.Context(), &bytes.Buffer{}))
}

func TestMovesCursor(t *testing.T) {
	t.Setenv("TERM", "xterm")
	assert.True(t, console.MovesCursor())
	t.Setenv("TERM", "dumb")
	assert.False(t, console.MovesCursor())
	t.Setenv("TERM", "")
	assert.Equal(t, runtime.GOOS == "windows", console.MovesCursor())
}
