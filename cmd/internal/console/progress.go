package console

import (
	"fmt"
	"io"
	"os"
	"time"

	"golang.org/x/term"
)

// Progress shows how far the work has come: one line that is overwritten on a
// terminal, elsewhere a plain line every ten seconds.
type Progress struct {
	w        io.Writer
	terminal *os.File // nil where w is none, or one that cannot move its cursor
	now      func() time.Time
	last     time.Time
}

// Quiet is a writer on which no progress is shown. Everything else is written to it.
type Quiet struct{ io.Writer }

// NewProgress returns the progress that is written to w, which is none where w is Quiet.
func NewProgress(w io.Writer) *Progress {
	p := &Progress{w: w, now: time.Now, last: time.Now()}
	if _, quiet := w.(Quiet); quiet {
		p.w = io.Discard
		return p
	}
	if f, ok := Terminal(w); ok && MovesCursor() {
		p.terminal = f
	}
	return p
}

// By sets the clock that p uses in place of the system's, and returns p.
func (p *Progress) By(now func() time.Time) *Progress {
	p.now, p.last = now, now()
	return p
}

func isTerminal(f *os.File) bool { return term.IsTerminal(int(f.Fd())) }

const (
	plainEvery    = 10 * time.Second
	terminalEvery = 100 * time.Millisecond
)

// Show writes a line where one is due.
func (p *Progress) Show(format string, args ...any) {
	every := plainEvery
	if p.terminal != nil {
		every = terminalEvery
	}
	now := p.now()
	if now.Sub(p.last) < every {
		return
	}
	p.last = now
	line := fmt.Sprintf(format, args...)
	if p.terminal == nil {
		fmt.Fprintln(p.w, line)
		return
	}
	p.Clear()
	fmt.Fprint(p.w, p.cut(line))
}

// cut shortens a line to the terminal's width, because a second line could not be
// overwritten.
func (p *Progress) cut(line string) string {
	width, _, err := term.GetSize(int(p.terminal.Fd()))
	if r := []rune(line); err == nil && width > 1 && len(r) >= width {
		return string(r[:width-1])
	}
	return line
}

// Clear erases the progress line of a terminal, so that other output can follow.
func (p *Progress) Clear() {
	if p.terminal != nil {
		fmt.Fprint(p.w, "\r\x1b[K")
	}
}
