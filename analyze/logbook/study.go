package logbook

import (
	"cmp"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"slices"

	"aplomb/analyze/measure"
	"aplomb/analyze/study"
	"aplomb/analyze/track"
	"aplomb/device"
)

// AddStudy stores a study. The error is ErrExists where the name is taken, and
// ErrNotFound where a dancer or a shoe is not in the logbook. Its shoes count as entered:
// they stay when a recording is removed. Recordings do not contain the study, so Rebuild
// cannot restore it.
func (l *Logbook) AddStudy(s study.Study) error {
	if err := cmp.Or(checkCode("study", s.Name), s.Check()); err != nil {
		return invalid("%v", err)
	}
	return l.change(func(tx *sql.Tx) error {
		if _, err := studyID(tx, s.Name); !errors.Is(err, ErrNotFound) {
			return cmp.Or(err, fmt.Errorf("study %q: %w", s.Name, ErrExists))
		}
		var id int64
		err := tx.QueryRow(`INSERT INTO studies (name, key, declared, seed, measure, feet, visits, mountings, releves, stop)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id`,
			s.Name, keyOf(s.Name), s.Declared, int64(s.Seed), s.Measure.Symbol(), planFeet[s.Feet], s.Visits, s.Mountings, s.Releves, s.Stop).Scan(&id)
		if err != nil {
			return err
		}
		for i, one := range s.Shoes {
			shoe, err := shoeTables.find(tx, one.Code)
			if err != nil {
				return err
			}
			if _, err := tx.Exec(`INSERT INTO study_shoes (study_id, place, shoe_id, label) VALUES (?, ?, ?, ?)`, id, i+1, shoe, one.Label); err != nil {
				return err
			}
			if _, err := tx.Exec(`UPDATE shoe_versions SET entered = 1 WHERE item_id = ?1 AND version = (SELECT current FROM shoes WHERE id = ?1)`, shoe); err != nil {
				return err
			}
		}
		return putStudyRows(tx, id, s, 0)
	})
}

// putStudyRows appends the rows of a study from index behind on.
func putStudyRows(tx *sql.Tx, id int64, s study.Study, behind int) error {
	for i, row := range s.Rows[behind:] {
		dancer, err := dancerID(tx, row.Dancer)
		if err != nil {
			return err
		}
		var places []int
		for _, code := range row.Order {
			places = append(places, 1+slices.IndexFunc(s.Shoes, func(o study.Shoe) bool { return o.Code == code }))
		}
		text, err := json.Marshal(places)
		if err != nil {
			return err
		}
		if _, err := tx.Exec(`INSERT INTO study_rows (study_id, number, dancer_id, places) VALUES (?, ?, ?, ?)`, id, behind+i+1, dancer, string(text)); err != nil {
			return err
		}
	}
	return nil
}

func studyID(tx *sql.Tx, name string) (id int64, err error) {
	err = tx.QueryRow(`SELECT id FROM studies WHERE key = ?`, keyOf(name)).Scan(&id)
	if errors.Is(err, sql.ErrNoRows) {
		err = fmt.Errorf("study %.80q: %w", name, ErrNotFound)
	}
	return id, err
}

// Study returns the study of that name; ErrNotFound where there is none.
func (l *Logbook) Study(name string) (study.Study, error) {
	all, err := l.studies(` WHERE key = ?`, keyOf(name))
	if err == nil && len(all) == 0 {
		err = fmt.Errorf("study %.80q: %w", name, ErrNotFound)
	}
	if err != nil {
		return study.Study{}, err
	}
	return all[0], nil
}

// Studies returns every study by name.
func (l *Logbook) Studies() ([]study.Study, error) { return l.studies("") }

func (l *Logbook) studies(where string, args ...any) (all []study.Study, err error) {
	err = l.read(func(tx *sql.Tx) error {
		all, err = readStudies(tx, where, args...)
		return err
	})
	return all, err
}

// readStudies reads the studies that a condition selects.
func readStudies(tx *sql.Tx, where string, args ...any) (all []study.Study, err error) {
	var ids []int64
	err = each(tx, func(rows *sql.Rows) error {
		var s study.Study
		var id, seed int64
		var symbol, feet string
		err := rows.Scan(&id, &s.Name, &s.Declared, &seed, &symbol, &feet, &s.Visits, &s.Mountings, &s.Releves, &s.Stop)
		s.Seed = uint64(seed)
		s.Measure, _ = measure.Named(symbol)
		for is, name := range planFeet {
			if name == feet {
				s.Feet = is
			}
		}
		ids, all = append(ids, id), append(all, s)
		return err
	}, `SELECT id, name, declared, seed, measure, feet, visits, mountings, releves, stop FROM studies`+where+` ORDER BY key`, args...)
	for i, id := range ids {
		if err == nil {
			err = readStudy(tx, id, &all[i])
		}
	}
	return all, err
}

