package intake_test

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/intake"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
	"aplomb/device/recording"
)

const profiles = "../../aplomb/testdata/profiles/"

var (
	began = time.Date(2026, 3, 14, 10, 0, 0, 0, time.UTC)
	both  = [2]bool{true, true}
	left  = [2]bool{true, false}
)

// newLogbook returns the folder of a logbook with dancer D7, a visit on the day of
// began, both strips and shoes A and B.
func newLogbook(t *testing.T) lookup.Folder {
	folder := lookup.Folder{Named: filepath.Join(t.TempDir(), "book")}
	require.NoError(t, folder.BeginWith(io.Discard, func(l *logbook.Logbook) error {
		require.NoError(t, l.AddDancer(logbook.Dancer{Code: "D7"}))
		_, err := l.AddVisit(logbook.Visit{Dancer: "D7", Day: "2026-03-14", Support: "barre", MassKG: 52})
		require.NoError(t, err)
		for _, name := range []string{"left.toml", "right.toml"} {
			s, err := device.ReadStrip(t.Context(), profiles+name)
			require.NoError(t, err)
			require.NoError(t, l.AddStrip(*s))
		}
		for _, name := range []string{"A.toml", "B.toml"} {
			s, err := device.ReadShoe(t.Context(), profiles+name)
			require.NoError(t, err)
			require.NoError(t, l.AddShoe(logbook.Shoe{Shoe: *s}))
		}
		return nil
	}))
	return folder
}

func TestMetadataFromFiles(t *testing.T) {
	s := intake.Setup{Strips: []string{profiles + "left.toml", profiles + "right.toml"}, LeftShoe: profiles + "A.toml", Shoe: profiles + "B.toml", Dancer: "D7", Rise: "spring"}
	m, err := s.Metadata(t.Context(), began, both)
	require.NoError(t, err)
	assert.Equal(t, "L-01", m.Sides[device.Left].Strip.Name)
	assert.Equal(t, "A", m.Sides[device.Left].Shoe.Code)
	assert.Equal(t, "B", m.Sides[device.Right].Shoe.Code)
	assert.Equal(t, "L-01 mounted 2026-03-14T10:00:00Z", m.Sides[device.Left].Mounting)
	assert.Equal(t, "spring", m.Rise)

	s.Imported = began.Add(time.Hour)
	m, err = s.Metadata(t.Context(), began, both)
	require.NoError(t, err)
	assert.Equal(t, "L-01 mounted 2026-03-14T10:00:00Z, imported 2026-03-14T11:00:00Z", m.Sides[device.Left].Mounting)
}

// A visit's conditions apply unless others are given, and its dancer's code is spelt as
// in the logbook; strips are the logbook's.
func TestMetadataFromTheLogbook(t *testing.T) {
	s := intake.Setup{Logbook: newLogbook(t), Dancer: "d7", Visit: "today", Shoe: "a", Support: "none"}
	require.NoError(t, s.FindVisit(began))
	m, err := s.Metadata(t.Context(), began, left)
	require.NoError(t, err)
	assert.Equal(t, "D7", m.Dancer)
	assert.Equal(t, "2026-03-14", m.Visit)
	assert.Equal(t, "none", m.Support)
	assert.Equal(t, 52.0, m.MassKG)
	assert.Equal(t, "L-01", m.Sides[device.Left].Strip.Name)
	assert.Nil(t, m.Sides[device.Right])

	_, err = s.Metadata(t.Context(), began.AddDate(0, 0, 3), left)
	assert.ErrorContains(t, err, "was on another day: aplomb visit add --dancer D7 begins one today, 2026-03-17")
	s.Imported = began
	_, err = s.Metadata(t.Context(), began.AddDate(0, 0, 3), left)
	assert.ErrorContains(t, err, "--started says when it was recorded, such as 2026-03-14T10:00")
}

