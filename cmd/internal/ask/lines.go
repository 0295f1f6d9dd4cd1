package ask

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"strings"
	"unicode"
)

// Lines is a Person that types answers as lines. An empty line takes the marked or
// previous answer, < goes back.
type Lines struct {
	Out   io.Writer
	Typed <-chan string // nil or closed where there is no input
	Echo  bool          // the input is not visible, for example because it comes from a pipe
}

// Tell implements Person.
func (l Lines) Tell(lines ...string) {
	for _, line := range lines {
		fmt.Fprintln(l.Out, line)
	}
}

// Ask implements Person.
func (l Lines) Ask(ctx context.Context, q Question) (string, error) {
	l.Tell(q.Notes...)
	for {
		fmt.Fprint(l.Out, q.prompt()+" ")
		var typed string
		select {
		case <-ctx.Done():
			fmt.Fprintln(l.Out)
			return "", ctx.Err()
		case line, ok := <-l.Typed:
			if !ok {
				fmt.Fprintln(l.Out)
				return "", cmp.Or(ctx.Err(), ErrNoAnswer) // input ends with ctx as well
			}
			typed = strings.TrimSpace(line)
			if l.Echo {
				fmt.Fprintln(l.Out, typed)
			}
		}
		if typed == "<" {
			return "", ErrBack
		}
		answer, err := q.typed(typed)
		if err == nil {
			return answer, nil
		}
		fmt.Fprintln(l.Out, "  "+err.Error())
	}
}

// prompt returns the question in one line, or with one option per line where the labels
// are long.
func (q *Question) prompt() string {
	if len(q.Options) == 0 {
		if q.Answer != "" {
			return q.Text + " [" + q.Answer + "]"
		}
		return q.Text
	}
	var options []string
	for i, o := range q.Options {
		one := o.Key + " " + o.Label
		if o.Key == o.Label {
			one = o.Key
		}
		if !q.Several && i == q.Marked {
			one = "[" + one + "]"
		}
		options = append(options, one)
	}
	if q.Several {
		return q.Text + " (" + strings.Join(options, ", ") + "; Enter for none)"
	}
	return q.Text + " (" + strings.Join(options, ", ") + ")"
}

// noAnswer is what a person types for "" where another answer is suggested.
const noAnswer = "-"

// typed returns the answer for a typed line.
func (q *Question) typed(line string) (string, error) {
	if strings.ContainsFunc(line, unicode.IsControl) {
		return "", fmt.Errorf("write it without control characters, such as those of the arrow keys")
	}
	switch {
	case len(q.Options) == 0 && line == "":
		return q.Answer, nil
	case len(q.Options) == 0 && line == noAnswer:
		return "", nil
	case len(q.Options) == 0:
		return line, nil
	case line == "" && !q.Several:
		return q.Options[q.Marked].Key, nil
	}
	return q.choose(line)
}
