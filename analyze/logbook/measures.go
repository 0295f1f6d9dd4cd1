package logbook

import (
	"cmp"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"aplomb/analyze/budget"
	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/analyze/provenance"
	"aplomb/analyze/sensor"
	"aplomb/device"
)

// Releve is one relevé of one foot with the values that the logbook stores.
type Releve struct {
	N       int // by onset, from 1; the same for both feet of a pair
	Foot    device.Foot
	FeetUp  int     // 1 or 2
	StartS  float64 // since the recording's first frame, s
	Aborted bool    // not measured
	Verdict measure.Verdict
	// Evidence is what the seat of the strip was found from; "" where unknown.
	Evidence measure.Evidence
	Values   []Value
}

// Value is the value of one measure in one relevé, in the unit of the measure.
type Value struct {
	Measure measure.Measure
	Value   float64
	U       *float64    // standard uncertainty, nil where there is none
	DOF     measure.DOF // degrees of freedom of U
	USeat   float64     // the part of U that is independent between mountings: the seat of the strip
	// Sensor is the strip's contribution to the uncertainty of a declared measure in
	// addition to the seat, and SeatDOF the degrees of freedom of USeat. They are nil and
	// 0 for other measures, and where they are not stored.
	Sensor  *sensor.Part
	SeatDOF measure.DOF
}

// MeasureRow is the value of one measure in one relevé, with the dancer, visit,
// recording, shoe and strip that it belongs to. The conditions are the recording's.
type MeasureRow struct {
	Dancer       string
	VisitID      int64
	VisitName    string
	Day          Day
	Baseline     bool // of the visit
	RecordingID  int64
	Identity     string    // of the recording; "" where it is not known yet
	Started      time.Time // of the recording
	Support      string
	Rise         string
	Position     string
	Floor        string
	Feedback     string
	Foot         device.Foot
	Shoe         string
	ShoeVersion  int
	Strip        string
	StripVersion int
	Mounting     string // "" where it is not known to be the same as another
	Mark         int    // see RecordedFoot
	Padding      string
	Fixing       string
	N            int // of the relevé
	FeetUp       int
	StartS       float64
	Verdict      measure.Verdict
	Measure      measure.Measure
	Value        float64
	U            *float64     // standard uncertainty, nil where there is none
	DOF          measure.DOF  // degrees of freedom of U
	USeat        float64      // the part of U that is independent between mountings: the seat of the strip
	SeatDOF      measure.DOF  // degrees of freedom of USeat; 0 where Sensor is nil
	Sensor       *sensor.Part // contribution of the strip to a declared measure in addition to the seat; nil where it is not stored
	Evidence     measure.Evidence
	Version      string // of the program that computed it
}

// RelevesOf returns the relevés of a result with every measure of the catalogue that they
// have. Discarded relevés are left out, since they are in no mean; a number n may
// therefore be missing.
//
// The standard uncertainty is that of the hold where it states one, including the
// mounting; else the combined uncertainty of mounting and gains, and nil where neither
// affects the measure.
func RelevesOf(r *measure.Result) []Releve {
	all := []Releve{}
	for i := range r.Releves {
		one := &r.Releves[i]
		if one.Discarded {
			continue
		}
		kept := Releve{N: one.N, Foot: one.Foot, FeetUp: one.FeetUp, StartS: one.StartS, Aborted: !one.Counts()}
		if one.Counts() {
			kept.Verdict = one.Verdict
			for _, m := range measure.All() {
				if v, ok := one.Value(m); ok {
					seat, from := mounting.Seat(one.Hold, m)
					u, dof := budget.OfMeasure(one.Hold, m)
					value := Value{Measure: m, Value: v, U: u, DOF: dof, USeat: seat}
					if m.Describe().Kind == measure.Declared {
						_, seatDOF, _ := mounting.SeatU(one.Hold, m)
						part := sensor.Of(one.Hold, m)
						value.SeatDOF, value.Sensor = measure.DOF(seatDOF), &part
					}
					kept.Values = append(kept.Values, value)
					kept.Evidence = from
				}
			}
		}
		all = append(all, kept)
	}
	return all
}

