package logbook

import (
	"database/sql"
	"encoding/json"
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"aplomb/analyze/provenance"
	"aplomb/device"
)

// Filter selects the recordings that match all of its fields. The zero Filter selects
// every recording.
type Filter struct {
	Dancer  string // code
	VisitID int64
	Shoe    string // code, any version, on any foot
	Study   string // name, any visit of it
	// Informing selects the recordings from which repeatability is estimated for dancers,
	// by code: all of theirs, and the latest of other dancers (see latestOthers). nil
	// selects without regard to that.
	Informing []string
}

// latestOthers is the number of visits of other dancers that Filter.Informing selects at
// most of each kind: visits of any kind, with repeated mountings, and marked as baseline.
// It bounds what a command reads in a logbook of years, and is our own choice: in fifty
// visits with two mountings of two shoes there are 200 degrees of freedom between
// mountings, with which a standard deviation has a relative standard error of 5 %.
const latestOthers = 50

// where returns the filter as the end of a query in which d stands for dancers and r for
// recordings, and the query's arguments.
func (f Filter) where() (string, []any) {
	conditions, args := []string{"1"}, []any{}
	if f.Dancer != "" {
		conditions, args = append(conditions, `d.key = ?`), append(args, keyOf(f.Dancer))
	}
	if f.VisitID != 0 {
		conditions, args = append(conditions, `r.visit_id = ?`), append(args, f.VisitID)
	}
	if f.Shoe != "" {
		conditions = append(conditions, `r.id IN (SELECT recording_id FROM recorded_feet
			JOIN shoe_versions sv ON sv.id = shoe_version_id JOIN shoes s ON s.id = sv.item_id WHERE s.key = ?)`)
		args = append(args, keyOf(f.Shoe))
	}
	if f.Study != "" {
		conditions = append(conditions, `r.visit_id IN (SELECT sv.visit_id FROM study_visits sv JOIN studies s ON s.id = sv.study_id WHERE s.key = ?)`)
		args = append(args, keyOf(f.Study))
	}
	if f.Informing != nil {
		keys := make([]string, len(f.Informing))
		for i, code := range f.Informing {
			keys[i] = keyOf(code)
		}
		list := jsonList(keys)
		own, others := `(SELECT value FROM json_each(?))`, []string{}
		args = append(args, list)
		for _, kind := range []string{
			`1`,
			`EXISTS (SELECT 1 FROM recordings r JOIN recorded_feet rf ON rf.recording_id = r.id WHERE r.visit_id = v.id
				GROUP BY foot, shoe_version_id HAVING count(DISTINCT mounting_id) > 1)`,
			`baseline`,
		} {
			others = append(others, `SELECT * FROM (SELECT v.id FROM visits v JOIN dancers d ON d.id = v.dancer_id
				WHERE d.key NOT IN `+own+` AND d.consent <> ? AND EXISTS (SELECT 1 FROM recordings WHERE visit_id = v.id) AND `+kind+`
				ORDER BY v.day DESC, v.number DESC, v.id DESC LIMIT ?)`)
			args = append(args, list, ConsentWithdrawn, latestOthers)
		}
		conditions = append(conditions, `(d.key IN `+own+` OR r.visit_id IN (`+strings.Join(others, " UNION ")+`))`)
	}
	return " WHERE " + strings.Join(conditions, " AND "), args
}

// jsonList returns a list of texts or whole numbers as an argument of json_each, which
// makes a column of it in a query.
func jsonList[T string | int64](list []T) string {
	data, _ := json.Marshal(append([]T{}, list...)) // cannot fail
	return string(data)
}

// Recordings returns the recordings that f selects in the order they were made.
func (l *Logbook) Recordings(f Filter) ([]Recording, error) {
	where, args := f.where()
	return l.recordings(where, args...)
}

// Recording returns the recording with that number; ErrNotFound where there is none.
func (l *Logbook) Recording(id int64) (Recording, error) {
	found, err := l.recordings(` WHERE r.id = ?`, id)
	if err == nil && len(found) == 0 {
		err = fmt.Errorf("recording number %d: %w", id, ErrNotFound)
	}
	if err != nil {
		return Recording{}, err
	}
	return found[0], nil
}

func (l *Logbook) recordings(where string, args ...any) (all []Recording, err error) {
	at := map[int64]int{}
	err = l.read(func(tx *sql.Tx) error {
		err := each(tx, func(rows *sql.Rows) error {
			var r Recording
			var v Visit
			var file, algorithm string
			var started int64
			var mass sql.NullFloat64
			var remark string
			err := rows.Scan(&r.ID, &r.Identity, &file, &r.SHA256, &r.Size, &r.Dancer, &r.VisitID, &v.Day, &v.Number, &started, &r.Software,
				&r.Support, &r.Rise, &r.Position, &r.Floor, &r.Feedback, &mass, &r.Correction, &remark, &algorithm, &r.Version)
			if err == nil && remark != "" {
				err = json.Unmarshal([]byte(remark), &r.Remark)
			}
			r.Path, r.Day, r.VisitName = filepath.Join(l.dir, recordings, file), v.Day, v.Name()
			r.Started, r.MassKG = time.Unix(0, started).UTC(), mass.Float64
			switch algorithm {
			case provenance.Algorithm():
				r.Measures = Current
			case "":
				if r.Version != "" {
					r.Measures = Stale
				}
			default:
				r.Measures = Stale
			}
			at[r.ID] = len(all)
			all = append(all, r)
			return err
		}, `SELECT r.id, identity, file, sha256, size, d.code, visit_id, day, number, started_ns, software, r.support, r.rise, r.position, r.floor, r.feedback, r.mass_kg, correction, remark, algorithm,
			coalesce((SELECT m.version FROM releves e JOIN measures m ON m.releve_id = e.id WHERE e.recording_id = r.id LIMIT 1), '')
			FROM recordings r JOIN visits v ON v.id = visit_id JOIN dancers d ON d.id = dancer_id `+where+` ORDER BY started_ns, r.id`, args...)
		if err != nil {
			return err
		}
		return each(tx, func(rows *sql.Rows) error {
			var id int64
			var name string
			var f RecordedFoot
			if err := rows.Scan(&id, &name, &f.Shoe, &f.ShoeVersion, &f.Strip, &f.StripVersion, &f.Mounting, &f.Mark, &f.Padding, &f.Fixing); err != nil {
				return err
			}
			foot, err := device.ParseFoot(name)
			if i, ok := at[id]; ok && err == nil {
				all[i].Feet[foot] = &f
			}
			return err
		}, `SELECT recording_id, foot, s.code, sv.version, t.code, tv.version, coalesce(m.name, ''), mark, padding, fixing FROM recorded_feet
			JOIN shoe_versions sv ON sv.id = shoe_version_id JOIN shoes s ON s.id = sv.item_id
			JOIN strip_versions tv ON tv.id = strip_version_id JOIN strips t ON t.id = tv.item_id
			LEFT JOIN mountings m ON m.id = mounting_id
			WHERE recording_id IN (SELECT r.id FROM recordings r JOIN visits v ON v.id = visit_id JOIN dancers d ON d.id = dancer_id `+where+`)`, args...)
	})
	return all, err
}
