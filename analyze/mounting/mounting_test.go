package mounting

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
	"aplomb/analyze/stats"
	"aplomb/device"
)

// rowsOf returns the rows of one group of mountings.
func rowsOf(dancer, group string, m measure.Measure, seatU float64, mountings ...[]float64) (rows []Row) {
	for i, values := range mountings {
		for _, v := range values {
			rows = append(rows, Row{Dancer: dancer, Group: group, Mounting: fmt.Sprint(i), Measure: m, Value: v, SeatU: seatU, Evidence: measure.EvidencePress})
		}
	}
	return rows
}

// NIST Statistical Reference Datasets, analysis of variance, SiRstv: certified mean
// squares 0.0127865654 between five instruments with five values each and 0.010831828
// within. Instruments stand for mountings.
func TestVarianceComponentOfSiRstv(t *testing.T) {
	f, err := os.Open("../../testdata/sirstv.csv")
	require.NoError(t, err)
	defer f.Close()
	table, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	instruments := make([][]float64, 5)
	for _, row := range table[1:] {
		i, err := strconv.Atoi(row[0])
		require.NoError(t, err)
		v, err := strconv.ParseFloat(row[1], 64)
		require.NoError(t, err)
		instruments[i-1] = append(instruments[i-1], v)
	}
	const between, within = 1.27865654e-2, 1.0831828e-2
	o := stats.SplitOneWay(instruments)
	assert.InEpsilon(t, between, o.MSBetween, 1e-11)
	assert.InEpsilon(t, within, o.MSWithin, 1e-11)
	assert.InEpsilon(t, 1.18046237440255, o.MSBetween/o.MSWithin, 1e-10)

	variance, term := excess(New(rowsOf("D7", "A", measure.Over, 0, instruments...)).strata[key{"D7", measure.Over}])
	assert.InEpsilon(t, (between-within)/5, variance, 1e-9)
	// Satterthwaite's degrees of freedom of a difference of mean squares (Biometrics
	// Bulletin 2 (1946) 110-114).
	dof := math.Pow(between-within, 2) / (between*between/4 + within*within/20)
	assert.InEpsilon(t, dof, variance*variance/term, 1e-9)
}

// The example Dyestuff of R's lme4 (Davies & Goldsmith, Statistical Methods in Research
// and Production (4th ed., 1972)): six batches with five yields each. Restricted maximum
// likelihood gives the variances 1764.05 between batches and 2451.25 within.
func TestVarianceComponentsOfDyestuff(t *testing.T) {
	batches := [][]float64{
		{1545, 1440, 1440, 1520, 1580}, {1540, 1555, 1490, 1560, 1495}, {1595, 1550, 1605, 1510, 1560},
		{1445, 1440, 1595, 1465, 1545}, {1595, 1630, 1515, 1635, 1625}, {1520, 1455, 1450, 1480, 1445},
	}
	assert.InDelta(t, 2451.25, stats.SplitOneWay(batches).MSWithin, 1e-9)
	variance, _ := excess(New(rowsOf("D7", "A", measure.Over, 0, batches...)).strata[key{"D7", measure.Over}])
	assert.InDelta(t, 1764.05, variance, 1e-6)
}

// With groups of one size the estimate is that of the analysis of variance, at least 0,
// and the seat's variance is subtracted from it.
func TestEffectIsThatOfTheAnalysisOfVariance(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		n, k := rapid.IntRange(2, 6).Draw(rt, "relevés"), rapid.IntRange(13, 20).Draw(rt, "mountings")
		seat := rapid.Float64Range(0, 1).Draw(rt, "seat")
		g := rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "seed"), 1))
		values := make([][]float64, k)
		for i := range values {
			at := g.NormFloat64()
			for range n {
				values[i] = append(values[i], at+g.NormFloat64())
			}
		}
		e := New(rowsOf("D7", "A", measure.Over, seat, values...)).Effect("D7", measure.Over)
		want := max(0, stats.SplitOneWay(values).Between()-seat*seat)
		assert.InDelta(t, want, e.SD*e.SD, 1e-9)
		assert.Positive(t, e.Term, "also where the effect is 0")
	})
}

