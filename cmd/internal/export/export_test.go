package export_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io/fs"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/jsonschema-go/jsonschema"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/dataset"
	"aplomb/analyze/keys"
	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/analyze/study"
	"aplomb/analyze/track"
	"aplomb/cmd/internal/export"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/recordtest"
	"aplomb/device"
	"aplomb/device/recording"
	"aplomb/plots/words"
)

var began = time.Date(2026, 3, 14, 10, 0, 0, 0, time.UTC)

// fixture is two recordings of one visit, measured once for all tests.
var fixture struct {
	once  sync.Once
	dir   string
	paths []string
	made  *export.Collection
}

func collection(t *testing.T) *export.Collection {
	fixture.once.Do(func() {
		fixture.dir, _ = os.MkdirTemp("", "export")
		for i, shoe := range []string{"A", "B"} {
			path := filepath.Join(fixture.dir, shoe+".mcap")
			recordtest.Record(t, path, shoe, shoe, began.Add(time.Duration(i)*time.Hour), float64(5*i)-6)
			fixture.paths = append(fixture.paths, path)
		}
		var said bytes.Buffer
		var err error
		fixture.made, err = export.Collect(t.Context(), &said, files(fixture.paths...), true)
		require.NoError(t, err)
		require.Zero(t, fixture.made.Failed, said.String())
	})
	require.NotNil(t, fixture.made)
	return fixture.made
}

func TestMain(m *testing.M) {
	code := m.Run()
	os.RemoveAll(fixture.dir)
	os.Exit(code)
}

// files returns recordings of a visit of a declared study, which was compared in full.
func files(paths ...string) lookup.Kept {
	s := dataset.Study{Unblinded: true, Before: 2, Study: study.Study{
		Name: "spring", Declared: "2026-03-01", Seed: 11, Measure: measure.Over, Feet: [2]bool{true, true}, Visits: 1, Mountings: 1, Releves: 2, Stop: 2,
		Shoes: []study.Shoe{{Code: "A", Label: "Q"}, {Code: "B", Label: "P"}},
		Rows:  []study.Row{{Dancer: "D7", Order: []string{"A", "B"}}, {Dancer: "D8", Order: []string{"B", "A"}}},
		Changes: []study.Change{
			{Day: "2026-03-15", Kind: study.DropOut, Reason: "moved away", Row: 2, From: "D6", To: "D8"},
			{Day: "2026-03-16", Kind: study.KeyShown, What: study.ComparedInFull},
			{Day: "2026-03-17", Kind: study.Amendment, What: "visits: 1, before 2", Reason: "the floor is renewed"},
		},
	}}
	visit := logbook.Visit{Dancer: "D7", Day: logbook.DayOf(began), Number: 1, Study: s.Name, OfStudy: 1}
	return lookup.Kept{Recordings: lookup.Recordings{Paths: paths}, Visits: []logbook.Visit{visit}, Studies: []dataset.Study{s}}
}

// write writes the package of a collection in both formats.
func write(t *testing.T, c *export.Collection, dir string) {
	o := export.Options{Dir: dir, Formats: export.Formats(), Tables: []string{export.AllTables, "cop", "maps"}, Creator: "Example, A.", Licence: "CC-BY-4.0"}
	require.NoError(t, o.Check())
	require.NoError(t, export.Write(t.Context(), o, c))
}

// Values have the types of their fields, are among a field's stated values, and are
// absent only as documented; no two rows have the same key, and references exist.
func TestTablesKeepTheirSchemas(t *testing.T) {
	keys := map[string]map[string]bool{}
	c := collection(t)
	tables := c.Source.Tables()
	for i := range c.Source.Units[0].Recordings {
		r := &c.Source.Units[0].Recordings[i]
		for _, name := range []string{"cop", "maps"} {
			part := r.Part(name)
			assert.NotEmpty(t, part.Rows, name)
			part.Name += r.ID
			tables = append(tables, part)
		}
	}
	for _, table := range tables {
		keys[table.Name] = map[string]bool{}
		for _, row := range table.Rows {
			for i, f := range table.Fields {
				v := row[i]
				if v == nil {
					assert.NotEmpty(t, f.Absent, "%s: %s is absent", table.Name, f.Name)
					continue
				}
				switch f.Type {
				case dataset.Integer:
					assert.IsType(t, int64(0), v, f.Name)
				case dataset.Number:
					require.IsType(t, 0.0, v, f.Name)
					assert.False(t, math.IsNaN(v.(float64)) || math.IsInf(v.(float64), 0), f.Name)
				case dataset.Boolean:
					assert.IsType(t, false, v, f.Name)
				default:
					require.IsType(t, "", v, f.Name)
					assert.NotEmpty(t, v, f.Name)
				}
				if f.Values != nil {
					assert.Contains(t, f.Values, v, f.Name)
				}
			}
			key := values(table, row, table.Key)
			assert.False(t, keys[table.Name][key], "%s: %q twice", table.Name, key)
			keys[table.Name][key] = true
		}
	}
	for _, table := range tables {
		for _, r := range table.References {
			for _, row := range table.Rows {
				if len(r.Fields) == 1 && value(table, row, r.Fields[0]) == nil {
					continue // no value refers to nothing
				}
				assert.True(t, keys[r.Table][values(table, row, r.Fields)], "%s: %v is in no row of %s", table.Name, r.Fields, r.Table)
			}
		}
	}
}

