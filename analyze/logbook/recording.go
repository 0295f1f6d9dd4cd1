package logbook

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"aplomb/device"
	"aplomb/device/recording"
)

// Recording is what the logbook knows of one recording. But for the visit it is
// what the file says.
type Recording struct {
	ID        int64
	Path      string // absolute
	SHA256    string // of the file, in hexadecimal
	Size      int64  // bytes
	Dancer    string // code
	VisitID   int64
	VisitName string
	Day       Day // of the visit
	Started   time.Time
	Software  string
	Support   string
	Rise      string
	Position  string
	Floor     string
	MassKG    float64
	Feet      [2]*RecordedFoot // by device.Foot; nil for a foot without a strip
	Measured  string           // version that computed its measures, "" where there are none
}

// RecordedFoot is what was under one foot.
type RecordedFoot struct {
	Shoe         string // code
	ShoeVersion  int
	Strip        string
	StripVersion int
	Mounting     string // "" where nothing says it was the same as another
}

// NewRecordingPath returns a path that a recording which starts at a time can be
// written to, for AddRecording to take in. Nothing is there yet.
func (l *Logbook) NewRecordingPath(started time.Time) string {
	return filepath.Join(l.dir, recordings, newFileName(started, ".mcap"))
}

// AddRecording takes the recording at path into a visit. All else that it says
// comes from the file: shoes and strips that the logbook does not know, or not
// like that, are added. A file in the logbook's folder of recordings stays where
// it is, any other is copied there and stays as well. ErrExists where the
// logbook has it already, ErrInvalid where the file names another dancer or
// another visit.
func (l *Logbook) AddRecording(path string, visitID int64) (Recording, error) {
	visit, err := l.Visit(visitID)
	if err != nil {
		return Recording{}, err
	}
	meta, err := describe(path)
	if err != nil {
		return Recording{}, err
	}
	if meta.Dancer != "" && keyOf(meta.Dancer) != keyOf(visit.Dancer) {
		return Recording{}, invalid("%s is of dancer %.80q, the visit of %q", path, meta.Dancer, visit.Dancer)
	}
	if meta.Visit != "" && meta.Visit != visit.Name() {
		return Recording{}, invalid("%s was made in visit %.40s, not %s", path, meta.Visit, visit.Name())
	}
	sum, size, err := sha256Of(path)
	if err != nil {
		return Recording{}, err
	}
	var other int64
	err = l.read(func(tx *sql.Tx) error {
		err := tx.QueryRow(`SELECT id FROM recordings WHERE sha256 = ?`, sum).Scan(&other)
		if errors.Is(err, sql.ErrNoRows) {
			return nil
		}
		return err
	})
	if err == nil && other != 0 {
		err = fmt.Errorf("%s: %w as recording %d", path, ErrExists, other)
	}
	if err != nil {
		return Recording{}, err
	}
	file, copied, err := l.takeIn(path, meta.Started)
	if err != nil {
		return Recording{}, explain(l.dir, err)
	}
	var id int64
	err = l.change(func(tx *sql.Tx) error {
		id, err = insertRecording(tx, visitID, file, sum, size, meta)
		return err
	})
	if err != nil {
		if copied {
			os.Remove(filepath.Join(l.dir, recordings, file))
		}
		return Recording{}, err
	}
	return l.Recording(id)
}

// RemoveRecording erases a recording with its measures, and its file.
func (l *Logbook) RemoveRecording(id int64) error {
	err := l.change(func(tx *sql.Tx) error {
		if _, err := tx.Exec(`INSERT OR IGNORE INTO erasing (file) SELECT file FROM recordings WHERE id = ?`, id); err != nil {
			return err
		}
		result, err := tx.Exec(`DELETE FROM recordings WHERE id = ?`, id)
		if err != nil {
			return err
		}
		if n, err := result.RowsAffected(); err != nil || n == 0 {
			return cmp.Or(err, fmt.Errorf("recording number %d: %w", id, ErrNotFound))
		}
		return forgetUnused(tx)
	})
	if err != nil {
		return err
	}
	return explain(l.dir, l.finishErasing())
}

// insertRecording writes down what meta says.
func insertRecording(tx *sql.Tx, visitID int64, file, sum string, size int64, meta device.Metadata) (id int64, err error) {
	err = tx.QueryRow(`INSERT INTO recordings (visit_id, file, sha256, size, started_ns, software, support, rise, position, floor, mass_kg)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id`,
		visitID, file, sum, size, meta.Started.UnixNano(), meta.Software, meta.Support, meta.Rise, meta.Position, meta.Floor, known(meta.MassKG)).Scan(&id)
	if err != nil {
		return 0, err
	}
	for _, foot := range device.Feet {
		side := meta.Sides[foot]
		if side == nil {
			continue
		}
		shoe, err := shoeShelf.learn(tx, side.Shoe.Code, device.TOML(side.Shoe))
		if err != nil {
			return 0, err
		}
		strip, err := stripShelf.learn(tx, side.Strip.Name, device.TOML(side.Strip))
		if err != nil {
			return 0, err
		}
		var mounting any
		if side.Mounting != "" {
			var m int64
			err := tx.QueryRow(`INSERT INTO mountings (strip_id, name) SELECT item_id, ?2 FROM strip_versions WHERE id = ?1
				ON CONFLICT DO UPDATE SET name = name RETURNING id`, strip, side.Mounting).Scan(&m)
			if err != nil {
				return 0, err
			}
			mounting = m
		}
		_, err = tx.Exec(`INSERT INTO recorded_feet (recording_id, foot, shoe_version_id, strip_version_id, mounting_id) VALUES (?, ?, ?, ?, ?)`,
			id, foot.String(), shoe, strip, mounting)
		if err != nil {
			return 0, err
		}
	}
	return id, nil
}

// forgetUnused drops what only recordings told of, once they are gone.
func forgetUnused(tx *sql.Tx) error {
	_, err := tx.Exec(`DELETE FROM mountings WHERE NOT EXISTS (SELECT 1 FROM recorded_feet WHERE mounting_id = mountings.id)`)
	if err != nil {
		return err
	}
	return cmp.Or(shoeShelf.forget(tx), stripShelf.forget(tx))
}

// describe reads what a recording says of itself.
func describe(path string) (device.Metadata, error) {
	r, err := recording.Open(context.TODO(), path)
	if err != nil {
		return device.Metadata{}, err
	}
	defer r.Close()
	meta := r.Meta()
	for _, side := range meta.Sides {
		if side == nil {
			continue
		}
		if err := cmp.Or(checkCode("shoe", side.Shoe.Code), checkCode("strip", side.Strip.Name)); err != nil {
			return meta, fmt.Errorf("%s: %w", path, err)
		}
	}
	return meta, nil
}
