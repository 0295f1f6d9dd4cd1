package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strconv"
	"strings"
	"time"
	"unicode"

	"github.com/spf13/cobra"

	"aplomb/analyze"
	"aplomb/analyze/advise"
	"aplomb/analyze/check"
	"aplomb/analyze/compare"
	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/cmd/internal/ask"
	"aplomb/cmd/internal/batch"
	"aplomb/cmd/internal/capture"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/fitting"
	"aplomb/cmd/internal/intake"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/ports"
	"aplomb/cmd/internal/rehearsal"
	"aplomb/cmd/internal/text"
	"aplomb/device"
	"aplomb/device/link"
	"aplomb/plots/report"
)

// fittingRecorder implements the parts of a fitting that need strips, files and the
// screen.
type fittingRecorder struct {
	*fittingFlags
	cmd   *cobra.Command
	o     environment
	keys  *ask.Keys        // keys pressed by the user; nil where the user types lines
	typed <-chan string    // lines typed by the user; nil where the user presses keys
	stage *rehearsal.Stage // nil without simulation

	passing bool // the logbook is temporary

	prepared *preparedAnswer // nil until it is computed

	screen *fittingScreen // nil without a second screen
	person ask.Person
	chosen map[string]int // the user's choices, by question and options
}

// findStrips finds the ports of the strips, unless they were given or the strips are
// simulated. The user may plug in missing strips, and try again.
func (r *fittingRecorder) findStrips(ctx context.Context, s *intake.Setup, opt *link.Options) error {
	if r.stage != nil || opt.Ports != [2]string{} {
		return nil
	}
	strips, err := s.Candidates(ctx)
	if err != nil {
		return err
	}
	for {
		notes, err := findStrips(r.cmd, r.o, s, strips, opt, func(asks string, options []string) (int, error) { return r.choose(ctx, asks, options) })
		if err == nil {
			r.person.Tell(notes...)
			return nil
		}
		if ctx.Err() != nil || !errors.Is(err, ports.ErrNone) && !errors.Is(err, ports.ErrOne) && !errors.Is(err, ports.ErrUnclear) {
			return err
		}
		again, asking := r.person.Ask(ctx, ask.Question{
			Text: "Listen once more?", Notes: []string{text.Wrap(console.Explain(err))},
			Options: []ask.Option{{Key: "y", Label: "yes"}, {Key: "n", Label: "no, end here"}},
		})
		switch {
		case errors.Is(asking, ask.ErrBack):
		case asking != nil:
			return asking
		case again == "n":
			return err
		}
	}
}

// choose asks which strip is meant, once for the same strips on the same ports.
func (r *fittingRecorder) choose(ctx context.Context, asks string, options []string) (int, error) {
	q := ask.Question{Text: asks}
	for i, o := range options[:min(9, len(options))] {
		q.Options = append(q.Options, ask.Option{Key: strconv.Itoa(i + 1), Label: o})
	}
	same := asks + strings.Join(options, ",")
	if i, ok := r.chosen[same]; ok {
		return i, nil
	}
	for {
		answer, err := r.person.Ask(ctx, q)
		switch {
		case errors.Is(err, ask.ErrBack): // nothing to go back to
			continue
		case err != nil:
			return 0, err
		}
		i, err := strconv.Atoi(answer)
		if err == nil {
			r.chosen[same] = i - 1
		}
		return i - 1, err
	}
}

// rehearse replaces the strips by simulated ones, and the fitter's logbook by another
// one: in the folder of --logbook, else in a temporary one that done removes.
func (r *fittingRecorder) rehearse(f *fitting.Fitting) (done func(), err error) {
	done = func() {}
	said := "in a logbook of its own"
	if r.folder.Named == "" {
		dir, remove, err := rehearsal.Folder()
		if err != nil {
			return nil, err
		}
		done, r.passing = func() { remove() }, true // the next rehearsal removes what is left
		r.folder.Named = filepath.Join(dir, "logbook")
		said += " that is removed in the end"
	}
	if err := r.folder.BeginWith(io.Discard, rehearsal.Furnish); err != nil {
		done()
		return nil, err
	}
	if f.Dancer == "" {
		f.Dancer = rehearsal.Dancer
	}
	if len(f.Shoes) == 0 {
		f.Shoes = append(f.Shoes, rehearsal.Shoes...)
	}
	r.stage = &rehearsal.Stage{Seed: r.Seed, Cable: true}
	if r.keys != nil { // there is a user at the terminal
		r.stage.Pace = r.o.pace
	}
	f.Person.Tell(text.Wrap("A rehearsal: strips, shoes and dancer are simulated, " + said + "."))
	return done, nil
}