// rowsOf returns the rows of a table of a source, as texts.
func rowsOf(s *dataset.Source, table string) (all []string) {
	for _, t := range s.Tables() {
		for _, row := range t.Rows {
			if t.Name == table {
				all = append(all, strings.ReplaceAll(strings.Trim(fmt.Sprint(row), "[]"), "<nil>", "-"))
			}
		}
	}
	return all
}

// The tables of a study have what was declared. They name a dancer only where the dancer
// is in the package, and neither labels nor the seed before the shoes were compared.
func TestStudies(t *testing.T) {
	s := collection(t).Source
	declared := rowsOf(&s, "studies")
	require.Len(t, declared, 1)
	assert.Contains(t, declared[0], "spring 2026-03-01 over_mm medial_mm contact_share load_n load_share both")
	assert.Contains(t, declared[0], "11 true true 2", "seed, compared, changed after the comparison, recordings before the declaration")
	assert.Equal(t, []string{"spring 1 1 D7 A Q", "spring 1 2 D7 B P", "spring 2 1 - B P", "spring 2 2 - A Q"}, rowsOf(&s, "study_orders"))
	changes := rowsOf(&s, "study_changes")
	require.Len(t, changes, 3)
	assert.Contains(t, changes[0], "drop-out 2 - moved away")
	for _, gone := range []string{"D6", "D8"} {
		assert.NotContains(t, strings.Join(changes, ""), gone)
	}

	s.Studies = slices.Clone(s.Studies)
	s.Studies[0].Unblinded = false
	assert.Equal(t, []string{"spring 1 1 D7 A -", "spring 1 2 D7 B -", "spring 2 1 - B -", "spring 2 2 - A -"}, rowsOf(&s, "study_orders"))
	assert.NotContains(t, rowsOf(&s, "studies")[0], "11")
}

// values returns the values of some fields of a row, as one text.
func values(table dataset.Table, row []any, fields []string) string {
	var all []string
	for _, name := range fields {
		v, _ := json.Marshal(value(table, row, name))
		all = append(all, string(v))
	}
	return strings.Join(all, " ")
}

func value(table dataset.Table, row []any, name string) any {
	return row[slices.IndexFunc(table.Fields, func(f dataset.Field) bool { return f.Name == name })]
}

// The four parts of an uncertainty add up to the whole (JCGM 100:2008, 5.1.2), and the
// row has the numbers of the hold.
func TestParts(t *testing.T) {
	c := collection(t)
	releves := c.Source.Tables()[0]
	require.Equal(t, "releves", releves.Name)
	require.Len(t, releves.Rows, 8, "two recordings, two rises, two feet")
	at := 0
	for _, r := range c.Source.Units[0].Recordings {
		for i := range r.Result.Releves {
			row, one := releves.Rows[at], &r.Result.Releves[i]
			at++
			require.Equal(t, measure.Measured, one.Status)
			for _, m := range measure.Budgeted {
				sum := 0.0
				for _, part := range []string{"_own", "_mounting", "_strip", "_shape"} {
					u := value(releves, row, "u_"+m.Symbol()+part).(float64)
					sum += u * u
				}
				assert.InEpsilon(t, one.Budget[m].U, math.Sqrt(sum), 1e-9, m.Symbol())
				assert.InEpsilon(t, one.Budget[m].U, value(releves, row, "u_"+m.Symbol()), 1e-12)
			}
			assert.Equal(t, one.OverMM, value(releves, row, "over_mm"))
			assert.Equal(t, int64(one.N), value(releves, row, "n"))
			assert.Equal(t, string(one.Verdict), value(releves, row, "verdict"))
			assert.Equal(t, *one.LoadShare, value(releves, row, "load_share"))
		}
	}
	assert.Equal(t, int64(4), value(releves, releves.Rows[7], "order"), "the fourth rise of the visit")
}

