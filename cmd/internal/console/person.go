package console

import (
	"bufio"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"runtime"
	"strings"

	"aplomb/device"
)

// Person is a user who reads output and types answers.
type Person struct {
	ctx   context.Context
	Out   io.Writer     // what the person reads
	Lines <-chan string // what the person types, line by line; closed at the end of that
}

// NewPerson returns the person who reads out and types what comes from in, until
// ctx is done.
func NewPerson(ctx context.Context, out io.Writer, in io.Reader) *Person {
	lines := make(chan string)
	go func() {
		defer close(lines)
		for s := bufio.NewScanner(in); s.Scan(); {
			select {
			case lines <- s.Text():
			case <-ctx.Done():
				return
			}
		}
	}()
	return &Person{ctx, out, lines}
}

// AtTerminal returns the user at the terminal to which out writes, nil where out is no
// terminal or there is no input from it.
func AtTerminal(ctx context.Context, out io.Writer) *Person {
	if !Attended(out) {
		return nil
	}
	return NewPerson(ctx, out, os.Stdin)
}

// Attended reports whether out writes to a terminal at which somebody can type.
func Attended(out io.Writer) bool {
	_, ok := Terminal(out)
	return ok && isTerminal(os.Stdin)
}

// Terminal returns the terminal that out writes to; ok is false where it writes to
// something else.
func Terminal(out io.Writer) (on *os.File, ok bool) {
	if quiet, is := out.(Quiet); is {
		out = quiet.Writer
	}
	on, ok = out.(*os.File)
	return on, ok && isTerminal(on)
}

// MovesCursor reports whether a terminal obeys control sequences, by the environment
// variable TERM. Without it nothing is known of the terminal, except on Windows, where it
// is never set.
func MovesCursor() bool {
	t := os.Getenv("TERM")
	return t != "dumb" && (t != "" || runtime.GOOS == "windows")
}

// ErrNoAnswer is returned where the input ended before a question was answered.
var ErrNoAnswer = errors.New("no answer: nothing was changed")

// Ask asks a question once and returns the answer without blanks around it.
func (p *Person) Ask(question string) (string, error) {
	fmt.Fprint(p.Out, question+" ")
	select {
	case <-p.ctx.Done():
		fmt.Fprintln(p.Out)
		return "", p.ctx.Err()
	case answer, ok := <-p.Lines:
		if !ok {
			return "", cmp.Or(p.ctx.Err(), ErrNoAnswer) // input ends with ctx as well
		}
		return strings.TrimSpace(answer), nil
	}
}

// AskUntil asks a question until take takes the answer; an error of take is
// shown to the person.
func (p *Person) AskUntil(question string, take func(answer string) error) error {
	for {
		answer, err := p.Ask(question)
		if err != nil {
			return err
		}
		if strings.ContainsFunc(answer, device.IsControl) {
			err = errors.New("write it without control characters, such as those of the arrow keys")
		} else {
			err = take(answer)
		}
		if err == nil {
			return nil
		}
		fmt.Fprintln(p.Out, "  "+Explain(err))
	}
}

// Confirm asks a yes-or-no question. Any answer but y and yes means no.
func (p *Person) Confirm(question string) (bool, error) {
	answer, err := p.Ask(question + " [y/N]")
	if errors.Is(err, ErrNoAnswer) {
		return false, nil
	}
	answer = strings.ToLower(answer)
	return answer == "y" || answer == "yes", err
}
