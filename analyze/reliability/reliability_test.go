package reliability_test

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/analyze/measure"
	"aplomb/analyze/reliability"
	"aplomb/analyze/stats"
	"aplomb/analyze/track"
	"aplomb/device"
)

var began = time.Date(2026, 3, 2, 17, 0, 0, 0, time.UTC)

// row returns a row of a visit and a mounting, both counted from 0.
func row(dancer, shoe string, visit, mounting, n int, value float64) track.Row {
	return track.Row{
		Dancer: dancer, Shoe: shoe, Visit: fmt.Sprint("day ", visit), Mounting: fmt.Sprint("mounting ", mounting), Strip: "L-01",
		Recording: fmt.Sprint(dancer, shoe, visit, mounting), At: began.AddDate(0, 0, visit).Add(time.Duration(mounting) * time.Hour), N: n, Value: value,
	}
}

// published returns the columns of a file of published data.
func published(t *testing.T, name string) [][]float64 {
	f, err := os.Open("../../testdata/" + name)
	require.NoError(t, err)
	defer f.Close()
	table, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	columns := make([][]float64, len(table[0]))
	for _, r := range table[1:] {
		for i, text := range r {
			v, err := strconv.ParseFloat(text, 64)
			require.NoError(t, err)
			columns[i] = append(columns[i], v)
		}
	}
	return columns
}

func left(t *testing.T, rows []track.Row, opt reliability.Options) reliability.Foot {
	r, err := reliability.Of(measure.Over, rows, opt)
	require.NoError(t, err)
	require.Len(t, r.Feet, 1)
	require.Equal(t, track.Left, r.Feet[0].Side)
	_, err = json.Marshal(r)
	require.NoError(t, err)
	return r.Feet[0]
}

func has(f reliability.Foot, of string) (why string) {
	for _, no := range f.Refused {
		if no.Of == of {
			return no.Why
		}
	}
	return ""
}

// Shrout & Fleiss, Psychological Bulletin 86 (1979) 420-428: subjects stand for dancers, and
// judges for days.
func TestRatersOfShroutAndFleiss(t *testing.T) {
	columns := published(t, "raters.csv")
	var rows []track.Row
	for judge, ratings := range columns[1:] {
		for i, v := range ratings {
			rows = append(rows, row(fmt.Sprint("D", i), "A", judge, 0, 1, v))
		}
	}
	f := left(t, rows, reliability.Options{})
	assert.Equal(t, reliability.Visits, f.Between)
	assert.Equal(t, &reliability.Rows{Of: reliability.OfDancer, N: 6, Columns: 4}, f.Rows)
	for k, want := range []float64{0.17, 0.29, 0.71} {
		assert.InDelta(t, want, f.ICC[k].Value, 5e-3)
	}
	assert.InDelta(t, math.Sqrt(6.26), f.SEM.SEM, 1e-3)
	assert.Equal(t, 18.0, f.SEM.DOF)
	assert.InDelta(t, 2.1009*math.Sqrt2*math.Sqrt(6.26), f.SEM.MDC95, 5e-3) // t(0.975, 18), any table
	assert.Contains(t, has(f, "components of variance"), "no mounting has two relevés")
}

// Bland & Altman, Lancet i (1986) 307-310: the meters stand for days.
func TestPeakFlowOfBlandAndAltman(t *testing.T) {
	columns := published(t, "peakflow.csv")
	var rows []track.Row
	for meter := range 2 {
		for i, v := range columns[1+meter] {
			rows = append(rows, row(fmt.Sprint("D", i), "A", meter, 0, 1, v))
		}
	}
	a := left(t, rows, reliability.Options{}).Agreement
	require.Len(t, a.Pairs, 17)
	assert.InDelta(t, -2.1, a.Bias, 0.05)
	assert.InDelta(t, 38.8, a.SD, 0.05)
	assert.InDelta(t, -79.7, a.Bias-2*a.SD, 0.1)
	assert.Equal(t, reliability.Pair{Dancer: "D0", Shoe: "A", Mean: 503, Difference: -18}, a.Pairs[0])
	assert.True(t, a.LowCI[0] < a.Lower && a.Lower < a.LowCI[1] && a.LowCI[1] < a.BiasCI[0] && a.UpCI[0] < a.Upper && a.Upper < a.UpCI[1])
}

