package manifest

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"time"

	"aplomb/analyze/logbook"
	"aplomb/analyze/provenance"
	"aplomb/analyze/study"
	"aplomb/cmd/internal/batch"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/intake"
	"aplomb/cmd/internal/lookup"
	"aplomb/device"
	"aplomb/device/recording"
	"aplomb/plots/words"
)

// Loaded counts the lines of a manifest by outcome.
type Loaded struct {
	Lines int
	Taken int // imported now
	Known int // imported before
	Bad   int // could not be imported
}

// ErrProblems is returned where lines of a manifest are wrong, after naming them. Nothing
// is loaded.
var ErrProblems = errors.New("nothing is loaded")

// Load loads the recordings of a study from the manifest at path. It checks all lines
// first, and reports every problem to w with its line; if there is one, the error is
// ErrProblems. Then it makes the recordings in parallel and adds them to the logbook in
// the order of their lines, with progress on w. It reports a line that fails then, and
// continues with the others. When ctx is done, recordings already added stay; loading the
// manifest again continues with the rest, because the logbook stores the SHA-256 of the
// source files.
func Load(ctx context.Context, w io.Writer, folder lookup.Folder, s study.Study, path string, now time.Time) (done Loaded, err error) {
	t, err := Read(ctx, path)
	if err != nil {
		return done, err
	}
	lines := t.Lines
	done.Lines = len(lines)
	c := &checker{study: s, folder: folder, now: now, problems: t.Problems, labels: t.ByLabel}
	if err := c.check(ctx, w, lines); err != nil {
		return done, err
	}
	if len(c.problems) > 0 {
		slices.SortStableFunc(c.problems, func(a, b Problem) int { return a.Line - b.Line })
		for _, p := range c.problems {
			fmt.Fprintf(w, "%s line %d: %s\n", path, p.Line, p.What)
		}
		return done, fmt.Errorf("%s: %s: %w", path, words.Count(len(c.problems), "problem", "problems"), ErrProblems)
	}
	var rest []*Line
	for _, l := range lines {
		if l.known == 0 {
			rest = append(rest, l)
		}
	}
	done.Known = len(lines) - len(rest)
	visits, err := c.visitsOf(rest)
	if err != nil {
		return done, err
	}
	dir, err := os.MkdirTemp("", "aplomb-load-")
	if err != nil {
		return done, err
	}
	defer os.RemoveAll(dir)
	progress := console.NewProgress(w)
	defer progress.Clear()
	begun := 0
	err = batch.InOrder(ctx, len(rest), func(int) {
		begun++
		progress.Show("loading %d of %d", begun, len(rest))
	}, func(ctx context.Context, i int) (string, error) {
		return c.make(ctx, rest[i], visits[i], filepath.Join(dir, fmt.Sprintf("%d.mcap", i)))
	}, func(i int, made string, err error) error {
		l := rest[i]
		if err == nil {
			err = c.addRecording(ctx, l, visits[i], made)
		}
		if l.File == "" {
			os.Remove(made)
		}
		switch {
		case ctx.Err() != nil && err != nil:
		case errors.Is(err, logbook.ErrFull), errors.Is(err, logbook.ErrReadOnly), errors.Is(err, logbook.ErrLocked):
			return err
		case err != nil:
			progress.Clear()
			done.Bad++
			fmt.Fprintf(w, "%s line %d: %s\n", path, l.N, explain(err))
		default:
			done.Taken++
		}
		return nil
	})
	return done, err
}

// visitsOf returns the visit to which each line belongs. Visits that the study does not
// have yet are those of the dancer on that day, or new ones.
func (c *checker) visitsOf(lines []*Line) (visits []logbook.Visit, err error) {
	type key struct {
		dancer string
		number int
	}
	of := map[key]logbook.Visit{}
	for _, v := range c.visits {
		of[key{v.Dancer, v.OfStudy}] = v
	}
	err = c.folder.With(func(l *logbook.Logbook) error {
		for _, line := range lines {
			k := key{line.Dancer, line.Visit}
			v, ok := of[k]
			if !ok {
				var err error
				if v, err = c.visitOn(l, line); err != nil {
					return fmt.Errorf("line %d: %w", line.N, err)
				}
				of[k] = v
			}
			visits = append(visits, v)
		}
		return nil
	})
	return visits, err
}

