package manifest_test

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/analyze/study"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/intake"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/manifest"
	"aplomb/device"
)

var now = time.Date(2026, 3, 20, 10, 0, 0, 0, time.UTC)

// lab is a folder with a logbook that has a study of two dancers, two shoes and two visits.
type lab struct {
	t      *testing.T
	dir    string
	folder lookup.Folder
	study  study.Study
	files  int
}

func newLab(t *testing.T) *lab {
	l := &lab{t: t, dir: t.TempDir()}
	l.folder.Named = filepath.Join(l.dir, "book")
	err := l.folder.BeginWith(io.Discard, func(book *logbook.Logbook) error {
		for _, f := range device.Feet {
			strip, err := device.ReadStrip(t.Context(), "../../aplomb/testdata/profiles/"+f.String()+".toml")
			require.NoError(t, err)
			require.NoError(t, book.AddStrip(*strip))
		}
		for _, code := range []string{"A", "B"} {
			shoe, err := device.ReadShoe(t.Context(), "../../aplomb/testdata/profiles/"+code+".toml")
			require.NoError(t, err)
			require.NoError(t, book.AddShoe(logbook.Shoe{Shoe: *shoe}))
		}
		for _, code := range []string{"D1", "D2"} {
			require.NoError(t, book.AddDancer(logbook.Dancer{Code: code}))
		}
		var err error
		l.study, err = study.New(study.Study{
			Name: "spring", Declared: "2026-03-01", Seed: 5, Measure: measure.Over, Feet: [2]bool{true, true}, Visits: 2, Mountings: 1, Releves: 1, Stop: 2,
		}, []string{"D1", "D2"}, []string{"A", "B"}, []string{"P", "Q"}, func(string) bool { return false })
		require.NoError(t, err)
		return book.AddStudy(l.study)
	})
	require.NoError(t, err)
	return l
}

// csv writes a CSV file of a few frames, different from all others, and returns its name.
func (l *lab) csv() string {
	l.files++
	var b strings.Builder
	b.WriteString("t_us")
	for k := range 40 {
		fmt.Fprintf(&b, ",c%d", k)
	}
	for i := range 5 {
		fmt.Fprintf(&b, "\n%d", i*20_000)
		for k := range 40 {
			fmt.Fprintf(&b, ",%d", (k+l.files)%50)
		}
	}
	name := fmt.Sprintf("%d.csv", l.files)
	require.NoError(l.t, os.WriteFile(filepath.Join(l.dir, name), []byte(b.String()+"\n"), 0o666))
	return name
}

// load loads a manifest and returns the output besides the result.
func (l *lab) load(ctx context.Context, lines ...string) (manifest.Loaded, string, error) {
	path := filepath.Join(l.dir, "manifest.csv")
	require.NoError(l.t, os.WriteFile(path, []byte(strings.Join(lines, "\r\n")), 0o666))
	var said bytes.Buffer
	done, err := manifest.Load(ctx, &said, l.folder, l.study, path, now)
	return done, strings.ReplaceAll(said.String(), l.dir+"/", ""), err
}

func (l *lab) recordings() (all []logbook.Recording) {
	err := l.folder.With(func(book *logbook.Logbook) (err error) {
		all, err = book.StudyRecordings("spring")
		return err
	})
	require.NoError(l.t, err)
	return all
}

const header = "dancer,visit,day,shoe,left,right"

