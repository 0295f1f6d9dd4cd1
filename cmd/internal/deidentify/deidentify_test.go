package deidentify_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/foxglove/mcap/go/mcap"
	"github.com/parquet-go/parquet-go"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/dataset"
	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	declared "aplomb/analyze/study"
	"aplomb/cmd/internal/deidentify"
	"aplomb/cmd/internal/export"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/recordtest"
	"aplomb/device"
	"aplomb/device/correction"
	"aplomb/device/recording"
)

const keyText = "000102030405060708090a0b0c0d0e0f101112131415161718191a1b1c1d1e1f"

var began = time.Date(2026, 3, 14, 17, 4, 5, 678_901_234, time.UTC)

// study is three recordings of two dancers, with names and notes in every place that has
// room for one, measured as they are and written anew; made once for all tests.
type study struct {
	dir      string // of this test binary
	original lookup.Kept
	as       *export.Collection // measured as recorded
	anew     *deidentify.Rewritten
	made     *export.Collection // measured as written anew
	out      string             // the package
	said     bytes.Buffer
}

var fixture struct {
	once sync.Once
	study
}

func TestMain(m *testing.M) {
	code := m.Run()
	os.RemoveAll(fixture.dir)
	os.Exit(code)
}

func writeKey(t *testing.T, text string) string {
	path := filepath.Join(t.TempDir(), "key")
	require.NoError(t, os.WriteFile(path, []byte(text+"\n"), 0o600))
	return path
}

func key(t *testing.T, text string) *deidentify.Key {
	k, err := deidentify.ReadKey(t.Context(), writeKey(t, text))
	require.NoError(t, err)
	return k
}

func made(t *testing.T) *study {
	fixture.once.Do(func() {
		s := &fixture.study
		var err error
		s.dir, err = os.MkdirTemp("", "SECRETFOLDER")
		require.NoError(t, err)
		base := filepath.Join(s.dir, "base.mcap")
		recordtest.Record(t, base, "A", "A", began, -4)
		for i, one := range []struct {
			dancer, visit string
			days          int
		}{{"Zephyrine-1138", "2026-03-14", 0}, {"Zephyrine-1138", "2026-03-21-2", 7}, {"Aurelia-2187", "2026-03-14", 0}} {
			at := filepath.Join(s.dir, fmt.Sprintf("SECRETFILE-%d.mcap", i))
			name(t, base, at, one.dancer, one.visit, time.Duration(one.days*24+i)*time.Hour, i == 2)
			s.original.Paths = append(s.original.Paths, at)
			s.original.Entries = append(s.original.Entries, logbook.Recording{ID: 987650001 + int64(i), Dancer: one.dancer, VisitName: one.visit, Day: logbook.Day(one.visit[:10])})
		}
		remark(t, s.original.Paths[0])
		years := 4.75
		s.original.Dancers = []logbook.Dancer{
			{Code: "Aurelia-2187", BirthYear: 1987, Note: "SECRETNOTE of a dancer", Consent: logbook.ConsentSharing, ConsentDay: "2026-02-17"},
			{Code: "Zephyrine-1138", BirthYear: 2009, PointeYears: &years, Watched: "left"},
		}
		two := 2
		s.original.Visits = []logbook.Visit{
			{ID: 1, Dancer: "Aurelia-2187", Day: "2026-03-14", Number: 1},
			{ID: 2, Dancer: "Zephyrine-1138", Day: "2026-03-14", Number: 1, MassKG: 53.7, Floor: "SECRETFLOOR", Position: "SECRETPOSITION", Note: "SECRETNOTE", ChoiceWhy: "SECRETREASON",
				Choice: "SECRETSHOE-7", PainBefore: &two, PainWhere: []logbook.Pain{{Foot: device.Left, Site: "heel", Level: 2}, {Foot: device.Left, Site: "SECRETSITE", Level: 1}}},
			{ID: 3, Dancer: "Zephyrine-1138", Day: "2026-03-21", Number: 2, Study: "SECRETSTUDY", OfStudy: 1},
		}
		s.original.Studies = []dataset.Study{{Unblinded: true, Before: 1, Study: declared.Study{
			Name: "SECRETSTUDY", Declared: "2026-03-13", Seed: 987650009, Measure: measure.Over, Feet: [2]bool{true, true}, Visits: 1, Mountings: 1, Releves: 2, Stop: 1,
			Shoes:   []declared.Shoe{{Code: "SECRETSHOE-7", Label: "SECRETLABEL"}},
			Rows:    []declared.Row{{Dancer: "Zephyrine-1138", Order: []string{"SECRETSHOE-7"}}},
			Changes: []declared.Change{{Day: "2026-03-16", Kind: declared.DropOut, Reason: "SECRETREASON", Row: 1, From: "Aurelia-2187", To: "Zephyrine-1138"}},
		}}}
		s.anew, err = deidentify.Rewrite(t.Context(), &s.said, s.original, key(t, keyText), false)
		require.NoError(t, err)
		collect := func(p lookup.Kept) *export.Collection {
			c, err := export.Collect(t.Context(), &s.said, p, true)
			require.NoError(t, err)
			return c
		}
		s.as, s.made = collect(s.original), collect(s.anew.Kept)
		s.made.Source.AgeBands, s.made.About = s.anew.AgeBands, s.anew.Report.Markdown()
		s.out = filepath.Join(s.dir, "out")
		o := export.Options{Dir: s.out, Formats: export.Formats(), Tables: []string{export.AllTables, "cop", "maps"}}
		require.NoError(t, export.Write(t.Context(), o, s.made))
		require.NoError(t, s.anew.Remove())
		require.Empty(t, s.said.String())
	})
	require.NotNil(t, fixture.made)
	return &fixture.study
}

