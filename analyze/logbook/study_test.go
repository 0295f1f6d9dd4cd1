package logbook

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/analyze/study"
	"aplomb/device"
)

// declared returns a study of two dancers and two shoes that are in the logbook.
func declared(t testing.TB, l *Logbook) study.Study {
	for _, code := range []string{"D7", "D8"} {
		require.NoError(t, l.AddDancer(Dancer{Code: code}))
	}
	for _, code := range []string{"A", "B"} {
		require.NoError(t, l.AddShoe(Shoe{Shoe: shoe(code)}))
	}
	s, err := study.New(study.Study{
		Name: "Spring", Declared: "2026-03-14", Seed: 1 << 63, Measure: measure.Over, Feet: [2]bool{true, true}, Visits: 2, Mountings: 1, Releves: 3, Stop: 2,
	}, []string{"D7", "D8"}, []string{"A", "B"}, nil, func(string) bool { return false })
	require.NoError(t, err)
	require.NoError(t, l.AddStudy(s))
	return s
}

func TestStudyIsKept(t *testing.T) {
	l := begin(t)
	s := declared(t, l)
	kept, err := l.Study("spring")
	require.NoError(t, err)
	assert.Equal(t, s, kept)
	all, err := l.Studies()
	require.NoError(t, err)
	assert.Equal(t, []study.Study{s}, all)
	_, err = l.Study("Autumn")
	oneLine(t, err, ErrNotFound, "Autumn")
	oneLine(t, l.AddStudy(s), ErrExists, "Spring")
	bad := s
	bad.Name, bad.Stop = "Autumn", 3
	oneLine(t, l.AddStudy(bad), ErrInvalid, "3 dancers")
	oneLine(t, l.RemoveShoe("a"), ErrInvalid, "study Spring")

	// A visit belongs to one study, as one visit of its dancer.
	first, second := visit(t, l, "D7"), visit(t, l, "D7")
	require.NoError(t, l.PutStudyVisit(s, first.ID, 1))
	require.NoError(t, l.PutStudyVisit(s, first.ID, 1))
	oneLine(t, l.PutStudyVisit(s, first.ID, 2), ErrInvalid, "is visit 1")
	oneLine(t, l.PutStudyVisit(s, second.ID, 1), ErrInvalid, "another visit 1")
	relabelled := s
	relabelled.Shoes = slices.Clone(s.Shoes)
	relabelled.Shoes[0].Label, relabelled.Shoes[1].Label = s.Shoes[1].Label, s.Shoes[0].Label
	oneLine(t, l.PutStudyVisit(relabelled, second.ID, 2), ErrChanged, "study Spring has changed meanwhile: start again")
	kept7, err := l.Visits("D7")
	require.NoError(t, err)
	first.Study, first.OfStudy = "Spring", 1
	assert.Equal(t, []Visit{first, second}, kept7)
	require.NoError(t, l.EditVisit(second))
	of, err := l.StudyVisits("spring")
	require.NoError(t, err)
	assert.Equal(t, []Visit{first}, of)
	oneLine(t, l.RemoveStudy("Spring"), ErrBegun, "visit "+first.Name()+" of dancer D7")
	require.NoError(t, l.RemoveVisit(first.ID))
	require.NoError(t, l.RemoveStudy("Spring"), "nothing is recorded")
	require.NoError(t, l.RemoveShoe("A"))
}