// record makes one recording of the fitting, adds it to the logbook and measures it.
func (r *fittingRecorder) record(ctx context.Context, rec fitting.Recording) (made fitting.Made, err error) {
	v := rec.Setup.Visit
	s := intake.Setup{Dancer: v.Dancer, Visit: v.Name(), Shoe: rec.Setup.Shoe, SameMounting: rec.Setup.SameMounting, Feedback: feedbackWith(r.show, rec.Setup.Feedback), Logbook: r.folder}
	now := r.o.now()
	if err := s.FindVisit(now); err != nil {
		return made, err
	}
	opt := r.link
	if err := r.findStrips(ctx, &s, &opt); err != nil { // again: a strip may have been replaced
		return made, err
	}
	feet := [2]bool{true, true}
	if r.stage == nil {
		feet = [2]bool{opt.Ports[device.Left] != "", opt.Ports[device.Right] != ""}
	}
	m, err := s.Metadata(ctx, now, feet)
	if err != nil {
		return made, err
	}
	o := r.o
	if r.stage == nil {
		if err := checkPorts(opt.Ports, &m); err != nil {
			return made, err
		}
	} else {
		o.listen = func(ctx context.Context, opt link.Options, m *device.Metadata) (capture.Source, error) {
			return r.stage.Open(ctx, m, rec.Press.Ask, rec.Press.Releves, opt.Notify)
		}
	}
	how := recordOptions{plain: r.plain, noPress: !rec.Press.Ask, releves: rec.Press.Releves, watched: rec.Press.Watched, others: rec.Press.Others, called: rec.Press.Called, guided: true, title: rec.Title, shownName: "recorded", typed: r.typed}
	if r.stage != nil {
		how.what, how.worn = "to simulated strips", r.stage.GoOn
	}
	if r.screen != nil {
		how.screen, how.shown.Shoes = r.screen.Server, r.screen.shoes()
	}
	err = r.folder.With(func(l *logbook.Logbook) error {
		how.out = l.NewRecordingPath(m.Started)
		return nil
	})
	if err != nil {
		return made, err
	}
	how.begun = keepsVisit(&r.folder, v)
	kept, failed := recordFile(r.cmd, o, opt, m, how)
	if !kept {
		if errors.Is(failed, capture.ErrUnloaded) {
			return made, nil
		}
		return made, failed
	}
	if r.stage == nil {
		if err := rememberPorts(&r.folder, r.o, opt, &m); err != nil {
			text.Warnings(r.cmd.ErrOrStderr(), []string{notRemembered + err.Error()})
		}
	}
	if made.Recording, err = intake.Add(ctx, &r.folder, v, how.out); err != nil {
		return made, errors.Join(failed, intake.LeftAt(err, v, how.out))
	}
	var c *compare.Comparison
	if made.Result, c, err = intake.Measure(ctx, &r.folder, made.Recording); err != nil {
		return made, errors.Join(failed, err)
	}
	if m.Feedback == device.FeedbackLive {
		r.screen.rest(time.Time{}) // comparisons do not include practice
	} else {
		r.screen.add(made.Recording.ID, c)
	}
	checked, err := check.Measured(context.WithoutCancel(ctx), made.Recording.Path, made.Result)
	if err == nil {
		made.Checked = checked.Summary()
	}
	return made, errors.Join(failed, err)
}

// relabel corrects the shoe of a recording, and measures it again.
func (r *fittingRecorder) relabel(ctx context.Context, made logbook.Recording, shoe string) error {
	s := intake.Relabel{Setup: intake.Setup{Shoe: shoe, Logbook: r.folder}, Given: func(flag string) bool { return flag == "shoe" }, Now: r.o.now()}
	err := r.folder.With(func(l *logbook.Logbook) (err error) {
		made, err = s.Recording(ctx, l, made)
		return err
	})
	if err != nil {
		return err
	}
	_, c, err := intake.Measure(ctx, &r.folder, made)
	if err == nil {
		r.screen.add(made.ID, c)
	}
	return err
}

