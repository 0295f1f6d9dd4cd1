// Package fitting leads a fitter through a whole fitting: questions before, a plan, one
// step for each mounting of the strips, the choice and the answer. Everything that it
// learns is kept as soon as it is said, so that a fitting which was cut short goes on
// where it was.
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

// Options are what a fitter says at the beginning. What is left at its zero value is
// asked, or has a default.
type Options struct {
	Dancer    string
	Shoes     []string
	Full      bool   // the mirrored plan instead of the quick one
	Mountings int    // of each shoe; 0 as the plan says
	Releves   int    // in every mounting; 0 as the plan says
	MaxRises  int    // of the visit, a clinician's limit; 0 for none
	Seed      uint64 // decides the shoe that begins
	NoPress   bool
	// Study is the study whose next visit this is, nil for none. Shoes then have their labels
	// in all that is shown, and the dancer sees no number.
	Study *study.Study
}

// Recording is one recording that a fitting asks for.
type Recording struct {
	Setup Setup
	Title string
	Press capture.PressOptions
}

// Made is a recording of the logbook with what was measured in it.
type Made struct {
	Recording logbook.Recording
	Result    *measure.Result // nil where nothing was kept
	Checked   string          // in one line whether the recording can be trusted
}

// Setup is what a recording says of itself.
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
	// Record makes a recording, takes it into the logbook and measures it.
	Record func(context.Context, Recording) (Made, error)
	// Relabel corrects which shoe a recording was made with.
	Relabel func(context.Context, logbook.Recording, string) error
	// Prepare begins to work out the answer of a visit, before the last questions; nil where
	// Answer does all of it.
	Prepare func(context.Context, logbook.Visit)
	// Answer prints the answer of a visit.
	Answer func(context.Context, logbook.Visit) error
	// TakeIn takes in the recordings that were left unfinished in the logbook.
	TakeIn func(context.Context) error
	// Ready finds the strips before the first question; nil where that is not needed.
	Ready func(context.Context) error
	// Rest waits for so long or until the person goes on.
	Rest func(context.Context, time.Duration) error

	dancer  logbook.Dancer
	visit   logbook.Visit
	ofStudy int // number of the visit in the study, from 1; 0 without one
}

// ErrStopped means that the fitting ended because of pain. What was recorded is kept.
var ErrStopped = errors.New("stopped because of pain")

// errLeft means that the fitter left the fitting, which can go on later.
var errLeft = errors.New("left")

// Run leads through the fitting. It returns nil where the fitter left it, too.
func (f *Fitting) Run(ctx context.Context) error {
	err := f.run(ctx)
	switch {
	case errors.Is(err, errLeft):
		f.Person.Tell(fmt.Sprintf("The fitting waits: aplomb fitting%s --dancer %s goes on with it today.", f.studyFlag(), text.Quoted(f.dancer.Code)))
		return nil
	case errors.Is(err, ask.ErrBack): // undo at the first question
		return f.Run(ctx)
	}
	return err
}

func (f *Fitting) run(ctx context.Context) error {
	f.Person.Tell(text.Wrap(words.Caution + " What is measured is no diagnosis; licensed practice and local rules come first."))
	if err := f.begin(ctx); err != nil {
		return err
	}
	alone, err := f.alone()
	if err != nil {
		return err
	}
	defer alone.Close()
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

// begin finds dancer and visit, and begins them where they are new.
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

// alone takes the lock of the visit, so that no other program leads through a fitting of this
// dancer on the same day meanwhile. Fittings of other dancers go on beside it, with other
// strips: each port has a lock of its own.
func (f *Fitting) alone() (*lock.File, error) {
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

// keep puts what was said of the visit into the logbook.
func (f *Fitting) keep() error {
	return f.Folder.With(func(l *logbook.Logbook) error { return l.EditVisit(f.visit) })
}

// askFor asks for a text where none is known yet.
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
