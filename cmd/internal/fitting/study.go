package fitting

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/ask"
	"aplomb/cmd/internal/text"
	"aplomb/device"
	"aplomb/plots/words"
)

// name returns the name of a shoe in everything that is shown: its label in a study, else
// its code.
func (f *Fitting) name(code string) string {
	if f.Study == nil {
		return code
	}
	return f.Study.Label(code)
}

// code returns the code of the shoe with that name.
func (f *Fitting) code(name string) string {
	if f.Study != nil {
		for _, shoe := range f.Study.Shoes {
			if shoe.Label == name {
				return shoe.Code
			}
		}
	}
	return name
}

// ErrStudyDone is returned where a dancer has had all visits of a study.
var ErrStudyDone = errors.New("all visits of the study are begun, on other days")

// findStudyVisit takes the dancer's visit of today that is one of the study; else the last one
// of today, if it is of no study and nothing was recorded in it. Otherwise f.visit has no ID.
func (f *Fitting) findStudyVisit(l *logbook.Logbook) error {
	all, err := l.StudyVisits(f.Study.Name)
	if err != nil {
		return err
	}
	f.ofStudy = 1
	for _, v := range all {
		if v.Dancer != f.dancer.Code {
			continue
		}
		if v.Day == f.visit.Day {
			f.visit, f.ofStudy = v, v.OfStudy
			return nil
		}
		f.ofStudy = max(f.ofStudy, v.OfStudy+1)
	}
	if f.ofStudy > f.Study.Visits {
		return fmt.Errorf("dancer %s in study %s: %w", f.dancer.Code, f.Study.Name, ErrStudyDone)
	}
	made, err := l.Recordings(logbook.Filter{VisitID: f.visit.ID})
	if err == nil && f.visit.ID != 0 && (len(made) > 0 || f.visit.Study != "") {
		f.visit.Study, f.visit.OfStudy = "", 0
		f.visit.ID, f.visit.Number, f.visit.PainBefore, f.visit.PainAfter, f.visit.WarmUp = 0, 0, nil, nil, ""
	}
	return err
}

// planStudy takes up the plan of the visit of a study, or makes it.
func (f *Fitting) planStudy(ctx context.Context) error {
	c, _, err := f.progress()
	if err == nil {
		f.Person.Tell(fmt.Sprintf("Going on with visit %d of study %s, %d of %d steps done.", f.ofStudy, f.Study.Name, c.Done(), len(c.Steps)))
		return nil
	}
	if !errors.Is(err, logbook.ErrNotFound) {
		return err
	}
	p := f.Study.Plan(f.Study.Row(f.dancer.Code), f.ofStudy)
	said := fmt.Sprintf("Visit %d of %d of dancer %s in study %s: %s; %s each, about %d minutes. Shoes go by their labels. The dancer sees no number and no screen.",
		f.ofStudy, f.Study.Visits, f.dancer.Code, f.Study.Name, strings.Join(order(f.Study.Blinded(p)), ", "), words.Count(p.Releves, "relevé", "relevés"),
		int(math.Ceil((before + length(p.Steps)).Minutes())))
	answer, err := f.Person.Ask(ctx, ask.Question{
		Text: "Begin?", Options: []ask.Option{{Key: "y", Label: "yes"}, {Key: "n", Label: "no, not now"}}, Notes: []string{text.Wrap(said)},
	})
	if err != nil {
		return err
	}
	if answer == "n" {
		return errLeft
	}
	return f.Folder.With(func(l *logbook.Logbook) error {
		if err := l.PutStudyVisit(*f.Study, f.visit.ID, f.ofStudy); err != nil {
			return err
		}
		return l.PutPlan(f.visit.ID, p)
	})
}

// inStudy returns the choices before a step of a study, without changing the plan and
// without practising, which shows numbers to the dancer.
func inStudy(options []ask.Option) []ask.Option {
	options = slices.DeleteFunc(slices.Clone(options), func(o ask.Option) bool { return o.Key == "k" || o.Key == "m" || o.Key == "t" })
	for i := range options {
		if options[i].Key == "f" {
			options[i].Label = "finish this visit with what there is"
		}
	}
	return options
}

// afterStudy asks for the pain after the last rise where that is not known yet. It shows
// no results.
func (f *Fitting) afterStudy(ctx context.Context) error {
	if f.visit.PainAfter == nil {
		if err := f.painNow(ctx, logbook.StopAtPain); err != nil {
			return err
		}
	}
	c, _, err := f.progress()
	if err == nil {
		fmt.Fprintln(f.Out, text.Wrap(fmt.Sprintf("Visit %d of dancer %s in study %s: %d of %d steps are recorded. aplomb study status %s says what is missing.",
			f.ofStudy, f.dancer.Code, f.Study.Name, c.Done(), len(c.Steps), text.Quoted(f.Study.Name))))
	}
	return err
}

// shoesOfRecording names the shoes of a recording as they are shown.
func (f *Fitting) shoesOfRecording(r logbook.Recording) string {
	return text.EachFoot(r, func(foot *logbook.RecordedFoot) string { return f.name(foot.Shoe) })
}

// feedback returns what the dancer sees of the numbers: nothing in a study, else the
// default.
func (f *Fitting) feedback() string {
	if f.Study == nil {
		return ""
	}
	return device.Feedbacks[0]
}

// studyFlag returns the flag that names the study, with a blank before it; "" without one.
func (f *Fitting) studyFlag() string {
	if f.Study == nil {
		return ""
	}
	return " --study " + text.Quoted(f.Study.Name)
}
