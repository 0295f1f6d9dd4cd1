package logbook

import (
	"cmp"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"aplomb/analyze/provenance"
	"aplomb/device"
	"aplomb/device/correction"
	"aplomb/device/recording"
)

// Relabel corrects the metadata of a recording, see package correction, and returns the
// corrected recording. With a visitID other than 0 it moves to that visit and its dancer.
// The file of the recording and its identity stay unchanged; the correction is written
// beside it. Measures computed with the previous metadata become stale: those of the
// recording, and those of recordings of the same visit in the same shoe, with which it
// may have been analyzed together.
//
// Where e is empty, the logbook reads the recording and the present correction beside it
// again.
func (l *Logbook) Relabel(ctx context.Context, id, visitID int64, e correction.Entry) (Recording, error) {
	r, err := l.Recording(id)
	if err != nil {
		return Recording{}, err
	}
	if visitID != 0 && !e.Undo {
		v, err := l.Visit(visitID)
		if err != nil {
			return Recording{}, err
		}
		name := v.Name()
		e.Dancer, e.Visit = &v.Dancer, &name
	}
	c, err := prepare(ctx, r, e)
	if err != nil {
		return Recording{}, err
	}
	meta := c.Meta
	if err := checkSides(r.Path, meta); err != nil {
		return Recording{}, err
	}
	visit, err := l.visitOf(r, meta)
	if e.Undo && visitID != 0 {
		visit, err = l.visitFor(visitID, meta)
	}
	if err != nil {
		return Recording{}, err
	}
	remarks, written := e.OnlyRemark(), false
	err = l.change(func(tx *sql.Tx) error {
		if !remarks {
			if err := makeStale(tx, id); err != nil { // those in the shoe and the visit before
				return err
			}
		}
		_, err := tx.Exec(`UPDATE recordings SET visit_id = ?2, correction = ?3, support = ?4, rise = ?5, position = ?6, floor = ?7, feedback = ?8, mass_kg = ?9, remark = ?11, decision = ?12,
			identity = CASE identity WHEN '' THEN ?10 ELSE identity END WHERE id = ?1`,
			id, visit, c.SHA256, meta.Support, meta.Rise, meta.Position, meta.Floor, meta.Feedback, orNull(meta.MassKG), c.ID, encodeRemark(c.Remark()), c.Remark().Decision)
		if err != nil {
			return err
		}
		for _, foot := range device.Feet {
			if side := meta.Sides[foot]; side != nil {
				if err := putFoot(tx, id, foot, side); err != nil {
					return err
				}
			}
		}
		if !remarks {
			if err := makeStale(tx, id); err != nil { // and those in the shoe and the visit now
				return err
			}
		}
		if err := dropUnused(tx); err != nil {
			return err
		}
		// The file is written last: when that fails, the rows stay too.
		err = c.Write()
		written = err == nil
		return err
	})
	if err != nil && written {
		// Where restoring the file fails too, Check reports that the rows differ from it.
		if e := c.Withdraw(); e != nil {
			err = fmt.Errorf("%w; its correction stays in %s: %v", err, c.Path, e)
		}
	}
	if err != nil {
		return Recording{}, err
	}
	return l.Recording(id)
}

// AddRemark stores a person's remark on a recording, made at a time after the recording,
// in addition to earlier remarks. software is the program that writes it, with its
// version.
func (l *Logbook) AddRemark(ctx context.Context, id int64, at time.Time, software string, remark correction.Remark) error {
	_, err := l.Relabel(ctx, id, 0, correction.Entry{At: at.UTC(), Software: software, Remark: &remark})
	return err
}

// encodeRemark returns a remark in the form of the database, "" for an empty one.
func encodeRemark(r correction.Remark) string {
	if r.Empty() {
		return ""
	}
	data, err := json.Marshal(r)
	if err != nil {
		panic(err) // strings and numbers can always be encoded
	}
	return string(data)
}

// prepare prepares the correction of a recording with one more entry. It does not write
// an empty entry, and then leaves the file beside the recording as it is.
func prepare(ctx context.Context, r Recording, e correction.Entry) (*recording.Corrected, error) {
	if e.Says() {
		return recording.PrepareCorrection(ctx, r.Path, r.Identity, e)
	}
	in, err := recording.Open(ctx, r.Path)
	if err != nil {
		return nil, err
	}
	defer in.Close()
	return in.Corrected(), nil
}

// visitOf returns the visit of a recording with the metadata meta: the one that it names,
// or else its present one.
func (l *Logbook) visitOf(r Recording, meta device.Metadata) (id int64, err error) {
	dancer := cmp.Or(meta.Dancer, r.Dancer)
	switch {
	case meta.Visit != "":
		v, err := l.VisitNamed(dancer, meta.Visit)
		return v.ID, err
	case keyOf(dancer) != keyOf(r.Dancer):
		return 0, invalid("recording %d is of dancer %q then: say the visit of that dancer too", r.ID, dancer)
	}
	return r.VisitID, nil
}

