package device

import (
	"errors"
	"io"
)

// Merge gives the frames of two sources in order of arrival, those of a first
// where both arrived at once.
func Merge(a, b Source) Source { return &merged{sources: [2]Source{a, b}} }

type merged struct {
	sources [2]Source
	frames  [2]Frame
	begun   bool
	ended   [2]bool
}

func (m *merged) Next(f *Frame) error {
	if !m.begun {
		m.begun = true
		for i := range m.sources {
			if err := m.pull(i); err != nil {
				return err
			}
		}
	}
	i := 0
	if m.ended[0] || (!m.ended[1] && m.frames[1].ArrivalNS < m.frames[0].ArrivalNS) {
		i = 1
	}
	if m.ended[i] {
		return io.EOF
	}
	next := &m.frames[i]
	counts := append(f.Counts[:0], next.Counts...)
	*f = *next
	f.Counts = counts
	return m.pull(i)
}

func (m *merged) pull(i int) error {
	err := m.sources[i].Next(&m.frames[i])
	if errors.Is(err, io.EOF) {
		m.ended[i] = true
		return nil
	}
	return err
}