func TestStudyAfterItsFirstRecording(t *testing.T) {
	l := begin(t)
	s := declared(t, l)
	v := visit(t, l, "D7")
	require.NoError(t, l.PutStudyVisit(s, v.ID, 1))
	r := keep(t, l, v, about("D7", "", shoe("B")))
	require.NoError(t, l.PutSources(r.ID, map[device.Foot]string{device.Left: sha('1'), device.Right: sha('2')}))
	sources, err := l.Sources()
	require.NoError(t, err)
	assert.Equal(t, map[string]int64{sha('1'): r.ID, sha('2'): r.ID}, sources)
	later := about("D7", "", shoe("B"))
	later.Started = later.Started.Add(time.Hour)
	require.NoError(t, l.PutSources(keep(t, l, visit(t, l, "D7"), later).ID, map[device.Foot]string{device.Left: sha('1')}))
	again, err := l.Sources()
	require.NoError(t, err)
	assert.Equal(t, sources, again, "a file stays with its first recording")
	made, err := l.StudyMade("Spring")
	require.NoError(t, err)
	require.Len(t, made, 1)
	assert.Equal(t, 1, made[0].Visit)
	assert.Equal(t, "B", made[0].Recordings[0].Shoe)
	oneLine(t, l.RemoveStudy("Spring"), ErrInUse, "(1)")
	for _, consent := range []string{ConsentWithdrawn, ConsentStudy} {
		require.NoError(t, l.EditDancer(Dancer{Code: "D7", Consent: consent}))
		made, err = l.StudyMade("Spring")
		require.NoError(t, err)
		visits, _, err := l.StudyRows(s)
		require.NoError(t, err)
		assert.Equal(t, consent == ConsentWithdrawn, len(made) == 0)
		assert.Equal(t, consent == ConsentWithdrawn, len(visits) == 0)
	}

	// A visit beyond those of the plan does not count.
	require.NoError(t, l.PutStudyVisit(s, visit(t, l, "D7").ID, 2))
	fewer := s
	fewer.Visits = 1
	visits, _, err := l.StudyRows(fewer)
	require.NoError(t, err)
	assert.Equal(t, map[string][]string{"D7": {v.Name()}}, visits)

	// Amendments and interim looks stay with the study.
	require.NoError(t, l.AddDancer(Dancer{Code: "D9"}))
	s.Stop, s.Rows = 1, append(s.Rows, study.Row{Dancer: "D9", Order: []string{"B", "A"}})
	require.NoError(t, l.AmendStudy(s, study.Change{Day: "2026-03-20", Kind: study.Amendment, What: "compared after 1 dancer, before 2", Reason: "no room"}))
	require.NoError(t, l.NoteStudy("Spring", study.Change{Day: "2026-03-21", Kind: study.Interim, What: "0 of 1"}))
	kept, err := l.Study("Spring")
	require.NoError(t, err)
	assert.Equal(t, s.Rows, kept.Rows)
	assert.Equal(t, 1, kept.Stop)
	assert.Equal(t, []study.Kind{study.Amendment, study.Interim}, []study.Kind{kept.Changes[0].Kind, kept.Changes[1].Kind})

	// Another dancer takes the row of one who dropped out, once.
	require.NoError(t, l.AddDancer(Dancer{Code: "D10"}))
	out := study.Change{Day: "2026-03-22", Kind: study.DropOut, Row: 2, From: "D8", To: "D10", Reason: "moved away"}
	oneLine(t, l.ReplaceInStudy("Spring", study.Change{Day: "2026-03-22", Kind: study.DropOut, Row: 2, From: "D8", To: "D7"}), ErrInvalid, "D7")
	require.NoError(t, l.ReplaceInStudy("Spring", out))
	kept, err = l.Study("Spring")
	require.NoError(t, err)
	assert.Equal(t, "D10", kept.Rows[1].Dancer)
	assert.Equal(t, s.Rows[1].Order, kept.Rows[1].Order)
	assert.Equal(t, out, kept.Changes[2])
	assert.Equal(t, "D10", kept.Replaced("D8"))

	// Erasing a dancer leaves nothing of the code in the study.
	_, err = l.DeleteDancer(bg, "D7")
	require.NoError(t, err)
	_, err = l.DeleteDancer(bg, "D8")
	require.NoError(t, err)
	kept, err = l.Study("Spring")
	require.NoError(t, err)
	assert.Empty(t, kept.Rows[0].Dancer)
	assert.Equal(t, "row 2: a dancer who was erased dropped out, dancer D10 takes the row", kept.Changes[2].Text())
	assert.Equal(t, s.Shoes, kept.Shoes, "the shoes stay")
	made, err = l.StudyMade("Spring")
	require.NoError(t, err)
	assert.Empty(t, made)
	sources, err = l.Sources()
	require.NoError(t, err)
	assert.Empty(t, sources)
}

// A dancer's own shoe stays after the dancer is erased if a study uses it.
func TestStudyKeepsTheShoeOfAnErasedDancer(t *testing.T) {
	l := begin(t)
	declared(t, l)
	own, err := l.Shoe("A")
	require.NoError(t, err)
	own.Owner = "D7"
	require.NoError(t, l.EditShoe(own))
	_, err = l.DeleteDancer(bg, "D7")
	require.NoError(t, err)
	own, err = l.Shoe("A")
	require.NoError(t, err)
	assert.Empty(t, own.Owner)
}

// sha returns a text in the form of a hexadecimal SHA-256.
func sha(digit byte) string {
	b := make([]byte, 64)
	for i := range b {
		b[i] = digit
	}
	return string(b)
}
