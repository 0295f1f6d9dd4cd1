package logbook

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"time"

	"aplomb/device"
	"aplomb/device/lock"
	"aplomb/device/recording"
)

const (
	// unfinished is the suffix of a recording or backup that is being made or was
	// interrupted.
	unfinished = ".part"
	// writing is the suffix of a finished file while it is created from a .part.
	writing = ".tmp"
)

// running is a file in the folder of recordings that a program is writing.
type running struct {
	path string
	by   lock.Holder
	meta *device.Metadata // nil where the file has no description yet
}

// of reports whether the recording is, or may be, of the dancer with that code.
func (r running) of(code string) bool { return r.meta == nil || keyOf(r.meta.Dancer) == keyOf(code) }

// refuse returns an ErrRecording that states what is refused and why.
func (r running) refuse(dir, what string) error {
	whose := "a recording that does not say yet whose it is"
	if r.meta != nil {
		whose = "a recording of dancer " + r.meta.Dancer
	}
	return fmt.Errorf("logbook %s: %s: %s %w (%s): end it first", dir, what, whose, ErrRecording, r.by)
}

// CheckEnded returns an ErrRecording where a program is still writing the recording at
// path.
func CheckEnded(path string) error {
	if by := recording.WrittenBy(path); by != nil {
		return fmt.Errorf("%s: the recording %w (%s): it can be taken in when it has ended", path, ErrRecording, by)
	}
	return nil
}

// running lists the files in the folder of recordings that programs are writing.
func (l *Logbook) running() (all []running, err error) {
	entries, err := os.ReadDir(filepath.Join(l.dir, recordings))
	for _, e := range entries {
		ending := filepath.Ext(e.Name())
		path := filepath.Join(l.dir, recordings, e.Name())
		if ending != unfinished && ending != writing && ending != copying {
			continue
		}
		by := recording.WrittenBy(path)
		if by == nil {
			continue
		}
		r := running{path: path, by: *by}
		if meta, _, err := describe(context.Background(), path); err == nil {
			r.meta = &meta
		}
		all = append(all, r)
	}
	return all, err
}

// refuseWhileRecording returns an ErrRecording where a running recording is accepted by
// which. In a transaction that changes the logbook it considers every recording whose
// program has already called KeepsVisit; later programs see the change.
func (l *Logbook) refuseWhileRecording(what string, which func(running) bool) error {
	all, err := l.running()
	for _, r := range all {
		if which(r) {
			return r.refuse(l.dir, what)
		}
	}
	return err
}

// endsWithin is how long EndRecordings waits for a program to end.
const endsWithin = 30 * time.Second

// EndRecordings asks the programs that record the dancer to end, as Ctrl-C does, and
// waits until they have, for endsWithin at most. They add their recordings to the logbook
// first.
func (l *Logbook) EndRecordings(ctx context.Context, code string) error {
	all, err := l.running()
	for _, r := range all {
		if !r.of(code) || r.by.PID == 0 || r.by.PID == os.Getpid() {
			continue // DeleteDancer refuses
		}
		program, e := os.FindProcess(r.by.PID)
		if e == nil {
			e = program.Signal(os.Interrupt)
		}
		for asked := time.Now(); e == nil && time.Since(asked) < endsWithin; {
			select {
			case <-ctx.Done():
				return ctx.Err()
			case <-time.After(20 * time.Millisecond):
			}
			if program.Signal(syscall.Signal(0)) != nil {
				break
			}
		}
		if e != nil && !errors.Is(e, os.ErrProcessDone) {
			return fmt.Errorf("logbook %s: a recording of dancer %s cannot be ended from here (%w): end it where it runs (%s)", l.dir, code, e, r.by)
		}
	}
	return err
}

// KeepsVisit returns nil where a visit is still in the logbook, otherwise an ErrNotFound.
// A program that records into the visit calls it once its file exists: from then on the
// visit and its dancer are not erased until the file is finished.
func (l *Logbook) KeepsVisit(v Visit) error {
	return l.change(func(tx *sql.Tx) error { // waits for a program that is erasing
		var n int
		err := tx.QueryRow(`SELECT count(*) FROM visits v JOIN dancers d ON d.id = v.dancer_id WHERE v.id = ? AND d.key = ? AND v.day = ? AND v.number = ?`,
			v.ID, keyOf(v.Dancer), string(v.Day), v.Number).Scan(&n)
		if err == nil && n == 0 {
			err = fmt.Errorf("visit %s of dancer %s: %w any more: nothing is recorded", v.Name(), v.Dancer, ErrNotFound)
		}
		return err
	})
}

