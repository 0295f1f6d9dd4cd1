package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"unicode"

	"github.com/spf13/cobra"
)

// asker asks the person at a terminal.
type asker struct {
	ctx     context.Context
	to      io.Writer
	answers <-chan string // closed at the end of what is typed
}

// newAsker returns nil where there is nobody to ask.
func newAsker(cmd *cobra.Command) *asker {
	if !atTerminal(cmd) {
		return nil
	}
	return &asker{cmd.Context(), cmd.ErrOrStderr(), typedLines(cmd.Context(), os.Stdin)}
}

// ask asks a question once.
func (a *asker) ask(question string) (string, error) {
	fmt.Fprint(a.to, question+" ")
	select {
	case <-a.ctx.Done():
		fmt.Fprintln(a.to)
		return "", a.ctx.Err()
	case answer, ok := <-a.answers:
		if !ok {
			return "", errors.New("no answer: nothing was changed")
		}
		return strings.TrimSpace(answer), nil
	}
}

// until asks a question until an answer is taken.
func (a *asker) until(question string, take func(string) error) error {
	for {
		answer, err := a.ask(question)
		if err != nil {
			return err
		}
		if strings.ContainsFunc(answer, unicode.IsControl) {
			err = errors.New("write it without control characters, such as those of the arrow keys")
		} else {
			err = take(answer)
		}
		if err != nil {
			fmt.Fprintln(a.to, "  "+explain(err))
			continue
		}
		return nil
	}
}