// name writes a copy of the recording at from under a dancer's name, with names in every
// place. hostClock means that the strips have no clock, so that the time of a frame is
// that of its arrival.
func name(t *testing.T, from, to, dancer, visit string, later time.Duration, hostClock bool) {
	r, err := recording.Open(t.Context(), from)
	require.NoError(t, err)
	defer r.Close()
	m := r.Meta()
	m.Dancer, m.Visit, m.Started, m.MassKG = dancer, visit, m.Started.Add(later), 53.7
	m.Software, m.Support, m.Position, m.Floor = "SECRETSOFTWARE 1.0", "barre", "SECRETPOSITION", "SECRETFLOOR"
	for f, side := range m.Sides {
		one, strip, shoe := *side, *side.Strip, *side.Shoe
		strip.Name, shoe.Code, shoe.Padding = fmt.Sprintf("SERIAL-00417-%d", f), "SECRETSHOE-7", "SECRETPADDING"
		strip.Calibration.Date = device.Date{Year: 2025, Month: 11, Day: 23}
		strip.Calibration.SetHash(&strip)
		one.Strip, one.Shoe, one.Fixing, one.Padding, one.Mounting = &strip, &shoe, "SECRETFIXING", "SECRETPADDING", "SERIAL-00417 mounted "+m.Started.Format(time.RFC3339Nano)
		if hostClock {
			one.Clock = "host"
		}
		m.Sides[f] = &one
	}
	w, err := recording.CreateDirect(to, m)
	require.NoError(t, err)
	var frame device.Frame
	first := true
	for {
		if err := r.Next(&frame); errors.Is(err, io.EOF) {
			break
		} else {
			require.NoError(t, err)
		}
		frame.ArrivalNS += later.Nanoseconds()
		if hostClock {
			frame.TimeUS = uint64(frame.ArrivalNS / 1000)
		}
		require.NoError(t, w.Write(&frame))
		if first {
			first = false
			require.NoError(t, w.WriteEvent(device.Event{TimeNS: frame.ArrivalNS, Foot: device.NoFoot, Kind: device.Note, Text: "SECRETEVENT"}))
			require.NoError(t, w.WriteEvent(device.Event{TimeNS: frame.ArrivalNS, Foot: device.Left, Kind: device.Reconnect, Cause: "SECRETCAUSE", Text: "strip SERIAL-00417 on port /dev/SECRETPORT"}))
		}
	}
	require.NoError(t, w.Close())
}

