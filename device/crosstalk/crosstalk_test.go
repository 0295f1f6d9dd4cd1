package crosstalk_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"

	"aplomb/device/crosstalk"
)

func read(rows, cols int, tie float64, g ...float64) []float64 {
	seen := make([]float64, len(g))
	crosstalk.New(rows, cols, tie).Readings(g, seen)
	return seen
}

// In a grid of 2 × 2 cells with floating lines a cell reads as the cell in parallel with
// the other three in series (series and parallel resistances, any textbook of
// electricity): 100 Ω parallel to 200 + 300 + 400 Ω is 90 Ω.
func TestTwoByTwo(t *testing.T) {
	seen := read(2, 2, crosstalk.Floating, 1/100.0, 1/200.0, 1/300.0, 1/400.0)
	assert.InEpsilon(t, 90, 1/seen[0], 1e-6)
	assert.InEpsilon(t, 1/(1/200.0+1/800.0), 1/seen[1], 1e-6)
	assert.InEpsilon(t, 1/(1/300.0+1/700.0), 1/seen[2], 1e-6)
	assert.InEpsilon(t, 1/(1/400.0+1/600.0), 1/seen[3], 1e-6)

	// A cell that does not conduct reads the other three in series.
	assert.InEpsilon(t, 1/(200.0+300+400), read(2, 2, crosstalk.Floating, 0, 1/200.0, 1/300.0, 1/400.0)[0], 1e-6)
}

// Between a row and a column of m × n equal resistors R, with all other lines floating, the
// resistance is (m+n−1)·R ÷ mn: by symmetry all idle rows are at one potential and all idle
// columns at another, which leaves R parallel to R/(n−1) + R/((m−1)(n−1)) + R/(m−1). (The
// resistance of the complete bipartite graph.)
func TestEqualCells(t *testing.T) {
	g := make([]float64, 40)
	for k := range g {
		g[k] = 0.5
	}
	for _, v := range read(5, 8, crosstalk.Floating, g...) {
		assert.InEpsilon(t, 0.5*40/12, v, 1e-6)
	}
}

// There is no crosstalk if idle lines are grounded, and none in a single row.
func TestNoCrosstalkThroughGroundedLines(t *testing.T) {
	g := []float64{1, 2, 0, 3, 4, 5}
	assert.Equal(t, g, read(2, 3, 0, g...))
	assert.Equal(t, g, read(1, 6, crosstalk.Floating, g...))
	assert.Equal(t, make([]float64, 6), read(2, 3, crosstalk.Floating, make([]float64, 6)...))
}

// nodeAnalysis computes one reading by node analysis with a general dense solver: the
// potentials of the row, one volt, and of the column, ground, are known, all others are not.
func nodeAnalysis(rows, cols int, tie float64, g []float64, row, col int) float64 {
	size := rows + cols
	var unknown []int
	for i := range size {
		if i != row && i != rows+col {
			unknown = append(unknown, i)
		}
	}
	conductance := func(i, j int) float64 {
		if i > j {
			i, j = j, i
		}
		if i < rows && j >= rows {
			return g[i*cols+j-rows]
		}
		return 0
	}
	a, b := mat.NewDense(len(unknown), len(unknown), nil), mat.NewVecDense(len(unknown), nil)
	for p, i := range unknown {
		sum := 1 / tie
		for j := range size {
			sum += conductance(i, j)
		}
		a.Set(p, p, sum)
		for q, j := range unknown {
			if q != p {
				a.Set(p, q, -conductance(i, j))
			}
		}
		b.SetVec(p, conductance(i, row)) // at one volt
	}
	var u mat.VecDense
	if err := u.SolveVec(a, b); err != nil {
		panic(err)
	}
	current := g[row*cols+col]
	for p, i := range unknown {
		current += u.AtVec(p) * conductance(i, rows+col)
	}
	return current
}

func TestAgainstNodeAnalysis(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows, cols := rapid.IntRange(2, 6).Draw(t, "rows"), rapid.IntRange(2, 8).Draw(t, "cols")
		g := rapid.SliceOfN(rapid.Float64Range(0.01, 1000), rows*cols, rows*cols).Draw(t, "g")
		tie := rapid.SampledFrom([]float64{1e-4, 1e-2, 1, crosstalk.Floating}).Draw(t, "tie")
		near := 0.0
		for _, v := range g {
			near += 1e-7 * v
		}
		for k, v := range read(rows, cols, tie, g...) {
			require.InDelta(t, nodeAnalysis(rows, cols, tie, g, k/cols, k%cols), v, near)
			require.GreaterOrEqual(t, v, g[k]-near, "the way round only adds")
		}
	})
}

// Rayleigh's monotonicity law: no resistance increases when another one decreases.
func TestMoreConductanceNeverReadsLess(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := rapid.SliceOfN(rapid.Float64Range(0, 100), 12, 12).Draw(t, "g")
		before := read(3, 4, crosstalk.Floating, g...)
		g[rapid.IntRange(0, 11).Draw(t, "cell")] += rapid.Float64Range(0, 100).Draw(t, "more")
		for k, v := range read(3, 4, crosstalk.Floating, g...) {
			require.GreaterOrEqual(t, v, before[k]-1e-4*math.Max(1, before[k]))
		}
	})
}

func BenchmarkRead(b *testing.B) {
	g, seen := make([]float64, 40), make([]float64, 40)
	for k := range g {
		g[k] = float64(k)
	}
	n := crosstalk.New(5, 8, crosstalk.Floating)
	b.ReportAllocs()
	for b.Loop() {
		n.Readings(g, seen)
	}
}
