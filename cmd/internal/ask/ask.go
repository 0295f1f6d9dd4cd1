// Package ask asks a person short questions, most of which one key answers. While hands
// are on a shoe three keys are enough: next takes what is marked, repeat marks the next
// answer, undo goes back to the question before. They are those of a presenter's remote
// too.
package ask

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
)

// Option is one answer to a question.
type Option struct {
	Key   string // the key that chooses it: one letter or digit
	Label string
}

// Question is something to be asked.
type Question struct {
	Text    string
	Notes   []string // what to know before answering, a line each
	Options []Option // empty where any text is an answer
	Several bool     // any number of the options can hold, none too
	Marked  int      // the option that next takes; the one that a person sees as the usual one
	Answer  string   // the text or keys that were answered before, which stand unless changed
}

// Person answers questions.
type Person interface {
	// Tell shows lines that ask nothing.
	Tell(lines ...string)
	// Ask returns the answer: the key of an option, the keys of several, or a text.
	// It returns ErrBack where the person wants the question before.
	Ask(ctx context.Context, q Question) (string, error)
}

var (
	// ErrBack means that a person goes back to the question before.
	ErrBack = errors.New("back to the question before")
	// ErrNoAnswer means that nobody can answer any more.
	ErrNoAnswer = errors.New("what is typed has ended before the question was answered")
)

// Step is one question of a series, with what its answer does. Question is called when
// it is asked, so that it can depend on the answers before; ok is false where it is not
// to be asked. Take returns an error where the answer is not possible, which is shown
// before the question is asked again.
type Step struct {
	Question func() (q Question, ok bool)
	Take     func(answer string) error
}

// Series asks steps in order. Undo at the first of them returns ErrBack.
func Series(ctx context.Context, p Person, steps []Step) error {
	asked := []int{}
	for i := 0; i < len(steps); {
		q, ok := steps[i].Question()
		if !ok {
			i++
			continue
		}
		answer, err := p.Ask(ctx, q)
		switch {
		case errors.Is(err, ErrBack) && len(asked) == 0:
			return err
		case errors.Is(err, ErrBack):
			i, asked = asked[len(asked)-1], asked[:len(asked)-1]
			continue
		case err != nil:
			return err
		}
		if err := steps[i].Take(answer); err != nil {
			p.Tell("  " + err.Error())
			continue
		}
		asked = append(asked, i)
		i++
	}
	return nil
}

// choose returns the keys of the options that were typed: by key, by the beginning of a
// label, or, for several, by either with blanks or commas between.
func (q *Question) choose(typed string) (string, error) {
	typed = strings.ToLower(strings.TrimSpace(typed))
	if !q.Several {
		return q.one(typed)
	}
	var keys []string
	for _, word := range strings.FieldsFunc(typed, func(r rune) bool { return r == ',' || r == ' ' }) {
		key, err := q.one(word)
		if err != nil {
			return "", err
		}
		if !slices.Contains(keys, key) {
			keys = append(keys, key)
		}
	}
	return strings.Join(keys, ","), nil
}

func (q *Question) one(typed string) (string, error) {
	for _, o := range q.Options {
		if typed == strings.ToLower(o.Key) {
			return o.Key, nil
		}
	}
	var found []string
	for _, o := range q.Options {
		if typed != "" && strings.HasPrefix(strings.ToLower(o.Label), typed) {
			found = append(found, o.Key)
		}
	}
	if len(found) == 1 {
		return found[0], nil
	}
	return "", fmt.Errorf("%.20q: one of %s", typed, q.keys())
}

// keys lists the keys of the options.
func (q *Question) keys() string {
	var keys []string
	for _, o := range q.Options {
		keys = append(keys, o.Key)
	}
	return strings.Join(keys, ", ")
}