// NIST Statistical Reference Datasets, SiRstv: instruments stand for mountings.
func TestInstrumentsOfSiRstv(t *testing.T) {
	columns := published(t, "sirstv.csv")
	var rows []track.Row
	for i, v := range columns[1] {
		rows = append(rows, row("D7", "A", 0, int(columns[0][i]), i, v))
	}
	f := left(t, rows, reliability.Options{})
	require.Len(t, f.Components, 2)
	assert.Equal(t, reliability.OfMounting, f.Components[0].Of)
	assert.InEpsilon(t, (1.27865654e-2-1.0831828e-2)/5, f.Components[0].Variance, 1e-4)
	assert.InEpsilon(t, 1.0831828e-2, f.Components[1].Variance, 1e-5)
	assert.Zero(t, f.Components[0].CI95[0])
	assert.Equal(t, "there is only one", has(f, "dancer"))
	assert.Contains(t, has(f, "ICC and limits of agreement"), "there is one row, D7 in shoe A")
	assert.Equal(t, 4.0, f.SEM.DOF, "between mountings, where nobody came twice")
}

// study returns rows of dancers in shoes on days, with two mountings each.
func study(g *rand.Rand, dancers, shoes, days int, sd [5]float64) (rows []track.Row) {
	for d := range dancers {
		ofDancer := sd[0] * g.NormFloat64()
		for s := range shoes {
			ofShoe := sd[1] * g.NormFloat64()
			for day := range days {
				ofDay := sd[2] * g.NormFloat64()
				for m := range 2 {
					ofMounting := sd[3] * g.NormFloat64()
					for n := range 3 {
						rows = append(rows, row(fmt.Sprint("D", d), fmt.Sprint("S", s), day, m, n, ofDancer+ofShoe+ofDay+ofMounting+sd[4]*g.NormFloat64()))
					}
				}
			}
		}
	}
	return rows
}

func TestComponentsOfAStudy(t *testing.T) {
	g := rand.New(rand.NewPCG(18, 1))
	sd := [5]float64{2, 1, 0.6, 0.4, 0.3}
	rows := study(g, 8, 2, 2, sd)
	rows = slices.DeleteFunc(rows, func(track.Row) bool { return g.Float64() < 0.1 }) // unbalanced
	f := left(t, rows, reliability.Options{})
	require.Len(t, f.Components, 5)
	shares := 0.0
	for k, c := range f.Components {
		assert.True(t, c.CI95[0] < sd[k] && sd[k] < c.CI95[1], "%+v", c)
		shares += c.Share
	}
	assert.InDelta(t, 1, shares, 1e-12)
	assert.Contains(t, has(f, "ICC and limits of agreement"), "choose one shoe with --shoe")
	assert.Nil(t, f.Rows)
	assert.Equal(t, 16.0, f.SEM.DOF)

	// One shoe has a row a dancer, one dancer a row a shoe.
	one := left(t, slices.DeleteFunc(slices.Clone(rows), func(r track.Row) bool { return r.Shoe != "S1" }), reliability.Options{})
	assert.Equal(t, &reliability.Rows{Of: reliability.OfDancer, N: 8, Columns: 2}, one.Rows)
	assert.Equal(t, []reliability.Level{reliability.OfShoe}, one.Components[0].With)
	alone := left(t, slices.DeleteFunc(slices.Clone(rows), func(r track.Row) bool { return r.Dancer != "D1" }), reliability.Options{})
	assert.Equal(t, &reliability.Rows{Of: reliability.OfShoe, N: 2, Columns: 2}, alone.Rows)
	assert.Equal(t, reliability.OfShoe, alone.Components[0].Of)

	// A dancer who came once is left out of the table, and the rest stays.
	short := slices.DeleteFunc(slices.Clone(rows), func(r track.Row) bool { return r.Shoe != "S1" || r.Dancer == "D3" && r.Visit == "day 1" })
	f = left(t, short, reliability.Options{})
	assert.Equal(t, &reliability.Rows{Of: reliability.OfDancer, N: 7, Columns: 2, LeftOut: 1}, f.Rows)
	assert.Equal(t, 7.0, f.SEM.DOF)
	f = left(t, short, reliability.Options{Between: reliability.Mountings})
	assert.Equal(t, &reliability.Rows{Of: reliability.OfDancer, N: 8, Columns: 2}, f.Rows)
	assert.Equal(t, 15.0, f.SEM.DOF, "of every visit")
}

// Strips crossed with shoes are a component; strips used by one dancer each are not.
func TestStrips(t *testing.T) {
	rows := study(rand.New(rand.NewPCG(18, 2)), 6, 1, 2, [5]float64{2, 0, 0.3, 0.3, 0.3})
	assert.Equal(t, "there is only one", has(left(t, rows, reliability.Options{}), "strip"))
	for i := range rows {
		rows[i].Strip = "L-0" + rows[i].Dancer
	}
	assert.Contains(t, has(left(t, rows, reliability.Options{}), "strip"), "strips cannot be told from dancers")
	for i := range rows {
		if rows[i].Strip = "L-01"; rows[i].Mounting == "mounting 1" {
			rows[i].Strip, rows[i].Value = "L-02", rows[i].Value+3
		}
	}
	f := left(t, rows, reliability.Options{})
	assert.Equal(t, 2, f.Strips)
	at := slices.IndexFunc(f.Components, func(c reliability.Component) bool { return c.Of == reliability.OfStrip })
	require.GreaterOrEqual(t, at, 0)
	assert.InDelta(t, 3/math.Sqrt2, f.Components[at].SD, 0.3)
	assert.Less(t, f.Components[at].DOF, 1.5)
}

