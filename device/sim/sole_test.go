package sim

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/device/platform"
)

// A rigid rectangle on a bed without tension follows the middle-third rule, which textbooks of
// foundation engineering give for eccentric footings.
func TestMiddleThird(t *testing.T) {
	const width, depth, load, stiffness = 36.0, 22.0, 300.0, 900.0
	s := NewSole(platform.Rectangle(width, depth), 0, stiffness)
	for _, sign := range []float64{-1, 1} {
		for i := range 500 {
			e := depth * float64(i) / 1000
			share, peak := 1.0, load/(width*depth)*(1+6*e/depth)
			if e > depth/6 {
				share, peak = 3*(0.5-e/depth), 4*load/(3*width*(depth-2*e))
			}
			pose, err := s.Solve(load, platform.Point{0, sign * e}, Pose{})
			require.NoError(t, err, "e = %v", e)
			c := s.Contact(pose)
			require.InDelta(t, share, c.Share, 1e-9, "e = %v", e)
			require.InEpsilon(t, 1000*peak, s.Peak(pose), 1e-8, "e = %v", e)
			require.InDelta(t, load, c.LoadN, 1e-9*load, "e = %v", e)
			require.InDelta(t, sign*e, c.CoP[1], 1e-9, "e = %v", e)
			require.InDelta(t, 0, c.CoP[0], 1e-9, "e = %v", e)
		}
	}
}

// An axisymmetric paraboloid r²/2R pushed into Winkler's bed over a circle of radius a
// has the indentation a²/2R and carries k·π·a⁴/4R, the integral of k·(a² − r²)/2R over
// that circle.
func TestParaboloid(t *testing.T) {
	const radius, height, stiffness = 15.0, 0.6, 1500.0
	s := NewSole(circle(radius), height, stiffness)
	r := radius * radius / (2 * height)
	for _, a := range []float64{3, 6, 9, 12, 14.5} {
		load := stiffness * math.Pi * math.Pow(a, 4) / (4 * r) / 1000
		pose, err := s.Solve(load, platform.Point{}, Pose{})
		require.NoError(t, err)
		near := 0.05 * (tileSize / a) * (tileSize / a)
		require.InEpsilon(t, a*a/(2*r), pose.DepthMM, near, "a = %v", a)
		require.InEpsilon(t, math.Pi*a*a, s.Contact(pose).AreaMM2, near, "a = %v", a)
		require.InEpsilon(t, stiffness*a*a/(2*r), s.Peak(pose), near, "a = %v", a)
	}
}

// circle has enough corners for its area to be that of the circle within 1 in 10,000.
func circle(radius float64) platform.Polygon {
	return platform.Superellipse(2*radius, 2*radius, 2)
}

// The whole of a flat platform is in contact if and only if the resultant lies in its kern.
func TestKernSeparatesFullFromPartialContact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		outline := convex(t)
		s, kern := NewSole(outline, 0, 1000), outline.Kern()
		q := inside(t, outline, 0.95)
		pose, err := s.Solve(250, q, Pose{})
		require.NoError(t, err)
		share := s.Contact(pose).Share
		switch d := kern.EdgeDistance(q); {
		case d > 1e-6:
			require.InDelta(t, 1, share, 1e-12)
		case d < -1e-3:
			require.Less(t, share, 1-1e-12)
		}
	})
}

// The reaction of the bed equals the load for every platform and every starting pose.
func TestEquilibrium(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		outline := convex(t)
		height := rapid.SampledFrom([]float64{0, 0.1, 0.5}).Draw(t, "dome")
		s := NewSole(outline, height, 1500)
		from := Pose{}
		for range 3 {
			load := rapid.Float64Range(20, 900).Draw(t, "load")
			q := inside(t, outline, 0.97)
			pose, err := s.Solve(load, q, from)
			require.NoError(t, err)
			c := s.Contact(pose)
			require.InEpsilon(t, load, c.LoadN, 1e-9)
			require.InDelta(t, q[0], c.CoP[0], 1e-7)
			require.InDelta(t, q[1], c.CoP[1], 1e-7)
			require.True(t, c.Share > 0 && c.Share <= 1)
			from = pose
		}
	})
}

