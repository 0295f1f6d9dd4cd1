package logbook

import (
	"database/sql"
	"fmt"
	"math"
	"strings"
	"time"

	"aplomb/device"
)

// Releve is one rise of one foot, with its measures.
type Releve struct {
	N        int // by onset, from 1; both feet of a pair share it
	Foot     device.Foot
	FeetUp   int     // 1 or 2
	StartS   float64 // since the recording's first frame, s
	Aborted  bool    // not measured
	Verdict  string  // "" where aborted
	Measures []Measure
}

// Measure is one number of a relevé, in the unit that its name says.
type Measure struct {
	Name  string
	Value float64
	U     *float64 // standard uncertainty, nil where there is none
}

// MeasureRow is a measure with all that says what it is of. Support and what
// follows it are the recording's.
type MeasureRow struct {
	Dancer       string
	VisitID      int64
	VisitName    string
	Day          Day
	Baseline     bool // of the visit
	RecordingID  int64
	Started      time.Time // of the recording
	Support      string
	Rise         string
	Floor        string
	Foot         device.Foot
	Shoe         string
	ShoeVersion  int
	Strip        string
	StripVersion int
	Mounting     string // "" where nothing says it was the same as another
	N            int    // of the relevé
	FeetUp       int
	StartS       float64
	Verdict      string
	Measure
	Version string // of the program that computed it
}

// PutMeasures replaces the relevés of a recording and their measures by what
// this version of the program found.
func (l *Logbook) PutMeasures(recordingID int64, version string, releves []Releve) error {
	if version == "" {
		return invalid("measures without the version that computed them")
	}
	for _, r := range releves {
		if r.Foot > device.Right {
			return invalid("relevé %d of no foot", r.N)
		}
		for _, m := range r.Measures {
			if math.IsNaN(m.Value) || math.IsInf(m.Value, 0) || m.U != nil && !(*m.U >= 0 && *m.U <= math.MaxFloat64) {
				return invalid("relevé %d, %s foot: %s is not a number with its uncertainty: leave out what is not defined", r.N, r.Foot, m.Name)
			}
		}
	}
	return l.change(func(tx *sql.Tx) error {
		var found int
		if err := tx.QueryRow(`SELECT count(*) FROM recordings WHERE id = ?`, recordingID).Scan(&found); err != nil {
			return err
		}
		if found == 0 {
			return fmt.Errorf("recording number %d: %w", recordingID, ErrNotFound)
		}
		if _, err := tx.Exec(`DELETE FROM releves WHERE recording_id = ?`, recordingID); err != nil {
			return err
		}
		add, err := tx.Prepare(`INSERT INTO measures (releve_id, name, value, u, version) VALUES (?, ?, ?, ?, ?)`)
		if err != nil {
			return err
		}
		defer add.Close()
		for _, r := range releves {
			status := "measured"
			if r.Aborted {
				status = "aborted"
			}
			var id int64
			err := tx.QueryRow(`INSERT INTO releves (recording_id, foot, n, feet_up, start_s, status, verdict) VALUES (?, ?, ?, ?, ?, ?, ?) RETURNING id`,
				recordingID, r.Foot.String(), r.N, r.FeetUp, r.StartS, status, r.Verdict).Scan(&id)
			if err != nil {
				return fmt.Errorf("relevé %d, %s foot: %w", r.N, r.Foot, err)
			}
			for _, m := range r.Measures {
				if _, err := add.Exec(id, m.Name, m.Value, m.U, version); err != nil {
					return fmt.Errorf("relevé %d, %s foot, %s: %w", r.N, r.Foot, m.Name, err)
				}
			}
		}
		return nil
	})
}

// Releves returns the relevés of a recording by n, left before right, with
// their measures by name.
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
			if err := rows.Scan(&id, &r.N, &foot, &r.FeetUp, &r.StartS, &status, &r.Verdict); err != nil {
				return err
			}
			var err error
			r.Foot, err = device.ParseFoot(foot)
			r.Aborted = status == "aborted"
			at[id] = len(all)
			all = append(all, r)
			return err
		}, `SELECT id, n, foot, feet_up, start_s, status, verdict FROM releves WHERE recording_id = ? ORDER BY n, foot`, recordingID)
		if err != nil {
			return err
		}
		return each(tx, func(rows *sql.Rows) error {
			var id int64
			var m Measure
			err := rows.Scan(&id, &m.Name, &m.Value, &m.U)
			r := &all[at[id]]
			r.Measures = append(r.Measures, m)
			return err
		}, `SELECT releve_id, name, value, u FROM measures JOIN releves ON id = releve_id WHERE recording_id = ? ORDER BY releve_id, name`, recordingID)
	})
	return all, err
}

// Measures returns the measures of those names in the recordings that f means,
// each row on the foot that wore f.Shoe where f names one; of every name where
// none is given. They come in the order they were made: by recording, n, left
// before right, name.
func (l *Logbook) Measures(f Filter, names ...string) (all []MeasureRow, err error) {
	where, args := f.where()
	if f.Shoe != "" {
		where, args = where+` AND s.key = ?`, append(args, keyOf(f.Shoe))
	}
	if len(names) > 0 {
		where += ` AND m.name IN (?` + strings.Repeat(`, ?`, len(names)-1) + `)`
		for _, name := range names {
			args = append(args, name)
		}
	}
	err = l.read(func(tx *sql.Tx) error {
		return each(tx, func(rows *sql.Rows) error {
			var m MeasureRow
			var v Visit
			var started int64
			var foot string
			err := rows.Scan(&m.Dancer, &m.VisitID, &v.Day, &v.Number, &m.Baseline, &m.RecordingID, &started, &m.Support, &m.Rise, &m.Floor,
				&foot, &m.Shoe, &m.ShoeVersion, &m.Strip, &m.StripVersion, &m.Mounting,
				&m.N, &m.FeetUp, &m.StartS, &m.Verdict, &m.Name, &m.Value, &m.U, &m.Version)
			if err != nil {
				return err
			}
			m.Day, m.VisitName, m.Started = v.Day, v.Name(), time.Unix(0, started).UTC()
			m.Foot, err = device.ParseFoot(foot)
			all = append(all, m)
			return err
		}, `SELECT d.code, v.id, day, number, baseline, r.id, started_ns, r.support, r.rise, r.floor,
			rf.foot, s.code, sv.version, t.code, tv.version, coalesce(mo.name, ''),
			n, feet_up, start_s, verdict, m.name, value, u, m.version
			FROM measures m JOIN releves e ON e.id = m.releve_id
			JOIN recorded_feet rf ON rf.recording_id = e.recording_id AND rf.foot = e.foot
			JOIN recordings r ON r.id = e.recording_id JOIN visits v ON v.id = r.visit_id JOIN dancers d ON d.id = v.dancer_id
			JOIN shoe_versions sv ON sv.id = rf.shoe_version_id JOIN shoes s ON s.id = sv.item_id
			JOIN strip_versions tv ON tv.id = rf.strip_version_id JOIN strips t ON t.id = tv.item_id
			LEFT JOIN mountings mo ON mo.id = rf.mounting_id`+where+` ORDER BY started_ns, r.id, n, rf.foot, m.name`, args...)
	})
	return all, err
}