// By hand: means 1 and 3 in one shoe, 5 and 6 in another have the sums of squares 2 and
// 0.5 about their means with one degree of freedom each. Relevés do not scatter, so all
// of the mean square, 1.25, is between mountings, and 0.25 of it the seat's.
func TestMountingsOfSeveralShoes(t *testing.T) {
	rows := append(rowsOf("D7", "A", measure.Over, 0.5, []float64{1, 1}, []float64{3, 3}), rowsOf("D7", "B", measure.Over, 0.5, []float64{5, 5}, []float64{6, 6})...)
	rows = append(rows, rowsOf("D7", "C", measure.Over, 0.5, []float64{50, 50})...) // one mounting shows nothing
	p := New(rows)
	s := p.strata[key{"D7", measure.Over}]
	require.Len(t, s, 1)
	assert.InDelta(t, 1.25, s[0].between, 1e-12)
	assert.InDelta(t, 0.25, s[0].expected, 1e-12)
	assert.Equal(t, 2.0, s[0].dof)
	for i := range rows {
		rows[i].Mounting = ""
	}
	assert.Empty(t, New(rows).strata, "nothing says which mountings differ")
}

// Loads scatter in proportion: 100 and 104 N in one shoe differ as much as 200 and 208 N.
func TestEffectInProportion(t *testing.T) {
	mountings := func(load float64) *Pool {
		all := slices.Repeat([][]float64{{load, load}}, 11)
		return New(rowsOf("D7", "A", measure.Load, 0, append(all, []float64{1.04 * load, 1.04 * load}, []float64{0.96 * load, 0.96 * load})...))
	}
	small, large := mountings(100), mountings(200)
	e := small.Effect("D7", measure.Load)
	assert.True(t, e.Relative)
	assert.InDelta(t, math.Sqrt(2*0.04*0.04/12), e.SD, 1e-12)
	assert.InDelta(t, e.SD, large.Effect("D7", measure.Load).SD, 1e-12)
	share := e.Share(250)
	assert.InDelta(t, 250*250*e.SD*e.SD, share.Variance, 1e-9)
	assert.InDelta(t, math.Pow(250, 4)*e.Term, share.Term, 1e-6)
}

func TestWhoseMountings(t *testing.T) {
	alike := []float64{0, 0.1}
	many := slices.Repeat([][]float64{alike}, 13)
	own := rowsOf("D7", "A", measure.Over, 0.2, alike, []float64{0.3, 0.4}, alike)
	assert.Equal(t, Effect{SD: 0.3, DOF: 2, From: Assumed, Term: math.Pow(0.3, 4) / 2}, round(New(nil).Effect("D7", measure.Over)))
	e := New(own).Effect("D7", measure.Over)
	assert.Equal(t, Assumed, e.From)
	assert.Equal(t, 4.0, e.DOF, "the assumption and two of the dancer's")
	assert.Less(t, e.SD, 0.3, "the dancer's differ by less")

	others := slices.Concat(own, rowsOf("D8", "A", measure.Over, 0.2, many...))
	e = New(others).Effect("D7", measure.Over)
	assert.Equal(t, OfLogbook, e.From)
	assert.Equal(t, 14.0, e.DOF)

	e = New(slices.Concat(others, rowsOf("D7", "B", measure.Over, 0.2, many...))).Effect("D7", measure.Over)
	assert.Equal(t, OfDancer, e.From)
	assert.Equal(t, 14.0, e.DOF)

	far := rowsOf("D7", "A", measure.Over, 0.2, alike, []float64{4, 4.1})
	for _, rows := range [][]Row{far, slices.Concat(far, rowsOf("D8", "A", measure.Over, 0.2, many...))} {
		e = New(rows).Effect("D7", measure.Over)
		assert.Equal(t, OfDancer, e.From, "they contradict the assumption and the other dancers")
		assert.Equal(t, 1.0, e.DOF)
		assert.InDelta(t, math.Sqrt(8-0.04-0.005/2), e.SD, 1e-9)
	}
}

// round rounds the numbers of an effect to nine digits.
func round(e Effect) Effect {
	of := func(v float64) float64 { return math.Round(v*1e9) / 1e9 }
	e.SD, e.Term = of(e.SD), of(e.Term)
	return e
}

