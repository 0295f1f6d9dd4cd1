package logbook

import (
	"cmp"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"time"

	"aplomb/analyze/measure"
	"aplomb/device"
)

// Visit is one visit of a dancer. Unknown fields have their zero value.
type Visit struct {
	ID       int64  // set by the logbook
	Dancer   string // code
	Day      Day
	Number   int    // of this dancer's visits that day, from 1; set by the logbook
	Support  string // barre, hand, none
	Rise     string // roll-up, spring, step
	Position string
	Floor    string
	MassKG   float64
	// PainBefore and PainAfter are levels of pain from 0 to 10, nil where unknown.
	PainBefore, PainAfter *int
	PainWhere             []Pain  // before the first rise
	WarmUp                string  // whether the dancer is warmed up: yes, no
	MaxRises              int     // largest number of rises in the visit, set by the dancer's clinician; 0 for no limit
	SingleLeg             [2]*int // rises on one leg that the dancer managed, by device.Foot; nil where unknown
	Choice, ChoiceWhy     string  // the shoe that the fitter chose, and why
	Baseline              bool    // no change is expected between baseline visits
	Note                  string
	// Study is the study that the visit belongs to, and OfStudy its number among the
	// dancer's visits of it, from 1; "" and 0 for none. Only PutStudyVisit changes them.
	Study   string
	OfStudy int
}

// Name returns the name of a visit among those of its dancer, which is stored in its
// recordings: the day, followed by the number from the second visit of a day on.
func (v Visit) Name() string {
	if v.Number > 1 {
		return fmt.Sprintf("%s-%d", v.Day, v.Number)
	}
	return string(v.Day)
}

// parseVisit parses a name that Name returns.
func parseVisit(name string) (day Day, number int, err error) {
	number = 1
	date := name[:min(len(name), len(time.DateOnly))]
	if rest := name[len(date):]; rest != "" {
		_, err = fmt.Sscanf(rest, "-%d", &number)
	}
	if day, e := ParseDay(date); err == nil && e == nil && (Visit{Day: day, Number: number}).Name() == name {
		return day, number, nil
	}
	return "", 0, invalid("visit %.40q: write it as 2026-03-14, the second that day as 2026-03-14-2", name)
}

// Limits of pain, see package measure.
const (
	StopAtPain = measure.StopAtPain
	StopAtRise = measure.StopAtRise
)

// Advice returns the advice to stop where the pain of the visit reaches one of
// these limits, and "" otherwise.
func (v Visit) Advice() string { return v.advice("Hand over to the dancer's clinician. ") }

// Stop is Advice for the dancer's clinician, without the advice to hand over.
func (v Visit) Stop() string { return v.advice("") }

// advice returns the advice to stop with what to do then, "" where there is none.
func (v Visit) advice(then string) string {
	var why string
	switch b, a := v.PainBefore, v.PainAfter; {
	case a != nil && *a >= StopAtPain:
		why = fmt.Sprintf("pain is %d of 10", *a)
	case b != nil && *b >= StopAtPain:
		why = fmt.Sprintf("pain was %d of 10 before", *b)
	case a != nil && b != nil && *a-*b >= StopAtRise:
		why = fmt.Sprintf("pain rose from %d to %d of 10", *b, *a)
	default:
		return ""
	}
	return fmt.Sprintf("Stop: %s. %s(From %d on, or a rise of %d: our own cautious default.)", why, then, StopAtPain, StopAtRise)
}

// Record returns the pain, notes and choice of the visit as part of a result.
func (v Visit) Record() *measure.Visit {
	record := &measure.Visit{
		Name: v.Name(), PainBefore: v.PainBefore, PainAfter: v.PainAfter, PainWhere: FormatPains(v.PainWhere), Stop: v.Advice(),
		WarmUp: v.WarmUp, MaxRises: v.MaxRises, Choice: v.Choice, ChoiceWhy: v.ChoiceWhy, Note: v.Note,
	}
	for _, f := range device.Feet {
		if n := v.SingleLeg[f]; n != nil {
			record.SingleLeg.Set(f, *n)
		}
	}
	return record
}