// Rows that were loaded before are not loaded again, however the previous run ended.
func TestLoadGoesOn(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	first := fmt.Sprintf("D1,1,2026-03-02,A,%s,%s", l.csv(), l.csv())
	second := fmt.Sprintf("D1,1,2026-03-02,B,%s,%s", l.csv(), l.csv())
	third := fmt.Sprintf("D1,2,2026-03-09,B,%s,%s", l.csv(), l.csv())
	stopped, stop := context.WithCancel(t.Context())
	stop()
	_, _, err := l.load(stopped, header, first)
	assert.ErrorIs(t, err, context.Canceled)
	assert.Empty(t, l.recordings())

	done, said, err := l.load(t.Context(), header, first)
	require.NoError(t, err)
	assert.Empty(t, said)
	assert.Equal(t, manifest.Loaded{Lines: 1, Taken: 1}, done)

	// The second is in the logbook, but what it was made of is not, as where the power failed
	// in between.
	files := strings.Split(second, ",")
	s := intake.Setup{Dancer: "D1", Shoe: "B", Logbook: l.folder}
	at := time.Date(2026, 3, 2, 12, 1, 0, 0, time.UTC)
	m, err := s.Metadata(t.Context(), at, [2]bool{true, true})
	require.NoError(t, err)
	csv := [2]string{filepath.Join(l.dir, files[4]), filepath.Join(l.dir, files[5])}
	require.NoError(t, intake.Assign(&csv, nil, &m))
	made := filepath.Join(l.dir, "made.mcap")
	_, err = intake.ImportCSV(t.Context(), csv, m, nil, made, console.NewProgress(io.Discard))
	require.NoError(t, err)
	visit := l.recordings()[0].VisitID
	err = l.folder.With(func(book *logbook.Logbook) error {
		_, err := book.AddRecording(t.Context(), made, visit)
		return err
	})
	require.NoError(t, err)

	done, said, err = l.load(t.Context(), header, first, second, third)
	require.NoError(t, err)
	assert.Empty(t, said)
	assert.Equal(t, manifest.Loaded{Lines: 3, Taken: 2, Known: 1}, done)
	done, _, err = l.load(t.Context(), header, third, second, first)
	require.NoError(t, err)
	assert.Equal(t, manifest.Loaded{Lines: 3, Known: 3}, done)
	all := l.recordings()
	require.Len(t, all, 3)
	assert.Equal(t, "2026-03-09", all[2].VisitName)
	assert.Equal(t, "B", all[2].Feet[device.Left].Shoe)
	assert.Equal(t, "R-01", all[2].Feet[device.Right].Strip)

	// Lines of a dancer who drops out later stay in the manifest; new ones of that dancer do not
	// come into the study.
	err = l.folder.With(func(book *logbook.Logbook) (err error) {
		require.NoError(t, book.AddDancer(logbook.Dancer{Code: "D3"}))
		require.NoError(t, book.ReplaceInStudy("spring", study.Change{Day: "2026-03-10", Kind: study.DropOut, Row: l.study.Row("D1"), From: "D1", To: "D3"}))
		l.study, err = book.Study("spring")
		return err
	})
	require.NoError(t, err)
	done, said, err = l.load(t.Context(), header, first, second, fmt.Sprintf("D3,1,2026-03-12,A,%s,%s", l.csv(), l.csv()))
	require.NoError(t, err, said)
	assert.Equal(t, manifest.Loaded{Lines: 3, Taken: 1, Known: 2}, done)
	_, said, err = l.load(t.Context(), header, first, fmt.Sprintf("D1,2,2026-03-12,A,%s,%s", l.csv(), l.csv()))
	assert.ErrorIs(t, err, manifest.ErrProblems)
	assert.Contains(t, said, "line 3: dancer D1 dropped out of study spring, and D3 has the row")
	assert.NotContains(t, said, "line 2")

	// The same files are no other recording.
	_, said, err = l.load(t.Context(), header, strings.Replace(first, ",A,", ",B,", 1), fmt.Sprintf("D2,1,2026-03-03,A,%s,%s", files[4], l.csv()))
	assert.ErrorIs(t, err, manifest.ErrProblems)
	assert.Contains(t, said, "line 2: 1.csv is in the logbook as recording 1, of another visit, dancer or shoe")
	assert.Contains(t, said, "line 3: "+files[4]+" is in the logbook as recording 2, of another visit, dancer or shoe")
	assert.Contains(t, said, "line 3: one of its files is in the logbook as recording 2, the other is not")
	_, said, err = l.load(t.Context(), header, fmt.Sprintf("D1,1,2026-03-05,A,%s,%s", l.csv(), l.csv()))
	assert.ErrorIs(t, err, manifest.ErrProblems)
	assert.Contains(t, said, "line 2: D1, visit 1 was on 2026-03-02, not on 2026-03-05")
	assert.Len(t, l.recordings(), 4)
}

// A visit of the study holds what was recorded for it: what else the dancer recorded that day,
// or in another study, stays outside. Lines of a second manifest come after those of the first.
func TestVisitsApart(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	other := l.study
	other.Name = "autumn"
	s := intake.Setup{Dancer: "D1", Shoe: "A", Logbook: l.folder}
	m, err := s.Metadata(t.Context(), time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC), [2]bool{true, true})
	require.NoError(t, err)
	csv := [2]string{filepath.Join(l.dir, l.csv()), filepath.Join(l.dir, l.csv())}
	require.NoError(t, intake.Assign(&csv, nil, &m))
	made := filepath.Join(l.dir, "clinic.mcap")
	_, err = intake.ImportCSV(t.Context(), csv, m, nil, made, console.NewProgress(io.Discard))
	require.NoError(t, err)
	err = l.folder.With(func(book *logbook.Logbook) error {
		require.NoError(t, book.AddStudy(other))
		v, err := book.AddVisit(logbook.Visit{Dancer: "D1", Day: "2026-03-02"})
		require.NoError(t, err)
		_, err = book.AddRecording(t.Context(), made, v.ID)
		return err
	})
	require.NoError(t, err)
	line := func(shoe string) string { return fmt.Sprintf("D1,1,2026-03-02,%s,%s,%s", shoe, l.csv(), l.csv()) }
	for _, name := range []string{"spring", "autumn"} {
		l.study.Name = name
		for _, shoe := range []string{"B", "A"} {
			_, said, err := l.load(t.Context(), header, line(shoe))
			require.NoError(t, err, said)
		}
		err = l.folder.With(func(book *logbook.Logbook) error {
			all, err := book.StudyRecordings(name)
			require.Len(t, all, 2)
			assert.Equal(t, "B", all[0].Feet[device.Left].Shoe)
			assert.Equal(t, time.Minute, all[1].Started.Sub(all[0].Started))
			return err
		})
		require.NoError(t, err)
	}
}