// countRises returns the number of rises in a recording, including aborted and discarded
// ones.
func countRises(r *measure.Result) int {
	numbers := map[int]bool{}
	for i := range r.Releves {
		numbers[r.Releves[i].N] = true
	}
	return len(numbers)
}

// finite returns nil for unlimited degrees of freedom, which the database cannot store.
func finite(dof measure.DOF) *float64 {
	if v := float64(dof); !math.IsInf(v, 0) {
		return &v
	}
	return nil
}

// unlimited is the inverse of finite.
func unlimited(dof *float64) measure.DOF {
	if dof == nil {
		return measure.Unlimited
	}
	return measure.DOF(*dof)
}

// partText returns a part in the form of the database, "" for none.
func partText(p *sensor.Part) (string, error) {
	if p == nil {
		return "", nil
	}
	data, err := json.Marshal(p)
	return string(data), err
}

// parsePart is the inverse of partText, with the degrees of freedom of the seat.
func parsePart(text string, seatDOF *float64) (*sensor.Part, measure.DOF, error) {
	if text == "" {
		return nil, 0, nil
	}
	p := &sensor.Part{}
	err := json.Unmarshal([]byte(text), p)
	return p, unlimited(seatDOF), err
}

// damagedMeasure returns the error for a stored measure that cannot be read.
func (l *Logbook) damagedMeasure(symbol string, recordingID int64, err error) error {
	return fmt.Errorf("logbook %s: %w (%s of recording %d: %v): %s", l.dir, ErrDamaged, symbol, recordingID, err, measureAgain)
}

// CountMeasured counts the measured relevés of a foot; where both feet rose, those of the
// foot with fewer.
func CountMeasured(releves []Releve) int {
	var feet [2]int
	for _, r := range releves {
		if !r.Aborted {
			feet[r.Foot]++
		}
	}
	if feet[device.Left] == 0 || feet[device.Right] == 0 {
		return max(feet[device.Left], feet[device.Right])
	}
	return min(feet[device.Left], feet[device.Right])
}

// PutMeasures replaces the relevés of a recording and their measures by those of a
// result, and stores algorithm and version of its provenance, and the recording's
// identity where it was not known. In a logbook that cannot be written they are stored in
// memory until it is closed.
func (l *Logbook) PutMeasures(recordingID int64, r *measure.Result) error {
	p := r.Provenance
	if p == nil || p.Version == "" || p.Algorithm == "" {
		return invalid("measures without the version and algorithm that computed them")
	}
	releves := RelevesOf(r)
	for _, one := range releves {
		for _, v := range one.Values {
			if math.IsNaN(v.Value) || math.IsInf(v.Value, 0) || v.U != nil && !(*v.U >= 0 && *v.U <= math.MaxFloat64) || !(v.USeat >= 0 && v.USeat <= math.MaxFloat64) {
				return invalid("relevé %d, %s foot: %s is not a number with its uncertainty: leave out what is not defined", one.N, one.Foot, v.Measure)
			}
		}
	}
	identity, corrected := "", ""
	if len(p.Inputs) == 1 {
		identity, corrected = p.Inputs[0].ID, p.Inputs[0].CorrectionSHA256
	}
	put := l.change
	if l.readOnly {
		put = l.changeCopy
	}
	return put(func(tx *sql.Tx) error {
		// The recording may have been corrected while it was analyzed.
		if len(p.Inputs) == 1 {
			var follows string
			err := tx.QueryRow(`SELECT correction FROM recordings WHERE id = ?`, recordingID).Scan(&follows)
			if err == nil && follows != corrected {
				return invalid("recording %d was measured with another correction than the logbook follows: aplomb logbook relabel %d takes over what lies beside it; then measure again", recordingID, recordingID)
			}
			if err != nil && !errors.Is(err, sql.ErrNoRows) {
				return err
			}
		}
		result, err := tx.Exec(`UPDATE recordings SET algorithm = ?1, identity = CASE identity WHEN '' THEN ?2 ELSE identity END, rises = ?4 WHERE id = ?3`,
			p.Algorithm, identity, recordingID, countRises(r))
		if err != nil {
			return err
		}
		if n, err := result.RowsAffected(); err != nil {
			return err
		} else if n == 0 {
			return fmt.Errorf("recording number %d: %w", recordingID, ErrNotFound)
		}
		if _, err := tx.Exec(`DELETE FROM releves WHERE recording_id = ?`, recordingID); err != nil {
			return err
		}
		for _, one := range releves {
			if err := one.insert(tx, recordingID, p.Version); err != nil {
				return fmt.Errorf("relevé %d, %s foot: %w", one.N, one.Foot, err)
			}
		}
		return nil
	})
}