// ownName matches the names of recordings from newFileName.
var ownName = regexp.MustCompile(`^\d{8}T\d{6}Z-[0-9a-z]{8}\.mcap(\.part)?$`)

// settled is the age from which a finished recording counts as left behind: a program
// that has just finished one is about to add it.
const settled = time.Minute

// Unfinished lists the recordings in the logbook's folder that programs began and did not
// add to a visit, because they were killed or the power failed. They are in order of
// time, a finished file before its .part. It lists none that is being made now.
func (l *Logbook) Unfinished() (paths []string, err error) {
	paths, _, err = l.unfinished()
	return paths, err
}

// JustFinished returns how many finished recordings are in the folder whose program may
// still be about to add them; Unfinished lists those that are left in a minute.
func (l *Logbook) JustFinished() (n int, err error) {
	_, n, err = l.unfinished()
	return n, err
}

func (l *Logbook) unfinished() (paths []string, justFinished int, err error) {
	names, err := l.unlisted()
	if err != nil {
		return nil, 0, explain(l.dir, err)
	}
	for _, name := range names {
		path := filepath.Join(l.dir, recordings, name)
		if !ownName.MatchString(name) || lock.Held(path) {
			continue
		}
		if finished := !strings.HasSuffix(name, unfinished); finished {
			info, err := os.Stat(path)
			if err != nil || lock.Held(path+unfinished) {
				continue
			}
			// Where the .part still exists, its program was killed before it removed it.
			if _, err := os.Lstat(path + unfinished); err != nil && time.Since(info.ModTime()) < settled {
				justFinished++
				continue
			}
		}
		paths = append(paths, path)
	}
	return paths, justFinished, nil
}

// ownCopy matches the names of files that are being copied into the folder.
var ownCopy = regexp.MustCompile(`^\d{8}T\d{6}Z-[0-9a-z]{8}.*\.copying$`)

// RemoveCutCopies removes incomplete copies in the folder of recordings. Their originals
// still exist.
func (l *Logbook) RemoveCutCopies() error {
	entries, err := os.ReadDir(filepath.Join(l.dir, recordings))
	for _, e := range entries {
		path := filepath.Join(l.dir, recordings, e.Name())
		info, gone := e.Info()
		// A recent copy is about to be renamed.
		if !ownCopy.MatchString(e.Name()) || gone != nil || time.Since(info.ModTime()) < settled || lock.Held(path) {
			continue
		}
		err = cmp.Or(err, remove(path))
	}
	return explain(l.dir, err)
}

// VisitOf returns the visit that a recording names, ErrNotFound where it names none
// or one that the logbook does not have.
func (l *Logbook) VisitOf(ctx context.Context, path string) (Visit, error) {
	meta, _, err := describe(ctx, path)
	if err != nil {
		return Visit{}, err
	}
	if meta.Dancer == "" || meta.Visit == "" {
		return Visit{}, fmt.Errorf("%s: its visit is %w: the file names none", path, ErrNotFound)
	}
	all, err := l.Visits(meta.Dancer)
	if err != nil {
		return Visit{}, fmt.Errorf("%s: %w", path, err)
	}
	for _, v := range all {
		if v.Name() == meta.Visit {
			return v, nil
		}
	}
	return Visit{}, fmt.Errorf("%s: visit %s of dancer %s: %w", path, meta.Visit, meta.Dancer, ErrNotFound)
}

// RemoveLeftover removes what is no longer needed of a recording that Unfinished listed:
// an incomplete second copy from finishing it; and the file at path itself where the
// logbook has the recording in its finished file or in another one, or where it contains
// no frame. It returns whether it removed the file at path.
func (l *Logbook) RemoveLeftover(ctx context.Context, path string) (removed bool, err error) {
	finished, isPart := strings.CutSuffix(path, unfinished)
	if second := finished + writing; !lock.Held(second) {
		if err := remove(second); err != nil {
			return false, err
		}
	}
	if _, listed, err := l.identityIn(path); err != nil || listed {
		return false, err
	}
	switch empty, err := withoutFrames(ctx, path); {
	case err != nil:
		return false, err
	case empty:
		return true, remove(path)
	}
	if !isPart {
		twice, err := l.hasTwice(ctx, path)
		if err != nil || !twice {
			return false, err
		}
		return true, remove(path)
	}
	identity, listed, err := l.identityIn(finished)
	if err != nil || !listed || identity == "" {
		return false, err
	}
	for _, file := range []string{path, finished} {
		if is, err := recording.IdentityIfAny(ctx, file); err != nil || is != identity {
			return false, err
		}
	}
	return true, remove(path)
}