// Existing recordings are compared with their lines.
func TestLoadRecordings(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	made := func(name, dancer, shoe string, feet [2]bool) {
		s := intake.Setup{Dancer: dancer, Shoe: shoe, Logbook: l.folder}
		m, err := s.Metadata(t.Context(), time.Date(2026, 3, 2, 17, 0, 0, 0, time.UTC), feet)
		require.NoError(t, err)
		var csv [2]string
		for f := range csv {
			if feet[f] {
				csv[f] = filepath.Join(l.dir, l.csv())
			}
		}
		require.NoError(t, intake.Assign(&csv, nil, &m))
		_, err = intake.ImportCSV(t.Context(), csv, m, nil, filepath.Join(l.dir, name), console.NewProgress(io.Discard))
		require.NoError(t, err)
	}
	both := [2]bool{true, true}
	made("good.mcap", "D1", "A", both)
	made("other.mcap", "D2", "A", both)
	made("left.mcap", "D1", "A", [2]bool{true, false})
	const header = "dancer,visit,label,recording,support,day"
	label := l.study.Label("A")
	_, said, err := l.load(t.Context(), header,
		"D1,1,"+label+",other.mcap,,", "D1,1,"+l.study.Label("B")+",good.mcap,,", "D2,1,"+label+",left.mcap,,", "D2,2,"+label+",made.csv,barre,", "D2,2,"+l.study.Label("B")+",left.mcap,,2026-03-01")
	assert.ErrorIs(t, err, manifest.ErrProblems)
	assert.Contains(t, said, `line 2: other.mcap is of dancer "D2" (aplomb logbook relabel FILE`)
	assert.Contains(t, said, "line 3: good.mcap: the left foot wore another shoe")
	assert.NotContains(t, said, "shoe A", "labels stay labels")
	assert.Contains(t, said, `line 4: left.mcap is of dancer "D1"`)
	assert.Contains(t, said, "line 4: left.mcap: no right foot in it, which the study records")
	assert.Contains(t, said, "line 5: made.csv: a recording ends with .mcap")
	assert.Empty(t, l.recordings())

	done, said, err := l.load(t.Context(), header, "d1,1,"+strings.ToLower(label)+",good.mcap,,")
	require.NoError(t, err, said)
	assert.Equal(t, 1, done.Taken)
	assert.Equal(t, "2026-03-02", l.recordings()[0].VisitName)
	done, _, err = l.load(t.Context(), header, "D1,1,"+label+",good.mcap,,")
	require.NoError(t, err)
	assert.Equal(t, 1, done.Known)
	_, said, err = l.load(t.Context(), header, "D1,1,"+label+",good.mcap,barre,")
	assert.ErrorIs(t, err, manifest.ErrProblems)
	assert.Contains(t, said, "a recording says itself how it was made: leave support empty")
}

