package main

import (
	"fmt"
	"io"
	"os"
	"time"

	"golang.org/x/term"
)

// progress tells how far the work is: one line that is overwritten on a
// terminal, elsewhere a plain line every ten seconds.
type progress struct {
	w        io.Writer
	terminal *os.File // nil where w is none, or a dumb one
	now      func() time.Time
	last     time.Time
}

func newProgress(w io.Writer) *progress {
	p := &progress{w: w, now: time.Now, last: time.Now()}
	if f, ok := w.(*os.File); ok && isTerminal(f) && os.Getenv("TERM") != "dumb" {
		p.terminal = f
	}
	return p
}

// by goes by another clock than the system's.
func (p *progress) by(now func() time.Time) *progress {
	p.now, p.last = now, now()
	return p
}

func isTerminal(f *os.File) bool { return term.IsTerminal(int(f.Fd())) }

const (
	plainEvery    = 10 * time.Second
	terminalEvery = 100 * time.Millisecond
)

// show prints a line where one is due.
func (p *progress) show(format string, args ...any) {
	every := plainEvery
	if p.terminal != nil {
		every = terminalEvery
	}
	now := p.now()
	if now.Sub(p.last) < every {
		return
	}
	p.last = now
	text := fmt.Sprintf(format, args...)
	if p.terminal == nil {
		fmt.Fprintln(p.w, text)
		return
	}
	p.clear()
	fmt.Fprint(p.w, p.fitting(text))
}

// fitting cuts text to the terminal's width: what runs on to a second line
// could not be overwritten.
func (p *progress) fitting(text string) string {
	width, _, err := term.GetSize(int(p.terminal.Fd()))
	if r := []rune(text); err == nil && width > 1 && len(r) >= width {
		return string(r[:width-1])
	}
	return text
}

// clear leaves a terminal's line empty for what follows.
func (p *progress) clear() {
	if p.terminal != nil {
		fmt.Fprint(p.w, "\r\x1b[K")
	}
}