// readStudy reads the shoes, rows and changes of a study.
func readStudy(tx *sql.Tx, id int64, s *study.Study) error {
	err := each(tx, func(rows *sql.Rows) error {
		var one study.Shoe
		err := rows.Scan(&one.Code, &one.Label)
		s.Shoes = append(s.Shoes, one)
		return err
	}, `SELECT code, label FROM study_shoes JOIN shoes ON shoes.id = shoe_id WHERE study_id = ? ORDER BY place`, id)
	if err != nil {
		return err
	}
	err = each(tx, func(rows *sql.Rows) error {
		var row study.Row
		var text string
		var places []int
		err := rows.Scan(&row.Dancer, &text)
		if err == nil {
			err = json.Unmarshal([]byte(text), &places)
		}
		for _, p := range places {
			if p < 1 || p > len(s.Shoes) {
				return fmt.Errorf("study %s: place %d of %d shoes", s.Name, p, len(s.Shoes))
			}
			row.Order = append(row.Order, s.Shoes[p-1].Code)
		}
		s.Rows = append(s.Rows, row)
		return err
	}, `SELECT coalesce(code, ''), places FROM study_rows LEFT JOIN dancers ON dancers.id = dancer_id WHERE study_id = ? ORDER BY number`, id)
	if err != nil {
		return err
	}
	return each(tx, func(rows *sql.Rows) error {
		var c study.Change
		err := rows.Scan(&c.Day, &c.Kind, &c.What, &c.Reason, &c.Row, &c.From, &c.To)
		s.Changes = append(s.Changes, c)
		return err
	}, `SELECT day, kind, what, reason, coalesce(row_number, 0), coalesce(f.code, ''), coalesce(t.code, '') FROM study_changes c
		LEFT JOIN dancers f ON f.id = from_id LEFT JOIN dancers t ON t.id = to_id WHERE study_id = ? ORDER BY c.id`, id)
}

// RemoveStudy removes a study without visits. With recordings the error is ErrInUse, and
// the study can only be amended. With a visit in which nothing is recorded yet it is
// ErrBegun: a fitting may be under way, whose recordings would be in no study.
func (l *Logbook) RemoveStudy(name string) error {
	return l.change(func(tx *sql.Tx) error {
		id, err := studyID(tx, name)
		if err != nil {
			return err
		}
		n, err := recordedFor(tx, id)
		if err != nil {
			return err
		}
		if n > 0 {
			return fmt.Errorf("study %q: %w (%d)", name, ErrInUse, n)
		}
		var v Visit
		err = tx.QueryRow(`SELECT d.code, v.day, v.number FROM study_visits JOIN visits v ON v.id = visit_id JOIN dancers d ON d.id = dancer_id
			WHERE study_id = ? ORDER BY v.day DESC, v.id DESC LIMIT 1`, id).Scan(&v.Dancer, &v.Day, &v.Number)
		if err == nil {
			return fmt.Errorf("study %q: visit %s of dancer %s %w", name, v.Name(), v.Dancer, ErrBegun)
		}
		if !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		_, err = tx.Exec(`DELETE FROM studies WHERE id = ?`, id)
		return err
	})
}

// recordedFor counts the recordings of a study.
func recordedFor(tx *sql.Tx, id int64) (n int, err error) {
	err = tx.QueryRow(`SELECT count(*) FROM recordings JOIN study_visits USING (visit_id) WHERE study_id = ?`, id).Scan(&n)
	return n, err
}

// AmendStudy replaces the numbers and the rows of the study of that name by those of s,
// and stores the change. Rows can be added; existing rows and the shoes must stay.
func (l *Logbook) AmendStudy(s study.Study, c study.Change) error {
	if err := s.Check(); err != nil {
		return invalid("%v", err)
	}
	before, err := l.Study(s.Name)
	if err != nil {
		return err
	}
	return l.change(func(tx *sql.Tx) error {
		id, err := studyID(tx, s.Name)
		if err != nil {
			return err
		}
		_, err = tx.Exec(`UPDATE studies SET measure = ?, feet = ?, visits = ?, mountings = ?, releves = ?, stop = ? WHERE id = ?`,
			s.Measure.Symbol(), planFeet[s.Feet], s.Visits, s.Mountings, s.Releves, s.Stop, id)
		if err == nil && len(s.Rows) > len(before.Rows) {
			err = putStudyRows(tx, id, s, len(before.Rows))
		}
		return cmp.Or(err, putStudyChange(tx, id, c))
	})
}

// NoteStudy stores a change that does not affect the plan.
func (l *Logbook) NoteStudy(name string, c study.Change) error {
	return l.change(func(tx *sql.Tx) error {
		id, err := studyID(tx, name)
		return cmp.Or(err, putStudyChange(tx, id, c))
	})
}