// visitOn adds a visit of the dancer on the day of a line to the study: the visit that the
// line's recording names, else one without recordings, else a new one. Other recordings of
// that day, or those of another study, do not become part of the study.
func (c *checker) visitOn(l *logbook.Logbook, line *Line) (v logbook.Visit, err error) {
	all, err := l.Visits(line.Dancer)
	if err != nil {
		return v, err
	}
	recorded := map[int64]bool{}
	for _, r := range c.made {
		recorded[r.VisitID] = true
	}
	all = slices.DeleteFunc(all, func(v logbook.Visit) bool {
		return v.Day != line.Day || v.Study != "" || slices.ContainsFunc(c.visits, func(o logbook.Visit) bool { return o.ID == v.ID }) ||
			recorded[v.ID] && v.Name() != line.visit
	})
	named := slices.IndexFunc(all, func(v logbook.Visit) bool { return v.Name() == line.visit })
	switch {
	case named >= 0:
		v = all[named]
	case len(all) > 0:
		v = all[len(all)-1]
	default:
		s := &line.setup
		v, err = l.AddVisit(logbook.Visit{Dancer: line.Dancer, Day: line.Day, Support: s.Support, Rise: s.Rise, Position: s.Position, Floor: s.Floor, MassKG: s.MassKG})
		if err != nil {
			return v, err
		}
	}
	v.Study, v.OfStudy = c.study.Name, line.Visit
	c.visits = append(c.visits, v)
	return v, l.PutStudyVisit(c.study, v.ID, v.OfStudy)
}

// make makes the recording of a line at path, and returns the path of the recording.
func (c *checker) make(ctx context.Context, l *Line, v logbook.Visit, path string) (string, error) {
	if l.File != "" {
		return l.File, nil
	}
	s := l.setup
	s.Into, s.Visit, s.Imported = &v, v.Name(), c.now
	m, err := s.Metadata(ctx, l.Started, [2]bool{l.CSV[device.Left] != "", l.CSV[device.Right] != ""})
	if err != nil {
		return path, err
	}
	files := l.CSV
	if err := intake.Assign(&files, nil, &m); err != nil {
		return path, err
	}
	presses, err := intake.ParsePresses(l.presses, &m)
	if err != nil {
		return path, err
	}
	_, err = intake.ImportCSV(ctx, files, m, presses, path, console.NewProgress(io.Discard))
	return path, err
}

// addRecording adds the recording of a line to the logbook, with its source files. A recording
// that an interrupted run has already added is left unchanged.
func (c *checker) addRecording(ctx context.Context, l *Line, v logbook.Visit, path string) error {
	for _, file := range l.files() {
		if sum, _, err := provenance.SHA256(ctx, file.path); err != nil {
			return err
		} else if sum != l.sums[file.foot] {
			return fmt.Errorf("%s was changed since it was checked: load again", file.path)
		}
	}
	return c.folder.With(func(book *logbook.Logbook) error {
		r, err := book.AddRecording(context.WithoutCancel(ctx), path, v.ID)
		if errors.Is(err, logbook.ErrExists) {
			r, err = sameIn(ctx, book, path, v, err)
		}
		if err != nil {
			return err
		}
		return book.PutSources(r.ID, l.sums)
	})
}

// sameIn returns the recording of a visit that is also in the file at path; otherwise the
// error exists.
func sameIn(ctx context.Context, book *logbook.Logbook, path string, v logbook.Visit, exists error) (logbook.Recording, error) {
	id, err := recording.IdentityIfAny(ctx, path)
	if err != nil {
		return logbook.Recording{}, err
	}
	all, err := book.Recordings(logbook.Filter{VisitID: v.ID})
	if err != nil {
		return logbook.Recording{}, err
	}
	for _, r := range all {
		if r.Identity == id && id != "" {
			return r, nil
		}
	}
	return logbook.Recording{}, exists
}
