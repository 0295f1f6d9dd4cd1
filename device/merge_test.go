package device

import (
	"errors"
	"io"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// list is a Source of frames with the given arrivals, and of the error after them.
type list struct {
	foot     Foot
	arrivals []int64
	then     error
}

func (l *list) Next(f *Frame) error {
	if len(l.arrivals) == 0 {
		return l.then
	}
	*f = Frame{Foot: l.foot, ArrivalNS: l.arrivals[0], Counts: append(f.Counts[:0], uint16(l.arrivals[0]))}
	l.arrivals = l.arrivals[1:]
	return nil
}

func drain(t *testing.T, s Source) (feet []Foot, arrivals []int64, err error) {
	var f Frame
	for {
		if err = s.Next(&f); err != nil {
			return feet, arrivals, err
		}
		require.Equal(t, []uint16{uint16(f.ArrivalNS)}, f.Counts)
		feet, arrivals = append(feet, f.Foot), append(arrivals, f.ArrivalNS)
	}
}

func TestMergeInOrderOfArrival(t *testing.T) {
	m := Merge(&list{foot: Left, arrivals: []int64{1, 4, 5}, then: io.EOF}, &list{foot: Right, arrivals: []int64{2, 4, 9, 10}, then: io.EOF})
	feet, arrivals, err := drain(t, m)
	assert.Equal(t, io.EOF, err)
	assert.Equal(t, []int64{1, 2, 4, 4, 5, 9, 10}, arrivals)
	assert.Equal(t, []Foot{Left, Right, Left, Right, Left, Right, Right}, feet)
	assert.Equal(t, io.EOF, m.Next(&Frame{}), "and so it stays")
}

func TestMergeOfNothing(t *testing.T) {
	_, arrivals, err := drain(t, Merge(&list{then: io.EOF}, &list{then: io.EOF}))
	assert.Equal(t, io.EOF, err)
	assert.Empty(t, arrivals)
}

// An error of one source comes after the frames that came before it.
func TestMergePassesErrorsOn(t *testing.T) {
	broken := errors.New("broken line")
	_, arrivals, err := drain(t, Merge(&list{arrivals: []int64{1, 2}, then: broken}, &list{arrivals: []int64{3}, then: io.EOF}))
	assert.Equal(t, broken, err)
	assert.Equal(t, []int64{1, 2}, arrivals)
}
