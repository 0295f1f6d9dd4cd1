package stats

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Estimates are those of lme4, intervals those of fully written-out covariance matrices;
// see testdata/components.R.
func TestComponentsAgainstR(t *testing.T) {
	var r struct {
		Cases []struct {
			Name       string
			Values     []float64
			Nested     [][]int
			Crossed    []int
			SD, Lo, Hi []float64
		}
	}
	read(t, "components.json", &r)
	require.Len(t, r.Cases, 6)
	for _, c := range r.Cases {
		got, err := FitComponents(c.Values, Effects{c.Nested, c.Crossed})
		require.NoError(t, err, c.Name)
		require.Len(t, got, len(c.SD), c.Name)
		for k, one := range got {
			scale := c.Hi[k]
			assert.InDelta(t, c.SD[k], math.Sqrt(one.Variance), 1e-4*scale, "%s, %d", c.Name, k)
			assert.InDelta(t, c.Lo[k], one.SD95.Lo, 1e-4*scale, "%s, %d", c.Name, k)
			assert.InDelta(t, c.Hi[k], one.SD95.Hi, 1e-4*scale, "%s, %d", c.Name, k)
		}
	}
}

// With groups of one size, a positive estimate is that of the analysis of variance, and
// the residual has its degrees of freedom. Data: NIST Statistical Reference Datasets,
// analysis of variance, SiRstv.
func TestComponentsOfSiRstv(t *testing.T) {
	var groups []int
	for _, v := range column(t, "sirstv.csv", "instrument") {
		groups = append(groups, int(v))
	}
	got, err := FitComponents(column(t, "sirstv.csv", "resistance_ohm_cm"), Effects{Nested: [][]int{groups}})
	require.NoError(t, err)
	const between, within = 1.27865654e-2, 1.0831828e-2
	assert.InEpsilon(t, (between-within)/5, got[0].Variance, 1e-4)
	assert.InEpsilon(t, within, got[1].Variance, 1e-5)
	assert.InDelta(t, 20, got[1].DOF, 0.5)
	assert.Zero(t, got[0].SD95.Lo)
}

func TestComponentsAtTheirEdges(t *testing.T) {
	for _, values := range [][]float64{{1, 1, 2, 2}, {1}, nil} {
		groups := make([]int, len(values))
		for i := range groups {
			groups[i] = i / 2
		}
		_, err := FitComponents(values, Effects{Nested: [][]int{groups}})
		assert.ErrorIs(t, err, ErrNoScatter)
	}
	alike, err := FitComponents([]float64{1, 3, 1, 3, 1, 3}, Effects{Nested: [][]int{{0, 0, 1, 1, 2, 2}}})
	require.NoError(t, err)
	assert.Zero(t, alike[0].Variance, "the analysis of variance says -1")
	assert.Zero(t, alike[0].DOF)
	assert.Zero(t, alike[0].SD95.Lo)
	assert.Positive(t, alike[0].SD95.Hi)
}

// BenchmarkComponents measures a study of 20 dancers in 3 shoes on 2 days, with two
// mountings each and 6 relevés in each mounting, on two strips.
func BenchmarkComponents(b *testing.B) {
	g := rand.New(rand.NewPCG(1, 2))
	e := Effects{Nested: make([][]int, 4)}
	var values []float64
	var of [5]float64
	group := -1
	for dancer := range 20 {
		of[0] = 2 * g.NormFloat64()
		for shoe := range 3 {
			of[1] = g.NormFloat64()
			for day := range 2 {
				of[2] = 0.5 * g.NormFloat64()
				for mounting := range 2 {
					of[3] = 0.3 * g.NormFloat64()
					group++
					for range 6 {
						for l, n := range []int{dancer, 3*dancer + shoe, 6*dancer + 2*shoe + day, group} {
							e.Nested[l] = append(e.Nested[l], n)
						}
						e.Crossed = append(e.Crossed, (shoe+day+mounting)%2)
						values = append(values, of[0]+of[1]+of[2]+of[3]+0.2*float64((shoe+day+mounting)%2)+0.5*g.NormFloat64())
					}
				}
			}
		}
	}
	for b.Loop() {
		_, err := FitComponents(values, e)
		require.NoError(b, err)
	}
}