func (r Releve) insert(tx *sql.Tx, recordingID int64, version string) error {
	status := measure.Measured
	if r.Aborted {
		status = measure.Aborted
	}
	var id int64
	err := tx.QueryRow(`INSERT INTO releves (recording_id, foot, n, feet_up, start_s, status, verdict, evidence) VALUES (?, ?, ?, ?, ?, ?, ?, ?) RETURNING id`,
		recordingID, r.Foot.String(), r.N, r.FeetUp, r.StartS, string(status), string(r.Verdict), string(r.Evidence)).Scan(&id)
	if err != nil {
		return err
	}
	for _, v := range r.Values {
		part, err := partText(v.Sensor)
		if err != nil {
			return fmt.Errorf("%s: %w", v.Measure, err)
		}
		_, err = tx.Exec(`INSERT INTO measures (releve_id, name, value, u, dof, u_seat, dof_seat, sensor, version) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`,
			id, v.Measure.Symbol(), v.Value, v.U, finite(v.DOF), v.USeat, finite(v.SeatDOF), part, version)
		if err != nil {
			return fmt.Errorf("%s: %w", v.Measure, err)
		}
	}
	return nil
}

// Releves returns the relevés of a recording by n, left before right, with their values
// in the order of the catalogue. The values may be stale, see Recording.State. Measures
// that this program does not know are left out.
func (l *Logbook) Releves(recordingID int64) (all []Releve, err error) {
	if _, err := l.Recording(recordingID); err != nil {
		return nil, err
	}
	at := map[int64]int{}
	err = l.read(func(tx *sql.Tx) error {
		err := each(tx, func(rows *sql.Rows) error {
			var id int64
			var r Releve
			var foot, status string
			if err := rows.Scan(&id, &r.N, &foot, &r.FeetUp, &r.StartS, &status, &r.Verdict, &r.Evidence); err != nil {
				return err
			}
			var err error
			r.Foot, err = device.ParseFoot(foot)
			r.Aborted = status == string(measure.Aborted)
			at[id] = len(all)
			all = append(all, r)
			return err
		}, `SELECT id, n, foot, feet_up, start_s, status, verdict, evidence FROM releves WHERE recording_id = ? ORDER BY n, foot`, recordingID)
		if err != nil {
			return err
		}
		return each(tx, func(rows *sql.Rows) error {
			var id int64
			var symbol string
			var v Value
			var dof, seatDOF *float64
			var part string
			err := rows.Scan(&id, &symbol, &v.Value, &v.U, &dof, &v.USeat, &seatDOF, &part)
			if err != nil {
				return err
			}
			if v.Sensor, v.SeatDOF, err = parsePart(part, seatDOF); err != nil {
				return l.damagedMeasure(symbol, recordingID, err)
			}
			v.DOF = unlimited(dof)
			if m, ok := measure.Named(symbol); ok {
				v.Measure = m
				r := &all[at[id]]
				r.Values = append(r.Values, v)
			}
			return nil
		}, `SELECT releve_id, name, value, u, dof, u_seat, dof_seat, sensor FROM measures JOIN releves ON id = releve_id WHERE recording_id = ?`, recordingID)
	})
	for _, r := range all {
		slices.SortFunc(r.Values, func(a, b Value) int { return cmp.Compare(a.Measure, b.Measure) })
	}
	return all, err
}