// The sums over tiles equal those of the pressure, added up point by point.
func TestPressureAddsUp(t *testing.T) {
	for _, height := range []float64{0, 0.3} {
		s := NewSole(platform.Superellipse(34, 21, 2.5), height, 1500)
		q := platform.Point{-2, -4.5}
		pose, err := s.Solve(280, q, Pose{})
		require.NoError(t, err)
		const h = 0.1
		var sum, m, o, peak float64
		for y := -11 + h/2; y < 11; y += h {
			for x := -18 + h/2; x < 18; x += h {
				r := platform.Point{x, y}
				if p := s.Pressure(pose, r); p > 0 && superellipse(34, 21, 2.5, r) {
					sum, m, o, peak = sum+p, m+p*x, o+p*y, max(peak, p)
				}
			}
		}
		require.InEpsilon(t, 280, sum*h*h/1000, 2e-3)
		require.InDelta(t, q[0], m/sum, 0.01)
		require.InDelta(t, q[1], o/sum, 0.01)
		require.InEpsilon(t, peak, s.Peak(pose), 0.01)
	}
}

func TestNoPoseBearsALoadOutside(t *testing.T) {
	s := NewSole(platform.Rectangle(36, 22), 0, 1000)
	for _, q := range []platform.Point{{0, 11}, {0, -11.01}, {18.5, 0}, {40, 40}, {math.NaN(), 0}} {
		_, err := s.Solve(300, q, Pose{})
		require.ErrorIs(t, err, ErrReach, "%v", q)
	}
	for _, load := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		_, err := s.Solve(load, platform.Point{}, Pose{})
		require.ErrorIs(t, err, ErrReach, "%v N", load)
	}
}

// The resultant may lie outside a concave outline, within its hull.
func TestConcaveOutline(t *testing.T) {
	s := NewSole(platform.Polygon{{-15, -10}, {15, -10}, {15, 10}, {5, 10}, {5, -4}, {-5, -4}, {-5, 10}, {-15, 10}}.Centred(), 0, 1000)
	q := platform.Point{0, 3}
	require.False(t, s.outline.Contains(q))
	pose, err := s.Solve(300, q, Pose{})
	require.NoError(t, err)
	c := s.Contact(pose)
	require.InDelta(t, 3, c.CoP[1], 1e-9)
	require.InDelta(t, 300, c.LoadN, 1e-9)
}

// superellipse reports whether a point lies inside a superellipse.
func superellipse(width, depth, exponent float64, q platform.Point) bool {
	return math.Pow(math.Abs(2*q[0]/width), exponent)+math.Pow(math.Abs(2*q[1]/depth), exponent) <= 1
}

// convex generates a centred convex polygon at least 4 mm wide.
func convex(t *rapid.T) platform.Polygon {
	rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "outline"), 0))
	for {
		p := make(platform.Polygon, 3+rng.IntN(20))
		for i := range p {
			p[i] = platform.Point{36 * (rng.Float64() - 0.5), 24 * (rng.Float64() - 0.5)}
		}
		if h := p.Hull().Centred(); h.Area() > 60 {
			return h
		}
	}
}

// inside generates a point within the outline scaled by a factor.
func inside(t *rapid.T, outline platform.Polygon, factor float64) platform.Point {
	a := rapid.Float64Range(0, 2*math.Pi).Draw(t, "direction")
	d := platform.Point{math.Cos(a), math.Sin(a)}
	r := outline.Reach(d) * factor * rapid.Float64Range(0, 1).Draw(t, "distance")
	return platform.Point{r * d[0], r * d[1]}
}

func BenchmarkSolve(b *testing.B) {
	for _, c := range []struct {
		name   string
		height float64
	}{{"flat", 0}, {"domed", 0.3}} {
		b.Run(c.name, func(b *testing.B) {
			s := NewSole(platform.Superellipse(36, 22, 2.5), c.height, 1500)
			var pose Pose
			var err error
			for i := 0; b.Loop(); i++ {
				sin, cos := math.Sincos(float64(i) / 40)
				if pose, err = s.Solve(300+10*sin, platform.Point{cos, -5 + sin}, pose); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