// AddVisit adds a visit of a dancer and returns it with its ID and Number.
func (l *Logbook) AddVisit(v Visit) (Visit, error) {
	if err := v.check(time.Now()); err != nil {
		return v, err
	}
	err := l.change(func(tx *sql.Tx) error {
		dancer, err := dancerID(tx, v.Dancer)
		if err != nil {
			return err
		}
		err = tx.QueryRow(`INSERT INTO visits (dancer_id, day, number)
			SELECT ?1, ?2, coalesce(max(number), 0) + 1 FROM visits WHERE dancer_id = ?1 AND day = ?2 RETURNING id, number`,
			dancer, string(v.Day)).Scan(&v.ID, &v.Number)
		if err != nil {
			return err
		}
		return v.put(tx)
	})
	return v, err
}

// EditVisit replaces everything but dancer, day and number of the visit v.ID, which
// recordings contain.
func (l *Logbook) EditVisit(v Visit) error {
	old, err := l.Visit(v.ID)
	if err != nil {
		return err
	}
	if keyOf(v.Dancer) != keyOf(old.Dancer) || v.Day != old.Day || v.Number != old.Number {
		return invalid("visit %s of dancer %q: dancer and day of a visit stay: add another one instead", old.Name(), old.Dancer)
	}
	if err := v.check(time.Now()); err != nil {
		return err
	}
	return l.change(v.put)
}

// RemoveVisit removes a visit; ErrInUse where recordings were made in it,
// ErrRecording where one is being made.
func (l *Logbook) RemoveVisit(id int64) error {
	return l.change(func(tx *sql.Tx) error {
		var used int
		if err := tx.QueryRow(`SELECT count(*) FROM recordings WHERE visit_id = ?`, id).Scan(&used); err != nil {
			return err
		}
		if used > 0 {
			return fmt.Errorf("visit: %w (%d): remove those first", ErrInUse, used)
		}
		var v Visit
		err := tx.QueryRow(`SELECT d.code, v.day, v.number FROM visits v JOIN dancers d ON d.id = v.dancer_id WHERE v.id = ?`, id).Scan(&v.Dancer, &v.Day, &v.Number)
		if errors.Is(err, sql.ErrNoRows) {
			return visitNotFound(id)
		}
		if err != nil {
			return err
		}
		err = l.refuseWhileRecording("visit "+v.Name()+" stays", func(r running) bool { return r.of(v.Dancer) && (r.meta == nil || r.meta.Visit == v.Name()) })
		if err != nil {
			return err
		}
		result, err := tx.Exec(`DELETE FROM visits WHERE id = ?`, id)
		if err != nil {
			return err
		}
		if n, err := result.RowsAffected(); err != nil || n == 0 {
			return cmp.Or(err, visitNotFound(id))
		}
		return nil
	})
}

// Visit returns the visit with that ID.
func (l *Logbook) Visit(id int64) (Visit, error) {
	found, err := l.visits(`WHERE v.id = ?`, id)
	if err == nil && len(found) == 0 {
		err = visitNotFound(id)
	}
	if err != nil {
		return Visit{}, err
	}
	return found[0], nil
}

// VisitNamed returns the visit of a dancer whose Name is name.
func (l *Logbook) VisitNamed(dancer, name string) (Visit, error) {
	day, number, err := parseVisit(name)
	if err != nil {
		return Visit{}, err
	}
	found, err := l.visits(`WHERE d.key = ? AND day = ? AND v.number = ?`, keyOf(dancer), string(day), number)
	if err == nil && len(found) == 0 {
		err = fmt.Errorf("visit %s of dancer %.80q: %w", name, dancer, ErrNotFound)
	}
	if err != nil {
		return Visit{}, err
	}
	return found[0], nil
}

// Visits returns the visits of a dancer by day and number; ErrNotFound where there
// is no such dancer.
func (l *Logbook) Visits(dancer string) ([]Visit, error) {
	if _, err := l.Dancer(dancer); err != nil {
		return nil, err
	}
	return l.visits(`WHERE d.key = ?`, keyOf(dancer))
}