// remark adds every selectable remark to a recording, and words.
func remark(t *testing.T, at string) {
	e := correction.Entry{At: began.Add(time.Hour), Software: "SECRETSOFTWARE", Remark: &correction.Remark{Saw: []string{correction.Sickles, "SECRETSIGHT"}, Note: "SECRETREMARK", Comfort: 4, Pinches: []string{"heel", "SECRETPLACE"}}}
	c, err := recording.PrepareCorrection(t.Context(), at, "", e)
	require.NoError(t, err)
	require.NoError(t, c.Write())
}

// secrets returns everything in the study that must be in no byte of the package.
func secrets(t *testing.T, s *study) map[string]string {
	all := map[string]string{"SECRET": "words, paths and codes", "SERIAL": "strips", "Zephyrine": "a dancer", "Aurelia": "a dancer", "98765000": "numbers", "base.mcap": "a file"}
	for _, name := range []string{s.dir, filepath.Base(s.dir)} {
		all[name] = "a folder"
	}
	day := func(at time.Time) {
		all[at.UTC().Format(time.DateOnly)] = "a day"
		all[at.UTC().Format("02.01.2006")] = "a day"
		all[at.UTC().Format("20060102")] = "a day"
	}
	instant := func(ns int64) {
		b := binary.AppendUvarint(nil, uint64(ns)) // as protobuf has it
		all[string(b)] = "a host time in protobuf"
		all[string(binary.LittleEndian.AppendUint64(nil, uint64(ns)))] = "a host time in MCAP"
		all[strconv.FormatInt(ns, 10)] = "a host time"
		all[string(binary.AppendUvarint(nil, uint64(ns/1000)))] = "a host time as the clock of a strip"
	}
	hash := func(sum, what string) {
		raw, err := hex.DecodeString(sum)
		require.NoError(t, err)
		all[sum[:12]], all[string(raw[:8])] = what, what
	}
	for d := -1; d <= 8; d++ {
		day(began.AddDate(0, 0, d))
	}
	day(time.Date(2025, 11, 23, 0, 0, 0, 0, time.UTC))
	day(time.Date(2026, 2, 17, 0, 0, 0, 0, time.UTC))
	for _, u := range s.as.Source.Units {
		for _, r := range u.Recordings {
			all[r.ID] = "an id"
			hash(r.SHA256, "checksum of a recording")
			all[r.Meta.Started.Format("15:04:05")] = "a time of day"
			instant(r.Meta.Started.UnixNano())
			all[strconv.FormatInt(r.Meta.Started.Truncate(time.Second).UnixMicro(), 10)] = "a host time"
			for _, side := range r.Meta.Sides {
				hash(dataset.ContentOf(side.Shoe), "checksum of a shoe")
				hash(dataset.ContentOf(side.Strip), "checksum of a strip")
				all[side.Strip.Calibration.Hash] = "checksum of a calibration"
			}
		}
	}
	for _, at := range s.original.Paths {
		r, err := recording.Open(t.Context(), at)
		require.NoError(t, err)
		var f device.Frame
		for n := 0; ; n++ {
			if err := r.Next(&f); err != nil {
				break
			}
			if n%397 == 0 { // every search costs a walk through the package
				instant(f.ArrivalNS)
			}
		}
		if c := r.Correction(); c != nil {
			hash(c.SHA256, "checksum of a correction")
		}
		r.Close()
	}
	delete(all, "")
	return all
}

// everything returns the bytes of a file and its decompressed content.
func everything(t *testing.T, path string) (all [][]byte) {
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	all = append(all, data)
	switch filepath.Ext(path) {
	case ".mcap":
		lexer, err := mcap.NewLexer(bytes.NewReader(data), &mcap.LexerOptions{})
		require.NoError(t, err)
		var b bytes.Buffer
		for {
			_, record, err := lexer.Next(nil)
			if errors.Is(err, io.EOF) {
				break
			}
			require.NoError(t, err)
			b.Write(record)
		}
		require.Greater(t, b.Len(), len(data), "the chunks are unpacked")
		all = append(all, b.Bytes())
	case ".parquet":
		f, err := parquet.OpenFile(bytes.NewReader(data), int64(len(data)))
		require.NoError(t, err)
		var b bytes.Buffer
		for _, group := range f.RowGroups() {
			for _, chunk := range group.ColumnChunks() {
				date := f.Schema().Fields()[chunk.Column()].Type().String() == "DATE"
				pages := chunk.Pages()
				for {
					p, err := pages.ReadPage()
					if errors.Is(err, io.EOF) {
						break
					}
					require.NoError(t, err)
					values := make([]parquet.Value, p.NumValues())
					n, err := p.Values().ReadValues(values)
					require.True(t, err == nil || errors.Is(err, io.EOF), "%v", err)
					for _, v := range values[:n] {
						if date && !v.IsNull() {
							fmt.Fprintln(&b, time.Unix(int64(v.Int32())*86400, 0).UTC().Format(time.DateOnly))
						} else {
							fmt.Fprintln(&b, v)
						}
					}
				}
				require.NoError(t, pages.Close())
			}
		}
		all = append(all, b.Bytes())
	}
	return all
}

