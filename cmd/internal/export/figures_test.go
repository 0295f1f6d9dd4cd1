package export_test

import (
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/dataset"
	"aplomb/analyze/measure"
	"aplomb/cmd/internal/export"
	"aplomb/device"
)

// made is a relevé of a table that is made up.
type made struct {
	dancer, visit, day, shoe, foot, recording, mounting, feedback string
	verdict                                                       measure.Verdict
	n                                                             int
	measured, discarded                                           bool
	over                                                          float64
}

// used reports whether a relevé counts.
func (m *made) used() bool { return m.measured && !m.discarded && m.feedback != device.FeedbackLive }

// madeUp returns three rises on both feet in each of the given number of recordings, of
// dancers with two shoes, two visits and two mountings.
func madeUp(recordings int) []made {
	random := rand.New(rand.NewPCG(17, 1))
	var all []made
	var ofDancer, ofVisit float64
	for r := range recordings {
		dancer, shoe, visit := r/8, r/4%2, r/2%2
		day := began.AddDate(0, 3*visit, dancer%28).Format(time.DateOnly)
		one := made{dancer: fmt.Sprintf("D%d", dancer), visit: day, day: day, shoe: string(rune('A' + shoe)), recording: fmt.Sprintf("r%d", r)}
		if r%9 == 0 {
			one.feedback = device.FeedbackLive
		}
		if r%8 == 0 {
			ofDancer = random.NormFloat64()
		}
		if r%2 == 0 {
			ofVisit = random.NormFloat64()
		}
		for f, foot := range device.Feet {
			one.foot, one.mounting = foot.String(), fmt.Sprintf("r%d-%s", r, foot)
			at := random.NormFloat64() + ofDancer + ofVisit + float64(shoe+f)
			for n := range 3 {
				one.n = n + 1
				one.over = at + random.NormFloat64()/3
				one.measured, one.discarded = random.IntN(20) > 0, random.IntN(20) == 0
				one.verdict = []measure.Verdict{measure.OverTheBox, measure.PulledBack, measure.TooCloseToCall}[random.IntN(3)]
				all = append(all, one)
			}
		}
	}
	return all
}

// table returns the table of the invented relevés. Columns that no query here reads have
// no values.
func table(t *testing.T, all []made) dataset.Table {
	schemas := dataset.Schemas()
	releves := dataset.Table{Schema: schemas[slices.IndexFunc(schemas, func(s dataset.Schema) bool { return s.Name == "releves" })]}
	for _, m := range all {
		values := map[string]any{
			"dancer": m.dancer, "visit": m.visit, "day": m.day, "shoe": m.shoe, "foot": m.foot, "recording": m.recording, "mounting": m.mounting,
			"n": int64(m.n), "discarded": m.discarded, "status": string(measure.Aborted), "verdict": nil, "over_mm": nil, "feedback": nil,
		}
		if m.measured {
			values["status"], values["verdict"], values["over_mm"] = string(measure.Measured), string(m.verdict), m.over
		}
		if m.feedback != "" {
			values["feedback"] = m.feedback
		}
		row := make([]any, len(releves.Fields))
		for i, f := range releves.Fields {
			row[i] = values[f.Name]
			delete(values, f.Name)
		}
		require.Empty(t, values, "columns that the table lacks")
		releves.Rows = append(releves.Rows, row)
	}
	return releves
}

// sample is values of one group.
type sample []float64

func (s sample) mean() float64 {
	sum := 0.0
	for _, v := range s {
		sum += v
	}
	return sum / float64(len(s))
}

// squares returns the sum of squares about the mean.
func (s sample) squares() (sum float64) {
	mean := s.mean()
	for _, v := range s {
		sum += (v - mean) * (v - mean)
	}
	return sum
}

// standardError returns the standard error of the mean.
func (s sample) standardError() float64 {
	n := float64(len(s))
	return math.Sqrt(s.squares() / (n - 1) / n)
}

// grouped returns the values of all relevés that count, by key.
func grouped[K comparable](all []made, key func(*made) K) map[K]sample {
	of := map[K]sample{}
	for i := range all {
		if m := &all[i]; m.used() {
			of[key(m)] = append(of[key(m)], m.over)
		}
	}
	return of
}

// means returns the means of groups, by another key.
func means[K, L comparable](of map[K]sample, key func(K) L) map[L]sample {
	all := map[L]sample{}
	for k, s := range of {
		all[key(k)] = append(all[key(k)], s.mean())
	}
	return all
}

