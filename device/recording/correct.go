package recording

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"aplomb/device"
	"aplomb/device/correction"
	"aplomb/device/internal/errkind"
)

// Correction is the file beside a recording that corrects its metadata.
type Correction struct {
	correction.History
	Path   string
	SHA256 string // of the file, in hexadecimal
}

// Summary describes in one line what was corrected and when; "" where the recorded
// metadata are in force.
func (c *Correction) Summary(recorded device.Metadata) string {
	all, err := c.Changes(recorded)
	if err != nil || len(all) == 0 {
		return ""
	}
	said := c.At().Local().Format("2006-01-02") + ": "
	for i, one := range all {
		if i > 0 {
			said += "; "
		}
		said += one.String()
	}
	return said
}

// correct finds the correction of the recording at path and applies it to r.
func (r *Reader) correct(ctx context.Context, path string) error {
	c, err := findCorrection(ctx, path, r.recorded)
	if err != nil || c == nil {
		return err
	}
	if r.meta, err = c.Apply(r.recorded); err != nil {
		return &FileError{c.Path, errkind.With(ErrCorrection, err)}
	}
	r.correction, r.swapped = c, c.FeetSwapped()
	return nil
}

// findCorrection returns the correction of the recording at path, nil where there is
// none. recorded are the metadata in the recording.
//
// A correction is found by the id of the recording, for which all of its frames have to
// be read. That is done only where a correction in the folder has the start of the
// recording or cannot be read. A recording whose id cannot be computed, such as a damaged
// one, has the correction with its start. A correction with the start of the recording
// and the id of no recording in the folder is an error: the id was mistyped.
func findCorrection(ctx context.Context, path string, recorded device.Metadata) (found *Correction, err error) {
	dir := folderOf(path)
	names, err := correctionsIn(dir)
	if err != nil {
		return nil, err
	}
	var id string
	known := false
	for _, name := range names {
		at := filepath.Join(dir, name)
		c, err := ReadCorrection(at)
		if errors.Is(err, os.ErrNotExist) {
			continue
		}
		if err == nil && !c.Started.Equal(recorded.Started) {
			continue
		}
		if !known {
			var e error
			if id, e = IdentityIfAny(ctx, path); e != nil {
				return nil, e
			}
			known = true
		}
		named, _ := correction.IsName(name)
		switch {
		case errors.Is(err, os.ErrPermission) && (named == id || id == ""):
			return nil, &FileError{at, errkind.With(ErrCorrection, errors.New("corrects the recording and can be read by its owner alone: ask for it, or read the recording as its owner"))}
		case err != nil && (named == id || id == ""):
			return nil, &FileError{at, errkind.With(ErrCorrection, fmt.Errorf("%w: repair it, or put it back from a backup", err))}
		case err != nil:
			continue
		case id != "" && c.ID != id:
			if err := notOfAnother(ctx, path, id, named, c); err != nil {
				return nil, &FileError{at, errkind.With(ErrCorrection, err)}
			}
			continue
		case named != c.ID:
			return nil, &FileError{at, errkind.With(ErrCorrection, fmt.Errorf("a correction of recording %s under another name: name it %s or move it away", c.ID, correction.Name(c.ID)))}
		case found != nil: // only where the id is not known
			return nil, &FileError{path, errkind.With(ErrCorrection, fmt.Errorf("its id cannot be computed, and %s and %s both have its start: move away the one of another recording", found.Path, at))}
		}
		found = c
	}
	return found, nil
}

// notOfAnother returns an error unless a correction with the start of the recording at
// path and another id than its id is of another recording in the folder. named is the id
// in the name of the correction.
func notOfAnother(ctx context.Context, path, id, named string, c *Correction) error {
	if named == id {
		return fmt.Errorf("it names recording %s in its id, and this one is %s: write that id in it", c.ID, id)
	}
	entries, err := os.ReadDir(folderOf(path))
	if err != nil {
		return err
	}
	for _, e := range entries {
		if !strings.Contains(e.Name(), ".mcap") {
			continue
		}
		other := filepath.Join(folderOf(path), e.Name())
		r, err := openRaw(ctx, other)
		if err != nil {
			continue
		}
		same := r.recorded.Started.Equal(c.Started)
		r.Close()
		if !same {
			continue
		}
		its, err := IdentityIfAny(ctx, other)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil || its == "" || its == c.ID {
			return nil
		}
	}
	return fmt.Errorf("has the start of recording %s and the id of none in its folder (%s): name it %s and write that id in it, or move it away", id, c.ID, correction.Name(id))
}

// folderOf returns the folder of the file at path, after following symbolic links.
func folderOf(path string) string {
	if file, err := filepath.EvalSymlinks(path); err == nil {
		path = file
	}
	return filepath.Dir(path)
}