// The phases of a trace last as long as in the relevés, and in a hold the mean of the
// frames is near the number of the hold. The cells of a map carry its load.
func TestFrames(t *testing.T) {
	c := collection(t)
	r := &c.Source.Units[0].Recordings[0]
	cop, maps := r.Part("cop"), r.Part("maps")
	for i := range r.Result.Releves {
		one := &r.Result.Releves[i]
		n, over, load := 0.0, 0.0, 0.0
		for _, row := range cop.Rows {
			if value(cop, row, "foot") == one.Foot.String() && value(cop, row, "n") == int64(one.N) && value(cop, row, "phase") == "hold" {
				n++
				over += value(cop, row, "over_mm").(float64)
				load += value(cop, row, "load_n").(float64)
			}
		}
		assert.InDelta(t, one.HoldS*100, n, 3, "frames at 100 Hz")
		assert.InDelta(t, one.OverMM, over/n, 1, "mm")
		assert.InEpsilon(t, one.LoadN, load/n, 0.15)

		sum, at, of := 0.0, 0.0, r.Meta.Sides[one.Foot].Strip.CellArea()
		for _, row := range maps.Rows {
			if value(maps, row, "foot") == one.Foot.String() && value(maps, row, "n") == int64(one.N) {
				force := value(maps, row, "kpa").(float64) * of / 1000
				sum += force
				at += force * value(maps, row, "cell_over_mm").(float64)
			}
		}
		assert.InEpsilon(t, one.LoadN, sum, 0.3, "cells beside the platform read too")
		assert.InDelta(t, one.OverMM, at/sum, 1.5, "mm")
	}
}

// Packages of the same recordings are identical in every byte, in any order of naming,
// and only their owner can read them.
func TestSameBytes(t *testing.T) {
	c := collection(t)
	one, other := filepath.Join(t.TempDir(), "one"), filepath.Join(t.TempDir(), "other")
	write(t, c, one)
	again, err := export.Collect(t.Context(), &bytes.Buffer{}, files(fixture.paths[1], fixture.paths[0], fixture.paths[1]), true)
	require.NoError(t, err)
	assert.Zero(t, again.Failed, "a recording that is named twice is there once")
	write(t, again, other)

	sums := map[string]string{}
	for line := range strings.Lines(read(t, filepath.Join(one, "SHA256SUMS"))) {
		sum, path, _ := strings.Cut(strings.TrimSpace(line), "  ")
		sums[path] = sum
	}
	found := 0
	require.NoError(t, filepath.WalkDir(one, func(path string, e fs.DirEntry, err error) error {
		require.NoError(t, err)
		info, err := e.Info()
		require.NoError(t, err)
		assert.Zero(t, info.Mode().Perm()&0o077, path)
		if e.IsDir() {
			return nil
		}
		name, err := filepath.Rel(one, path)
		require.NoError(t, err)
		data := read(t, path)
		assert.True(t, data == read(t, filepath.Join(other, name)), name)
		if name != "SHA256SUMS" {
			found++
			sum := sha256.Sum256([]byte(data))
			assert.Equal(t, hex.EncodeToString(sum[:]), sums[filepath.ToSlash(name)], name)
		}
		return nil
	}))
	assert.Len(t, sums, found)
}

func read(t *testing.T, path string) string {
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	return string(data)
}

// If a recording changed after it was measured, no package is written.
func TestChangedMeanwhile(t *testing.T) {
	dir := t.TempDir()
	path, out := filepath.Join(dir, "a.mcap"), filepath.Join(dir, "package")
	collection(t)
	require.NoError(t, os.WriteFile(path, []byte(read(t, fixture.paths[0])), 0o600))
	c, err := export.Collect(t.Context(), &bytes.Buffer{}, files(path), false)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, []byte(read(t, fixture.paths[1])), 0o600))
	o := export.Options{Dir: out, Formats: []string{"csv", "csv"}, Tables: []string{export.AllTables}}
	assert.ErrorContains(t, export.Write(t.Context(), o, c), "a.mcap changed while it was exported")
	assert.NoDirExists(t, out)
}

