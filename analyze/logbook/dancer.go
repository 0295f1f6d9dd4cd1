package logbook

import (
	"database/sql"
	"errors"
	"fmt"
	"slices"

	"aplomb/analyze/measure"
	"aplomb/device"
)

// Dancer describes a dancer. Unknown fields have their zero value.
type Dancer struct {
	Code        string // never a name
	BirthYear   int
	PointeYears *float64 // experience on pointe; nil where unknown
	Watched     string   // the side being watched: left, right, or "" for neither
	Note        string
	Feet        [2]Foot // by device.Foot
	Consent     string  // one of Consents; "" where none is recorded
	ConsentDay  Day     // on which Consent was given or withdrawn; "" where unknown
}

// Values of Dancer.Consent. Without a recorded consent this program assumes none: the
// data may serve the keeper of the logbook, and are not passed on.
const (
	ConsentStudy     = "study"     // the data serve the study or the fitting, and are not passed on
	ConsentSharing   = "sharing"   // the data may also be passed on without names
	ConsentWithdrawn = "withdrawn" // nothing may be made of the data any more
)

// Consents are the values of Dancer.Consent.
var Consents = [...]string{ConsentStudy, ConsentSharing, ConsentWithdrawn}

// Foot describes a foot. Unknown fields have their zero value.
type Foot struct {
	ToeShape        string // one of ToeShapes
	LongestToe      int    // 1 is the big toe
	Width           string // one of Widths
	Compressibility string // one of Compressibilities
}

// The words that describe feet. Sloping: each toe is shorter than the one before; level:
// the first three are about the same length; peaked: the second or third is the longest.
var (
	ToeShapes         = [...]string{"sloping", "level", "peaked"}
	Widths            = [...]string{"narrow", "medium", "wide"}
	Compressibilities = [...]string{"low", "medium", "high"}
)

// AddDancer adds a dancer; ErrExists where the code is taken, also in another
// spelling of it.
func (l *Logbook) AddDancer(d Dancer) error {
	if err := CheckDancer(d); err != nil {
		return err
	}
	return l.change(func(tx *sql.Tx) error {
		var other string
		err := tx.QueryRow(`SELECT code FROM dancers WHERE key = ?`, keyOf(d.Code)).Scan(&other)
		if err == nil {
			return fmt.Errorf("dancer %q: %w as %q", d.Code, ErrExists, other)
		}
		if !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		added, err := tx.Exec(`INSERT INTO dancers (code, key) VALUES (?, ?)`, d.Code, keyOf(d.Code))
		if err != nil {
			return err
		}
		id, err := added.LastInsertId()
		if err != nil {
			return err
		}
		return d.put(tx, id)
	})
}

// EditDancer replaces everything but the code of a dancer. The code stays,
// because recordings carry it.
func (l *Logbook) EditDancer(d Dancer) error {
	if err := CheckDancer(d); err != nil {
		return err
	}
	return l.change(func(tx *sql.Tx) error {
		id, err := dancerID(tx, d.Code)
		if err != nil {
			return err
		}
		return d.put(tx, id)
	})
}

// Dancer returns the dancer of that code in any spelling; ErrNotFound where there
// is none.
func (l *Logbook) Dancer(code string) (Dancer, error) {
	found, err := l.dancers(`WHERE key = ?`, keyOf(code))
	if err == nil && len(found) == 0 {
		err = dancerNotFound(code)
	}
	if err != nil {
		return Dancer{}, err
	}
	return found[0], nil
}

// CheckConsent returns ErrWithdrawn where the consent of the dancer is withdrawn.
func (d *Dancer) CheckConsent() error {
	if d.Consent == ConsentWithdrawn {
		return fmt.Errorf("dancer %s: %w", d.Code, ErrWithdrawn)
	}
	return nil
}

// Withdrawn returns, by code, the dancers whose consent is withdrawn.
func (l *Logbook) Withdrawn() (map[string]bool, error) {
	all, err := l.Dancers()
	gone := map[string]bool{}
	for _, d := range all {
		if d.Consent == ConsentWithdrawn {
			gone[d.Code] = true
		}
	}
	return gone, err
}

// usable returns the values of some measures in the recordings that f selects (see
// Measures), without those of dancers whose consent is withdrawn, and the number of
// dancers that this leaves out.
func (l *Logbook) usable(f Filter, of ...measure.Measure) (rows []MeasureRow, withdrawn int, err error) {
	gone, err := l.Withdrawn()
	if err != nil {
		return nil, 0, err
	}
	if rows, err = l.Measures(f, of...); err != nil {
		return nil, 0, err
	}
	left := map[string]bool{}
	rows = slices.DeleteFunc(rows, func(r MeasureRow) bool {
		if gone[r.Dancer] {
			left[r.Dancer] = true
		}
		return gone[r.Dancer]
	})
	return rows, len(left), nil
}

// Dancers returns every dancer by code.
func (l *Logbook) Dancers() ([]Dancer, error) { return l.dancers(``) }

