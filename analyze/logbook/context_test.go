package logbook

import (
	"context"
	"os"
	"path/filepath"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/device"
)

// after is a context that is done once its error has been asked for more than a
// number of times, so that work is interrupted at each place where it asks. The
// database asks too, in goroutines of its own.
type after struct {
	context.Context
	left atomic.Int64
	done context.CancelFunc
}

func doneAfter(n int) *after {
	ctx, cancel := context.WithCancel(bg)
	a := &after{Context: ctx, done: cancel}
	a.left.Store(int64(n))
	return a
}

func (a *after) Err() error {
	if a.left.Add(-1) < 0 {
		a.done()
	}
	return a.Context.Err()
}

// everywhere repeats an operation, interrupting it one step later each time, until it
// completes. It calls undone after each interrupted attempt.
func everywhere(t *testing.T, do func(context.Context) error, undone func()) {
	for n := range 1000 {
		err := do(doneAfter(n))
		if err == nil {
			require.Positive(t, n, "it never asked")
			return
		}
		require.ErrorIs(t, err, context.Canceled, "interrupted at %d", n)
		undone()
	}
	require.Fail(t, "never done")
}

// An interrupted operation changes nothing, for an interruption at any step.
func TestInterrupted(t *testing.T) {
	l := begin(t)
	v := visit(t, l, "D7")
	keep(t, l, v, about("D7", "", shoe("A")))
	m := about("D7", "", shoe("A"))
	m.Started = m.Started.Add(time.Minute)
	keep(t, l, v, m)
	sound := func() {
		findings, err := l.Check(bg)
		require.NoError(t, err)
		require.Empty(t, findings)
		kept, err := l.Recordings(Filter{})
		require.NoError(t, err)
		require.Len(t, kept, 2)
	}

	t.Run("check", func(t *testing.T) {
		everywhere(t, func(ctx context.Context) error { _, err := l.Check(ctx); return err }, func() {})
	})
	t.Run("backup", func(t *testing.T) {
		to := filepath.Join(t.TempDir(), "b")
		everywhere(t, func(ctx context.Context) error { return l.Backup(ctx, to) }, func() {
			require.NoDirExists(t, to)
			require.NoDirExists(t, to+".part")
			backups, err := l.Backups()
			require.NoError(t, err)
			require.Empty(t, backups)
		})
		findings, err := reopen(t, to).Check(bg)
		require.NoError(t, err)
		require.Empty(t, findings)
	})
	t.Run("add a recording", func(t *testing.T) {
		third := about("D7", "", shoe("B"))
		third.Started = third.Started.Add(2 * time.Minute)
		from := record(t, filepath.Join(t.TempDir(), "third.mcap"), third)
		everywhere(t, func(ctx context.Context) error { _, err := l.AddRecording(ctx, from, v.ID); return err }, sound)
		require.NoError(t, l.RemoveRecording(3))
	})
	t.Run("rebuild", func(t *testing.T) {
		dir := filepath.Join(t.TempDir(), "copy")
		require.NoError(t, l.Backup(bg, dir))
		require.NoError(t, os.Remove(filepath.Join(dir, database)))
		everywhere(t, func(ctx context.Context) error { _, err := Rebuild(ctx, dir); return err }, func() {
			entries, err := os.ReadDir(dir)
			require.NoError(t, err)
			require.Len(t, entries, 1, "the recordings alone")
		})
		kept, err := reopen(t, dir).Recordings(Filter{})
		require.NoError(t, err)
		require.Len(t, kept, 2)
	})
}

// A dancer being deleted when the signal comes is deleted, and the remains in the files
// are removed when the logbook is next opened.
func TestErasingThatIsInterruptedGoesOn(t *testing.T) {
	for n := range 1000 {
		l := begin(t)
		gone, stays := fillSecret(t, l)
		_, err := l.DeleteDancer(doneAfter(n), gone.Dancer)
		if err == nil {
			require.Greater(t, n, 1, "it never asked")
			return
		}
		_, there := l.Dancer(gone.Dancer)
		if there == nil {
			require.ErrorIs(t, err, context.Canceled)
			require.FileExists(t, gone.Path)
			findings, err := l.Check(bg)
			require.NoError(t, err)
			require.Len(t, findings, 1, "the file that is in no visit")
		} else {
			oneLine(t, err, ErrTraces, "dancer "+gone.Dancer+" is deleted", "when the logbook is opened next")
			require.NoError(t, l.Close())
			again := reopen(t, l.Dir())
			_, err := again.Recording(stays.ID)
			require.NoError(t, err)
			require.NoError(t, again.Close())
			require.Empty(t, holds(t, l.Dir()))
		}
	}
	require.Fail(t, "never done")
}

// An interrupt also ends a query of SQLite.
func TestInterruptedDatabase(t *testing.T) {
	l := begin(t)
	r := keep(t, l, visit(t, l, "D7"), about("D7", "", shoe("A")))
	var releves []measure.Releve
	for n := range 500 {
		releves = append(releves, releve(n+1, device.Left, 1, 0.5))
	}
	require.NoError(t, l.PutMeasures(r.ID, result("1", releves...)))
	ctx, cancel := context.WithTimeout(bg, time.Nanosecond)
	defer cancel()
	<-ctx.Done()
	_, err := l.integrity(ctx)
	assert.ErrorIs(t, err, context.DeadlineExceeded)
	_, err = l.integrity(bg)
	assert.NoError(t, err)
}