// Every possible problem of a manifest's line is named.
func TestProblems(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	const header = "dancer,visit,day,shoe,left,right,started,feedback,left_press,marks,left_strip,right_strip"
	a, b := l.csv(), l.csv()
	require.NoError(t, os.WriteFile(filepath.Join(l.dir, "short.csv"), []byte("t_us,c0\n0,1\n"), 0o666))
	for line, want := range map[string]string{
		",1,2026-03-02,A,%[1]s,%[2]s,,,,,,":                    "no dancer",
		"D1,,2026-03-02,A,%[1]s,%[2]s,,,,,,":                   "no visit",
		"D1,1,2026-03-02,,%[1]s,%[2]s,,,,,,":                   "no shoe",
		"D1,1,2026-03-02,A,,,,,,,,":                            "no file",
		"D1,1,,A,%[1]s,%[2]s,,,,,,":                            "no day",
		"D1,0,2026-03-02,A,%[1]s,%[2]s,,,,,,":                  `visit "0": a number from 1`,
		"D1,1,2026-04-02,A,%[1]s,%[2]s,,,,,,":                  "day 2026-04-02 lies in the future",
		"D1,1,0000-01-01,A,%[1]s,%[2]s,,,,,,":                  "day 0000-01-01 lies before 1970-01-01: is the year right?",
		"D1,1,2026-03-02,A,%[1]s,,,,,,,":                       "no file of the right foot, which the study records",
		"D1,1,2026-03-02,A,%[1]s,%[1]s,,,,,,":                  "%[1]s is in line 2 already",
		"D1,1,2026-03-02,A,%[1]s,%[2]s,2026-03-09T10:00,,,,,,": "13 fields, and the first line names 12 columns",
		"D1,1,2026-03-02,A,%[1]s,%[2]s,2026-03-09T10:00,,,,,":  "started 2026-03-09T10:00 is not on day 2026-03-02",
		"D1,1,2026-03-02,A,%[1]s,%[2]s,,live,,,,":              "feedback live is practice: it enters no study",
		"D1,1,2026-03-02,A,%[1]s,%[2]s,,,6-2,,,":               "press",
		"D1,1,2026-03-02,A,%[1]s,%[2]s,,,,7,,":                 "marks 7: the mark in the left shoe",
		"D1,1,2026-03-02,A,%[1]s,%[2]s,,,,,R-01,":              "strip R-01 is not for the left foot",
		"D1,1,2026-03-02,A,%[1]s,%[2]s,,,,,L-01,L-01":          "it is for the left foot, and so is strip L-01",
		"D1,1,2026-03-02,A,short.csv,%[2]s,,,,,,":              "short.csv",
		"D1,1,2026-03-02,A,.,%[2]s,,,,,,":                      "line 2",
	} {
		_, said, err := l.load(t.Context(), header, strings.NewReplacer("%[1]s", a, "%[2]s", b).Replace(line))
		assert.ErrorIs(t, err, manifest.ErrProblems, line)
		assert.Contains(t, said, strings.ReplaceAll(want, "%[1]s", a), line)
	}
	assert.Empty(t, l.recordings())

	_, said, err := l.load(t.Context(), header, "D1,1,2026-03-09,A,x.csv,y.csv,,,,,,", "D1,2,2026-03-02,A,"+a+","+b+",,,,,,", "D2,x,2026-03-02,A,,,,,,,,")
	assert.ErrorIs(t, err, manifest.ErrProblems)
	assert.Contains(t, said, "line 2: open x.csv: no such file", "each file that is missing")
	assert.Contains(t, said, "line 2: open y.csv: no such file")
	assert.Contains(t, said, "line 3: D1, visit 2 is on 2026-03-02, before visit 1 on 2026-03-09")
	assert.NotContains(t, said, "no visit", "what is no number is said once")

	for head, want := range map[string]string{
		"":                                    "empty",
		"dancer,visit,shoe,left,\nD1,1,A,x,":  "column 5 has no name: name it or remove it",
		"dancer,visit,shoe,left\nD\xe9,1,A,x": "not UTF-8: save it as CSV in UTF-8",
		"dancer,visit,shoe,left\n":            "no line under",
		"dancer,shoe,left\nD1,A,x":            "the columns dancer and visit are needed",
		"dancer,visit,left\nD1,1,x":           "one of the columns shoe and label",
		"dancer,visit,shoe,label,left\nD1":    "one of the columns shoe and label",
		"dancer,visit,shoe\nD1,1,A":           "left and right for CSV files",
		"dancer,visit,visit,shoe,left\nD1":    "column visit is there twice",
		"dancer,visit,shoe,left\n\"D1,1,A,":   "line 2: a quotation mark is not closed",
	} {
		_, _, err := l.load(t.Context(), head)
		assert.ErrorContains(t, err, want, head)
	}
}

// For any text Read returns an error, or a table with its valid lines and the problems of
// the others.
func FuzzRead(f *testing.F) {
	f.Add("dancer,visit,day,shoe,left\nD1,1,2026-03-02,A,x.csv\n")
	f.Add("\xef\xbb\xbfdancer,visit,label,recording\r\n\"D\"\"1\",2,P,x.mcap\r\nD1\r\n")
	path := filepath.Join(f.TempDir(), "manifest.csv")
	f.Fuzz(func(t *testing.T, text string) {
		require.NoError(t, os.WriteFile(path, []byte(text), 0o666))
		table, err := manifest.Read(t.Context(), path)
		if err != nil {
			return
		}
		require.NotZero(t, len(table.Lines)+len(table.Problems))
		for _, l := range table.Lines {
			require.Greater(t, l.N, 1)
			require.GreaterOrEqual(t, l.Mounting, 0)
		}
	})
}
