package stats

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestCommonSlopeAgainstR(t *testing.T) {
	var r struct {
		Cases []struct {
			Series        []int
			X, Y          []float64
			Slope, U, DOF float64
		}
	}
	read(t, "slope.json", &r)
	require.Len(t, r.Cases, 3)
	for _, c := range r.Cases {
		series := make([]Group, 4)
		for i, g := range c.Series {
			s := &series[g-1]
			s.X, s.Y = append(s.X, c.X[i]), append(s.Y, c.Y[i])
		}
		got := CommonSlope(series, 0, 0)
		assert.InEpsilon(t, c.Slope, got.Slope, 1e-11)
		assert.InEpsilon(t, c.U, got.U, 1e-11)
		assert.InDelta(t, c.DOF, got.DOF, 1e-9)
		assert.Equal(t, len(c.X), got.N)
	}
}

func TestCommonSlopeOfOneIsTheLine(t *testing.T) {
	x, y := column(t, "norris.csv", "x"), column(t, "norris.csv", "y")
	got := CommonSlope([]Group{{X: x, Y: y}}, 0, 0)
	assert.InEpsilon(t, 1.00211681802045, got.Slope, 1e-13) // NIST, as certified
	assert.InEpsilon(t, 0.429796848199937e-3, got.U, 1e-10)
	assert.InDelta(t, 34.0, got.DOF, 1e-9)
}

func TestCommonSlopeAtItsEdges(t *testing.T) {
	assert.True(t, math.IsNaN(CommonSlope(nil, 1, 8).Slope))
	assert.True(t, math.IsNaN(CommonSlope([]Group{{X: []float64{1}, Y: []float64{3}}, {X: []float64{2}, Y: []float64{1}}}, 1, 8).Slope))
	two := CommonSlope([]Group{{X: []float64{1, 3}, Y: []float64{2, 8}}}, 0, 0)
	assert.Equal(t, 3.0, two.Slope)
	assert.True(t, math.IsNaN(two.U), "two values leave no scatter")
	// Copies of a block lie on lines of one slope, which is not that of all values: the
	// scatter is that within the group, of 4 values with 2 degrees of freedom (R 4.2:
	// summary(lm(c(-8,-2,-8,-2) ~ c(1,2,3,4)))$coefficients[2,] gives 1.2 and 1.697056).
	copies := CommonSlope([]Group{{X: []float64{1, 2, 3, 4}, Y: []float64{-8, -2, -8, -2}, Block: []int{0, 0, 1, 1}}}, 0, 8)
	assert.InDelta(t, 1.2, copies.Slope, 1e-12)
	assert.InDelta(t, 1.697056, copies.U, 1e-6)
	assert.Equal(t, 2.0, copies.DOF)
	// The mean of three times 0.1 is not 0.1 in binary numbers.
	assert.True(t, math.IsNaN(CommonSlope([]Group{{X: []float64{0.1, 0.1, 0.1}, Y: []float64{1, 2, 4}}}, 0, 8).Slope))
	// One value a block leaves no residual variance within blocks.
	each := CommonSlope([]Group{{X: []float64{1, 2, 3, 4}, Y: []float64{0, 1, 0, 1}, Block: []int{0, 1, 2, 3}}}, 0, 8)
	assert.Equal(t, 2.0, each.DOF)
}

// By hand: two blocks at positions 0, 1 and 2, 3, lying on lines of slope 1. A
// shift of one block by 1 mm moves the slope by Σ(x − x̄) of that block ÷ Σ(x − x̄)²,
// 2/5, so both give 2·√2/5 of the shift's standard deviation.
func TestCommonSlopeOfShiftedBlocks(t *testing.T) {
	s := Group{X: []float64{0, 1, 2, 3}, Y: []float64{0, 1, 2, 3}, Block: []int{7, 7, 9, 9}}
	got := CommonSlope([]Group{s}, 0.5, 8)
	assert.InDelta(t, 1, got.Slope, 1e-12)
	assert.InDelta(t, 0.5*2*math.Sqrt2/5, got.U, 1e-12)
	assert.InDelta(t, 8, got.DOF, 1e-9)
}

// Adding a constant to a group changes nothing, and shifts of blocks that lie at
// the same positions do not change the slope.
func TestCommonSlopeProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		series := make([]Group, rapid.IntRange(1, 4).Draw(t, "series"))
		lifted := make([]Group, len(series))
		for i := range series {
			n := rapid.IntRange(2, 6).Draw(t, "n")
			lift := rapid.Float64Range(-100, 100).Draw(t, "lift")
			for k := range n {
				y := rapid.Float64Range(-5, 5).Draw(t, "y")
				series[i].X, series[i].Y = append(series[i].X, float64(k)), append(series[i].Y, y)
				lifted[i].X, lifted[i].Y = append(lifted[i].X, float64(k)), append(lifted[i].Y, y+lift)
			}
		}
		a, b := CommonSlope(series, 3, 5), CommonSlope(lifted, 0, 5)
		assert.InDelta(t, a.Slope, b.Slope, 1e-9)
		if !math.IsNaN(a.U) {
			assert.InDelta(t, a.U*a.U, b.U*b.U, 1e-10) // a variance, since that is what has the rounding errors of its data
		}
	})
}

// The 95 % interval contains the true slope in 95 of 100 simulations where blocks
// are shifted: three blocks of four values with a known slope.
func TestCommonSlopeHoldsTheSlope(t *testing.T) {
	g := rand.New(rand.NewPCG(3, 4))
	const draws = 2000
	holds := 0
	for range draws {
		var series []Group
		for range 2 {
			var s Group
			for part := range 3 {
				shift := 0.8 * g.NormFloat64()
				for k := range 4 {
					x := float64(8*part + k)
					s.X, s.Y, s.Block = append(s.X, x), append(s.Y, 0.1*x+shift+g.NormFloat64()), append(s.Block, part)
				}
			}
			series = append(series, s)
		}
		if CommonSlope(series, 0.8, math.Inf(1)).Interval95().Contains(0.1) {
			holds++
		}
	}
	assert.InDelta(t, 0.95, float64(holds)/draws, 3*math.Sqrt(0.95*0.05/draws))
}