// correctionsIn lists the names of the corrections in a folder.
func correctionsIn(dir string) (names []string, err error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, fmt.Errorf("whether a correction lies beside the recording cannot be seen: %w", err)
	}
	for _, e := range entries {
		if _, is := correction.IsName(e.Name()); is {
			names = append(names, e.Name())
		}
	}
	return names, nil
}

// ReadCorrection reads the correction at path. The file has to be a regular one, so that
// opening and reading never block.
func ReadCorrection(path string) (*Correction, error) {
	data, err := readSmall(path)
	if err != nil {
		return nil, err
	}
	h, err := correction.Parse(data)
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256(data)
	return &Correction{*h, path, hex.EncodeToString(sum[:])}, nil
}

func readSmall(path string) ([]byte, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, errors.New("not a file")
	}
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	return io.ReadAll(io.LimitReader(file, correction.MaxBytes+1)) // Parse refuses longer files
}

// Corrected is a correction of a recording that has not been written yet.
type Corrected struct {
	Correction                     // as it will be
	Recorded, Meta device.Metadata // the metadata in the recording, and with the correction
	data, before   []byte          // of the file; before is nil where there is none yet
}

// Corrected returns the recording with its present correction. Its Write writes nothing.
func (r *Reader) Corrected() *Corrected {
	c := &Corrected{Recorded: r.recorded, Meta: r.meta}
	if r.correction != nil {
		c.Correction = *r.correction
	}
	return c
}

// PrepareCorrection returns the correction of the recording at path with one more entry,
// for Write. known is the id of a recording that may have been damaged since, "" where
// unknown. Errors match ErrInUse while the recording is running, and ErrDamaged where it
// has no id.
func PrepareCorrection(ctx context.Context, path, known string, e correction.Entry) (*Corrected, error) {
	if by := WrittenBy(path); by != nil {
		return nil, &FileError{path, errkind.With(ErrInUse, fmt.Errorf("it is being recorded (%s): correct it when it has ended", by))}
	}
	r, err := Open(ctx, path)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	id, err := IdentityIfAny(ctx, path)
	if err != nil {
		return nil, err
	}
	if id == "" && r.correction != nil {
		known = r.correction.ID
	}
	if id = cmp.Or(id, known); id == "" {
		return nil, &FileError{path, errkind.With(ErrDamaged, errors.New("it is damaged or has no frame, and so no id to correct it by"))}
	}
	c := &Corrected{Recorded: r.recorded}
	h := correction.New(id, r.recorded.Started)
	if r.correction != nil {
		h = &r.correction.History
		if c.before, err = readSmall(r.correction.Path); err != nil {
			return nil, err
		}
	}
	c.Path = filepath.Join(folderOf(path), correction.Name(id))
	c.History = *h.Add(e)
	if c.data, err = c.Encode(); err != nil {
		return nil, &FileError{path, err}
	}
	sum := sha256.Sum256(c.data)
	c.SHA256 = hex.EncodeToString(sum[:])
	if c.Meta, err = c.Apply(r.recorded); err != nil {
		return nil, &FileError{path, err}
	}
	return c, nil
}

// Write writes the correction, readable by its owner alone: completely or not at all,
// also when the power fails. It writes nothing where the file has changed since it was
// prepared.
func (c *Corrected) Write() (err error) {
	if c.data == nil {
		return nil
	}
	now, err := readSmall(c.Path)
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	if !bytes.Equal(now, c.before) {
		return &FileError{c.Path, errors.New("was changed meanwhile and stays as it is: correct the recording again")}
	}
	return c.put(c.data)
}

// Withdraw restores the file as it was before Write, or removes it where there was none.
// It leaves a file that has changed since.
func (c *Corrected) Withdraw() error {
	if c.data == nil {
		return nil
	}
	now, err := readSmall(c.Path)
	switch {
	case err != nil || !bytes.Equal(now, c.data):
		return err
	case c.before != nil:
		return c.put(c.before)
	}
	return cmp.Or(os.Remove(c.Path), system{}.SyncDir(filepath.Dir(c.Path)))
}

// put replaces the content of the file.
func (c *Corrected) put(data []byte) error {
	dir := filepath.Dir(c.Path)
	part, err := os.CreateTemp(dir, filepath.Base(c.Path)+".*.copying") // 0600
	if err != nil {
		return err
	}
	_, err = part.Write(data)
	if err = cmp.Or(err, part.Sync(), part.Close()); err == nil {
		err = os.Rename(part.Name(), c.Path)
	}
	if err != nil {
		part.Close()
		os.Remove(part.Name())
		return err
	}
	return system{}.SyncDir(dir)
}