func putStudyChange(tx *sql.Tx, id int64, c study.Change) error {
	if err := cmp.Or(checkText("reason", c.Reason), checkText("change", c.What)); err != nil {
		return err
	}
	var row, from, to any
	if c.Kind == study.DropOut {
		row = c.Row
		for code, at := range map[string]*any{c.From: &from, c.To: &to} {
			if code == "" {
				continue
			}
			dancer, err := dancerID(tx, code)
			if err != nil {
				return err
			}
			*at = dancer
		}
	}
	_, err := tx.Exec(`INSERT INTO study_changes (study_id, day, kind, what, reason, row_number, from_id, to_id) VALUES (?, ?, ?, ?, ?, ?, ?, ?)`,
		id, c.Day, c.Kind, c.What, c.Reason, row, from, to)
	return err
}

// ReplaceInStudy assigns the row c.Row of a study to the dancer c.To and stores the
// change. Recordings of c.From stay in the logbook, outside the study.
func (l *Logbook) ReplaceInStudy(name string, c study.Change) error {
	return l.change(func(tx *sql.Tx) error {
		id, err := studyID(tx, name)
		if err != nil {
			return err
		}
		to, err := dancerID(tx, c.To)
		if err != nil {
			return err
		}
		var used int
		err = tx.QueryRow(`SELECT (SELECT count(*) FROM study_rows WHERE study_id = ?1 AND dancer_id = ?2)
			+ (SELECT count(*) FROM study_changes WHERE study_id = ?1 AND (from_id = ?2 OR to_id = ?2))`, id, to).Scan(&used)
		if err == nil && used > 0 {
			err = invalid("dancer %s has or had a row of study %s: a new dancer takes it", c.To, name)
		}
		if err != nil {
			return err
		}
		if _, err := tx.Exec(`UPDATE study_rows SET dancer_id = ? WHERE study_id = ? AND number = ?`, to, id, c.Row); err != nil {
			return err
		}
		return putStudyChange(tx, id, c)
	})
}

// PutStudyVisit assigns a visit to a study, as the dancer's number-th. The error is
// ErrInvalid where the dancer has another visit of that number, or the visit another
// number or study, and ErrChanged where the study of that name is declared otherwise than s.
func (l *Logbook) PutStudyVisit(s study.Study, visitID int64, number int) error {
	v, err := l.Visit(visitID)
	if err != nil {
		return err
	}
	return l.change(func(tx *sql.Tx) error {
		id, err := studyID(tx, s.Name)
		if err != nil {
			return err
		}
		now, err := readStudies(tx, ` WHERE id = ?`, id)
		if err != nil {
			return err
		}
		if !sameDeclaration(now[0], s) {
			return fmt.Errorf("study %s %w: start again", s.Name, ErrChanged)
		}
		var of int64
		var has int
		err = tx.QueryRow(`SELECT study_id, number FROM study_visits WHERE visit_id = ?`, visitID).Scan(&of, &has)
		switch {
		case err == nil && of == id && has == number:
			return nil
		case err == nil && of == id:
			return invalid("visit %s of dancer %s is visit %d of study %s, not %d", v.Name(), v.Dancer, has, s.Name, number)
		case err == nil:
			return invalid("visit %s of dancer %s belongs to another study", v.Name(), v.Dancer)
		case !errors.Is(err, sql.ErrNoRows):
			return err
		}
		err = tx.QueryRow(`SELECT count(*) FROM study_visits s JOIN visits v ON v.id = visit_id JOIN dancers d ON d.id = dancer_id
			WHERE study_id = ? AND s.number = ? AND d.key = ?`, id, number, keyOf(v.Dancer)).Scan(&has)
		if err == nil && has > 0 {
			err = invalid("dancer %s has another visit %d in study %s", v.Dancer, number, s.Name)
		}
		if err != nil {
			return err
		}
		_, err = tx.Exec(`INSERT INTO study_visits (study_id, visit_id, number) VALUES (?, ?, ?)`, id, visitID, number)
		return err
	})
}

// sameDeclaration reports whether two studies have the same name and plan. Looking up labels
// and comparing shoes do not count as a change.
func sameDeclaration(a, b study.Study) bool {
	a.Changes, b.Changes = nil, nil
	return reflect.DeepEqual(a, b)
}

// StudyVisits returns the visits of a study by dancer and number, including those of
// dancers who dropped out.
func (l *Logbook) StudyVisits(name string) ([]Visit, error) {
	all, err := l.visits(`WHERE st.key = ?`, keyOf(name))
	slices.SortStableFunc(all, func(a, b Visit) int {
		return cmp.Or(cmp.Compare(keyOf(a.Dancer), keyOf(b.Dancer)), cmp.Compare(a.OfStudy, b.OfStudy))
	})
	return all, err
}