func (l *Logbook) dancers(where string, args ...any) (all []Dancer, err error) {
	err = l.read(func(tx *sql.Tx) error {
		var ids []int64
		err := each(tx, func(rows *sql.Rows) error {
			var d Dancer
			var id int64
			var birth sql.NullInt64
			err := rows.Scan(&id, &d.Code, &birth, &d.PointeYears, &d.Watched, &d.Note, &d.Consent, &d.ConsentDay)
			d.BirthYear = int(birth.Int64)
			ids, all = append(ids, id), append(all, d)
			return err
		}, `SELECT id, code, birth_year, pointe_years, watched, note, consent, consent_day FROM dancers `+where+` ORDER BY key`, args...)
		if err != nil {
			return err
		}
		return each(tx, func(rows *sql.Rows) error {
			var id int64
			var name string
			var toe sql.NullInt64
			var f Foot
			if err := rows.Scan(&id, &name, &f.ToeShape, &toe, &f.Width, &f.Compressibility); err != nil {
				return err
			}
			f.LongestToe = int(toe.Int64)
			foot, err := device.ParseFoot(name)
			if i := slices.Index(ids, id); i >= 0 && err == nil {
				all[i].Feet[foot] = f
			}
			return err
		}, `SELECT dancer_id, foot, toe_shape, longest_toe, width, compressibility FROM feet`)
	})
	return all, err
}

// put writes everything but the code.
func (d Dancer) put(tx *sql.Tx, id int64) error {
	_, err := tx.Exec(`UPDATE dancers SET birth_year = ?, pointe_years = ?, watched = ?, note = ?, consent = ?, consent_day = ? WHERE id = ?`,
		orNull(d.BirthYear), d.PointeYears, d.Watched, d.Note, d.Consent, d.ConsentDay, id)
	if err != nil {
		return err
	}
	if _, err := tx.Exec(`DELETE FROM feet WHERE dancer_id = ?`, id); err != nil {
		return err
	}
	for _, foot := range device.Feet {
		f := d.Feet[foot]
		if f == (Foot{}) {
			continue
		}
		_, err := tx.Exec(`INSERT INTO feet (dancer_id, foot, toe_shape, longest_toe, width, compressibility) VALUES (?, ?, ?, ?, ?, ?)`,
			id, foot.String(), f.ToeShape, orNull(f.LongestToe), f.Width, f.Compressibility)
		if err != nil {
			return err
		}
	}
	return nil
}

// CheckDancer returns an ErrInvalid where the logbook takes no such dancer.
func CheckDancer(d Dancer) error {
	if err := checkCode("dancer", d.Code); err != nil {
		return err
	}
	if err := checkText("note", d.Note); err != nil {
		return err
	}
	switch y := d.PointeYears; {
	case d.BirthYear != 0 && (d.BirthYear < 1900 || d.BirthYear > 2200):
		return invalid("year of birth %d: a year such as 2008", d.BirthYear)
	case y != nil && !(*y >= 0 && *y <= 100):
		return invalid("%v years on pointe: 0 to 100", *y)
	case d.Watched != "" && d.Watched != device.Left.String() && d.Watched != device.Right.String():
		return invalid("watched side %.40q: left or right", d.Watched)
	case d.Consent != "" && !slices.Contains(Consents[:], d.Consent):
		return invalid("consent %.40q: %s, %s or %s", d.Consent, Consents[0], Consents[1], Consents[2])
	case d.ConsentDay != "" && d.Consent == "":
		return invalid("day of consent %.40q: say which consent too", string(d.ConsentDay))
	}
	if d.ConsentDay != "" {
		if _, err := ParseDay(string(d.ConsentDay)); err != nil {
			return err
		}
	}
	for _, foot := range device.Feet {
		f := d.Feet[foot]
		for _, c := range []struct {
			what, word string
			words      [3]string
		}{
			{"toe shape", f.ToeShape, ToeShapes},
			{"width", f.Width, Widths},
			{"compressibility", f.Compressibility, Compressibilities},
		} {
			if c.word != "" && !slices.Contains(c.words[:], c.word) {
				return invalid("%s foot, %s %.40q: %s, %s or %s", foot, c.what, c.word, c.words[0], c.words[1], c.words[2])
			}
		}
		if f.LongestToe < 0 || f.LongestToe > 5 {
			return invalid("%s foot, longest toe %d: 1 (the big toe) to 5", foot, f.LongestToe)
		}
	}
	return nil
}

func dancerID(tx *sql.Tx, code string) (id int64, err error) {
	err = tx.QueryRow(`SELECT id FROM dancers WHERE key = ?`, keyOf(code)).Scan(&id)
	if errors.Is(err, sql.ErrNoRows) {
		err = dancerNotFound(code)
	}
	return id, err
}

func dancerNotFound(code string) error { return fmt.Errorf("dancer %.80q: %w", code, ErrNotFound) }

// orNull returns NULL for 0, which stands for an unknown number.
func orNull[T int | float64](n T) any {
	if n == 0 {
		return nil
	}
	return n
}
