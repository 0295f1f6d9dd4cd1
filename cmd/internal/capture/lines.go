package capture

import (
	"context"
	"fmt"
	"io"
	"time"

	"aplomb/analyze/live"
	"aplomb/analyze/measure"
	"aplomb/cmd/internal/console"
	"aplomb/device"
	"aplomb/device/link"
	"aplomb/plots/words"
)

// RunInLines records with r and reports to w in lines: first that it listens to
// what, then warnings, every relevé that has ended, and progress by the clock now.
func RunInLines(ctx context.Context, r *Recorder, w io.Writer, now func() time.Time, what string) (*Tally, error) {
	progress := console.NewProgress(w).By(now)
	say := func(format string, args ...any) {
		progress.Clear()
		fmt.Fprintf(w, format+"\n", args...)
	}
	r.Notify = func(f device.Foot, why link.Notice) {
		if why.Code == link.Flowing {
			say("%s: frames come again", f)
		} else {
			say("%s: no frames (%s); the recording waits for them", f, why)
		}
	}
	open := r.Open
	r.Open = func(ctx context.Context, notify func(device.Foot, link.Notice)) (Source, error) {
		source, err := open(ctx, notify)
		if err == nil {
			say("listening %s; Ctrl-C ends it", what)
		}
		return source, err
	}
	watch := live.New(&r.Meta)
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
		progress.Show("recording %s", n)
	}
	n, err := r.Run(ctx)
	progress.Clear()
	if n != nil {
		for _, warning := range n.News() {
			say("warning: %s", warning)
		}
	}
	return n, err
}

// endedWords describes one foot of a relevé that has just ended, in one line.
func endedWords(one live.Ended) string {
	if !one.Hold.Settled {
		return fmt.Sprintf("relevé %d, %s: never settled (provisional)", one.N, one.Foot)
	}
	h := one.Hold
	return fmt.Sprintf("relevé %d, %s: hold %.1f s, over %s mm, contact %s, %s (provisional)", one.N, one.Foot, h.HoldS,
		words.Number(h.OverMM, 1), words.DisplayOf(measure.ContactShare).Value(h.ContactShare), words.Verdict(h.Verdict, h.MedialMM))
}
