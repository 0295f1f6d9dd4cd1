// Package fitting guides a fitter through a whole fitting: questions before, a plan, one
// step for each mounting of the strips, the choice and the answer. Every answer is stored
// at once, so that an interrupted fitting continues where it was.
package fitting

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"time"

	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/analyze/study"
	"aplomb/cmd/internal/ask"
	"aplomb/cmd/internal/capture"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/text"
	"aplomb/device"
	"aplomb/device/lock"
	"aplomb/plots/words"
)

// Options are the fitter's choices at the beginning. Fields with their zero value are
// asked for, or have a default.
type Options struct {
	Dancer    string
	Shoes     []string
	Full      bool   // the mirrored plan instead of the quick one
	Mountings int    // of each shoe; 0 for the plan's default
	Releves   int    // in every mounting; 0 for the plan's default
	MaxRises  int    // of the visit, a clinician's limit; 0 for none
	Seed      uint64 // determines the shoe that begins
	NoPress   bool
	// Study is the study to which the visit belongs, nil for none. Shoes then have their
	// labels in everything that is shown, and the dancer sees no numbers.
	Study *study.Study
}

// Recording is one recording requested by a fitting.
type Recording struct {
	Setup Setup
	Title string
	Press capture.PressOptions
}

// Made is a recording in the logbook with its result.
type Made struct {
	Recording logbook.Recording
	Result    *measure.Result // nil where no recording was kept
	Checked   string          // one line on whether the recording can be trusted
}

// Setup is the description of a recording.
type Setup struct {
	Dancer, Shoe string
	Visit        logbook.Visit
	SameMounting string // number of the recording since which the strips stayed on; "" for none
	Feedback     string // what the dancer sees, as in device.Metadata; "" for what is usual
}

// Fitting is one guided fitting.
type Fitting struct {
	Options
	Person ask.Person
	Out    io.Writer // results
	Folder *lookup.Folder
	Now    func() time.Time
	// Software is the program with its version.
	Software string
	// Flags are those of the command that continues the fitting, each after a blank, beside
	// --study and --dancer.
	Flags string
	// Passing is set where the logbook is removed at the end.
	Passing bool
	// Record makes a recording, adds it to the logbook and measures it.
	Record func(context.Context, Recording) (Made, error)
	// Relabel corrects the shoe of a recording.
	Relabel func(context.Context, logbook.Recording, string) error
	// Prepare starts computing the answer of a visit, before the last questions; nil
	// where Answer does all of it.
	Prepare func(context.Context, logbook.Visit)
	// Answer prints the answer of a visit.
	Answer func(context.Context, logbook.Visit) error
	// TakeIn imports the unfinished recordings of the logbook.
	TakeIn func(context.Context) error
	// Ready finds the strips before the first question; nil where that is not needed.
	Ready func(context.Context) error
	// Rest waits for a time or until the user continues.
	Rest func(context.Context, time.Duration) error

	dancer  logbook.Dancer
	visit   logbook.Visit
	ofStudy int // number of the visit in the study, from 1; 0 without one
}

// ErrStopped is returned where the fitting ended because of pain. Everything recorded is
// kept.
var ErrStopped = errors.New("stopped because of pain")

// errLeft is returned where the fitter left the fitting, which can be continued later.
var errLeft = errors.New("left")

// Run runs the fitting. It returns nil also where the fitter left it.
func (f *Fitting) Run(ctx context.Context) error {
	err := f.run(ctx)
	switch {
	case errors.Is(err, errLeft):
		f.tellItWaits()
		return nil
	case errors.Is(err, context.Canceled) && f.visit.ID != 0: // by Ctrl-C
		f.tellItWaits()
	case errors.Is(err, ask.ErrBack): // undo at the first question
		return f.Run(ctx)
	}
	return err
}

// tellItWaits tells how the fitting is continued.
func (f *Fitting) tellItWaits() {
	if f.Passing {
		f.Person.Tell(LogbookRemoved)
		return
	}
	f.Person.Tell(fmt.Sprintf("The fitting waits: aplomb fitting%s%s --dancer %s goes on with it today.", f.Flags, f.studyFlag(), text.Quoted(f.dancer.Code)))
}

// LogbookRemoved is what a rehearsal without a logbook of its own says at the end.
const LogbookRemoved = "The logbook of this rehearsal is removed now; with --logbook DIR it stays."

func (f *Fitting) run(ctx context.Context) error {
	f.Person.Tell(text.Wrap(words.Caution + " What is measured is no diagnosis; licensed practice and local rules come first."))
	if err := f.begin(ctx); err != nil {
		return err
	}
	visitLock, err := f.lockVisit()
	if err != nil {
		return err
	}
	defer visitLock.Close()
	if err := f.TakeIn(ctx); err != nil {
		return err
	}
	if f.Ready != nil {
		if err := f.Ready(ctx); err != nil {
			return err
		}
	}
	if err := f.before(ctx); err != nil {
		return err
	}
	if err := f.plan(ctx); err != nil {
		return err
	}
	if err := f.steps(ctx); err != nil {
		return err
	}
	return f.after(ctx)
}