func (l *Logbook) visits(where string, args ...any) (all []Visit, err error) {
	err = l.read(func(tx *sql.Tx) error {
		return each(tx, func(rows *sql.Rows) error {
			var v Visit
			var mass sql.NullFloat64
			var where string
			err := rows.Scan(&v.ID, &v.Dancer, &v.Day, &v.Number, &v.Support, &v.Rise, &v.Position, &v.Floor,
				&mass, &v.PainBefore, &v.PainAfter, &v.Baseline, &v.Note,
				&where, &v.WarmUp, &v.MaxRises, &v.SingleLeg[device.Left], &v.SingleLeg[device.Right], &v.Choice, &v.ChoiceWhy,
				&v.Study, &v.OfStudy)
			if err != nil {
				return err
			}
			v.MassKG = mass.Float64
			v.PainWhere, err = ParsePains(where)
			all = append(all, v)
			return err
		}, `SELECT v.id, d.code, day, v.number, support, rise, position, floor, mass_kg, pain_before, pain_after, baseline, v.note,
				pain_where, warm_up, max_rises, single_leg_left, single_leg_right, choice, choice_why,
				coalesce(st.name, ''), coalesce(sv.number, 0)
			FROM visits v JOIN dancers d ON d.id = v.dancer_id
			LEFT JOIN study_visits sv ON sv.visit_id = v.id LEFT JOIN studies st ON st.id = sv.study_id `+where+` ORDER BY d.key, day, v.number`, args...)
	})
	return all, err
}

// put writes everything but dancer, day and number of the visit.
func (v Visit) put(tx *sql.Tx) error {
	_, err := tx.Exec(`UPDATE visits SET support = ?, rise = ?, position = ?, floor = ?, mass_kg = ?,
		pain_before = ?, pain_after = ?, baseline = ?, note = ?, pain_where = ?, warm_up = ?, max_rises = ?,
		single_leg_left = ?, single_leg_right = ?, choice = ?, choice_why = ? WHERE id = ?`,
		v.Support, v.Rise, v.Position, v.Floor, orNull(v.MassKG), v.PainBefore, v.PainAfter, v.Baseline, v.Note,
		FormatPains(v.PainWhere), v.WarmUp, v.MaxRises, v.SingleLeg[device.Left], v.SingleLeg[device.Right], v.Choice, v.ChoiceWhy, v.ID)
	return err
}

// The values of Visit.Support and Visit.Rise.
var (
	Supports = [...]string{"barre", "hand", "none"}
	Rises    = [...]string{"roll-up", "spring", "step"}
	YesOrNo  = [...]string{"yes", "no"}
)

// MostRises bounds the number of rises in a visit.
const MostRises = 1000

func (v Visit) check(now time.Time) error {
	if _, err := ParseDay(string(v.Day)); err != nil {
		return err
	}
	switch {
	case v.Day > DayOf(now.AddDate(0, 0, 1)): // a clock may be a day off
		return invalid("a visit on %s lies in the future", v.Day)
	case v.Support != "" && !slices.Contains(Supports[:], v.Support):
		return invalid("support %.40q: barre, hand or none", v.Support)
	case v.Rise != "" && !slices.Contains(Rises[:], v.Rise):
		return invalid("rise %.40q: roll-up, spring or step", v.Rise)
	case !(v.MassKG >= 0 && v.MassKG <= 300):
		return invalid("body mass %v kg: up to 300", v.MassKG)
	case v.WarmUp != "" && !slices.Contains(YesOrNo[:], v.WarmUp):
		return invalid("warm-up %.40q: yes or no", v.WarmUp)
	case v.MaxRises < 0 || v.MaxRises > MostRises:
		return invalid("a limit of %d rises: 1 to %d, 0 for none", v.MaxRises, MostRises)
	}
	for _, n := range v.SingleLeg {
		if n != nil && (*n < 0 || *n > MostRises) {
			return invalid("%d rises on one leg: 0 to %d", *n, MostRises)
		}
	}
	for _, p := range v.PainWhere {
		if err := p.check(); err != nil {
			return err
		}
	}
	for _, pain := range []*int{v.PainBefore, v.PainAfter} {
		if pain != nil && (*pain < 0 || *pain > 10) {
			return invalid("pain %d: 0 (none) to 10", *pain)
		}
	}
	return cmp.Or(checkText("position", v.Position), checkText("floor", v.Floor), checkText("note", v.Note),
		checkText("choice", v.Choice), checkText("reason of the choice", v.ChoiceWhy))
}

func visitNotFound(id int64) error { return fmt.Errorf("visit number %d: %w", id, ErrNotFound) }