// No name or code of a dancer is in any byte of the package, also where it is compressed,
// or in a file name. The same search finds them in a package that names dancers.
func TestNothingIsLeft(t *testing.T) {
	s := made(t)
	unwanted := secrets(t, s)
	found := func(dir string) map[string]bool {
		found := map[string]bool{}
		require.NoError(t, filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
			require.NoError(t, err)
			name, err := filepath.Rel(dir, path)
			require.NoError(t, err)
			where := [][]byte{[]byte(name)}
			if !e.IsDir() {
				where = append(where, everything(t, path)...)
			}
			for _, data := range where {
				for secret, what := range unwanted {
					if bytes.Contains(data, []byte(secret)) {
						found[what] = true
						if dir == s.out {
							t.Errorf("%s: %s (%q)", name, what, secret)
						}
					}
				}
			}
			return nil
		}))
		return found
	}
	found(s.out)

	named := filepath.Join(t.TempDir(), "named")
	require.NoError(t, export.Write(t.Context(), export.Options{Dir: named, Formats: export.Formats(), Tables: []string{export.AllTables}}, s.as))
	kinds := map[string]bool{}
	for _, what := range unwanted {
		kinds[what] = true
	}
	for _, elsewhere := range []string{"a folder", "a file"} { // no package has these
		delete(kinds, elsewhere)
	}
	assert.Equal(t, kinds, found(named))
}

// Results and remarks are unchanged; days, order and conditions stay distinct.
func TestNumbersStay(t *testing.T) {
	s := made(t)
	old, now := dancers(s.as), dancers(s.made)
	for code, recordings := range old {
		moved := now[newCode(t, s, code)]
		require.Len(t, moved, len(recordings), code)
		for i, r := range recordings {
			m := moved[i]
			assert.Equal(t, r.Meta.Started.Sub(recordings[0].Meta.Started), m.Meta.Started.Sub(moved[0].Meta.Started), "intervals stay")
			require.Len(t, m.Result.Releves, len(r.Result.Releves))
			for k := range r.Result.Releves {
				before, after := &r.Result.Releves[k], &m.Result.Releves[k]
				for _, one := range measure.All() {
					x, ok := before.Value(one)
					y, has := after.Value(one)
					assert.Equal(t, ok, has)
					assert.Equal(t, x, y, one.Symbol())
				}
				assert.Equal(t, before.Verdict, after.Verdict)
				assert.Equal(t, before.Budget, after.Budget)
				assert.Equal(t, before.StartS, after.StartS)
			}
			codes := func(all []measure.Warning) (codes []measure.Code) {
				for _, w := range all {
					codes = append(codes, w.Code)
				}
				return codes
			}
			assert.Equal(t, codes(r.Result.Warnings), codes(m.Result.Warnings))
			assert.NotEqual(t, r.ID, m.ID)
		}
	}
	first := now[newCode(t, s, "Zephyrine-1138")][0]
	assert.Equal(t, correction.Remark{Saw: []string{correction.Sickles}, Comfort: 4, Pinches: []string{"heel"}}, first.Remark)
	assert.Equal(t, 55.0, first.Meta.MassKG)
	assert.NotEqual(t, first.Meta.Position, first.Meta.Floor)
	assert.NoError(t, first.Meta.Sides[0].Strip.Calibration.Intact(first.Meta.Sides[0].Strip), "the checksum is made anew")
}