// The scatter is tested as χ²: about 5 % of pools with the expected scatter are rejected,
// and most of those with four times that.
func TestScatter(t *testing.T) {
	share := func(sd float64) float64 {
		g, larger := rand.New(rand.NewPCG(1, 2)), 0
		for range 2000 {
			var rows []Row
			for _, m := range []measure.Measure{measure.Over, measure.Medial} {
				for group := range 4 {
					var values [2][]float64
					for i := range values {
						at := sd * g.NormFloat64()
						for range 6 {
							values[i] = append(values[i], at+0.5*g.NormFloat64())
						}
					}
					rows = append(rows, rowsOf("D7", fmt.Sprint(group), m, 0.2, values[:]...)...)
				}
			}
			if s := New(rows).Scatter("D7", measure.Over, measure.Medial); s.Larger() {
				larger++
			}
		}
		return float64(larger) / 2000
	}
	assert.InDelta(t, 0.05, share(math.Hypot(0.2, 0.3)), 0.015)
	assert.Greater(t, share(2), 0.99)
	assert.False(t, New(nil).Scatter("D7", measure.Over).Larger())
}

func TestEveryMeasureHasAnAssumption(t *testing.T) {
	for _, m := range measure.All() {
		assert.Positive(t, assumed[m].sd, m)
	}
}

func TestRowsOfRecordings(t *testing.T) {
	share := 0.4
	hold := func(over float64) *measure.Hold {
		return &measure.Hold{OverMM: over, LoadShare: &share, Effects: []measure.Effect{
			{Common: measure.OfMounting, Evidence: measure.EvidencePress, U: map[measure.Measure]measure.StandardUncertainty{measure.Over: {U: 0.2}}},
			{Common: measure.OfShape, U: map[measure.Measure]measure.StandardUncertainty{measure.Over: {U: 0.4}}},
		}}
	}
	side := &device.Side{Strip: &device.Strip{Name: "L-01"}, Shoe: &device.Shoe{Code: "A"}, Mounting: "m"}
	r := &measure.Result{
		Recording: measure.Recording{File: "a.mcap", Dancer: "D7"},
		Meta:      device.Metadata{Started: time.Date(2026, 3, 2, 17, 0, 0, 0, time.UTC), Sides: [2]*device.Side{side, side}},
		Releves: []measure.Releve{
			{N: 1, Foot: device.Left, FeetUp: 2, Status: measure.Measured, Hold: hold(-4)},
			{N: 1, Foot: device.Right, FeetUp: 2, Status: measure.Measured, Hold: hold(-5)},
			{N: 2, Foot: device.Left, FeetUp: 2, Status: measure.Aborted},
			{N: 3, Foot: device.Left, FeetUp: 2, Status: measure.Measured, Hold: hold(-6), Discarded: true},
		},
	}
	var over, shares []Row
	for _, row := range Rows([]*measure.Result{r}) {
		switch row.Measure {
		case measure.Over:
			over = append(over, row)
		case measure.LoadShare:
			shares = append(shares, row)
		}
	}
	require.Len(t, over, 2, "neither aborted nor discarded")
	assert.Equal(t, -4.0, over[0].Value)
	assert.Equal(t, "D7", over[0].Dancer)
	assert.Equal(t, "m", over[0].Mounting)
	assert.Equal(t, 0.2, over[0].SeatU, "what mountings have in common is none of their own")
	assert.Equal(t, measure.EvidencePress, over[0].Evidence)
	assert.NotEqual(t, over[0].Group, over[1].Group, "each foot by itself")
	assert.Len(t, shares, 1, "one number for both feet")
}

// The test of the scatter between mountings against R, computed there from the values; see
// testdata/scatter.R.
func TestScatterAgainstR(t *testing.T) {
	var r struct {
		Cases []struct {
			Group, Mounting, Value        []float64
			U, Observed, Expected, DOF, P float64
		}
	}
	data, err := os.ReadFile("testdata/scatter.json")
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(data, &r))
	require.Len(t, r.Cases, 4)
	for _, c := range r.Cases {
		var rows []Row
		for i, v := range c.Value {
			rows = append(rows, Row{Dancer: "D7", Group: fmt.Sprint(c.Group[i]), Mounting: fmt.Sprint(c.Mounting[i]), Measure: measure.Over, Value: v, SeatU: c.U, Evidence: measure.EvidencePress})
		}
		s := New(rows).Scatter("D7", measure.Over)
		assert.Equal(t, c.DOF, s.DOF)
		assert.InEpsilon(t, c.Observed, s.Observed, 1e-9)
		assert.InEpsilon(t, c.Expected, s.Expected, 1e-9)
		assert.InEpsilon(t, c.P, s.P, 1e-9)
		assert.Equal(t, c.P < 0.05, s.Larger())
	}
}
