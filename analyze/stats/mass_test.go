package stats

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

type point [2]float64

func between(lo, hi, mean, sd float64) float64 {
	n := distuv.Normal{Mu: mean, Sigma: sd}
	return n.CDF(hi) - n.CDF(lo)
}

// massInside returns the probability of a polygon under a normal distribution.
func massInside[P ~[2]float64](convex []P, mean P, sd [2]float64) float64 {
	return MassInsideT(convex, mean, sd, math.Inf(1))
}

// The probability of a rectangle along the axes is a product of two differences of
// Φ. Further corners on its edges and the sense of rotation do not change it, and
// the probabilities of its parts add up to it.
func TestMassInsideRectangle(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		coordinate := rapid.Float64Range(-5, 5)
		lo := point{coordinate.Draw(t, "x"), coordinate.Draw(t, "y")}
		hi := point{lo[0] + rapid.Float64Range(0.01, 8).Draw(t, "w"), lo[1] + rapid.Float64Range(0.01, 8).Draw(t, "h")}
		mean := point{coordinate.Draw(t, "mx"), coordinate.Draw(t, "my")}
		power := rapid.Float64Range(-4, 2)
		sd := [2]float64{math.Pow(10, power.Draw(t, "log sd x")), math.Pow(10, power.Draw(t, "log sd y"))}

		want := between(lo[0], hi[0], mean[0], sd[0]) * between(lo[1], hi[1], mean[1], sd[1])
		box := []point{lo, {hi[0], lo[1]}, hi, {lo[0], hi[1]}}
		assert.InDelta(t, want, massInside(box, mean, sd), 1e-12)

		slices.Reverse(box)
		assert.InDelta(t, want, massInside(box, mean, sd), 1e-12)

		cut := rapid.Float64Range(0, 1).Draw(t, "cut")
		a, b := lo[0]+cut*(hi[0]-lo[0]), lo[0]+(1-cut)*(hi[0]-lo[0])
		left := []point{lo, {a, lo[1]}, {b, hi[1]}, {lo[0], hi[1]}}
		right := []point{{a, lo[1]}, {hi[0], lo[1]}, hi, {b, hi[1]}}
		assert.InDelta(t, want, massInside(left, mean, sd)+massInside(right, mean, sd), 1e-12)
	})
}

// Short and long edges use different integration rules, which must agree: the
// probability under an edge is the sum over its parts.
func TestMassUnderShortEdges(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		place, way := rapid.Float64Range(-8, 8), rapid.Float64Range(0, 2*math.Pi).Draw(t, "way")
		a, l := [2]float64{place.Draw(t, "x"), place.Draw(t, "y")}, rapid.Float64Range(0, 6).Draw(t, "length")
		at := func(share float64) [2]float64 {
			return [2]float64{a[0] + share*l*math.Cos(way), a[1] + share*l*math.Sin(way)}
		}
		parts := rapid.IntRange(2, 12).Draw(t, "parts")
		sum := 0.0
		for i := range parts {
			sum += massUnderEdge(at(float64(i)/float64(parts)), at(float64(i+1)/float64(parts)), inf)
		}
		assert.InDelta(t, massUnderEdge(a, at(1), inf), sum, 1e-14)
	})
}

// A circle about the mean contains 1 − exp(−r²/2) of the unit normal.
func TestMassInsideCircle(t *testing.T) {
	for _, r := range []float64{0.01, 0.5, 1, 2.447747, 6, 40} {
		circle := make([]point, 2000)
		for i := range circle {
			sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(len(circle)))
			circle[i] = point{3 + 2*r*cos, -1 + 0.1*r*sin}
		}
		want := -math.Expm1(-r * r / 2)
		assert.InDelta(t, want, massInside(circle, point{3, -1}, [2]float64{2, 0.1}), 2e-6, "r %v", r)
	}
}

func TestMassInsideWithoutSpread(t *testing.T) {
	triangle := []point{{0, 0}, {4, 0}, {0, 4}}
	for _, c := range []struct {
		mean point
		want float64
	}{{point{1, 1}, 1}, {point{3, 3}, 0}, {point{2, 2}, 1}, {point{2, 0}, 1}, {point{0, 0}, 1}, {point{-0.1, 1}, 0}, {point{9, 0}, 0}} {
		assert.Equal(t, c.want, massInside(triangle, c.mean, [2]float64{0, 0}), "%v", c.mean)
		assert.InDelta(t, c.want, massInside(triangle, c.mean, [2]float64{1e-15, 1e-15}), 0, "%v", c.mean)
	}
	// One axis known: the chord through the mean.
	assert.InDelta(t, between(0, 3, 1, 2), massInside(triangle, point{1, 1}, [2]float64{2, 0}), 1e-14)
	assert.InDelta(t, between(0, 2, 5, 2), massInside(triangle, point{2, 5}, [2]float64{0, 2}), 1e-14)
	assert.InDelta(t, between(0, 4, 1, 1), massInside(triangle, point{1, 0}, [2]float64{1, 0}), 1e-14) // along an edge
	assert.Equal(t, 0.0, massInside(triangle, point{1, 5}, [2]float64{2, 0}))
	// A negligible standard deviation gives the limit of a standard deviation of 0.
	assert.InDelta(t, between(0, 3, 1, 2), massInside(triangle, point{1, 1}, [2]float64{2, 1e-9}), 1e-9)
}

func TestMassInsideAtItsEdges(t *testing.T) {
	square := []point{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}}
	assert.Equal(t, 0.0, massInside[point](nil, point{}, [2]float64{1, 1}))
	assert.Equal(t, 0.0, massInside(square[:1], point{}, [2]float64{1, 1}))
	assert.Equal(t, 0.0, massInside(square[:2], point{}, [2]float64{1, 1}))
	assert.Equal(t, 0.0, massInside(square, point{}, [2]float64{inf, inf}))
	assert.InDelta(t, 1, massInside(square, point{}, [2]float64{1e-3, 1e-3}), 1e-14)
	assert.InDelta(t, 0, massInside(square, point{1e6, 0}, [2]float64{1, 1}), 1e-15)
	assert.InDelta(t, 0.5, massInside(square, point{1, 0}, [2]float64{1e-2, 1e-2}), 1e-12) // the mean on an edge
	assert.InDelta(t, 0.25, massInside(square, point{1, 1}, [2]float64{1e-2, 1e-2}), 1e-12)
	for _, m := range []float64{
		massInside(square, point{nan, 0}, [2]float64{1, 1}),
		massInside(square, point{inf, 0}, [2]float64{1, 1}),
		massInside(square, point{}, [2]float64{-1, 1}),
		massInside(square, point{}, [2]float64{1, nan}),
		massInside([]point{{nan, 0}, {1, 0}, {0, 1}}, point{}, [2]float64{1, 1}),
	} {
		assert.True(t, math.IsNaN(m))
	}
}

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
	assert.Equal(t, 1.0, MassInsideT(box, at, [2]float64{}, 0))
	assert.Equal(t, 0.0, MassInsideT(box, at, sd, 0))
	assert.True(t, math.IsNaN(MassInsideT(box, at, sd, -1)))
	assert.True(t, math.IsNaN(MassInsideT(box, at, sd, nan)))
}

func BenchmarkMassInsideKern(b *testing.B) {
	kern := make([]point, 360)
	for i := range kern {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / 360)
		kern[i] = point{9 * cos, 5.5 * sin}
	}
	for b.Loop() {
		massInside(kern, point{1, -4}, [2]float64{1, 1.2})
	}
}