// dancers returns the recordings of each dancer, in order.
func dancers(c *export.Collection) map[string][]*dataset.Recording {
	all := map[string][]*dataset.Recording{}
	for u := range c.Source.Units {
		for i := range c.Source.Units[u].Recordings {
			all[c.Source.Units[u].Dancer] = append(all[c.Source.Units[u].Dancer], &c.Source.Units[u].Recordings[i])
		}
	}
	return all
}

// newCode returns the new code of a dancer: the one with as many recordings.
func newCode(t *testing.T, s *study, old string) string {
	for code, recordings := range dancers(s.made) {
		if len(recordings) == len(dancers(s.as)[old]) {
			return code
		}
	}
	t.Fatalf("no dancer is %s", old)
	return ""
}

// The tables of people keep the fields that were selected.
func TestPeople(t *testing.T) {
	s := made(t)
	rows := map[string]map[string]any{}
	for _, table := range s.made.Source.Tables() {
		for _, row := range table.Rows {
			one := map[string]any{}
			for i, f := range table.Fields {
				one[f.Name] = row[i]
			}
			switch table.Name {
			case "dancers":
				rows[one["dancer"].(string)] = one
			case "visits":
				if one["pain_where"] != nil {
					rows["visit"] = one
				}
			case "mountings", "studies", "study_orders", "study_changes":
				rows[table.Name] = one
			case "checks":
				t.Error("a check of a strip")
			}
		}
	}
	z, a := rows[newCode(t, s, "Zephyrine-1138")], rows[newCode(t, s, "Aurelia-2187")]
	assert.Equal(t, []any{nil, "15-19", 4.0, "left", nil}, []any{z["birth_year"], z["age_band"], z["pointe_years"], z["watched"], z["consent"]})
	assert.Equal(t, []any{nil, "35-39", "sharing", nil, nil}, []any{a["birth_year"], a["age_band"], a["consent"], a["consent_day"], a["note"]})
	v := rows["visit"]
	assert.Equal(t, []any{"left heel 2, left 1", 55.0, nil, nil}, []any{v["pain_where"], v["mass_kg"], v["choice_why"], v["note"]})
	assert.Regexp(t, "^shoe-[0-9a-z]{10}$", v["choice"])
	of, order, change := rows["studies"], rows["study_orders"], rows["study_changes"]
	assert.Regexp(t, "^study-[0-9a-z]{10}$", of["study"])
	assert.Equal(t, []any{"over_mm", nil, nil, int64(1)}, []any{of["primary_measure"], of["declared"], of["seed"], of["recordings_before"]})
	assert.Equal(t, []any{of["study"], z["dancer"], v["choice"], nil}, []any{order["study"], order["dancer"], order["shoe"], order["label"]})
	assert.Equal(t, []any{"drop-out", int64(1), nil, nil}, []any{change["event"], change["study_row"], change["day"], change["reason"]})
	assert.InDelta(t, 111, rows["mountings"]["calibration_age_days"], 30, "from 23 November to 14 March")
}

// The package alone is enough to verify it and to recompute its results from its
// recordings.
func TestPackageIsWhole(t *testing.T) {
	s := made(t)
	sums, err := os.ReadFile(filepath.Join(s.out, "SHA256SUMS"))
	require.NoError(t, err)
	listed := 0
	for line := range strings.Lines(string(sums)) {
		sum, path, _ := strings.Cut(strings.TrimSpace(line), "  ")
		data, err := os.ReadFile(filepath.Join(s.out, filepath.FromSlash(path)))
		require.NoError(t, err)
		is := sha256.Sum256(data)
		assert.Equal(t, sum, hex.EncodeToString(is[:]), path)
		listed++
	}
	assert.Greater(t, listed, 30)
	var p measure.Provenance
	data, err := os.ReadFile(filepath.Join(s.out, "provenance.json"))
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(data, &p))
	require.Len(t, p.Inputs, 3)
	for _, in := range p.Inputs {
		assert.Contains(t, string(sums), in.SHA256+"  recordings/"+in.File)
		id, err := recording.Identity(t.Context(), filepath.Join(s.out, "recordings", in.File))
		require.NoError(t, err)
		assert.Equal(t, in.ID, id)
	}
	paths, err := filepath.Glob(filepath.Join(s.out, "recordings", "*.mcap"))
	require.NoError(t, err)
	slices.Reverse(paths)
	again, err := export.Collect(t.Context(), io.Discard, lookup.Kept{Recordings: lookup.Recordings{Paths: paths}}, true)
	require.NoError(t, err)
	tables := s.made.Source.Tables()
	for i, table := range again.Source.Tables() {
		if !slices.Contains([]string{"dancers", "visits", "studies", "study_orders", "study_changes"}, table.Name) { // what no recording says
			assert.Equal(t, tables[i].Rows, table.Rows, table.Name)
		}
	}
	readme, err := os.ReadFile(filepath.Join(s.out, "README.md"))
	require.NoError(t, err)
	for _, want := range []string{"## De-identification", "### Small groups", "- 1 dancer: age 15-19", "What may still identify a dancer", "99.6 %"} {
		assert.Contains(t, string(readme), want)
	}
}

