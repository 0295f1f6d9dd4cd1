package stats

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

// Series is a run of values Y at the positions X that share a level of their
// own. Part says in which part of the run each was made, where every part is
// shifted at random as a whole; nil where the run is one part.
type Group struct {
	X, Y  []float64
	Block []int
}

// Trend is a slope that several series have in common.
type SlopeFit struct {
	Slope float64
	U     float64 // its standard uncertainty
	DOF   float64 // effective degrees of freedom of U
	N     int     // values
}

// CommonSlope fits by least squares the one slope of series whose levels differ
// (the common slope of an analysis of covariance). Parts are shifted with a
// standard deviation partSD known to partDOF degrees of freedom, which reaches
// the slope as far as parts lie at different positions. The scatter of values
// is taken within parts; where that leaves no degrees of freedom, within
// series, which then holds the shifts too and errs on the safe side.
//
// Slope is NaN where no series has two positions, U where nothing tells the
// scatter. Series whose lengths differ from each other's are the caller's to
// give; X, Y and Part of one must be of one length.
func CommonSlope(series []Group, partSD, partDOF float64) SlopeFit {
	var whole, within sumsAboutMeans
	parts, levels := 0, 0
	lever := 0.0 // what a unit shift of every part does to Σxy, squared and summed
	n := 0
	for _, s := range series {
		if len(s.Y) == 0 {
			continue
		}
		levels++
		n += len(s.Y)
		whole.add(s.X, s.Y)
		centre := stat.Mean(s.X, nil)
		for _, p := range s.blocks() {
			parts++
			within.add(p.X, p.Y)
			pull := 0.0
			for _, x := range p.X {
				pull += x - centre
			}
			lever += pull * pull
		}
	}
	t := SlopeFit{Slope: math.NaN(), U: math.NaN(), DOF: math.NaN(), N: n}
	if !(whole.xx > 0) {
		return t
	}
	t.Slope = whole.xy / whole.xx
	square, dof := within.residual(), float64(n-parts-1)
	if !(within.xx > 0) {
		dof = float64(n - parts) // no slope to be fitted within parts
	}
	if dof < 1 {
		square, dof = whole.residual(), float64(n-levels-1)
	}
	if dof < 1 {
		return t
	}
	scatter := Component{U: math.Sqrt(square / dof / whole.xx), DOF: dof}
	shift := Component{U: partSD * math.Sqrt(lever) / whole.xx, DOF: partDOF}
	t.U, t.DOF = Combined(scatter, shift), EffectiveDOF(scatter, shift)
	return t
}

// Interval95 returns the 95 % interval of the slope.
func (t SlopeFit) Interval95() Interval { return Interval95(t.Slope, t.U, t.DOF) }

// parts cuts the series up.
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

// moments are sums of squares and products about means.
type sumsAboutMeans struct{ xx, xy, yy float64 }

func (m *sumsAboutMeans) add(x, y []float64) {
	mx, my := stat.Mean(x, nil), stat.Mean(y, nil)
	for i := range x {
		m.xx += (x[i] - mx) * (x[i] - mx)
		m.xy += (x[i] - mx) * (y[i] - my)
		m.yy += (y[i] - my) * (y[i] - my)
	}
}

// rest is the sum of squares that a line leaves.
func (m sumsAboutMeans) residual() float64 {
	if !(m.xx > 0) {
		return m.yy
	}
	return max(0, m.yy-m.xy*m.xy/m.xx)
}
