package rehearsal

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"aplomb/cmd/internal/ask"
)

// Robot gives the marked answers to questions, and prints them. As long as there is input
// it lets the user answer first.
type Robot struct {
	Out   io.Writer
	First *ask.Lines // nil without input

	unknown string // the question without options or previous answer that came last
}

// Tell implements ask.Person.
func (r *Robot) Tell(lines ...string) {
	for _, line := range lines {
		fmt.Fprintln(r.Out, line)
	}
}

// Ask implements ask.Person. It returns ask.ErrNoAnswer where the same question for a text
// comes twice, because an empty answer was not accepted.
func (r *Robot) Ask(ctx context.Context, q ask.Question) (string, error) {
	if err := ctx.Err(); err != nil {
		return "", err
	}
	if r.First != nil {
		answer, err := r.First.Ask(ctx, q)
		if !errors.Is(err, ask.ErrNoAnswer) {
			return answer, err
		}
		q.Notes = nil // they were told
	}
	again := q.Text
	if len(q.Options) > 0 || q.Answer != "" {
		again = ""
	}
	if again != "" && again == r.unknown {
		return "", ask.ErrNoAnswer
	}
	r.unknown = again
	r.Tell(q.Notes...)
	answer, said := q.Answer, q.Answer
	switch {
	case q.Several:
		answer, said = "", "none"
	case len(q.Options) > 0:
		answer, said = q.Options[q.Marked].Key, q.Options[q.Marked].Label
	}
	r.Tell(strings.TrimSpace(q.Text + " " + said))
	return answer, nil
}