// The same key gives the same codes and ids, also for a part of the recordings; another
// key gives others.
func TestSameKeySameCodes(t *testing.T) {
	s := made(t)
	part := lookup.Kept{Recordings: lookup.Recordings{Paths: s.original.Paths[1:2], Entries: s.original.Entries[1:2]}}
	ids := func(text string) (id, dancer, shoe string, days float64) {
		r, err := deidentify.Rewrite(t.Context(), io.Discard, part, key(t, text), false)
		require.NoError(t, err)
		defer r.Remove()
		require.Len(t, r.Kept.Paths, 1)
		id, err = recording.Identity(t.Context(), r.Kept.Paths[0])
		require.NoError(t, err)
		in, err := recording.Open(t.Context(), r.Kept.Paths[0])
		require.NoError(t, err)
		defer in.Close()
		m := in.Meta()
		assert.Regexp(t, "^[0-9]{4}-[0-9]{2}-[0-9]{2}-2$", m.Visit, "the second visit of the day")
		return id, m.Dancer, m.Sides[0].Shoe.Code, began.Sub(m.Started).Hours() / 24
	}
	id, dancer, shoe, days := ids(keyText)
	known := dancers(s.made)[dancer]
	require.Len(t, known, 2)
	assert.Equal(t, known[1].ID, id)
	assert.Equal(t, known[1].Meta.Sides[0].Shoe.Code, shoe)
	otherID, otherDancer, otherShoe, otherDays := ids("1" + keyText)
	assert.NotEqual(t, id, otherID)
	assert.NotEqual(t, dancer, otherDancer)
	assert.NotEqual(t, shoe, otherShoe)
	assert.Greater(t, max(days-otherDays, otherDays-days), 0.001)
}

// Requested words stay, and the report states it. Recordings that cannot be rewritten are
// named, and the rest is processed.
func TestWordsAndFailures(t *testing.T) {
	s := made(t)
	cut := filepath.Join(t.TempDir(), "cut.mcap")
	data, err := os.ReadFile(s.original.Paths[2])
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(cut, data[:len(data)-100], 0o600))
	var said bytes.Buffer
	p := lookup.Kept{Recordings: lookup.Recordings{Paths: []string{cut, s.original.Paths[0], filepath.Join(s.dir, "none.mcap")}}}
	r, err := deidentify.Rewrite(t.Context(), &said, p, key(t, keyText), true)
	require.NoError(t, err)
	defer r.Remove()
	assert.Equal(t, 2, r.Failed)
	assert.Contains(t, said.String(), "cut.mcap is left out: ")
	assert.Contains(t, said.String(), "never closed")
	assert.Contains(t, said.String(), "none.mcap is left out: ")
	require.Len(t, r.Kept.Paths, 1)
	in, err := recording.Open(t.Context(), r.Kept.Paths[0])
	require.NoError(t, err)
	defer in.Close()
	assert.Equal(t, "SECRETFLOOR", in.Meta().Floor)
	assert.Equal(t, "SECRETREMARK", in.Correction().Remark().Note)
	var printed bytes.Buffer
	r.Report.Print(&printed, "out/README.md")
	assert.Contains(t, printed.String(), "ARE KEPT")
	assert.NotContains(t, in.Meta().Dancer, "Zephyrine")
	for line := range strings.Lines(printed.String()) {
		assert.LessOrEqual(t, len([]rune(line)), 80+len("- ")+len("\n"), line)
	}
}
