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

	"aplomb/analyze/measure"
	"aplomb/analyze/provenance"
	"aplomb/device"
	"aplomb/device/correction"
	"aplomb/device/recording"
)

// Recording describes one recording in the logbook. All but the visit, the numbers and
// the measures is copied from the file.
type Recording struct {
	ID         int64  // its number in this logbook
	Identity   string // id derived from its frames and events; "" where it is not known yet
	Path       string // absolute
	SHA256     string // of the file, in hexadecimal
	Size       int64  // bytes
	Dancer     string // code
	VisitID    int64
	VisitName  string
	Day        Day // of the visit
	Started    time.Time
	Software   string
	Support    string
	Rise       string
	Position   string
	Floor      string
	Feedback   string // what the dancer sees of the numbers: none, after, live
	MassKG     float64
	Feet       [2]*RecordedFoot // by device.Foot; nil for a foot without a strip
	Correction string           // SHA-256 of the file that corrects its metadata; "" where there is none
	Remark     correction.Remark
	Measures   State
	Version    string // of the program that computed its measures, "" where there are none
}

// State is the state of a recording's measures in the logbook.
type State string

const (
	NotMeasured State = ""        // not analyzed, or by an old program and without a relevé
	Stale       State = "stale"   // computed by another algorithm than this program's, or by an unknown one
	Current     State = "current" // computed by this program's algorithm
)

// input returns the recording as the input of a computation.
func (r Recording) input() measure.Input {
	in := measure.Input{ID: r.Identity, File: filepath.Base(r.Path), SHA256: r.SHA256}
	if r.Correction != "" {
		in.Correction, in.CorrectionSHA256 = correction.Name(r.Identity), r.Correction
	}
	return in
}

// RecordedFoot describes shoe, strip and mounting of one foot in a recording.
type RecordedFoot struct {
	Shoe         string // code
	ShoeVersion  int
	Strip        string
	StripVersion int
	Mounting     string // "" where it is not known to be the same as another
	Mark         int    // of the physical shoe in its pair, 1 or 2; 0 where unknown
	Padding      string // between foot and shoe; "" for that of the shoe's description
	Fixing       string // of the strip to the shoe
}

// NewRecordingPath returns the path of a file that does not exist yet, in the
// folder of recordings, for a recording that starts at a time. AddRecording adds
// it once it is written.
func (l *Logbook) NewRecordingPath(started time.Time) string {
	return filepath.Join(l.dir, recordings, newFileName(started, ".mcap"))
}

// AddRecording adds the recording at path to a visit. Everything else is read from the
// file: shoes and strips that are not in the logbook, or in another version, are added.
// The recording's number is written into the logbook's file, which is the given file
// where it is in the folder of recordings, and otherwise a copy. The error is ErrExists
// where the logbook already has the recording, in this file or in another one; ErrInvalid
// where the file names another dancer or another visit; ErrRecording where a program is
// still writing the file. When ctx is done before the end, nothing has changed.
func (l *Logbook) AddRecording(ctx context.Context, path string, visitID int64) (Recording, error) {
	if err := l.Writable(); err != nil {
		return Recording{}, err
	}
	visit, err := l.Visit(visitID)
	if err != nil {
		return Recording{}, err
	}
	if err := CheckEnded(path); err != nil {
		return Recording{}, err
	}
	meta, c, err := describe(ctx, path)
	if err != nil {
		return Recording{}, err
	}
	if meta.Dancer != "" && keyOf(meta.Dancer) != keyOf(visit.Dancer) {
		return Recording{}, invalid("%s is of dancer %.80q, and the visit is of %q: aplomb logbook relabel FILE corrects what a recording says wrongly", path, meta.Dancer, visit.Dancer)
	}
	if meta.Visit != "" && meta.Visit != visit.Name() {
		return Recording{}, invalid("%s was made in visit %.40s, not %s", path, meta.Visit, visit.Name())
	}
	f, err := fileAt(ctx, path, c)
	if err != nil {
		return Recording{}, err
	}
	if err := l.read(f.checkNew); err != nil {
		return Recording{}, err
	}
	corrected, err := l.storeCorrection(ctx, c, f.identity)
	if err != nil {
		return Recording{}, explain(l.dir, err)
	}
	id, err := l.addNumbered(ctx, f, meta, visitID)
	if err != nil {
		if corrected != "" {
			os.Remove(corrected)
		}
		return Recording{}, explain(l.dir, err)
	}
	return l.Recording(id)
}

// recordedFile is the file of a recording.
type recordedFile struct {
	path       string
	name       string // in the folder of recordings
	sum        string // SHA-256 in hexadecimal
	size       int64  // bytes
	identity   string // "" where the recording has none, for example because it is damaged
	correction string // SHA-256 of its correction, "" where there is none
	remark     correction.Remark
	number     int64 // in the logbook; 0 for the next one
}

// fileAt returns the file of the recording at path with its correction, nil where
// there is none.
func fileAt(ctx context.Context, path string, c *recording.Correction) (f recordedFile, err error) {
	f.path, f.name = path, filepath.Base(path)
	if f.sum, f.size, err = provenance.SHA256(ctx, path); err != nil {
		return f, err
	}
	f.identity, err = recording.IdentityIfAny(ctx, path)
	if c != nil {
		f.correction, f.remark = c.SHA256, c.Remark()
		f.identity = cmp.Or(f.identity, c.ID) // of a recording that was damaged since
	}
	return f, err
}