// visitFor returns a visit in which a recording with the metadata meta can have been
// made.
func (l *Logbook) visitFor(id int64, meta device.Metadata) (int64, error) {
	v, err := l.Visit(id)
	if err == nil && (meta.Dancer != "" && keyOf(meta.Dancer) != keyOf(v.Dancer) || meta.Visit != "" && meta.Visit != v.Name()) {
		err = invalid("what was recorded is of dancer %q, visit %.40q", meta.Dancer, meta.Visit)
	}
	return id, err
}

// makeStale marks as stale the measures of a recording and of those of the same visit in
// the same shoe, because the outline of a shoe is estimated from all recordings that are
// analyzed together.
func makeStale(tx *sql.Tx, id int64) error {
	_, err := tx.Exec(`UPDATE recordings SET algorithm = '' WHERE id = ?1 OR visit_id = (SELECT visit_id FROM recordings WHERE id = ?1) AND id IN (
		SELECT recording_id FROM recorded_feet JOIN shoe_versions sv ON sv.id = shoe_version_id WHERE item_id IN (
			SELECT item_id FROM recorded_feet JOIN shoe_versions sv ON sv.id = shoe_version_id WHERE recording_id = ?1))`, id)
	return err
}

// storeCorrection copies the correction of a recording, nil where it has none, into the
// folder of recordings, and returns the path of the file that it made there, "" where it
// made none. ErrExists where another correction is in its place.
func (l *Logbook) storeCorrection(ctx context.Context, c *recording.Correction, identity string) (made string, err error) {
	if identity == "" {
		return "", nil
	}
	to := filepath.Join(l.dir, recordings, correction.Name(identity))
	there, _, err := provenance.SHA256(ctx, to)
	switch {
	case errors.Is(err, fs.ErrNotExist) && c == nil:
		return "", nil
	case errors.Is(err, fs.ErrNotExist):
		return to, copyFile(ctx, c.Path, to)
	case err != nil:
		return "", err
	case c == nil || c.SHA256 != there:
		return "", fmt.Errorf("%s: %w, and it is not what lies beside the recording: move it away first", to, ErrExists)
	}
	return "", nil
}

// correctionsOf lists the names in the folder of recordings that belong to the correction
// of the recording with that identity, including unfinished copies.
func (l *Logbook) correctionsOf(identity string) (names []string, err error) {
	if identity == "" {
		return nil, nil
	}
	entries, err := os.ReadDir(filepath.Join(l.dir, recordings))
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), correction.Name(identity)) {
			names = append(names, e.Name())
		}
	}
	return names, err
}

// carriesCode lists the files of other dancers' recordings that still contain the code of
// a dancer, from before they were corrected.
func (l *Logbook) carriesCode(ctx context.Context, code string) (paths []string, err error) {
	all, err := l.Recordings(Filter{})
	is := func(other string) bool { return keyOf(other) == keyOf(code) }
	for _, r := range all {
		if r.Correction == "" || is(r.Dancer) {
			continue
		}
		in, err := recording.Open(ctx, r.Path)
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if err != nil {
			continue // Check reports it
		}
		if is(in.Recorded().Dancer) {
			paths = append(paths, r.Path)
		}
		if c := in.Correction(); c != nil && c.Mentions(is) {
			paths = append(paths, c.Path)
		}
		in.Close()
	}
	return paths, err
}

// checkCorrection returns the problems of a recording's correction.
func (l *Logbook) checkCorrection(ctx context.Context, r Recording) (found []Finding) {
	if r.Identity == "" {
		return nil
	}
	path := filepath.Join(l.dir, recordings, correction.Name(r.Identity))
	takeOver := fmt.Sprintf("aplomb logbook relabel %d takes over what is there", r.ID)
	sum, _, err := provenance.SHA256(ctx, path)
	switch {
	case errors.Is(err, fs.ErrNotExist) && r.Correction == "":
	case errors.Is(err, fs.ErrNotExist):
		found = append(found, Finding{Where: path, What: fmt.Sprintf("the correction of recording %d is missing", r.ID), Do: "put it back from a backup; or " + takeOver})
	case err != nil:
		found = append(found, Finding{Where: path, What: fmt.Sprintf("the correction of recording %d cannot be read (%v)", r.ID, err), Do: "put it back from a backup"})
	case sum != r.Correction:
		found = append(found, Finding{Where: path, What: fmt.Sprintf("the logbook does not follow this correction of recording %d", r.ID), Do: takeOver})
	}
	return found
}

// isCorrectionOf reports whether a file of that name is the correction of one of the
// recordings with these identities.
func isCorrectionOf(name string, identities []string) bool {
	id, is := correction.IsName(name)
	return is && id != "" && slices.Contains(identities, id)
}
