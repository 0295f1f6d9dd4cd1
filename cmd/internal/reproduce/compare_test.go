package reproduce

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/analyze/dataset"
	"aplomb/cmd/internal/export"
)

// On one architecture numbers must be equal; on two they may differ by 1e-9 of their
// value or of their unit. Whole numbers and texts must be equal.
func TestSame(t *testing.T) {
	for _, c := range []struct {
		a, b         any
		exact        bool
		equal, close bool
	}{
		{1.5, 1.5, true, true, false},
		{1.5, math.Nextafter(1.5, 2), true, false, false},
		{1.5, math.Nextafter(1.5, 2), false, true, true},
		{0.0, 0.9e-9, false, true, true},
		{0.0, 1.1e-9, false, false, false},
		{2e6, 2e6 + 1.9e-3, false, true, true},
		{2e6, 2e6 + 2.1e-3, false, false, false},
		{int64(3), int64(4), false, false, false},
		{"over", "not_over", false, false, false},
		{"one\r\ntwo", "one\ntwo", true, true, false},
		{nil, nil, true, true, false},
		{nil, 0.0, false, false, false},
		{false, nil, false, false, false},
	} {
		equal, close := same(c.a, c.b, c.exact)
		assert.Equal(t, []bool{c.equal, c.close}, []bool{equal, close}, "%v and %v", c.a, c.b)
	}
}

var schema = dataset.Schema{Name: "releves", Key: []string{"recording"}, Fields: []dataset.Field{
	{Name: "recording", Type: dataset.Text}, {Name: "dancer", Type: dataset.Text}, {Name: "visit", Type: dataset.Text},
	{Name: "over_mm", Type: dataset.Number, Unit: "mm"},
}}

// Rows are compared by their keys, in any order: every value of the package is equal, is
// listed, or depends on excluded recordings, and no other value is listed.
func TestCompareTables(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := &pack{report: &Report{}, visits: map[string]visit{}, out: map[visit]bool{}}
		then, now := dataset.Table{Schema: schema}, dataset.Table{Schema: schema}
		n := rapid.IntRange(0, 6).Draw(t, "rows")
		same, differ, left := 0, 0, 0
		for i := range n {
			id, of := string(rune('a'+i)), visit{"D7", string(rune('0' + i))}
			p.visits[id] = of
			row := func(over any) []any { return []any{id, of.dancer, of.name, over} }
			switch kind := rapid.IntRange(0, 4).Draw(t, "kind"); kind {
			case 0:
				then.Rows, now.Rows = append(then.Rows, row(1.5)), append(now.Rows, row(1.5))
				same++
			case 1:
				then.Rows, now.Rows = append(then.Rows, row(1.5)), append(now.Rows, row(2.0))
				differ++
			case 2:
				then.Rows = append(then.Rows, row(1.5))
				differ++
			case 3:
				now.Rows = append(now.Rows, row(1.5))
				differ++
			case 4:
				then.Rows = append(then.Rows, row(1.5))
				p.out[of] = true
				left++
			}
		}
		if len(now.Rows) > 1 {
			now.Rows = rapid.Permutation(now.Rows).Draw(t, "order")
		}
		p.compareTables("tables/releves.csv", then, now)
		require.Len(t, p.report.Differences, differ)
		require.Equal(t, Values{Numbers: left, Others: 3 * left}, p.report.Left)
		require.Equal(t, same, p.report.Same.Numbers)
	})
}

// A difference states its position and size.
func TestDifferenceInWords(t *testing.T) {
	p := &pack{report: &Report{}}
	of := func(id string, over any) dataset.Table {
		return dataset.Table{Schema: schema, Rows: [][]any{{id, nil, "2026-03-14", over}}}
	}
	p.compareTables("t.csv", of("a", 1.5), of("a", 1.25))
	p.compareTables("t.csv", of("a", nil), of("a", 1.25))
	p.compareTables("t.csv", of("a", 1.5), of("b", 1.5))
	var said []string
	for _, d := range p.report.Differences {
		said = append(said, d.String())
	}
	assert.Equal(t, []string{
		"t.csv, recording=a: over_mm is 1.5, computed 1.25, by -0.25 mm",
		"t.csv, recording=a: over_mm is absent, computed 1.25",
		"t.csv, recording=a: in the package only",
		"t.csv, recording=b: computed, and not in the package",
	}, said)
}

// Any bytes are read as a table or refused with an error.
func FuzzReadTable(f *testing.F) {
	f.Add([]byte("recording,over_mm\na,1.5\n"), false)
	f.Add([]byte("PAR1\x15\x04PAR1"), true)
	f.Fuzz(func(t *testing.T, data []byte, columnar bool) {
		format := "csv"
		if columnar {
			format = "parquet"
		}
		table, err := export.ReadTable(data, format, schema)
		if err != nil {
			return
		}
		for _, row := range table.Rows {
			require.Len(t, row, len(table.Fields))
		}
	})
}