// checkNew returns ErrExists where the logbook has the file, or the same recording
// in another file.
func (f recordedFile) checkNew(tx *sql.Tx) error {
	var other int64
	var sum string
	err := tx.QueryRow(`SELECT id, sha256 FROM recordings WHERE sha256 = ?1 OR identity = ?2 AND identity <> '' ORDER BY sha256 <> ?1`, f.sum, f.identity).Scan(&other, &sum)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return nil
	case err != nil:
		return err
	case sum != f.sum:
		return fmt.Errorf("%s: %w as recording %d (both have the id %s)", f.path, ErrExists, other, f.identity)
	}
	return fmt.Errorf("%s: %w as recording %d", f.path, ErrExists, other)
}

// RemoveRecording erases a recording with its measures and its file. The error is
// ErrRecording where a program is still writing the file.
func (l *Logbook) RemoveRecording(id int64) error {
	err := l.change(func(tx *sql.Tx) error {
		var file string
		err := tx.QueryRow(`SELECT file FROM recordings WHERE id = ?`, id).Scan(&file)
		if err != nil && !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		err = l.refuseWhileRecording(fmt.Sprintf("recording %d stays", id), func(r running) bool { return filepath.Base(r.path) == file })
		if err != nil {
			return err
		}
		if err := l.listErasing(tx, `r.id = ?`, id); err != nil {
			return err
		}
		result, err := tx.Exec(`DELETE FROM recordings WHERE id = ?`, id)
		if err != nil {
			return err
		}
		if n, err := result.RowsAffected(); err != nil || n == 0 {
			return cmp.Or(err, fmt.Errorf("recording number %d: %w", id, ErrNotFound))
		}
		return dropUnused(tx)
	})
	if err != nil {
		return err
	}
	return explain(l.dir, l.finishErasing(context.Background()))
}

// insertRecording adds a recording with the metadata meta.
func insertRecording(tx *sql.Tx, visitID int64, f recordedFile, meta device.Metadata) (id int64, err error) {
	err = tx.QueryRow(`INSERT INTO recordings (id, visit_id, file, sha256, size, identity, correction, remark, decision, started_ns, software, support, rise, position, floor, feedback, mass_kg)
		VALUES (nullif(?, 0), ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id`,
		f.number, visitID, f.name, f.sum, f.size, f.identity, f.correction, encodeRemark(f.remark), f.remark.Decision, meta.Started.UnixNano(), meta.Software, meta.Support, meta.Rise, meta.Position, meta.Floor, meta.Feedback, orNull(meta.MassKG)).Scan(&id)
	if err != nil {
		return 0, err
	}
	for _, foot := range device.Feet {
		if side := meta.Sides[foot]; side != nil {
			if err := putFoot(tx, id, foot, side); err != nil {
				return 0, err
			}
		}
	}
	return id, nil
}

// putFoot replaces shoe, strip and mounting of one foot in a recording.
func putFoot(tx *sql.Tx, id int64, foot device.Foot, side *device.Side) error {
	shoe, err := shoeTables.fromRecording(tx, side.Shoe.Code, device.TOML(side.Shoe))
	if err != nil {
		return err
	}
	strip, err := stripTables.fromRecording(tx, side.Strip.Name, device.TOML(side.Strip))
	if err != nil {
		return err
	}
	var mounting any
	if side.Mounting != "" {
		var m int64
		err := tx.QueryRow(`INSERT INTO mountings (strip_id, name) SELECT item_id, ?2 FROM strip_versions WHERE id = ?1
			ON CONFLICT DO UPDATE SET name = name RETURNING id`, strip, side.Mounting).Scan(&m)
		if err != nil {
			return err
		}
		mounting = m
	}
	_, err = tx.Exec(`INSERT INTO recorded_feet (recording_id, foot, shoe_version_id, strip_version_id, mounting_id, mark, padding, fixing) VALUES (?, ?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (recording_id, foot) DO UPDATE SET shoe_version_id = excluded.shoe_version_id, strip_version_id = excluded.strip_version_id,
			mounting_id = excluded.mounting_id, mark = excluded.mark, padding = excluded.padding, fixing = excluded.fixing`,
		id, foot.String(), shoe, strip, mounting, side.Mark, side.Padding, side.Fixing)
	return err
}

// dropUnused drops mountings without recordings, and shoes and strips that only
// recordings described once no recording refers to them any more.
func dropUnused(tx *sql.Tx) error {
	_, err := tx.Exec(`DELETE FROM mountings WHERE NOT EXISTS (SELECT 1 FROM recorded_feet WHERE mounting_id = mountings.id)`)
	if err != nil {
		return err
	}
	return cmp.Or(shoeTables.dropUnused(tx), stripTables.dropUnused(tx))
}

// describe reads the metadata of a recording, with its correction, and returns the
// correction, nil where there is none.
func describe(ctx context.Context, path string) (device.Metadata, *recording.Correction, error) {
	if err := ctx.Err(); err != nil {
		return device.Metadata{}, nil, err
	}
	r, err := recording.Open(ctx, path)
	if err != nil {
		return device.Metadata{}, nil, err
	}
	defer r.Close()
	return r.Meta(), r.Correction(), checkSides(path, r.Meta())
}

// checkSides checks the codes of the shoes and strips in the recording at path.
func checkSides(path string, meta device.Metadata) error {
	for _, side := range meta.Sides {
		if side == nil {
			continue
		}
		if err := cmp.Or(checkCode("shoe", side.Shoe.Code), checkCode("strip", side.Strip.Name)); err != nil {
			return fmt.Errorf("%s: %w", path, err)
		}
	}
	return nil
}