func TestMetadataRefuses(t *testing.T) {
	l, r, a := profiles+"left.toml", profiles+"right.toml", profiles+"A.toml"
	for want, s := range map[string]intake.Setup{
		"--support \"rope\": one of":                       {Strips: []string{l}, Shoe: a, Support: "rope"},
		"--rise \"jump\": one of":                          {Strips: []string{l}, Shoe: a, Rise: "jump"},
		"--mass-kg -1":                                     {Strips: []string{l}, Shoe: a, MassKG: -1},
		"without line ends":                                {Strips: []string{l}, Shoe: a, Floor: "vinyl\n"},
		"it is for the left foot, and so is strip L-01":    {Strips: []string{l, l}, Shoe: a},
		"no shoe for the left foot":                        {Strips: []string{l}},
		"--left-shoe":                                      {Strips: []string{r}, Shoe: a, LeftShoe: a},
		"the logbook has none for the right foot":          {Shoe: a},
		"--same-mounting-as last: there is no recording":   {Strips: []string{l}, Shoe: a, SameMounting: "last"},
		"there is no such file, and no logbook to look it": {Strips: []string{"L-9"}, Shoe: a, Logbook: lookup.Folder{Named: t.TempDir()}},
	} {
		if s.Logbook.Named == "" {
			s.Logbook = newLogbook(t)
			require.NoError(t, s.Logbook.With(func(l *logbook.Logbook) error { return l.RemoveStrip("R-01") }))
		}
		_, err := s.Metadata(t.Context(), began, both)
		assert.ErrorContains(t, err, want)
	}
	assert.ErrorAs(t, (&intake.Setup{Visit: "last"}).FindVisit(began), &usage.Error{})
	assert.ErrorAs(t, (&intake.Setup{}).CheckTarget(""), &usage.Error{})
	assert.NoError(t, (&intake.Setup{}).CheckTarget("a.mcap"))
	assert.NoError(t, (&intake.Setup{Visit: "last"}).CheckTarget(""))
}

// writeCSV writes frames of the left strip in which one cell is loaded now and then.
func writeCSV(t *testing.T, path string, frames int) {
	var b bytes.Buffer
	b.WriteString("t_us")
	for k := range 40 {
		fmt.Fprintf(&b, ",c%d", k)
	}
	for n := range frames {
		fmt.Fprintf(&b, "\n%d", n*10_000)
		for k := range 40 {
			fmt.Fprintf(&b, ",%d", (n+k)%3)
		}
	}
	b.WriteByte('\n')
	require.NoError(t, os.WriteFile(path, b.Bytes(), 0o666))
}

// A CSV file becomes a recording, is added to the visit and measured; the same file again
// is refused and stays in place. The next recording keeps the mounting.
func TestFromCSVIntoTheLogbook(t *testing.T) {
	dir := t.TempDir()
	csv, out := filepath.Join(dir, "left.csv"), filepath.Join(dir, "a.mcap")
	writeCSV(t, csv, 300)
	s := intake.Setup{Logbook: newLogbook(t), Dancer: "D7", Visit: "today", Shoe: "A", Imported: began}
	require.NoError(t, s.FindVisit(began))
	m, err := s.Metadata(t.Context(), began, left)
	require.NoError(t, err)
	files := [2]string{}
	require.NoError(t, intake.Assign(&files, []string{csv}, &m))
	assert.Equal(t, [2]string{csv, ""}, files)
	n, err := intake.ImportCSV(t.Context(), files, m, nil, out, console.NewProgress(io.Discard))
	require.NoError(t, err)
	assert.Equal(t, 300, n)
	require.NoError(t, intake.CheckFrames(t.Context(), out))

	r, err := intake.Add(t.Context(), &s.Logbook, *s.Into, out)
	require.NoError(t, err)
	assert.EqualValues(t, 1, r.ID)
	result, _, err := intake.Measure(t.Context(), &s.Logbook, r)
	require.NoError(t, err)
	assert.Empty(t, result.Releves)
	_, err = intake.Add(t.Context(), &s.Logbook, *s.Into, out)
	assert.ErrorIs(t, err, logbook.ErrExists)
	assert.ErrorContains(t, intake.LeftAt(err, *s.Into, out), "a.mcap --dancer D7 --visit 2026-03-14 takes it in")

	for _, same := range []string{"last", "1", out} {
		s.SameMounting = same
		next, err := s.Metadata(t.Context(), began.Add(time.Hour), left)
		require.NoError(t, err)
		assert.Equal(t, m.Sides[device.Left].Mounting, next.Sides[device.Left].Mounting)
	}
	s.Shoe = "B"
	_, err = s.Metadata(t.Context(), began, left)
	assert.ErrorContains(t, err, "there the left foot had strip L-01 under shoe A, now L-01 under B")
}