// begin finds dancer and visit, and creates them where they are new.
func (f *Fitting) begin(ctx context.Context) error {
	typed := f.Dancer == ""
	err := f.askFor(ctx, ask.Question{Text: "Dancer, by a code and no name:"}, &f.Dancer)
	if err != nil {
		return err
	}
	added := logbook.Dancer{Code: f.Dancer}
	known, err := f.knows(f.Dancer)
	if err == nil && !known {
		f.Person.Tell(fmt.Sprintf("Dancer %s is new.", f.Dancer))
		if device.ReadsLikeName(f.Dancer) {
			f.Person.Tell(text.Wrap("Warning: " + text.ReadsLikeName(f.Dancer) + "."))
		}
		err = f.askConsent(ctx, &added)
	}
	if errors.Is(err, ask.ErrBack) && typed {
		f.Dancer = ""
	}
	if err != nil {
		return err
	}
	return f.Folder.BeginWith(f.Out, func(l *logbook.Logbook) error {
		f.dancer, err = l.Dancer(f.Dancer)
		if errors.Is(err, logbook.ErrNotFound) {
			f.dancer, err = added, l.AddDancer(added)
		}
		if err == nil {
			err = lookup.CheckConsent(f.dancer)
		}
		if err != nil {
			return err
		}
		return f.findVisit(l)
	})
}

// knows reports whether there is a logbook with that dancer.
func (f *Fitting) knows(code string) (known bool, err error) {
	if !f.Folder.Exists() {
		return false, nil
	}
	err = f.Folder.With(func(l *logbook.Logbook) error {
		_, err := l.Dancer(code)
		known = err == nil
		if errors.Is(err, logbook.ErrNotFound) {
			err = nil
		}
		return err
	})
	return known, err
}

// consents are the answers to what a dancer agrees to; the first records nothing.
var consents = []ask.Option{
	{Key: "n", Label: "not recorded"}, {Key: "s", Label: "study: the data serve you"}, {Key: "h", Label: "sharing: also passed on without names"},
}

// askConsent asks what a new dancer agrees to.
func (f *Fitting) askConsent(ctx context.Context, d *logbook.Dancer) error {
	answer, err := f.Person.Ask(ctx, ask.Question{Text: "What does the dancer agree to?", Options: consents})
	if err != nil {
		return err
	}
	d.Consent = map[string]string{"s": logbook.ConsentStudy, "h": logbook.ConsentSharing}[answer]
	if d.Consent != "" {
		d.ConsentDay = logbook.DayOf(f.Now())
	}
	return nil
}

// findVisit takes the visit of today, or begins one.
func (f *Fitting) findVisit(l *logbook.Logbook) error {
	visits, err := l.Visits(f.dancer.Code)
	if err != nil {
		return err
	}
	today := logbook.DayOf(f.Now())
	f.visit = logbook.Visit{Dancer: f.dancer.Code, Day: today}
	for _, v := range visits {
		if v.Day == today {
			f.visit = v
		} else if v.Day < today { // what is usual for this dancer
			f.visit.Support, f.visit.Rise, f.visit.Position, f.visit.Floor, f.visit.MassKG = v.Support, v.Rise, v.Position, v.Floor, v.MassKG
		}
	}
	if f.Study != nil {
		if err := f.findStudyVisit(l); err != nil {
			return err
		}
	}
	if f.visit.ID != 0 {
		return nil
	}
	f.visit.MaxRises = f.MaxRises
	f.visit, err = l.AddVisit(f.visit)
	return err
}

// lockVisit acquires the lock of the visit, so that no other program runs a fitting of this
// dancer on the same day. Fittings of other dancers can run at the same time with other
// strips: each port has its own lock.
func (f *Fitting) lockVisit() (*lock.File, error) {
	dir, err := f.Folder.Dir()
	if err != nil {
		return nil, err
	}
	l, err := lock.Take(filepath.Join(dir, fmt.Sprintf("fitting-%d.lock", f.visit.ID)))
	if held := (*lock.HeldError)(nil); errors.As(err, &held) {
		err = fmt.Errorf("a fitting of dancer %s is under way already (%s): go on there, or end it first", f.dancer.Code, held.Holder)
	}
	return l, err
}

// keep stores the answers about the visit in the logbook.
func (f *Fitting) keep() error {
	return f.Folder.With(func(l *logbook.Logbook) error { return l.EditVisit(f.visit) })
}

// askFor asks for a text that is not known yet.
func (f *Fitting) askFor(ctx context.Context, q ask.Question, to *string) error {
	if *to != "" {
		return nil
	}
	return ask.Series(ctx, f.Person, []ask.Step{{
		Question: func() (ask.Question, bool) { return q, true },
		Take: func(answer string) error {
			if answer == "" {
				return errors.New("this one is needed")
			}
			if err := logbook.CheckDancer(logbook.Dancer{Code: answer}); err != nil {
				return err
			}
			*to = answer
			return nil
		},
	}})
}