// Visits outside the baseline are excluded where it is marked, because they contain
// deliberate changes.
func TestOnlyBaselineWhereItIsMarked(t *testing.T) {
	rows := study(rand.New(rand.NewPCG(18, 3)), 3, 1, 3, [5]float64{2, 0, 0.3, 0.3, 0.3})
	for i := range rows {
		rows[i].Baseline = rows[i].Dancer == "D1" && rows[i].Visit != "day 2"
	}
	r, err := reliability.Of(measure.Over, rows, reliability.Options{})
	require.NoError(t, err)
	assert.Equal(t, 1, r.NotBaseline)
	assert.Equal(t, 8, r.Feet[0].Visits)
}

func TestLittleOrOddData(t *testing.T) {
	_, err := reliability.Of(measure.Over, nil, reliability.Options{})
	assert.ErrorIs(t, err, reliability.ErrNoRows)
	_, err = reliability.Of(measure.Over, []track.Row{row("D7", "A", 0, 0, 1, math.NaN())}, reliability.Options{})
	assert.ErrorContains(t, err, "NaN is no number")

	one := left(t, []track.Row{row("D7", "A", 0, 0, 1, 2), row("D7", "A", 0, 0, 2, 3)}, reliability.Options{})
	assert.Empty(t, one.Components)
	assert.Contains(t, has(one, "SEM, ICC and limits of agreement"), "no shoe of a dancer has two mountings")

	same := []track.Row{}
	for d := range 3 {
		for day := range 2 {
			for n := range 2 {
				same = append(same, row(fmt.Sprint("D", d), "A", day, 0, n, 5))
			}
		}
	}
	f := left(t, same, reliability.Options{})
	assert.Contains(t, has(f, "components of variance"), "the same value")
	assert.Contains(t, has(f, "ICC(1,1)"), "nothing varies")
	assert.Zero(t, f.SEM.SEM)

	// Days that differ by less than relevés predict: the component is 0, not negative.
	var flat []track.Row
	for day := range 3 {
		for n := range 4 {
			flat = append(flat, row("D7", "A", day, 0, n, float64(n)))
		}
	}
	f = left(t, flat, reliability.Options{})
	assert.Equal(t, reliability.OfDay, f.Components[0].Of)
	assert.Equal(t, []reliability.Level{reliability.OfMounting}, f.Components[0].With)
	assert.Zero(t, f.Components[0].Variance)
	assert.Positive(t, f.Components[0].CI95[1])

	// Load share is one number for both feet.
	for i := range flat {
		both := flat[i]
		both.Foot = device.Right
		flat = append(flat, both)
	}
	r, err := reliability.Of(measure.LoadShare, flat, reliability.Options{})
	require.NoError(t, err)
	require.Len(t, r.Feet, 1)
	assert.Equal(t, track.Both, r.Feet[0].Side)
	assert.Equal(t, 12, r.Feet[0].Releves)
}

// The order of the rows has no effect, and a full table has the SEM of the analysis of
// variance.
func TestOrderOfRows(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		g := rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "seed"), 1))
		dancers, days := rapid.IntRange(2, 5).Draw(rt, "dancers"), rapid.IntRange(2, 3).Draw(rt, "days")
		var rows []track.Row
		table := make([][]float64, dancers)
		for d := range table {
			for day := range days {
				v := g.NormFloat64()
				table[d] = append(table[d], v)
				rows = append(rows, row(fmt.Sprint("D", d), "A", day, 0, 1, v))
			}
		}
		first, err := reliability.Of(measure.Over, rows, reliability.Options{})
		require.NoError(rt, err)
		assert.InDelta(rt, math.Sqrt(stats.SplitTwoWay(table).MSWithin), first.Feet[0].SEM.SEM, 1e-9)
		g.Shuffle(len(rows), func(i, k int) { rows[i], rows[k] = rows[k], rows[i] })
		again, err := reliability.Of(measure.Over, rows, reliability.Options{})
		require.NoError(rt, err)
		assert.InDelta(rt, first.Feet[0].ICC[1].Value, again.Feet[0].ICC[1].Value, 1e-9)
		assert.InDelta(rt, first.Feet[0].Agreement.SD, again.Feet[0].Agreement.SD, 1e-9)
	})
}
