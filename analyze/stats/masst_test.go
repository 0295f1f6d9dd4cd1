package stats

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/stat/distuv"
)

// Between two far-apart lines the mass is that of Student's t along one axis.
func TestMassInsideTBetweenLines(t *testing.T) {
	for _, dof := range []float64{0.5, 1, 2, 3.5, 8, 30, 1000} {
		one := distuv.StudentsT{Sigma: 1, Nu: dof}
		for _, c := range [][2]float64{{-4, 4}, {-1, 1}, {-2, 7}, {0.5, 3}, {2, 9}} {
			for axis := range 2 {
				lo, hi := [2]float64{-1e9, -1e9}, [2]float64{1e9, 1e9}
				lo[axis], hi[axis] = c[0], c[1]
				box := [][2]float64{lo, {hi[0], lo[1]}, hi, {lo[0], hi[1]}}
				assert.InDelta(t, one.CDF(c[1])-one.CDF(c[0]), MassInsideT(box, [2]float64{}, [2]float64{1, 1}, dof), 1e-10, "dof %v, %v", dof, c)
			}
		}
	}
}

// Against a million Monte Carlo draws of the bivariate t.
func TestMassInsideTAgainstDraws(t *testing.T) {
	rhombus := [][2]float64{{6.7, 0}, {0, 4}, {-6.7, 0}, {0, -4}}
	inside := func(x, y float64) bool { return math.Abs(x)/6.7+math.Abs(y)/4 <= 1 }
	for i, c := range []struct {
		mean, sd [2]float64
		dof      float64
	}{
		{[2]float64{0, 0}, [2]float64{1, 1}, 2},
		{[2]float64{1, -2}, [2]float64{0.4, 0.8}, 3},
		{[2]float64{0, -5}, [2]float64{1, 0.5}, 6},
		{[2]float64{3, 3}, [2]float64{2, 1}, 15},
	} {
		g := rand.New(rand.NewPCG(7, uint64(i)))
		chi2 := distuv.ChiSquared{K: c.dof, Src: g}
		const draws = 1_000_000
		hit := 0
		for range draws {
			s := math.Sqrt(c.dof / chi2.Rand())
			if inside(c.mean[0]+c.sd[0]*s*g.NormFloat64(), c.mean[1]+c.sd[1]*s*g.NormFloat64()) {
				hit++
			}
		}
		p := float64(hit) / draws
		assert.InDelta(t, p, MassInsideT(rhombus, c.mean, c.sd, c.dof), 4*math.Sqrt(p*(1-p)/draws), "%+v", c)
	}
}

// The mass of a circle about the mean is 1 − (1 + r²/dof)^(−dof/2); a scale of 0 along one
// axis leaves Student's t along the other.
func TestMassInsideTInClosedForm(t *testing.T) {
	for _, dof := range []float64{1, 2.5, 12, 300} {
		for _, r := range []float64{0.1, 1, 3, 20} {
			const corners = 20000
			var circle [][2]float64
			for i := range corners {
				sin, cos := math.Sincos(2 * math.Pi * float64(i) / corners)
				circle = append(circle, [2]float64{3 + 2*r*cos, -1 + 0.1*r*sin})
			}
			want := 1 - math.Pow(1+r*r/dof, -dof/2)
			assert.InDelta(t, want, MassInsideT(circle, [2]float64{3, -1}, [2]float64{2, 0.1}, dof), 2e-8, "dof %v, r %v", dof, r)
		}
		one := distuv.StudentsT{Sigma: 2, Nu: dof}
		triangle := [][2]float64{{0, 0}, {4, 0}, {0, 4}}
		assert.InDelta(t, one.CDF(2)-one.CDF(-1), MassInsideT(triangle, [2]float64{1, 1}, [2]float64{2, 0}, dof), 1e-12)
	}
}

func TestMassInsideTAtItsEdges(t *testing.T) {
	box := [][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}}
	at, sd := [2]float64{0.5, 0}, [2]float64{1, 2}
	assert.Equal(t, MassInside(box, at, sd), MassInsideT(box, at, sd, inf))
	assert.Equal(t, 1.0, MassInsideT(box, at, [2]float64{}, 0))
	assert.Equal(t, 0.0, MassInsideT(box, at, sd, 0))
	assert.True(t, math.IsNaN(MassInsideT(box, at, sd, -1)))
	assert.True(t, math.IsNaN(MassInsideT(box, at, sd, nan)))
}

// The region of a mean holds 95 % of the distribution that the verdict takes: its mass, by
// the integral of MassInsideT over a polygon of 720 corners, which has 0.0013 % less area.
func TestMeanEllipseHolds95Percent(t *testing.T) {
	for _, dof := range []float64{1, 2.5, 4, 12, 60, math.Inf(1)} {
		for _, u := range [][2]float64{{1, 1}, {0.3, 2}, {2, 0.3}} {
			e := MeanEllipse95(u, dof)
			half := [2]float64{e.SemiMajor, e.SemiMinor}
			if u[1] > u[0] {
				assert.InDelta(t, math.Pi/2, e.AngleRad, 1e-12)
				half = [2]float64{e.SemiMinor, e.SemiMajor}
			}
			var polygon [][2]float64
			for i := range 720 {
				sin, cos := math.Sincos(2 * math.Pi * float64(i) / 720)
				polygon = append(polygon, [2]float64{half[0] * cos, half[1] * sin})
			}
			assert.InDelta(t, 0.95, MassInsideT(polygon, [2]float64{}, u, dof), 2e-5, "dof %v, u %v", dof, u)
			assert.InDelta(t, math.Pi*half[0]*half[1], e.Area, 1e-9*e.Area)
		}
	}
	// The 95 % quantile of chi-squared with 2 degrees of freedom is 5.991 (NIST/SEMATECH
	// e-Handbook of Statistical Methods, 1.3.6.7.4).
	assert.InDelta(t, math.Sqrt(5.991), MeanEllipse95([2]float64{1, 1}, math.Inf(1)).SemiMajor, 1e-3)
	// F(0.95; 2, 10) is 4.103 (the same, 1.3.6.7.3).
	assert.InDelta(t, math.Sqrt(2*4.103), MeanEllipse95([2]float64{1, 1}, 10).SemiMajor, 1e-3)
	for _, bad := range []Ellipse{MeanEllipse95([2]float64{1, 1}, 0), MeanEllipse95([2]float64{-1, 1}, 5), MeanEllipse95([2]float64{1, math.NaN()}, 5), MeanEllipse95([2]float64{1, 1}, math.NaN())} {
		assert.True(t, math.IsNaN(bad.Area) && math.IsNaN(bad.SemiMajor))
	}
}
