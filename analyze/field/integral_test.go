package field

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/integrate/quad"
	"pgregory.net/rapid"

	"aplomb/device/platform"
)

// The integrals of xⁿ and x·xⁿ over the unit square are 1/(n+1) and 1/(n+2), and
// over the triangle (0,0), (1,0), (0,1) they are 1/((n+1)(n+2)) and 1/((n+2)(n+3)).
func TestIntegrateClosedForms(t *testing.T) {
	square := platform.Polygon{{0, 0}, {1, 0}, {1, 1}, {0, 1}}
	triangle := platform.Polygon{{0, 0}, {1, 0}, {0, 1}}
	x := plane{0, platform.Point{1, 0}}
	for _, n := range []float64{-0.25, 0, 0.4, 1, 1.4, 2} {
		s := integrate(square, x, n)
		require.InEpsilon(t, 1/(n+1), s.value, 1e-9)
		require.InEpsilon(t, 1/(n+2), s.moment[0], 1e-9)
		require.InEpsilon(t, 0.5/(n+1), s.moment[1], 1e-9)
		s = integrate(triangle, x, n)
		require.InEpsilon(t, 1/((n+1)*(n+2)), s.value, 1e-9)
		require.InEpsilon(t, 1/((n+2)*(n+3)), s.moment[0], 1e-9)
	}
	// max(0, x - 1/2): an area of 1/2, an integral of 1/8, its centroid at 5/6.
	half := plane{-0.5, platform.Point{1, 0}}
	require.InDelta(t, 0.5, integrate(square, half, 0).value, 1e-12)
	require.InDelta(t, 0.125, integrate(square, half, 1).value, 1e-12)
	require.InDelta(t, 0.125*5/6, integrate(square, half, 1).moment[0], 1e-12)
}

// The integral of any plane to any power over a randomly rotated square agrees with
// gonum's quadrature of the same function, line by line.
func TestIntegrateAgainstQuadrature(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := plane{
			rapid.Float64Range(-2, 6).Draw(t, "c"),
			platform.Point{rapid.Float64Range(-1, 1).Draw(t, "gm"), rapid.Float64Range(-1, 1).Draw(t, "go")},
		}
		n := rapid.SampledFrom([]float64{0.75, 1, 1.25, 1.4}).Draw(t, "n")
		at := platform.Point{rapid.Float64Range(-15, 15).Draw(t, "m"), rapid.Float64Range(-10, 10).Draw(t, "o")}
		f.c -= f.grad[0]*at[0] + f.grad[1]*at[1]
		square := platform.Rectangle(5, 5).Shift(at)

		// Inner integral along over in closed form, outer by quadrature.
		along := func(m float64) float64 {
			a, b := f.at(platform.Point{m, at[1] - 2.5}), f.at(platform.Point{m, at[1] + 2.5})
			if math.Abs(b-a) <= 1e-6*(math.Abs(a)+math.Abs(b)) { // also where both are 0
				return 5 * math.Pow(max(0, (a+b)/2), n)
			}
			return 5 * (math.Pow(max(0, b), n+1) - math.Pow(max(0, a), n+1)) / ((n + 1) * (b - a))
		}
		// It has a kink where f becomes 0 at the back or the front of the square.
		lo, hi := at[0]-2.5, at[0]+2.5
		ends := []float64{lo, hi}
		for _, o := range []float64{at[1] - 2.5, at[1] + 2.5} {
			if m := -(f.c + f.grad[1]*o) / f.grad[0]; m > lo && m < hi {
				ends = append(ends, m)
			}
		}
		slices.Sort(ends)
		var want, wantM float64
		for i, to := range ends[1:] {
			want += quad.Fixed(along, ends[i], to, 150, nil, 0)
			wantM += quad.Fixed(func(m float64) float64 { return m * along(m) }, ends[i], to, 150, nil, 0)
		}

		got := newRegion(square).integrate(f, n)
		// integrateExpansion omits terms of the third order where f changes by less than
		// a fifth of itself.
		require.InDelta(t, want, got.value, 1e-3*want+1e-7)
		require.InDelta(t, wantM-want*at[0], got.moment[0]-got.value*at[0], 3e-3*want+1e-7)
	})
}

// The load of a cell cut by a line agrees with that of the clipped polygon, and its
// derivatives agree with finite differences.
func TestCutOfACell(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		part := newRegion(platform.Superellipse(5, 4, 3).Shift(platform.Point{7, -3}))
		c := &cell{part: part, w: 1, centroid: part.moments.Centroid}
		x := []float64{
			rapid.Float64Range(-4, 4).Draw(t, "turn"), 0, 1,
			rapid.Float64Range(-0.1, 0.1).Draw(t, "gm"), rapid.Float64Range(-0.1, 0.1).Draw(t, "go"),
		}
		n := cutOf(x).n
		depth := rapid.Float64Range(-1.9, 1.9).Draw(t, "depth")
		x[1] = n[0]*c.centroid[0] + n[1]*c.centroid[1] + depth
		load := func(x []float64) float64 {
			u := cutOf(x)
			b := part.outline.HalfPlane(u.n, u.d).Moments()
			return b.Area * u.f.at(b.Centroid)
		}
		g := &Grid{cellArea: 1}
		slope := make([]float64, 5)
		require.InDelta(t, load(x), g.cutModel(1)(x, c, slope), 1e-9)
		for i := range x {
			const h = 1e-5
			up, down := append([]float64(nil), x...), append([]float64(nil), x...)
			up[i] += h
			down[i] -= h
			require.InDelta(t, (load(up)-load(down))/(2*h), slope[i], 1e-3*(1+math.Abs(slope[i])), "parameter %d", i)
		}
	})
}
