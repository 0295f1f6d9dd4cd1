package history

import (
	"errors"
	"fmt"
	"slices"

	"aplomb/analyze"
	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/analyze/provenance"
	"aplomb/analyze/reliability"
	"aplomb/analyze/track"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/software"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/plots/words"
)

// Repetitions selects a measure for its reliability, and the repetitions from which it is
// computed.
type Repetitions struct {
	lookup.Choice
	Study   string // name of the study whose recordings these are; "" for any
	Symbol  string // of the measure
	Foot    string // only this one; "" for all
	Between string // visits or mountings; "" for the former where there are any

	measure measure.Measure
}

// Check returns a usage error for an invalid selection, and finds the measure. files are
// the recordings given.
func (o *Repetitions) Check(files []string) error {
	q := Query{Symbol: o.Symbol, Foot: o.Foot}
	if err := q.Check(); err != nil {
		return err
	}
	o.measure = q.Measure
	if b := reliability.Between(o.Between); b != "" && b != reliability.Visits && b != reliability.Mountings {
		return usage.Errorf("--between %.40q: %s or %s", o.Between, reliability.Visits, reliability.Mountings)
	}
	if len(files) > 0 && o.Study != "" {
		return usage.Errorf("%s: name files, or choose from the logbook with --study and the like, not both", files[0])
	}
	if len(files) == 0 && o.Dancer == "" && o.Visit == "" && o.Shoe == "" {
		return nil // all of the logbook
	}
	return o.Choice.Check(files)
}

// InLogbook returns the reliability of the measure in the recordings of the logbook. leftOut
// says which of them are not in it.
func (o *Repetitions) InLogbook(l *logbook.Logbook) (r *reliability.Reliability, leftOut []string, err error) {
	f, said, err := o.Filter(l)
	if err != nil {
		return nil, nil, err
	}
	if o.Study != "" {
		s, err := l.Study(o.Study)
		if err != nil {
			return nil, nil, lookup.Hint(err, "aplomb study list")
		}
		f.Study, said = s.Name, said+" in study "+s.Name
	}
	if leftOut, err = notMeasured(l, f); err != nil {
		return nil, nil, err
	}
	p := provenance.New(software.Provenance(), analyze.Settings(software.Version))
	rows, withdrawn, err := l.Rows(f, o.measure, p)
	if err != nil {
		return nil, leftOut, err
	}
	if withdrawn > 0 {
		leftOut = append(leftOut, lookup.LeftOutWithdrawn(withdrawn))
	}
	if r, err = o.of(rows, said); err == nil {
		r.Provenance = p
	}
	return r, leftOut, err
}

// InFiles returns the reliability of the measure in results.
func (o *Repetitions) InFiles(results []*measure.Result) (*reliability.Reliability, error) {
	r, err := o.of(track.Rows(o.measure, results), "")
	if err == nil {
		r.Provenance = provenance.Of(results)
	}
	return r, err
}

// of returns the reliability in rows; said describes their selection.
func (o *Repetitions) of(rows []track.Row, said string) (*reliability.Reliability, error) {
	if o.Foot != "" {
		rows = slices.DeleteFunc(rows, func(r track.Row) bool { return r.Foot.String() != o.Foot })
		said += " on the " + o.Foot + " foot"
	}
	r, err := reliability.Of(o.measure, rows, reliability.Options{Between: reliability.Between(o.Between)})
	if errors.Is(err, reliability.ErrNoRows) {
		err = fmt.Errorf("%s%s: %w (aplomb show lists recordings)", o.measure, said, logbook.ErrNotMeasured)
	}
	return r, err
}

// notMeasured describes which of the recordings that f selects have no current measures,
// and which command measures them.
func notMeasured(l *logbook.Logbook, f logbook.Filter) ([]string, error) {
	all, err := l.Recordings(f)
	if err != nil {
		return nil, err
	}
	all = slices.DeleteFunc(all, func(r logbook.Recording) bool { return r.Measures == logbook.Current || r.Remark.Rejected() })
	if len(all) == 0 {
		return nil, nil
	}
	command := "aplomb logbook measure"
	if f.Dancer != "" {
		command += " --dancer " + text.Quoted(f.Dancer)
	}
	const few = 12
	which := words.Count(len(all), "recording", "recordings")
	if len(all) <= few {
		which = numbered(all)
	}
	return []string{fmt.Sprintf("left out, not measured, or with another algorithm or before a correction: %s; %s measures what can be measured", which, command)}, nil
}
