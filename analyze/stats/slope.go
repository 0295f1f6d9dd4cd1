package stats

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

// Group holds values Y at positions X that share one level. Block numbers the
// block of each value; every block is shifted as a whole by a random amount. A
// nil Block means that the group is one block.
type Group struct {
	X, Y  []float64
	Block []int
}

// SlopeFit is the slope that several groups have in common.
type SlopeFit struct {
	Slope float64 // unit of Y per unit of X
	U     float64 // standard uncertainty of Slope
	DOF   float64 // effective degrees of freedom of U
	N     int     // number of values
}

// noScatter is the share of a sum of squares up to which a residual one comes from the
// rounding of numbers.
const noScatter = 1e-12

// CommonSlope fits by least squares one slope to groups with different levels:
// the common slope of a one-way analysis of covariance, Σ over groups of Sxy ÷ Σ of
// Sxx, as R's lm(y ~ group + x) gives it. Blocks are shifted with a standard
// deviation blockSD known to blockDOF degrees of freedom; a shift enters the slope
// as far as the blocks of a group lie at different positions. The residual variance
// is taken within blocks; where that leaves no degrees of freedom, or where no value
// scatters within its block, as in copies of one block, it is taken within
// groups, where it contains the shifts as well and is too large rather than too small.
//
// Slope is NaN where no group has two positions, U where no degrees of freedom are
// left for the residual variance. X, Y and Block of a group must have one length.
func CommonSlope(groups []Group, blockSD, blockDOF float64) SlopeFit {
	var whole, within sumsAboutMeans
	blocks, levels := 0, 0
	leverage := 0.0 // Σ over blocks of (change of Σxy by a unit shift of the block)²
	n := 0
	for _, s := range groups {
		if len(s.Y) == 0 {
			continue
		}
		levels++
		n += len(s.Y)
		whole.add(s.X, s.Y)
		centre := stat.Mean(s.X, nil)
		for _, p := range s.blocks() {
			blocks++
			within.add(p.X, p.Y)
			change := 0.0
			for _, x := range p.X {
				change += x - centre
			}
			leverage += change * change
		}
	}
	t := SlopeFit{Slope: math.NaN(), U: math.NaN(), DOF: math.NaN(), N: n}
	if !(whole.xx > 0) {
		return t
	}
	t.Slope = whole.xy / whole.xx
	square, dof := within.residual(), float64(n-blocks-1)
	if !(within.xx > 0) {
		dof = float64(n - blocks) // no slope is fitted within blocks
	}
	if dof < 1 || square <= noScatter*whole.yy {
		square, dof = whole.residual(), float64(n-levels-1)
	}
	if dof < 1 {
		return t
	}
	residual := Component{U: math.Sqrt(square / dof / whole.xx), DOF: dof}
	shift := Component{U: blockSD * math.Sqrt(leverage) / whole.xx, DOF: blockDOF}
	t.U, t.DOF = Combined(residual, shift), EffectiveDOF(residual, shift)
	return t
}

// Interval95 returns the 95 % interval of the slope.
func (t SlopeFit) Interval95() Interval { return Interval95(t.Slope, t.U, t.DOF) }

// blocks returns the blocks of the group, in order of first appearance.
func (s Group) blocks() []Group {
	if s.Block == nil {
		return []Group{s}
	}
	var out []Group
	at := map[int]int{}
	for i, p := range s.Block {
		k, known := at[p]
		if !known {
			k = len(out)
			at[p] = k
			out = append(out, Group{})
		}
		out[k].X, out[k].Y = append(out[k].X, s.X[i]), append(out[k].Y, s.Y[i])
	}
	return out
}

// sumsAboutMeans are sums of squares and products about means.
type sumsAboutMeans struct{ xx, xy, yy float64 }

func (m *sumsAboutMeans) add(x, y []float64) {
	dx, _ := aboutMean(x)
	dy, _ := aboutMean(y)
	for i := range dx {
		m.xx += dx[i] * dx[i]
		m.xy += dx[i] * dy[i]
		m.yy += dy[i] * dy[i]
	}
}

// aboutMean returns the differences of values from their mean, and the mean. They are
// exactly 0 where all values are equal: the mean of some equal numbers, such as three times
// 0.1, is another number by its rounding. x has at least one value.
func aboutMean(x []float64) (d []float64, mean float64) {
	d = make([]float64, len(x))
	for i, v := range x {
		d[i] = v - x[0]
	}
	shift := stat.Mean(d, nil)
	for i := range d {
		d[i] -= shift
	}
	return d, x[0] + shift
}

// residual returns the residual sum of squares about a line.
func (m sumsAboutMeans) residual() float64 {
	if !(m.xx > 0) {
		return m.yy
	}
	return max(0, m.yy-m.xy*m.xy/m.xx)
}
