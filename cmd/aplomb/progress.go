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
	terminal bool
	last     time.Time
}

func newProgress(w io.Writer) *progress {
	p := &progress{w: w, last: time.Now()}
	if f, ok := w.(*os.File); ok {
		p.terminal = term.IsTerminal(int(f.Fd()))
	}
	return p
}

const (
	plainEvery    = 10 * time.Second
	terminalEvery = 100 * time.Millisecond
)

// due says whether it is time for another line.
func (p *progress) due() bool {
	every := plainEvery
	if p.terminal {
		every = terminalEvery
	}
	return time.Since(p.last) >= every
}

// show prints a line where one is due.
func (p *progress) show(format string, args ...any) {
	if !p.due() {
		return
	}
	p.last = time.Now()
	if p.terminal {
		fmt.Fprintf(p.w, "\r\x1b[K"+format, args...)
	} else {
		fmt.Fprintf(p.w, format+"\n", args...)
	}
}

// clear leaves a terminal's line empty for what follows.
func (p *progress) clear() {
	if p.terminal {
		fmt.Fprint(p.w, "\r\x1b[K")
	}
}