// sheetName returns the default name of the fitting sheet of a visit, in the current
// folder. It contains the letters and digits of the dancer's code.
func sheetName(v logbook.Visit) string {
	code := strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return r
		}
		return '_'
	}, v.Dancer)
	return fmt.Sprintf("fitting-%s-%s.html", code, v.Name())
}

// preparedAnswer is the answer of a visit, computed while the user is asked the last
// questions. Fields other than stop and done may be read once done is closed.
type preparedAnswer struct {
	stop    context.CancelFunc
	done    chan struct{}
	of      lookup.Recordings
	c       *compare.Comparison
	results []*measure.Result
	said    bytes.Buffer // messages for the user
	err     error
}

// prepare starts computing the answer of a visit whose recordings will not change any
// more.
func (r *fittingRecorder) prepare(ctx context.Context, v logbook.Visit) {
	ctx, stop := context.WithCancel(ctx)
	a := &preparedAnswer{stop: stop, done: make(chan struct{})}
	r.prepared = a
	from := &lookup.Choice{Folder: r.folder, Dancer: v.Dancer, Visit: v.Name(), Now: r.o.now()}
	go func() {
		defer close(a.done)
		if a.of, a.err = from.Find(nil); a.err == nil {
			a.c, a.results, a.err = batch.Compare(ctx, console.Quiet{Writer: &a.said}, &a.of, "", analyze.Options{})
		}
	}()
}

// end stops the preparation, and returns once it has ended.
func (a *preparedAnswer) end() {
	if a != nil {
		a.stop()
		<-a.done
	}
}

// answer prints the prepared answer of a visit, and writes the fitting sheet where
// requested.
func (r *fittingRecorder) answer(ctx context.Context, v logbook.Visit) error {
	if r.prepared == nil {
		r.prepare(ctx, v)
	}
	<-r.prepared.done
	fmt.Fprint(r.cmd.ErrOrStderr(), r.prepared.said.String())
	p, c, results, err := r.prepared.of, r.prepared.c, r.prepared.results, r.prepared.err
	if err != nil {
		return err
	}
	r.screen.end(c)
	for i := range c.VisitRecords { // choice and pain were said while the answer was prepared
		if c.VisitRecords[i].Name == v.Name() {
			c.VisitRecords[i] = *v.Record()
		}
	}
	if r.page.out == "" && r.page.open {
		r.page.out = sheetName(v)
		if err := r.page.check(); err != nil {
			return err
		}
	}
	if r.page.out != "" {
		d := report.Data{Results: results, Comparison: c, Seen: advise.Observations{Pain: p.Stop != "", Stop: p.Stop, Saw: p.Saw()}}
		err = r.page.write(r.cmd, func(w io.Writer) error { return report.WriteFitting(w, d) })
		if err != nil {
			return err
		}
	}
	fmt.Fprintln(r.cmd.OutOrStdout())
	rest := fmt.Sprintf("aplomb compare --dancer %s --visit %s --details shows all of it.", text.Quoted(v.Dancer), v.Name())
	if r.passing {
		rest = fitting.LogbookRemoved
	}
	output.Frame(r.cmd.OutOrStdout(), c, rest)
	return incomplete(p)
}

// rest waits until the rest is over or the user continues. In an automatic rehearsal it
// does not wait.
func (r *fittingRecorder) rest(ctx context.Context, length time.Duration) error {
	if r.stage != nil && r.keys == nil {
		return nil
	}
	end := time.Now().Add(length)
	r.screen.rest(end)
	defer r.screen.rest(time.Time{})
	if r.keys != nil {
		return r.keys.Wait(ctx, "Rest:", length)
	}
	progress := console.NewProgress(r.cmd.ErrOrStderr())
	defer progress.Clear()
	tick := time.NewTicker(time.Second)
	defer tick.Stop()
	for {
		left := time.Until(end).Round(time.Second)
		if left <= 0 {
			return nil
		}
		progress.Show("rest: %s left", text.Clock(left))
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-r.typed:
			return nil
		case <-tick.C:
		}
	}
}