// hasTwice reports whether the logbook has the finished recording at path in another readable
// file, of the same dancer, visit and shoes. That happens where a program was killed between
// copying a recording and adding it to the database, and the recording was imported again.
func (l *Logbook) hasTwice(ctx context.Context, path string) (bool, error) {
	identity, err := recording.IdentityIfAny(ctx, path)
	if err != nil || identity == "" {
		return false, err
	}
	meta, _, err := describe(ctx, path)
	if err != nil {
		return false, err
	}
	all, err := l.Recordings(Filter{})
	for _, r := range all {
		if r.Identity != identity || r.Path == path {
			continue
		}
		kept, _, err := describe(ctx, r.Path)
		if err != nil {
			return false, nil // it is damaged or gone: this file may be all there is
		}
		is, err := recording.IdentityIfAny(ctx, r.Path)
		if err != nil || is != identity || kept.Dancer != meta.Dancer || kept.Visit != meta.Visit {
			return false, err
		}
		for f, side := range meta.Sides {
			if (side == nil) != (kept.Sides[f] == nil) || side != nil && side.Shoe.Code != kept.Sides[f].Shoe.Code {
				return false, nil
			}
		}
		return true, nil
	}
	return false, err
}

// identityIn returns the identity of the recording in the file at path, and whether that
// file is in the logbook.
func (l *Logbook) identityIn(path string) (identity string, listed bool, err error) {
	err = l.read(func(tx *sql.Tx) error {
		return tx.QueryRow(`SELECT identity FROM recordings WHERE file = ?`, filepath.Base(path)).Scan(&identity)
	})
	if errors.Is(err, sql.ErrNoRows) {
		return "", false, nil
	}
	return identity, err == nil, err
}

// withoutFrames reports whether a recording contains no frame. It is false for a damaged
// one, which may contain frames.
func withoutFrames(ctx context.Context, path string) (bool, error) {
	r, err := recording.Open(ctx, path)
	if errors.Is(err, recording.ErrCutShort) {
		return true, nil
	}
	if err != nil {
		return false, err
	}
	defer r.Close()
	var f device.Frame
	return errors.Is(r.Next(&f), io.EOF), nil
}

// followParts updates rows whose file is a .part that has since been finished to the
// finished file. Their measures become stale where it contains more.
func (l *Logbook) followParts(ctx context.Context) error {
	type part struct {
		id       int64
		file     string
		identity string
		started  int64
	}
	var all []part
	err := l.read(func(tx *sql.Tx) error {
		return each(tx, func(rows *sql.Rows) error {
			var p part
			err := rows.Scan(&p.id, &p.file, &p.identity, &p.started)
			all = append(all, p)
			return err
		}, `SELECT id, file, identity, started_ns FROM recordings WHERE file LIKE '%' || ?`, unfinished)
	})
	if err != nil {
		return err
	}
	for _, p := range all {
		path := filepath.Join(l.dir, recordings, p.file)
		if _, err := os.Lstat(path); !errors.Is(err, fs.ErrNotExist) {
			continue
		}
		finished := strings.TrimSuffix(path, unfinished)
		meta, c, err := describe(ctx, finished)
		if err != nil || meta.Started.UnixNano() != p.started {
			continue
		}
		f, err := fileAt(ctx, finished, c)
		if err != nil {
			return err
		}
		err = l.change(func(tx *sql.Tx) error {
			if f.checkNew(tx) != nil && f.identity != p.identity { // it is already in the logbook
				return nil
			}
			_, err := tx.Exec(`UPDATE recordings SET file = ?1, sha256 = ?2, size = ?3, identity = ?4,
				algorithm = CASE WHEN identity = ?4 THEN algorithm ELSE '' END WHERE id = ?5`, f.name, f.sum, f.size, f.identity, p.id)
			return err
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// workLock is the name of the lock file in the logbook's folder that a program holds
// while it makes a backup, rebuilds the logbook or erases a dancer.
const workLock = "logbook.lock"

// work acquires the lock for operations that only one program may do at a time. An
// ErrLocked names the program that holds it.
func work(dir string) (*lock.File, error) {
	l, err := lock.Take(filepath.Join(dir, workLock))
	if held := (*lock.HeldError)(nil); errors.As(err, &held) {
		err = fmt.Errorf("logbook %s: a backup, a rebuild or an erasure is under way: %w (%s): try again when it is done", dir, ErrLocked, held.Holder)
	}
	return l, err
}
