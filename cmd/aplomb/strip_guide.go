package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"aplomb/analyze/calibrate"
	"aplomb/device"
	"aplomb/device/link"
)

// guide leads somebody at a terminal from step to step, and reads the strip
// meanwhile.
type guide struct {
	frames  device.Source
	end     func() error
	say     io.Writer
	live    *progress
	answers <-chan string // lines typed; closed at the end of them; nil where nobody is there to type
	zero    []float64     // nil until it is known
}

// How long a step is read for.
const (
	stillFor = 5 * time.Second  // unloaded
	loadFor  = 4 * time.Second  // under a load, since that last changed
	creepFor = 11 * time.Second // under the one load that creep is told from
)

// atTerminal says whether somebody is there to ask.
func atTerminal(cmd *cobra.Command) bool {
	f, ok := cmd.ErrOrStderr().(*os.File)
	return ok && isTerminal(f) && isTerminal(os.Stdin)
}

// newGuide opens the strip's port.
func newGuide(cmd *cobra.Command, w *workshop) (*guide, error) {
	opt := link.Options{Baud: w.baud}
	opt.Ports[w.strip.Foot], opt.Strips[w.strip.Foot] = w.port, w.strip
	g := &guide{say: cmd.ErrOrStderr(), live: newProgress(cmd.ErrOrStderr())}
	opt.Notify = func(_ device.Foot, why link.Notice) {
		g.live.clear()
		if why.Code == link.Flowing {
			fmt.Fprintln(g.say, "frames come again: repeat this step if its weight was changed meanwhile")
		} else {
			fmt.Fprintf(g.say, "no frames (%s); waiting for them\n", why)
		}
	}
	src, err := link.Open(cmd.Context(), opt)
	if err != nil {
		return nil, err
	}
	g.frames, g.end = src, src.Close
	if atTerminal(cmd) {
		g.answers = typedLines(cmd.Context(), os.Stdin)
	}
	return g, nil
}

// typedLines passes on what is typed, line by line.
func typedLines(ctx context.Context, in io.Reader) <-chan string {
	lines := make(chan string)
	go func() {
		defer close(lines)
		for s := bufio.NewScanner(in); s.Scan(); {
			select {
			case lines <- s.Text():
			case <-ctx.Done():
				return
			}
		}
	}()
	return lines
}

func (g *guide) close() { g.end() }

// errAlone is that of steps that need somebody.
var errAlone = errors.New("somebody has to say when each step is ready, and this is no terminal: name a file for each step instead, as in 5kg=load.csv")

// still asks for something and reads the strip from the answer on. Where nobody
// is there to answer it reads at once.
func (g *guide) still(prompt string) (t take, err error) {
	if g.answers != nil {
		if _, err := g.until(prompt, func(*take) bool { return false }); err != nil {
			return t, err
		}
	}
	return g.collect(func(t *take, _ bool) bool { return g.span(t) >= stillFor.Seconds() })
}

// loaded asks for a load and reads it: from before it is put on until it has been
// on for long enough and Enter was pressed, whichever is later.
func (g *guide) loaded(prompt string, long time.Duration) (take, error) {
	if g.answers == nil {
		return take{}, errAlone
	}
	return g.until(prompt, func(t *take) bool {
		on := calibrate.LoadChangedAt(t.timeS, t.frames, g.zero)
		left := long.Seconds() - (t.timeS[len(t.timeS)-1] - on)
		if left > 0 {
			g.live.show("  leave it on for %.0f s more", left+0.5)
		}
		return left > 0
	})
}

// passed asks for a pass of a roller and reads it whole.
func (g *guide) passed(prompt string) (take, error) {
	if g.answers == nil {
		return take{}, errAlone
	}
	return g.until(prompt, func(*take) bool { return false })
}

// until reads until Enter has been pressed and there need be no more; more is
// asked a few times a second.
func (g *guide) until(prompt string, more func(*take) bool) (take, error) {
	fmt.Fprintln(g.say, prompt)
	answered, gone := false, false
	t, err := g.collect(func(t *take, due bool) bool {
		select {
		case _, open := <-g.answers:
			answered, gone = true, !open
		default:
		}
		switch {
		case gone:
			return true
		case !due:
			return false
		case !answered:
			g.live.show("  %s", g.reading(t))
			return false
		}
		return !more(t)
	})
	if err == nil && gone {
		err = errStopped
	}
	return t, err
}

var errStopped = errors.New("stopped; nothing was written")

// lookEvery is how often the readings of a step are looked at, s.
const lookEvery = 0.2

// collect reads frames until enough says so; due says that it is time to look.
func (g *guide) collect(enough func(t *take, due bool) bool) (t take, err error) {
	defer g.live.clear()
	var f device.Frame
	looked := 0.0
	for {
		err := g.frames.Next(&f)
		if errors.Is(err, io.EOF) {
			return t, errStopped
		}
		if err == nil {
			err = t.add(&f, 0)
		}
		if err != nil {
			return t, err
		}
		now := t.timeS[len(t.timeS)-1]
		due := now-looked >= lookEvery || now < looked
		if due {
			looked = now
		}
		if enough(&t, due) {
			return t, nil
		}
	}
}

func (g *guide) span(t *take) float64 { return t.timeS[len(t.timeS)-1] - t.timeS[0] }

// reading is what the strip reads now, and whether it has settled.
func (g *guide) reading(t *take) string {
	now, before := g.mean(t, 0, 0.5), g.mean(t, 0.5, 1)
	text := fmt.Sprintf("%.1f counts a cell", now)
	if settled(now, before) {
		return text + ", settled: press Enter"
	}
	return text + ", settling"
}

// settled compares two half seconds.
func settled(now, before float64) bool {
	d := now - before
	return d*d <= 0.25+1e-4*now*now // half a count, and a hundredth
}

// mean is the mean of all cells between so many seconds ago, above the zero.
func (g *guide) mean(t *take, from, to float64) float64 {
	sum, n := 0.0, 0.0
	last := t.timeS[len(t.timeS)-1]
	for i := len(t.timeS) - 1; i >= 0 && t.timeS[i] > last-to; i-- {
		if t.timeS[i] > last-from {
			continue
		}
		for k, y := range t.frames[i] {
			sum, n = sum+float64(y), n+1
			if g.zero != nil {
				sum -= g.zero[k]
			}
		}
	}
	return sum / n
}

// confirm asks a question that is no unless the answer is yes.
func (w *workshop) confirm(question string) (bool, error) {
	fmt.Fprint(w.cmd.ErrOrStderr(), question)
	var answer string
	if w.guide != nil {
		if w.guide.answers == nil {
			fmt.Fprintln(w.cmd.ErrOrStderr())
			return false, nil
		}
		select {
		case answer = <-w.guide.answers:
		case <-w.cmd.Context().Done():
			return false, w.cmd.Context().Err()
		}
	} else {
		select {
		case answer = <-typedLines(w.cmd.Context(), os.Stdin):
		case <-w.cmd.Context().Done():
			return false, w.cmd.Context().Err()
		}
	}
	answer = strings.ToLower(strings.TrimSpace(answer))
	return answer == "y" || answer == "yes", nil
}