func TestBadCSVLeavesNoFile(t *testing.T) {
	dir := t.TempDir()
	csv, out := filepath.Join(dir, "left.csv"), filepath.Join(dir, "a.mcap")
	require.NoError(t, os.WriteFile(csv, []byte("t_us,c0\n1,2\n"), 0o666))
	s := intake.Setup{Strips: []string{profiles + "left.toml"}, Shoe: profiles + "A.toml"}
	m, err := s.Metadata(t.Context(), began, left)
	require.NoError(t, err)
	_, err = intake.ImportCSV(t.Context(), [2]string{csv, ""}, m, nil, out, console.NewProgress(io.Discard))
	assert.ErrorContains(t, err, "left.csv")
	assert.NoFileExists(t, out)

	w, err := recording.CreateDirect(out, m)
	require.NoError(t, err)
	require.NoError(t, w.Close())
	assert.ErrorContains(t, intake.CheckFrames(t.Context(), out), "no frame in it")
}

// A press given by flag for a CSV file becomes an event of its foot at the press's end.
func TestPressOfACSV(t *testing.T) {
	dir := t.TempDir()
	csv, out := filepath.Join(dir, "left.csv"), filepath.Join(dir, "a.mcap")
	writeCSV(t, csv, 300) // 3 s
	s := intake.Setup{Strips: []string{profiles + "left.toml"}, Shoe: profiles + "A.toml"}
	m, err := s.Metadata(t.Context(), began, left)
	require.NoError(t, err)
	presses, err := intake.ParsePresses([]string{"0.5-1.25", "left:2-2.5"}, &m)
	require.NoError(t, err)
	assert.Equal(t, []intake.Press{{Foot: device.Left, From: 0.5, To: 1.25}, {Foot: device.Left, From: 2, To: 2.5}}, presses)
	_, err = intake.ImportCSV(t.Context(), [2]string{csv, ""}, m, presses, out, console.NewProgress(io.Discard))
	require.NoError(t, err)
	r, err := recording.Open(t.Context(), out)
	require.NoError(t, err)
	defer r.Close()
	frame := device.Frame{}
	for range 300 {
		require.NoError(t, r.Next(&frame))
	}
	require.ErrorIs(t, r.Next(&frame), io.EOF)
	events := r.Events()
	require.Len(t, events, 2)
	for i, e := range events {
		assert.Equal(t, device.Press, e.Kind)
		assert.Equal(t, device.Left, e.Foot)
		assert.InDelta(t, presses[i].To-presses[i].From, e.LengthS, 1e-9)
	}
	assert.InDelta(t, 1.25e9, events[1].TimeNS-events[0].TimeNS, 1e6)

	other := filepath.Join(dir, "b.mcap")
	presses[1].To = 5
	_, err = intake.ImportCSV(t.Context(), [2]string{csv, ""}, m, presses, other, console.NewProgress(io.Discard))
	assert.EqualError(t, err, "--press 2-5: the frames of the left foot end at 2.990 s by the file's clock")
	assert.NoFileExists(t, other)
}

