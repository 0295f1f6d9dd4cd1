package capture

import (
	"context"
	"fmt"
	"io"
	"strings"
	"time"

	"aplomb/analyze/live"
	"aplomb/analyze/measure"
	"aplomb/cmd/internal/console"
	"aplomb/device"
	"aplomb/device/link"
	"aplomb/plots/screen"
	"aplomb/plots/words"
)

// Lines are the inputs of RunInLines other than the recording.
type Lines struct {
	Out   io.Writer
	Now   func() time.Time // the clock of the progress
	What  string           // description of the source
	Press PressOptions
	Typed <-chan string // lines typed by the user; nil or closed without input
	Bell  func(Signal)  // rings a signal; may be nil

	Watch func(fill func(*screen.State)) // as in a Monitor; may be nil
}

// RunInLines records with r and reports in lines: first the source, then warnings, the
// pad press, every finished relevé, and progress.
func RunInLines(ctx context.Context, r *Recorder, l Lines) (*Tally, error) {
	if l.Bell == nil {
		l.Bell = func(Signal) {}
	}
	progress := console.NewProgress(l.Out).By(l.Now)
	say := func(format string, args ...any) {
		progress.Clear()
		fmt.Fprintf(l.Out, format+"\n", args...)
	}
	watch := live.New(&r.Meta)
	shown := &Monitor{Meta: &r.Meta, watch: watch, Watch: l.Watch}
	r.Notify = func(f device.Foot, why link.Notice) {
		if why.Code == link.Flowing {
			say("%s: %s", f, words.SignalBack)
		} else {
			say("%s: no signal: %s; %s", f, why, words.GoesOn)
			l.Bell(Halt)
		}
		shown.away[f] = why.String()
		shown.show()
	}
	open := r.Open
	r.Open = func(ctx context.Context, notify func(device.Foot, link.Notice)) (Source, error) {
		source, err := open(ctx, notify)
		if err == nil {
			say("listening %s; Ctrl-C ends it", l.What)
		}
		return source, err
	}
	line := func(text string) { say("%s", text) }
	press := &shown.press
	*press = presses{PressOptions: l.Press, meta: &r.Meta, watch: watch, say: line, prompt: line}
	if l.Press.Ask {
		press.begin()
	}
	lead := &shown.guide
	*lead = guide{
		guided: l.Press.Guided, planned: l.Press.Releves, key: "Enter", meta: &r.Meta, watch: watch,
		say: line, prompt: line, bell: l.Bell, finish: func() { r.stop() }, worn: !l.Press.Ask, whenWorn: l.Press.Worn,
	}
	press.over, press.doubted = lead.pressed, func() { l.Bell(Halt) }
	keys := &typedKeys{typed: l.Typed, press: press, guide: lead, say: line}
	r.Recorded = func(n *Tally, f *device.Frame) {
		for _, warning := range n.News() {
			say("warning: %s", warning)
		}
		ended, err := watch.Add(f)
		if err != nil {
			return // the analysis will say so
		}
		for _, one := range ended {
			say("%s", endedWords(one))
		}
		press.frame(f)
		keys.offer()
		if len(ended) > 0 {
			press.offer()
			lead.update()
		}
		shown.tally = n
		shown.show()
		progress.Show("recording %s", n)
	}
	r.Marks = func() []device.Event {
		return append(keys.take(), press.take()...)
	}
	r.End = press.end
	n, err := r.Run(ctx)
	progress.Clear()
	if n != nil {
		for _, warning := range n.News() {
			say("warning: %s", warning)
		}
	}
	return n, err
}

// typedKeys are the keys of a recording in lines, each typed with Enter: s skips the
// requested pad press, p requests one. In a guided fitting Enter alone continues.
type typedKeys struct {
	typed   <-chan string
	press   *presses
	guide   *guide
	say     func(string)
	offered bool // the skipping of the press
}

// take executes the lines typed, and returns the resulting notes for the recording.
func (k *typedKeys) take() (notes []device.Event) {
	for k.typed != nil {
		select {
		case line, ok := <-k.typed:
			if !ok {
				k.typed, k.press.again = nil, ""
				return notes
			}
			if note := k.do(line); note != "" {
				notes = append(notes, device.Event{TimeNS: time.Now().UnixNano(), Foot: device.NoFoot, Kind: device.Note, Text: note})
			}
		default:
			return notes
		}
	}
	return notes
}

// do executes one line and returns the resulting note for the recording, "" for none.
func (k *typedKeys) do(line string) (note string) {
	switch line = strings.TrimSpace(line); {
	case line == "":
		return k.guide.next(k.press.step != nil)
	case line == "s" && k.press.step != nil:
		k.press.skip()
	case line == "s":
		k.say("no pad press is asked for: nothing to skip")
	case line == "p" && k.press.step != nil:
		k.say("a pad press is asked for already")
	case line == "p":
		k.press.begin()
	default:
		k.say(fmt.Sprintf("%.20q: type s to skip a pad press, p to ask for one, Ctrl-C to end the recording", line))
	}
	return ""
}

// offer prints once how to skip a requested press.
func (k *typedKeys) offer() {
	if k.typed == nil {
		return
	}
	k.press.again = "p and Enter"
	if k.press.step != nil && k.press.state.Phase == live.PressAsked && !k.offered {
		k.offered = true
		k.say("s and Enter skips the pad press")
	}
}

// endedWords describes one foot of a relevé that has just ended, in one line.
func endedWords(one live.Ended) string {
	if !one.Hold.Settled {
		return fmt.Sprintf("relevé %d, %s: never settled (provisional)", one.N, one.Foot)
	}
	h := one.Hold
	return fmt.Sprintf("relevé %d, %s: hold %.1f s, over %s mm, contact %s, %s (provisional)", one.N, one.Foot, h.HoldS,
		words.Number(h.OverMM, 1), words.DisplayOf(measure.ContactShare).Value(h.ContactShare), words.Verdict(h.Verdict, h.Misses, h.MedialMM))
}
