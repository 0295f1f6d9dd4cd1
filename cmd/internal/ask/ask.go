// Package ask asks the user short questions, most of which are answered with one key.
// Three keys are enough while hands are on a shoe: next takes the marked answer, repeat
// marks the next one, undo goes back to the previous question. A presenter's remote has
// these keys too.
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

// Question is a question to the user.
type Question struct {
	Text    string
	Notes   []string // information for answering, one line each
	Options []Option // empty where any text is an answer
	Several bool     // any number of the options can be chosen, including none
	Marked  int      // the option that next takes, shown as the usual one
	Answer  string   // the previous answer (text or keys), which is kept unless changed
}

// Person answers questions.
type Person interface {
	// Tell shows lines without a question.
	Tell(lines ...string)
	// Ask returns the answer: the key of an option, the keys of several, or a text. It
	// returns ErrBack where the user goes back to the previous question.
	Ask(ctx context.Context, q Question) (string, error)
}

var (
	// ErrBack is returned where the user goes back to the previous question.
	ErrBack = errors.New("back to the question before")
	// ErrNoAnswer is returned where the input has ended.
	ErrNoAnswer = errors.New("what is typed has ended before the question was answered")
)

// Step is one question of a series, with the effect of its answer. Question is called
// when it is asked, so that it can depend on previous answers; ok is false where it is
// skipped. Take returns an error for an impossible answer, which is shown before the
// question is asked again.
type Step struct {
	Question func() (q Question, ok bool)
	Take     func(answer string) error
}

// Series asks steps in order. Undo at the first step returns ErrBack.
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

// choose returns the keys of the typed options: by key, by the beginning of a label, or,
// for several, by either, separated by blanks or commas.
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
