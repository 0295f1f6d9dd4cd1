package logbook

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/correction"
)

// wrong returns a correction of the shoe on both feet.
func wrong(t testing.TB, code string) correction.Entry {
	s := shoe(code)
	toml := device.TOML(&s)
	return correction.Entry{At: started.Add(time.Hour), Left: &correction.Side{Shoe: &toml}, Right: &correction.Side{Shoe: &toml}}
}

// measured adds measures of this program's algorithm to the logbook.
func measured(t testing.TB, l *Logbook, all ...Recording) {
	for _, r := range all {
		res := result("1", releve(1, device.Left, -1, 0.1))
		res.Provenance.Inputs = []measure.Input{r.input()}
		require.NoError(t, l.PutMeasures(r.ID, res))
	}
}

// states returns the states of the measures of all recordings in the order they were made.
func states(t testing.TB, l *Logbook) (all []State) {
	kept, err := l.Recordings(Filter{})
	require.NoError(t, err)
	for _, r := range kept {
		all = append(all, r.Measures)
	}
	return all
}

// Rows follow a correction; file and identity stay; measures computed with the wrong shoe
// are stale: in this recording and in those of the visit in either shoe.
func TestRelabel(t *testing.T) {
	l := begin(t)
	v := visit(t, l, "D7")
	kept := keepThree(t, l, v)
	m := about("D7", "", shoe("C"))
	m.Started = m.Started.Add(time.Hour)
	kept = append(kept, keep(t, l, v, m))
	other, err := l.AddVisit(Visit{Dancer: "D7", Day: "2026-03-15"})
	require.NoError(t, err)
	m.Started, m.Sides = m.Started.Add(24*time.Hour), about("D7", "", shoe("A")).Sides
	kept = append(kept, keep(t, l, other, m))
	measured(t, l, kept...)
	before, err := os.ReadFile(kept[0].Path)
	require.NoError(t, err)

	now, err := l.Relabel(bg, kept[0].ID, 0, wrong(t, "B"))
	require.NoError(t, err)
	assert.Equal(t, "B", now.Feet[device.Left].Shoe)
	assert.Equal(t, "B", now.Feet[device.Right].Shoe)
	assert.Equal(t, kept[0].Identity, now.Identity)
	assert.Equal(t, kept[0].ID, now.ID)
	assert.Len(t, now.Correction, 64)
	after, err := os.ReadFile(now.Path)
	require.NoError(t, err)
	assert.Equal(t, before, after)
	assert.Equal(t, []State{Stale, Stale, Stale, Current, Current}, states(t, l))
	again, err := l.Recording(now.ID)
	require.NoError(t, err)
	assert.Equal(t, now, again)
	findings, err := l.Check(bg)
	require.NoError(t, err)
	assert.Empty(t, findings)

	// What was measured before it was corrected is not put into the logbook after.
	late := result("1", releve(1, device.Left, -1, 0.1))
	late.Provenance.Inputs = []measure.Input{kept[0].input()}
	oneLine(t, l.PutMeasures(now.ID, late), ErrInvalid, "with another correction than the logbook follows")
	measured(t, l, now)

	// Shoe B goes with the only recording that named it.
	_, err = l.Relabel(bg, now.ID, 0, correction.Entry{At: started.Add(2 * time.Hour), Undo: true})
	require.NoError(t, err)
	_, err = l.Shoe("B")
	assert.ErrorIs(t, err, ErrNotFound)
}