// Visits of one day are distinct even if the recordings do not name their visit:
// mountings of two visits are no repeated mountings.
func TestVisitsOfADay(t *testing.T) {
	collection(t)
	again := filepath.Join(t.TempDir(), "again.mcap")
	recordtest.Record(t, again, "A", "A", began.Add(2*time.Hour), -6)
	effect := func(visits ...string) mounting.Effect {
		p := files(fixture.paths[0], again)
		for i, visit := range visits {
			p.Entries = append(p.Entries, logbook.Recording{ID: int64(i + 1), Dancer: "D7", VisitName: visit, Day: "2026-03-14"})
		}
		c, err := export.Collect(t.Context(), &bytes.Buffer{}, p, false)
		require.NoError(t, err)
		return c.Source.Units[0].Comparison.Mountings[measure.Over]
	}
	together, apart := effect("2026-03-14", "2026-03-14"), effect("2026-03-14", "2026-03-14-2")
	assert.Equal(t, 2.0, together.DOF-apart.DOF, "two mountings on each of two feet")
}

// A table read from CSV and from Parquet equals the written one, value by value.
func TestTablesAreReadBack(t *testing.T) {
	for _, m := range collection(t).Made(export.Formats()) {
		if m.Schema == nil || m.Schema.Name == "frames" { // it is large and has no types of its own
			continue
		}
		want, err := m.Table(t.Context())
		require.NoError(t, err)
		var file bytes.Buffer
		require.NoError(t, m.Write(t.Context(), &file))
		got, err := export.ReadTable(file.Bytes(), m.Format, *m.Schema)
		require.NoError(t, err)
		assert.Equal(t, want.Fields, got.Fields, m.Path)
		require.True(t, len(want.Rows)+len(got.Rows) == 0 || reflect.DeepEqual(want.Rows, got.Rows), m.Path)
	}
}

// The table of frames has every cell of every frame, with the recorded counts.
func TestCounts(t *testing.T) {
	c := collection(t)
	made := c.Made([]string{"parquet"})
	m := made[slices.IndexFunc(made, func(m export.Made) bool { return m.Schema != nil && m.Schema.Name == "frames" })]
	frames, err := m.Table(t.Context())
	require.NoError(t, err)
	r, err := recording.Open(t.Context(), fixture.paths[0])
	require.NoError(t, err)
	defer r.Close()
	var frame device.Frame
	at := 0
	for ; r.Next(&frame) == nil; at += len(frame.Counts) {
		strip := r.Meta().Sides[frame.Foot].Strip
		for k, want := range frame.Counts {
			row, column := strip.RowCol(k)
			got := frames.Rows[at+k]
			if got[0] != frame.Foot.String() || got[3] != int64(row+1) || got[4] != int64(column+1) || got[5] != int64(want) {
				require.Fail(t, "another cell", "%v in row %d", got, at+k)
			}
		}
	}
	assert.Len(t, frames.Rows, at)
	last := frames.Rows[at-1]
	assert.InDelta(t, float64(last[1].(int64)-1)/100, last[2], 0.1, "frames at 100 Hz")
}

// The reference implementation of Frictionless Data Package for JavaScript finds the
// package valid with its references, and detects a wrong value; DuckDB reads CSV and
// Parquet, and pandas CSV: every sum is the same to the last digit.
func TestReadByOthers(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "package")
	write(t, collection(t), dir)
	var described struct {
		Resources []struct {
			Name, Path string
			Schema     *struct{ Fields []dataset.Field }
		}
	}
	require.NoError(t, json.Unmarshal([]byte(read(t, filepath.Join(dir, "datapackage.json"))), &described))
	want := map[string]map[string]float64{}
	for _, table := range described.Resources {
		if table.Schema == nil {
			continue
		}
		rows, err := csv.NewReader(strings.NewReader(read(t, filepath.Join(dir, table.Path)))).ReadAll()
		require.NoError(t, err)
		sums := map[string]float64{"count of rows": float64(len(rows) - 1)}
		for i, f := range table.Schema.Fields {
			if f.Type != dataset.Number && f.Type != dataset.Integer {
				continue
			}
			for _, row := range rows[1:] {
				if row[i] != "" {
					v, err := strconv.ParseFloat(row[i], 64)
					require.NoError(t, err)
					sums[f.Name] += v
				}
			}
		}
		want[table.Name] = sums
	}

	require.Len(t, want, len(collection(t).Source.Tables())+4, "two recordings with cop and maps")

	t.Run("javascript", func(t *testing.T) {
		node := needs(t, "node")
		at, err := filepath.Abs("../../../.ci/readback")
		require.NoError(t, err)
		if _, err := os.Stat(filepath.Join(at, "node_modules", "datapackage")); err != nil {
			t.Skip("no .ci/readback/node_modules: run npm ci there")
		}
		var got struct {
			Errors                     []string
			Frictionless, CSV, Parquet map[string]map[string]float64
			Queries                    []int
		}
		args := []string{filepath.Join(at, "datapackage.mjs"), dir}
		for _, block := range regexp.MustCompile("(?s)```sql\n(.*?)```").FindAllStringSubmatch(read(t, "../../aplomb/guide/dataset.md"), -1) {
			args = append(args, block[1])
		}
		require.NoError(t, json.Unmarshal(run(t, node, args...), &got))
		assert.Empty(t, got.Errors)
		assert.Equal(t, want, got.Frictionless)
		assert.Equal(t, want, got.CSV)
		assert.Equal(t, want, got.Parquet)
		assert.Equal(t, []int{2, 4, 2, 4, 0, 2, 1, 8}, got.Queries, "share, means, feet, changes, repeatability, clear differences, seats, holds")

		if os.Getenv("APLOMB_LONG") == "" {
			return
		}
		releves := filepath.Join(dir, "tables", "releves.csv")
		require.NoError(t, os.WriteFile(releves, []byte(strings.Replace(read(t, releves), ",left,", ",middle,", 1)), 0o600))
		got.Errors = nil
		require.NoError(t, json.Unmarshal(run(t, node, filepath.Join(at, "datapackage.mjs"), dir), &got))
		assert.NotEmpty(t, got.Errors, "no foot is called middle")
	})
	t.Run("pandas", func(t *testing.T) {
		const python = "/usr/bin/python3" // the one with the packages of the distribution
		if exec.Command(python, "-c", "import pandas").Run() != nil {
			t.Skip("no pandas on this machine")
		}
		var got map[string]map[string]float64
		require.NoError(t, json.Unmarshal(run(t, python, "testdata/sums.py", dir), &got))
		for table, sums := range got {
			assert.Subset(t, want[table], sums, table)
		}
		assert.Len(t, got, len(collection(t).Source.Tables()))
	})
}