// Measures returns the values of measures, or of every measure where none is given, in
// the recordings that f selects; where f names a shoe, only of the foot that wore it.
// Stale values, measures that this program does not know and practice with live feedback
// are left out. The rows are in order of recording time, n, foot (left before right) and
// measure.
func (l *Logbook) Measures(f Filter, measures ...measure.Measure) (all []MeasureRow, err error) {
	where, args := f.where()
	where, args = where+` AND r.algorithm = ? AND r.feedback <> ? AND r.decision NOT IN ('repeat', 'discard')`, append(args, provenance.Algorithm(), device.FeedbackLive)
	if f.Shoe != "" {
		where, args = where+` AND s.key = ?`, append(args, keyOf(f.Shoe))
	}
	if len(measures) > 0 {
		where += ` AND m.name IN (?` + strings.Repeat(`, ?`, len(measures)-1) + `)`
		for _, m := range measures {
			args = append(args, m.Symbol())
		}
	}
	err = l.read(func(tx *sql.Tx) error {
		// The cross joins fix the order of the loops: recordings first, not all measures.
		return each(tx, func(rows *sql.Rows) error {
			var m MeasureRow
			var v Visit
			var started int64
			var foot, symbol string
			var dof, seatDOF *float64
			var part string
			err := rows.Scan(&m.Dancer, &m.VisitID, &v.Day, &v.Number, &m.Baseline, &m.RecordingID, &m.Identity, &started, &m.Support, &m.Rise, &m.Position, &m.Floor, &m.Feedback,
				&foot, &m.Shoe, &m.ShoeVersion, &m.Strip, &m.StripVersion, &m.Mounting, &m.Mark, &m.Padding, &m.Fixing,
				&m.N, &m.FeetUp, &m.StartS, &m.Verdict, &symbol, &m.Value, &m.U, &dof, &m.USeat, &seatDOF, &part, &m.Evidence, &m.Version)
			if err != nil {
				return err
			}
			if m.Sensor, m.SeatDOF, err = parsePart(part, seatDOF); err != nil {
				return l.damagedMeasure(symbol, m.RecordingID, err)
			}
			m.Day, m.VisitName, m.Started = v.Day, v.Name(), time.Unix(0, started).UTC()
			m.Foot, err = device.ParseFoot(foot)
			m.DOF = unlimited(dof)
			if known, ok := measure.Named(symbol); ok {
				m.Measure = known
				all = append(all, m)
			}
			return err
		}, `SELECT d.code, v.id, day, number, baseline, r.id, r.identity, started_ns, r.support, r.rise, r.position, r.floor, r.feedback,
			rf.foot, s.code, sv.version, t.code, tv.version, coalesce(mo.name, ''), mark, padding, fixing,
			n, feet_up, start_s, verdict, m.name, value, u, dof, u_seat, dof_seat, sensor, evidence, m.version
			FROM recordings r JOIN visits v ON v.id = r.visit_id JOIN dancers d ON d.id = v.dancer_id
			CROSS JOIN recorded_feet rf ON rf.recording_id = r.id
			CROSS JOIN releves e ON e.recording_id = rf.recording_id AND e.foot = rf.foot
			CROSS JOIN measures m ON m.releve_id = e.id
			JOIN shoe_versions sv ON sv.id = rf.shoe_version_id JOIN shoes s ON s.id = sv.item_id
			JOIN strip_versions tv ON tv.id = rf.strip_version_id JOIN strips t ON t.id = tv.item_id
			LEFT JOIN mountings mo ON mo.id = rf.mounting_id`+where+` ORDER BY started_ns, r.id, n, rf.foot, m.name`, args...)
	})
	return all, err
}
