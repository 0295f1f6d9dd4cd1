// Package history follows a dancer over visits, from the data in the logbook.
package history

import (
	"errors"
	"fmt"
	"strings"

	"aplomb/analyze"
	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/analyze/provenance"
	"aplomb/analyze/track"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/software"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/plots/words"
)

// Query selects the measure of a dancer to follow, and on which foot and in which shoe.
type Query struct {
	Dancer     string // code
	Symbol     string // of the measure
	Foot, Shoe string // only this one; "" for all
	By         string // the independent variable: Visits or Hours
	Study      string // file of aplomb reliability --json whose error is used; "" for none

	Measure measure.Measure // the measure that Symbol names, once Check has been called
}

// Independent variables of a history.
const (
	Visits = "visits"
	Hours  = "hours" // that the shoe was worn
)

// AllMeasures stands for every measure in Query.Symbol.
const AllMeasures = "all"

// Check returns a usage error unless the query names a measure and a foot, and
// finds the measure.
func (o *Query) Check() error {
	named, ok := measure.Named(o.Symbol)
	if !ok && o.Symbol != AllMeasures {
		return usage.Errorf("--measure %.40q: one of %s", o.Symbol, strings.Join(MeasureNames(), ", "))
	}
	o.Measure = named
	if o.Foot != "" && o.Foot != "left" && o.Foot != "right" {
		return usage.Errorf("--foot %.40q: left or right", o.Foot)
	}
	if o.By != "" && o.By != Visits && o.By != Hours {
		return usage.Errorf("--by %.40q: %s or %s", o.By, Visits, Hours)
	}
	return nil
}

// History is a follow-up of a dancer with further data from the logbook.
type History struct {
	*track.FollowUp
	Entry   logbook.Dancer // the dancer in the logbook
	Visits  []logbook.Visit
	LeftOut []string // which recordings are not in it, and which command measures them
}

// Follow follows the measure of the dancer over all of the logbook: where this dancer has
// too few visits, the repeatability of the measure comes from other dancers. The error is
// logbook.ErrNotMeasured where there are no values for the query.
func (o *Query) Follow(l *logbook.Logbook) (t History, err error) {
	if t.Entry, err = l.Dancer(o.Dancer); err != nil {
		return t, lookup.Hint(err, "aplomb dancer list")
	}
	if err := lookup.CheckConsent(t.Entry); err != nil {
		return t, err
	}
	if t.Visits, err = l.Visits(o.Dancer); err != nil {
		return t, err
	}
	shoe := ""
	if o.Shoe != "" {
		s, err := l.Shoe(o.Shoe)
		if err != nil {
			return t, lookup.Hint(err, "aplomb shoe list")
		}
		shoe = s.Code
	}
	own, others, err := leftOut(l, t.Entry.Code)
	if err != nil {
		return t, err
	}
	t.LeftOut = append(own, others...)
	study, err := o.readStudy()
	if err != nil {
		return t, err
	}
	t.FollowUp, err = l.FollowUp(t.Entry.Code, o.Measure, study.repeatability, provenance.New(software.Provenance(), analyze.Settings(software.Version)))
	if errors.Is(err, logbook.ErrNotMeasured) && len(own) > 0 {
		return t, fmt.Errorf("%w: %s", err, own[0])
	}
	if errors.Is(err, logbook.ErrNotMeasured) {
		return t, o.notMeasuredError("")
	}
	if err != nil {
		return t, err
	}
	t.Provenance = provenance.Joined(t.Provenance, study.provenance)
	for _, v := range t.Visits {
		t.VisitRecords = append(t.VisitRecords, *v.Record())
		if v.PainBefore != nil || v.PainAfter != nil {
			t.Stop = v.Advice()
		}
	}
	t.Keep(func(s track.Series) bool {
		thisFoot := o.Foot == "" || s.Side == track.Side(o.Foot) || s.Side == track.Both
		return thisFoot && (shoe == "" || s.Code == shoe)
	})
	if len(t.Series) == 0 {
		return t, o.notMeasuredError(" of that foot and shoe")
	}
	return t, o.addScaleWarnings(l, &t)
}

// FollowAll follows every measure with values where the query has AllMeasures, and else
// the one that it names.
func (o Query) FollowAll(l *logbook.Logbook) (all []History, err error) {
	which := []measure.Measure{o.Measure}
	if o.Symbol == AllMeasures {
		which = measure.All()
	}
	for i, m := range which {
		o.Measure = m
		t, err := o.Follow(l)
		if errors.Is(err, logbook.ErrNotMeasured) && i > 0 {
			continue
		}
		if err != nil {
			return nil, err
		}
		all = append(all, t)
	}
	return all, nil
}

func (o *Query) notMeasuredError(of string) error {
	return fmt.Errorf("%s of dancer %s: %w%s (aplomb show lists recordings)", o.Measure, o.Dancer, logbook.ErrNotMeasured, of)
}

// leftOut describes which recordings are left out of the results about a dancer, because
// their measures are stale or missing, and which command measures them. own is about the
// dancer's recordings; those of other dancers are only counted.
func leftOut(l *logbook.Logbook, dancer string) (own, others []string, err error) {
	recordings, err := l.Recordings(logbook.Filter{Informing: []string{dancer}})
	if err != nil {
		return nil, nil, err
	}
	withdrawn, err := l.Withdrawn()
	if err != nil {
		return nil, nil, err
	}
	var stale, without []logbook.Recording
	elsewhere := 0
	for _, r := range recordings {
		switch {
		case r.Dancer != dancer && r.Measures == logbook.Stale && !withdrawn[r.Dancer]:
			elsewhere++
		case r.Dancer != dancer:
		case r.Measures == logbook.Stale:
			stale = append(stale, r)
		case r.Measures == logbook.NotMeasured:
			without = append(without, r)
		}
	}
	const command = "aplomb logbook measure"
	ofDancer := command + " --dancer " + text.Quoted(dancer)
	if len(stale) > 0 {
		own = append(own, fmt.Sprintf("left out, measured with another algorithm or before a correction: %s; %s measures again", numbered(stale), ofDancer))
	}
	if len(without) > 0 {
		own = append(own, fmt.Sprintf("left out, not measured: %s; %s measures what can be measured", numbered(without), ofDancer))
	}
	if elsewhere > 0 {
		others = append(others, fmt.Sprintf("left out, measured with another algorithm or before a correction: %s of other dancers; %s measures again", words.Count(elsewhere, "recording", "recordings"), command))
	}
	return own, others, nil
}

// numbered names recordings by their numbers.
func numbered(recordings []logbook.Recording) string {
	var all []string
	for _, r := range recordings {
		all = append(all, fmt.Sprint(r.ID))
	}
	what := "recordings "
	if len(all) == 1 {
		what = "recording "
	}
	return what + strings.Join(all, ", ")
}

// MeasureNames returns the symbols of all measures.
func MeasureNames() (names []string) {
	for _, m := range measure.All() {
		names = append(names, m.Symbol())
	}
	return names
}