// StudyRecordings returns the recordings of a study in the order they were made.
func (l *Logbook) StudyRecordings(name string) ([]Recording, error) {
	return l.Recordings(Filter{Study: name})
}

// StudyMade returns the recordings made in the visits of a study. Practice with live
// feedback does not count, and neither do recordings of a dancer whose consent is
// withdrawn.
func (l *Logbook) StudyMade(name string) (all []study.Made, err error) {
	visits, err := l.StudyVisits(name)
	if err != nil {
		return nil, err
	}
	recordings, err := l.StudyRecordings(name)
	if err != nil {
		return nil, err
	}
	measured, err := l.relevesOf(recordings)
	if err != nil {
		return nil, err
	}
	gone, err := l.Withdrawn()
	if err != nil {
		return nil, err
	}
	for _, v := range visits {
		if gone[v.Dancer] {
			continue
		}
		one := study.Made{Dancer: v.Dancer, Visit: v.OfStudy, Name: v.Name(), Day: string(v.Day)}
		for _, r := range recordings {
			if r.VisitID == v.ID && r.Feedback != device.FeedbackLive {
				one.Recordings = append(one.Recordings, Recorded(r, measured[r.ID]))
			}
		}
		all = append(all, one)
	}
	return all, nil
}

// StudyRows returns the names of the visits of a study, by dancer, and their relevés of
// each declared measure. Stale measures are left out, dancers whose consent is withdrawn,
// and visits beyond those of the plan, as after an amendment.
func (l *Logbook) StudyRows(s study.Study) (visits map[string][]string, rows map[measure.Measure][]track.Row, err error) {
	all, err := l.StudyVisits(s.Name)
	if err != nil {
		return nil, nil, err
	}
	visits, rows = map[string][]string{}, map[measure.Measure][]track.Row{}
	gone, err := l.Withdrawn()
	if err != nil {
		return nil, nil, err
	}
	for _, v := range all {
		if !gone[v.Dancer] && v.OfStudy <= s.Visits {
			visits[v.Dancer] = append(visits[v.Dancer], v.Name())
		}
	}
	var declared []measure.Measure
	for _, m := range measure.All() {
		if m.Describe().Kind == measure.Declared {
			declared = append(declared, m)
		}
	}
	measures, err := l.Measures(Filter{Study: s.Name}, declared...)
	for _, m := range measures {
		if slices.Contains(visits[m.Dancer], m.VisitName) {
			rows[m.Measure] = append(rows[m.Measure], trackRows([]MeasureRow{m}, nil, nil)...)
		}
	}
	return visits, rows, err
}

// relevesOf returns the foot and whether it was aborted for every relevé of the
// recordings, which is what Recorded needs, in one query.
func (l *Logbook) relevesOf(recordings []Recording) (map[int64][]Releve, error) {
	of := map[int64][]Releve{}
	for _, r := range recordings {
		of[r.ID] = nil
	}
	err := l.read(func(tx *sql.Tx) error {
		return each(tx, func(rows *sql.Rows) error {
			var id int64
			var foot string
			var one Releve
			err := rows.Scan(&id, &foot, &one.Aborted)
			if err == nil {
				one.Foot, err = device.ParseFoot(foot)
			}
			if _, wanted := of[id]; wanted {
				of[id] = append(of[id], one)
			}
			return err
		}, `SELECT recording_id, foot, status = 'aborted' FROM releves`)
	})
	return of, err
}

// Sources returns the numbers of imported recordings by the SHA-256 of the files that
// they were imported from.
func (l *Logbook) Sources() (map[string]int64, error) {
	all := map[string]int64{}
	err := l.read(func(tx *sql.Tx) error {
		return each(tx, func(rows *sql.Rows) error {
			var sum string
			var id int64
			err := rows.Scan(&sum, &id)
			all[sum] = id
			return err
		}, `SELECT sha256, recording_id FROM sources`)
	})
	return all, err
}

// PutSources stores the SHA-256 of the files from which a recording was imported: of each
// foot, or of both under device.NoFoot. A file that has another recording stays with that
// one, so that the manifest of a study finds its recordings again.
func (l *Logbook) PutSources(recordingID int64, sums map[device.Foot]string) error {
	return l.change(func(tx *sql.Tx) error {
		for f, sum := range sums {
			name := "both"
			if f != device.NoFoot {
				name = f.String()
			}
			if _, err := tx.Exec(`INSERT INTO sources (sha256, recording_id, foot) VALUES (?, ?, ?) ON CONFLICT (sha256, foot) DO NOTHING`, sum, recordingID, name); err != nil {
				return err
			}
		}
		return nil
	})
}