func needs(t *testing.T, command string) string {
	path, err := exec.LookPath(command)
	if err != nil {
		t.Skip("no " + command + " on this machine")
	}
	return path
}

func run(t *testing.T, command string, args ...string) []byte {
	var wrong bytes.Buffer
	cmd := exec.Command(command, args...)
	cmd.Stderr = &wrong
	out, err := cmd.Output()
	require.NoError(t, err, wrong.String())
	return out
}

// The JSON of analyze and compare is valid by the JSON Schema of its output, according to
// an independent validator, and invalid with an unknown key.
func TestJSONKeepsItsSchema(t *testing.T) {
	c := collection(t)
	unit := c.Source.Units[0]
	written := map[string][]any{"compare": {unit.Comparison}}
	for _, r := range unit.Recordings {
		words.Fill(r.Result)
		written["analyze"] = append(written["analyze"], r.Result)
	}
	written["track"] = []any{followUp(t)}
	for _, o := range keys.Outputs() {
		if written[o.Name] == nil {
			continue
		}
		data, err := json.Marshal(o.Schema())
		require.NoError(t, err)
		var schema jsonschema.Schema
		require.NoError(t, json.Unmarshal(data, &schema))
		compiled, err := schema.Resolve(nil)
		require.NoError(t, err)
		for _, v := range written[o.Name] {
			data, err := json.Marshal(v)
			require.NoError(t, err)
			var value map[string]any
			require.NoError(t, json.Unmarshal(data, &value))
			require.NoError(t, compiled.Validate(value))
			value["more"] = 1
			require.Error(t, compiled.Validate(value))
		}
		delete(written, o.Name)
	}
	require.Empty(t, written, "each has a schema")
}

// followUp follows a measure over three visits with two mountings each.
func followUp(t *testing.T) *track.FollowUp {
	var rows []track.Row
	for i := range 36 {
		visit, mounting, n := i/12, i/6%2, i%6+1
		at := began.AddDate(0, 0, 10*visit).Add(time.Duration(mounting) * time.Hour)
		rows = append(rows, track.Row{
			Dancer: "D7", Visit: at.Format(time.DateOnly), Recording: strconv.Itoa(i / 6), At: at, Foot: device.Left, Shoe: "A", Hours: float64(visit),
			Strip: "L-01", Mounting: strconv.Itoa(i / 6), Support: "barre", N: n, Value: math.Sin(float64(i)) + float64(mounting)/3, U: 0.3, DOF: 20, USeat: 0.2, Evidence: measure.EvidencePress,
		})
	}
	f, err := track.Follow(measure.Over, "D7", rows)
	require.NoError(t, err)
	require.NotNil(t, f.Series[0].Wear)
	require.NotNil(t, f.Series[0].Points[2].OfChange)
	return f
}