// figures returns the headline figures: the rows of the first five queries of the guide.
func figures(all []made) [][][]any {
	share := map[string]sample{}
	pairs := map[[2]string]sample{} // by shoe and recording
	for i := range all {
		m := &all[i]
		if !m.used() {
			continue
		}
		over := 0.0
		if m.verdict == measure.OverTheBox {
			over = 1
		}
		share[m.shoe] = append(share[m.shoe], over)
		for k := range all[i+1 : min(i+4, len(all))] {
			if r := &all[i+1+k]; m.foot == "left" && r.foot == "right" && r.recording == m.recording && r.n == m.n && r.used() {
				key := [2]string{m.shoe, m.recording}
				pairs[key] = append(pairs[key], m.over-r.over)
			}
		}
	}
	// dancer, shoe, foot, day, mounting
	mounted := grouped(all, func(m *made) [5]string { return [5]string{m.dancer, m.shoe, m.foot, m.day, m.mounting} })
	var rows [5][][]any
	for shoe, s := range share {
		rows[0] = append(rows[0], []any{shoe, float64(len(s)), s.mean()})
	}
	for k, s := range means(mounted, func(k [5]string) [2]string { return [2]string{k[1], k[2]} }) {
		rows[1] = append(rows[1], []any{k[0], k[1], float64(len(s)), s.mean(), s.standardError()})
	}
	for shoe, s := range means(pairs, func(k [2]string) string { return k[0] }) {
		rows[2] = append(rows[2], []any{shoe, float64(len(s)), s.mean(), s.standardError()})
	}
	visited := means(mounted, func(k [5]string) [4]string { return [4]string(k[:4]) })
	before := map[string]float64{}
	for _, k := range slices.SortedFunc(maps.Keys(visited), func(a, b [4]string) int { return slices.Compare(a[:], b[:]) }) {
		who := strings.Join(k[:3], " ")
		var change any
		if b, ok := before[who]; ok {
			change = visited[k].mean() - b
		}
		before[who] = visited[k].mean()
		rows[3] = append(rows[3], []any{k[0], k[1], k[2], k[3], visited[k].mean(), change})
	}
	dof, squares := map[string]float64{}, map[string]float64{}
	for k, s := range visited {
		dof[k[2]] += float64(len(s) - 1)
		squares[k[2]] += s.squares()
	}
	for foot, n := range dof {
		rows[4] = append(rows[4], []any{foot, n, math.Sqrt(squares[foot] / n)})
	}
	for _, r := range rows {
		slices.SortFunc(r, func(a, b []any) int {
			for i := range a {
				x, text := a[i].(string)
				y, _ := b[i].(string)
				if c := cmp.Compare(x, y); !text || c != 0 {
					return c
				}
			}
			return 0
		})
	}
	return rows[:]
}

// The guide's SQL gives in DuckDB the headline figures that a plain program computes, from
// the tables of 200 recordings, in the long form of 10,000.
func TestHeadlineFigures(t *testing.T) {
	node := needs(t, "node")
	const queries = "../../../.ci/readback/queries.mjs"
	if _, err := os.Stat("../../../.ci/readback/node_modules/@duckdb"); err != nil {
		t.Skip("no .ci/readback/node_modules: run npm ci there")
	}
	recordings := 200
	if os.Getenv("APLOMB_LONG") != "" {
		recordings = 10_000
	}
	all := madeUp(recordings)
	path := filepath.Join(t.TempDir(), "releves.parquet")
	file, err := os.Create(path)
	require.NoError(t, err)
	require.NoError(t, export.WriteParquet(file, table(t, all)))
	require.NoError(t, file.Close())

	guide := read(t, "../../aplomb/guide/dataset.md")
	view := regexp.MustCompile(`(?m)^    (CREATE VIEW releves AS SELECT \* FROM )'study/tables/releves.parquet'$`).FindStringSubmatch(guide)
	require.NotNil(t, view)
	statements := []string{view[1] + "'" + path + "'"}
	for _, block := range regexp.MustCompile("(?s)```sql\n(.*?)```").FindAllStringSubmatch(guide, 5) {
		statements = append(statements, block[1])
	}
	input, err := json.Marshal(statements)
	require.NoError(t, err)
	cmd := exec.Command(node, queries)
	cmd.Stdin = bytes.NewReader(input)
	cmd.Stderr = os.Stderr
	began := time.Now()
	out, err := cmd.Output()
	require.NoError(t, err)
	var got [][][]any
	require.NoError(t, json.Unmarshal(out, &got))
	want := figures(all)
	require.Len(t, got, len(want))
	for q := range want {
		require.Len(t, got[q], len(want[q]), statements[q+1])
		for i, row := range want[q] {
			require.Len(t, got[q][i], len(row))
			for k, v := range row {
				if x, ok := v.(float64); ok {
					require.InDelta(t, x, got[q][i][k], 1e-9*max(1, x), "sums are added up in another order: %s", statements[q+1])
				} else {
					require.Equal(t, v, got[q][i][k], statements[q+1])
				}
			}
		}
		assert.NotEmpty(t, want[q])
	}
	if testing.Verbose() {
		t.Logf("%d recordings, %d rows of relevés, %d rows of results, %.1f s", recordings, len(all), len(got[3]), time.Since(began).Seconds())
	}
}