func TestBadPress(t *testing.T) {
	var one, two device.Metadata
	one.Sides[device.Right] = &device.Side{}
	two.Sides = [2]*device.Side{{}, {}}
	form := "write it as FROM-TO in seconds by the file's clock, such as 2-6.5 or left:2-6.5"
	for _, c := range []struct {
		typed string
		m     *device.Metadata
		want  string
	}{
		{"", &one, form},
		{"2", &one, form},
		{"6-2", &one, form},
		{"2-2", &one, form},
		{"-2-6", &one, form},
		{"NaN-6", &one, form},
		{"2-NaN", &one, form},
		{"two-six", &one, form},
		{"front:2-6", &one, "the foot is left or right"},
		{"left:2-6", &one, "no --strip for the left foot"},
		{"2-6", &two, "two strips: name the foot, such as left:2-6"},
	} {
		_, err := intake.ParsePresses([]string{c.typed}, c.m)
		assert.ErrorContains(t, err, c.want, c.typed)
	}
	got, err := intake.ParsePresses([]string{"2-6", "right:1e1-12"}, &one)
	require.NoError(t, err)
	assert.Equal(t, []intake.Press{{Foot: device.Right, From: 2, To: 6}, {Foot: device.Right, From: 10, To: 12}}, got)
}

func TestAssign(t *testing.T) {
	var one, two device.Metadata
	one.Sides[device.Right] = &device.Side{Strip: &device.Strip{Name: "R-01"}}
	two.Sides = [2]*device.Side{{Strip: &device.Strip{Name: "L-01"}}, one.Sides[1]}
	csv := [2]string{}
	require.NoError(t, intake.Assign(&csv, []string{"x.csv"}, &one))
	assert.Equal(t, [2]string{"", "x.csv"}, csv)
	for _, c := range []struct {
		csv  [2]string
		args []string
		m    *device.Metadata
	}{
		{args: []string{"a", "b"}, m: &one}, {m: &one}, {args: []string{"a"}, m: &two}, {csv: [2]string{"a", ""}, m: &one},
		{csv: [2]string{"a", ""}, m: &two}, {csv: [2]string{"a", "b"}, args: []string{"c"}, m: &two},
	} {
		assert.ErrorAs(t, intake.Assign(&c.csv, c.args, c.m), &usage.Error{})
	}
}

func TestParseStart(t *testing.T) {
	zone := time.FixedZone("", 3600)
	now := began.In(zone)
	for typed, want := range map[string]time.Time{
		"": now, "2026-03-14T09:30": time.Date(2026, 3, 14, 9, 30, 0, 0, zone), "2026-03-14 09:30:15": time.Date(2026, 3, 14, 9, 30, 15, 0, zone),
		"2026-03-14T09:30:00Z": time.Date(2026, 3, 14, 9, 30, 0, 0, time.UTC), "2026-03-14T09:30+02:00": time.Date(2026, 3, 14, 7, 30, 0, 0, time.UTC),
	} {
		at, err := intake.ParseStart(typed, now)
		require.NoError(t, err)
		assert.True(t, want.Equal(at), typed)
	}
	for _, typed := range []string{"2026-03-15T10:00", "yesterday", "14.3.2026"} {
		_, err := intake.ParseStart(typed, now)
		assert.ErrorAs(t, err, &usage.Error{}, typed)
	}
	newYork, err := time.LoadLocation("America/New_York") // summer time began on 8 March 2026 at 2 o'clock
	require.NoError(t, err)
	_, err = intake.ParseStart("2026-03-08T02:30", now.In(newYork))
	assert.ErrorContains(t, err, "does not exist")
	at, err := intake.ParseStart("2026-03-08T02:30-05:00", now.In(newYork))
	require.NoError(t, err)
	assert.True(t, at.Equal(time.Date(2026, 3, 8, 7, 30, 0, 0, time.UTC)))
	assert.True(t, intake.IsRecording("a.mcap"))
	assert.True(t, intake.IsRecording("a.mcap.part"))
	assert.False(t, intake.IsRecording("a.csv"))
}
