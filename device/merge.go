package device

import (
	"errors"
	"io"
)

// Merge returns a Source of the frames of a and b in order of arrival. Where two
// frames arrived at once, that of a comes first.
func Merge(a, b Source) Source { return &merged{sources: [2]Source{a, b}} }

type merged struct {
	sources [2]Source
	frames  [2]Frame
	errs    [2]error // the error that ended each source
	begun   bool     // the first frame of each has been read
}

func (m *merged) Next(f *Frame) error {
	if !m.begun {
		m.begun = true
		m.pull(0)
		m.pull(1)
	}
	for _, err := range m.errs {
		if err != nil && !errors.Is(err, io.EOF) {
			return err
		}
	}
	i := 0
	if m.errs[0] != nil || (m.errs[1] == nil && m.frames[1].ArrivalNS < m.frames[0].ArrivalNS) {
		i = 1
	}
	if m.errs[i] != nil {
		return io.EOF
	}
	next := &m.frames[i]
	counts := append(f.Counts[:0], next.Counts...)
	*f = *next
	f.Counts = counts
	m.pull(i)
	return nil
}

// pull reads the next frame of a source, or the error that ends it.
func (m *merged) pull(i int) { m.errs[i] = m.sources[i].Next(&m.frames[i]) }