// A correction to another dancer moves the recording to a visit of that dancer.
func TestRelabelDancer(t *testing.T) {
	l := begin(t)
	r := keep(t, l, visit(t, l, "D7"), about("D7", "2026-03-14", shoe("A")))
	to := visit(t, l, "D8")
	dancer := "D8"
	_, err := l.Relabel(bg, r.ID, 0, correction.Entry{Dancer: &dancer})
	require.NoError(t, err, "D8 has a visit of that name")
	r, err = l.Recording(r.ID)
	require.NoError(t, err)
	assert.Equal(t, to.ID, r.VisitID)

	// The code of D7 is still in the file of the recording, and erasing says so.
	e, err := l.DeleteDancer(bg, "D7")
	require.NoError(t, err)
	assert.Equal(t, []string{r.Path}, e.Carrying)
	assert.Zero(t, e.Recordings)
	_, err = l.Relabel(bg, r.ID, 0, correction.Entry{Undo: true})
	oneLine(t, err, ErrNotFound, `visit 2026-03-14 of dancer "D7"`)
	again, err := l.Recording(r.ID)
	require.NoError(t, err)
	assert.Equal(t, r, again, "nothing has changed")

	// Erasing D8 leaves nothing of either, unfinished copies included.
	unfinished := filepath.Join(l.Dir(), recordings, correction.Name(r.Identity)+".123"+copying)
	require.NoError(t, os.WriteFile(unfinished, []byte("D8"), 0o600))
	e, err = l.DeleteDancer(bg, "D8")
	require.NoError(t, err)
	assert.Equal(t, 1, e.Recordings)
	left, err := os.ReadDir(filepath.Join(l.Dir(), recordings))
	require.NoError(t, err)
	assert.Empty(t, left)
}

// Import includes the correction file and never overwrites another one. A correction
// without a recording is reported, and erased with the dancer it names.
func TestImportCorrected(t *testing.T) {
	from, l := begin(t), begin(t)
	r := keep(t, from, visit(t, from, "D7"), about("D7", "", shoe("A")))
	_, err := from.Relabel(bg, r.ID, 0, wrong(t, "B"))
	require.NoError(t, err)
	v := visit(t, l, "D7")
	name := correction.Name(r.Identity)
	there := filepath.Join(l.Dir(), recordings, name)
	require.NoError(t, os.WriteFile(there, []byte(`{"format":1,"id":"`+r.Identity+`","corrections":[{"dancer":"d7"}]}`), 0o600))
	findings, err := l.Check(bg)
	require.NoError(t, err)
	require.Len(t, findings, 1)
	assert.Contains(t, findings[0].String(), "a correction of a recording that is in no visit")
	_, err = l.AddRecording(bg, r.Path, v.ID)
	oneLine(t, err, ErrExists, name, "it is not what lies beside the recording")
	_, err = l.DeleteDancer(bg, "D7")
	require.NoError(t, err)
	assert.NoFileExists(t, there)

	v = visit(t, l, "D7")
	taken, err := l.AddRecording(bg, r.Path, v.ID)
	require.NoError(t, err)
	assert.Equal(t, "B", taken.Feet[device.Left].Shoe)
	require.NoError(t, l.RemoveRecording(taken.ID))
	assert.NoFileExists(t, there)
	assert.FileExists(t, r.Path)
}

// Undo restores the recorded dancer. If the recording names no visit, the user must name
// it.
func TestUndoNeedsTheVisit(t *testing.T) {
	l := begin(t)
	from := visit(t, l, "D7")
	r := keep(t, l, from, about("D7", "", shoe("A")))
	to := visit(t, l, "D8")
	undo := correction.Entry{Undo: true}
	moved, err := l.Relabel(bg, r.ID, to.ID, correction.Entry{})
	require.NoError(t, err)
	assert.Equal(t, "D8", moved.Dancer)
	_, err = l.Relabel(bg, r.ID, 0, undo)
	oneLine(t, err, ErrInvalid, `is of dancer "D7" then: say the visit`)
	_, err = l.Relabel(bg, r.ID, to.ID, undo)
	oneLine(t, err, ErrInvalid, `what was recorded is of dancer "D7"`)
	back, err := l.Relabel(bg, r.ID, from.ID, undo)
	require.NoError(t, err)
	assert.Equal(t, "D7", back.Dancer)
	assert.Equal(t, from.ID, back.VisitID)
}
