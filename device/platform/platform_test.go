package platform

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Second moments of rectangle, triangle, trapezoid and ellipse are those of tables such as
// Wikipedia's List of second moments of area; a kern follows from them as each test says.

func near(t assert.TestingT, want, got Point, tolerance float64, args ...any) {
	assert.InDeltaSlice(t, want[:], got[:], tolerance, args...)
}

func TestMomentsOfARectangle(t *testing.T) {
	m := Rectangle(36, 22).Shift(Point{100, -50}).Moments()
	assert.InDelta(t, 36*22, m.Area, 1e-9)
	near(t, Point{100, -50}, m.Centroid, 1e-9)
	assert.InDelta(t, 36*36*36*22./12, m.MM, 1e-6) // b³h/12
	assert.InDelta(t, 36*22*22*22./12, m.OO, 1e-6) // bh³/12
	assert.InDelta(t, 0, m.MO, 1e-6)
}

func TestMomentsOfATriangle(t *testing.T) {
	// Right-angled, legs b and h along the axes: centroid at a third, bh³/36, −b²h²/72.
	const b, h = 30., 18.
	m := Polygon{{0, 0}, {b, 0}, {0, h}}.Moments()
	assert.InDelta(t, b*h/2, m.Area, 1e-9)
	near(t, Point{b / 3, h / 3}, m.Centroid, 1e-9)
	assert.InDelta(t, b*b*b*h/36, m.MM, 1e-6)
	assert.InDelta(t, b*h*h*h/36, m.OO, 1e-6)
	assert.InDelta(t, -b*b*h*h/72, m.MO, 1e-6)
}

// trapezoid returns a trapezoid of width a at the back, width b at the front and depth h.
func trapezoid(a, b, h float64) Polygon {
	return Polygon{{-a / 2, 0}, {a / 2, 0}, {b / 2, h}, {-b / 2, h}}
}

func TestMomentsOfATrapezoid(t *testing.T) {
	const a, b, h = 38., 28., 24.
	m := trapezoid(a, b, h).Moments()
	assert.InDelta(t, (a+b)*h/2, m.Area, 1e-9)
	near(t, Point{0, h * (a + 2*b) / (3 * (a + b))}, m.Centroid, 1e-9)
	assert.InDelta(t, h*h*h*(a*a+4*a*b+b*b)/(36*(a+b)), m.OO, 1e-6)
	assert.InDelta(t, h*(a*a*a+a*a*b+a*b*b+b*b*b)/48, m.MM, 1e-6)
	assert.InDelta(t, 0, m.MO, 1e-6)
}

func TestMomentsOfAnEllipse(t *testing.T) {
	const a, b = 18., 11.
	m := Superellipse(2*a, 2*b, 2).Moments()
	assert.InEpsilon(t, math.Pi*a*b, m.Area, 1e-4)
	assert.InEpsilon(t, math.Pi*a*a*a*b/4, m.MM, 2e-4)
	assert.InEpsilon(t, math.Pi*a*b*b*b/4, m.OO, 2e-4)
	near(t, Point{}, m.Centroid, 1e-9)
}

// Area of |2x/w|ⁿ + |2y/d|ⁿ = 1: w·d·Γ(1 + 1/n)²/Γ(1 + 2/n), which is π/4 of
// the box for n = 2 and half of it for n = 1.
func TestAreaOfASuperellipse(t *testing.T) {
	for _, n := range []float64{1, 1.5, 2, 2.5, 4, 8, 20} {
		want := 36 * 22 * math.Pow(math.Gamma(1+1/n), 2) / math.Gamma(1+2/n)
		p := Superellipse(36, 22, n)
		assert.InEpsilon(t, want, p.Area(), 5e-4, "exponent %v", n)
		assert.NoError(t, p.Check(), "exponent %v", n)
		assert.Positive(t, p.signedArea())
	}
}

func TestMomentsOfNothing(t *testing.T) {
	assert.Zero(t, Polygon{}.Moments())
	assert.Zero(t, Polygon{{1, 2}, {3, 4}}.Moments())
	assert.Zero(t, Polygon{{1, 2}, {2, 4}, {3, 6}}.Moments())
}

// The kern of a rectangle b × h is the rhombus with semi-diagonals b/6 and h/6 (the
// middle third), that of an ellipse its copy at a quarter of the size.
func TestKernOfRectangleAndEllipse(t *testing.T) {
	k := Rectangle(36, 24).Shift(Point{5, 7}).Kern()
	require.Len(t, k, 4)
	for _, corner := range []Point{{5 + 6, 7}, {5 - 6, 7}, {5, 7 + 4}, {5, 7 - 4}} {
		assert.True(t, slices.ContainsFunc(k, func(q Point) bool { return math.Hypot(q[0]-corner[0], q[1]-corner[1]) < 1e-9 }), "%v", corner)
	}

	for _, q := range Superellipse(36, 22, 2).Kern() {
		assert.InDelta(t, 1, math.Hypot(q[0]/4.5, q[1]/2.75), 1e-3)
	}
}

// The kern of a triangle is its copy at a quarter of the size: with i² = h²/18
// about the axis along an edge, and that edge h/3 from the centroid, a corner
// lies h/6 away from it, a quarter of the way to the corner opposite.
func TestKernOfATriangle(t *testing.T) {
	p := Polygon{{0, 0}, {30, 3}, {8, 20}}
	c := p.Moments().Centroid
	k := p.Kern()
	require.Len(t, k, 3)
	for _, q := range p {
		want := Point{c[0] + (q[0]-c[0])/4, c[1] + (q[1]-c[1])/4}
		assert.True(t, slices.ContainsFunc(k, func(r Point) bool { return math.Hypot(r[0]-want[0], r[1]-want[1]) < 1e-9 }), "%v", want)
	}
}

// On the axis of symmetry of a trapezoid the kern reaches to k = i²/c, i² being
// the second moment over the area and c the distance of the far edge.
func TestKernOfATrapezoid(t *testing.T) {
	const a, b, h = 38., 28., 24.
	k := trapezoid(a, b, h).Centred().Kern()
	back := h * (a + 2*b) / (3 * (a + b)) // centroid from the back edge
	i2 := h * h * (a*a + 4*a*b + b*b) / (18 * (a + b) * (a + b))
	lo, hi := k.Bounds()
	assert.InDelta(t, i2/back, hi[1], 1e-9)
	assert.InDelta(t, -i2/(h-back), lo[1], 1e-9)
}

// The kern has its defining property: with the load at r the pressure under a rigid flat
// base on springs, p ∝ 1 + xᵀG⁻¹r, is 0 at one corner for r on the boundary of the kern, and
// above 0 everywhere for r inside.
func TestNoCornerLiftsInsideTheKern(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := convex(t)
		m := p.Moments()
		k := p.Kern()
		lowest := func(r Point) float64 {
			det := m.MM*m.OO - m.MO*m.MO
			r = sub(r, m.Centroid)
			g := Point{m.Area * (m.OO*r[0] - m.MO*r[1]) / det, m.Area * (m.MM*r[1] - m.MO*r[0]) / det}
			low := math.Inf(1)
			for _, x := range p {
				low = min(low, 1+dot(sub(x, m.Centroid), g))
			}
			return low
		}
		i := rapid.IntRange(0, len(k)-1).Draw(t, "edge")
		f := rapid.Float64Range(0, 1).Draw(t, "along")
		a, b := k[i], k[(i+1)%len(k)]
		on := Point{a[0] + f*(b[0]-a[0]), a[1] + f*(b[1]-a[1])}
		assert.InDelta(t, 0, lowest(on), 1e-6)
		assert.InDelta(t, 0.5, lowest(Point{(on[0] + m.Centroid[0]) / 2, (on[1] + m.Centroid[1]) / 2}), 1e-6)
	})
}

// convex generates a convex outline that is not too thin: corners on an ellipse, rotated and shifted.
func convex(t *rapid.T) Polygon {
	n := rapid.IntRange(3, 10).Draw(t, "corners")
	width, depth := rapid.Float64Range(10, 50).Draw(t, "width"), rapid.Float64Range(10, 50).Draw(t, "depth")
	p := make(Polygon, n)
	for i := range p {
		sin, cos := math.Sincos(2 * math.Pi * (float64(i) + rapid.Float64Range(0, 0.8).Draw(t, "angle")) / float64(n))
		p[i] = Point{width / 2 * cos, depth / 2 * sin}
	}
	shift := rapid.Float64Range(-40, 40)
	return turn(p, rapid.Float64Range(-math.Pi, math.Pi).Draw(t, "turn")).Shift(Point{shift.Draw(t, "medial"), shift.Draw(t, "over")})
}

// star generates an outline that may be concave but does not cross itself.
func star(t *rapid.T) Polygon {
	n := rapid.IntRange(3, 10).Draw(t, "corners")
	p := make(Polygon, n)
	for i := range p {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		r := rapid.Float64Range(3, 25).Draw(t, "radius")
		p[i] = Point{r * cos, r * sin}
	}
	return p
}

func turn(p Polygon, angle float64) Polygon {
	sin, cos := math.Sincos(angle)
	q := make(Polygon, len(p))
	for i, a := range p {
		q[i] = Point{cos*a[0] - sin*a[1], sin*a[0] + cos*a[1]}
	}
	return q
}

func scale(p Polygon, k float64) Polygon {
	q := make(Polygon, len(p))
	for i, a := range p {
		q[i] = Point{k * a[0], k * a[1]}
	}
	return q
}

// The kern moves with the outline and lies within it.
func TestKernProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := convex(t)
		k := p.Kern()
		angle := rapid.Float64Range(-3, 3).Draw(t, "angle")
		d := Point{rapid.Float64Range(-30, 30).Draw(t, "dm"), rapid.Float64Range(-30, 30).Draw(t, "do")}
		factor := rapid.Float64Range(0.1, 10).Draw(t, "factor")

		same := func(want, got Polygon) {
			require.Len(t, got, len(want))
			assert.InDelta(t, want.Area(), got.Area(), 1e-6*(1+want.Area()))
			for _, q := range got { // the hull may start at another corner
				assert.InDelta(t, 0, want.distance(q), 1e-6)
			}
		}
		same(turn(k, angle), turn(p, angle).Kern())
		same(k.Shift(d), p.Shift(d).Kern())
		same(scale(k, factor), scale(p, factor).Kern())

		assert.Positive(t, k.signedArea(), "in order, counter-clockwise")
		assert.True(t, k.Contains(p.Moments().Centroid))
		for _, q := range k {
			assert.Positive(t, p.EdgeDistance(q))
		}
	})
}

// Moments rotate, shift and scale as tensors do.
func TestMomentsProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := star(t)
		m := p.Moments()
		reversed := slices.Clone(p)
		slices.Reverse(reversed)
		r := reversed.Moments()
		assert.InEpsilon(t, m.Area, r.Area, 1e-12)
		assert.InEpsilon(t, m.MM, r.MM, 1e-9)

		angle := rapid.Float64Range(-3, 3).Draw(t, "angle")
		sin, cos := math.Sincos(angle)
		q := turn(p, angle).Moments()
		assert.InEpsilon(t, m.MM+m.OO, q.MM+q.OO, 1e-9)
		assert.InDelta(t, cos*cos*m.MM-2*sin*cos*m.MO+sin*sin*m.OO, q.MM, 1e-8*(m.MM+m.OO))
		assert.InDelta(t, sin*cos*(m.MM-m.OO)+(cos*cos-sin*sin)*m.MO, q.MO, 1e-8*(m.MM+m.OO))

		far := p.Shift(Point{1e5, -1e5}).Moments()
		assert.InEpsilon(t, m.OO, far.OO, 1e-6, "a part far from the origin keeps its digits")
		big := scale(p, 10).Moments()
		assert.InEpsilon(t, 1e4*m.OO, big.OO, 1e-9)

		c := p.Centred()
		near(t, Point{}, c.Moments().Centroid, 1e-9)
		assert.Positive(t, c.signedArea())
	})
}

func TestClip(t *testing.T) {
	square := Rectangle(10, 10)
	assert.InDelta(t, 25, square.Clip(square.Shift(Point{5, 5})).Area(), 1e-12)
	assert.InDelta(t, 100, square.Clip(Rectangle(20, 20)).Area(), 1e-12)
	assert.InDelta(t, 9, square.Clip(Rectangle(3, 3)).Area(), 1e-12)
	assert.Empty(t, square.Clip(square.Shift(Point{11, 0})))
	assert.Empty(t, Polygon{}.Clip(square))

	// A square and the same square rotated by 45° share the regular octagon of inradius r, 8(√2 − 1)r².
	assert.InDelta(t, 8*(math.Sqrt2-1)*25, square.Clip(turn(square, math.Pi/4)).Area(), 1e-9)

	// Two parts of a concave outline: they are joined by edges without area.
	fork := Polygon{{0, 0}, {9, 0}, {9, 9}, {6, 9}, {6, 3}, {3, 3}, {3, 9}, {0, 9}}
	top := fork.Clip(Polygon{{-1, 6}, {10, 6}, {10, 10}, {-1, 10}})
	assert.InDelta(t, 2*3*3, top.Area(), 1e-12)
	near(t, Point{4.5, 7.5}, top.Moments().Centroid, 1e-9)
}

func TestClipProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, window := star(t), convex(t)
		both := p.Clip(window)
		assert.LessOrEqual(t, both.Area(), min(p.Area(), window.Area())+1e-9)
		for _, q := range both {
			assert.Less(t, window.distance(q)*outside(window, q), 1e-9)
		}
		again := both.Clip(window)
		assert.InDelta(t, both.Area(), again.Area(), 1e-9)
		hull := p.Hull()
		assert.InDelta(t, hull.Clip(window).Area(), window.Clip(hull).Area(), 1e-8)
	})
}

func outside(p Polygon, q Point) float64 {
	if p.Contains(q) {
		return 0
	}
	return 1
}

// A line divides an outline into two parts whose areas add up to the whole.
func TestHalfPlanesAdd(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := star(t)
		sin, cos := math.Sincos(rapid.Float64Range(-4, 4).Draw(t, "direction"))
		length := rapid.Float64Range(0.1, 10).Draw(t, "length")
		n, d := Point{length * cos, length * sin}, rapid.Float64Range(-100, 100).Draw(t, "d")
		a, b, whole := p.HalfPlane(n, d).Moments(), p.HalfPlane(Point{-n[0], -n[1]}, -d).Moments(), p.Moments()
		assert.InDelta(t, whole.Area, a.Area+b.Area, 1e-8)
		for k := range 2 {
			assert.InDelta(t, whole.Area*whole.Centroid[k], a.Area*a.Centroid[k]+b.Area*b.Centroid[k], 1e-6)
		}
		for _, q := range p.HalfPlane(n, d) {
			assert.LessOrEqual(t, dot(n, q), d+1e-8)
		}
	})
}

func TestHull(t *testing.T) {
	inside := Polygon{{0, 0}, {10, 0}, {5, 2}, {10, 10}, {5, 10}, {0, 10}, {0, 5}, {0, 0}}
	assert.Equal(t, Polygon{{0, 0}, {10, 0}, {10, 10}, {0, 10}}, inside.Hull())
	assert.Len(t, Polygon{{1, 1}, {1, 1}}.Hull(), 1)
	rapid.Check(t, func(t *rapid.T) {
		p := star(t)
		h := p.Hull()
		assert.GreaterOrEqual(t, h.Area(), p.Area()-1e-9)
		assert.NoError(t, h.Check())
		for _, q := range p {
			assert.GreaterOrEqual(t, h.EdgeDistance(q), -1e-9)
		}
		for i := range h {
			a, b, c := h[i], h[(i+1)%len(h)], h[(i+2)%len(h)]
			assert.Positive(t, cross(sub(b, a), sub(c, b)))
		}
		assert.Equal(t, h, h.Hull())
	})
}

func TestDistanceToTheEdge(t *testing.T) {
	p := Rectangle(36, 22)
	for q, want := range map[Point]float64{
		{0, 0}: 11, {10, 0}: 8, {0, -10}: 1, {18, 0}: 0, {18, 11}: 0, {20, 0}: -2, {21, 15}: -5, {-18, -13}: -2,
	} {
		assert.InDelta(t, want, p.EdgeDistance(q), 1e-12, "%v", q)
		assert.Equal(t, want >= 0, p.Contains(q), "%v", q)
	}
	l := Polygon{{0, 0}, {10, 0}, {10, 4}, {4, 4}, {4, 10}, {0, 10}}
	assert.False(t, l.Contains(Point{7, 7}))
	assert.InDelta(t, -3, l.EdgeDistance(Point{7, 7}), 1e-12)
	assert.True(t, l.Contains(Point{4, 0}))
}

func TestReach(t *testing.T) {
	p := Rectangle(36, 22)
	assert.InDelta(t, 18, p.Reach(Point{1, 0}), 1e-12)
	assert.InDelta(t, 11, p.Reach(Point{0, -3}), 1e-12)
	assert.InDelta(t, math.Hypot(18, 11), p.Reach(Point{18, 11}), 1e-9, "through a corner")
	assert.Zero(t, p.Reach(Point{}))
	assert.InDelta(t, 9, Superellipse(18, 10, 2).Reach(Point{1, 0}), 1e-3)

	rapid.Check(t, func(t *rapid.T) {
		p := star(t) // every point of it is visible from the origin
		sin, cos := math.Sincos(rapid.Float64Range(-4, 4).Draw(t, "direction"))
		r := p.Reach(Point{5 * cos, 5 * sin})
		assert.InDelta(t, 0, p.distance(Point{r * cos, r * sin}), 1e-9)
		assert.True(t, p.Contains(Point{0.999 * r * cos, 0.999 * r * sin}))
		assert.False(t, p.Contains(Point{1.001 * r * cos, 1.001 * r * sin}))
	})
}

func TestCheck(t *testing.T) {
	for want, p := range map[string]Polygon{
		"at least 3 points, this has 2":              {{0, 0}, {1, 0}},
		"point 2 is not finite":                      {{0, 0}, {math.Inf(1), 0}, {0, 1}},
		"point 3 is not finite":                      {{0, 0}, {1, 0}, {0, math.NaN()}},
		"point 1 and the next are the same":          {{0, 0}, {0, 0}, {0, 1}},
		"point 3 and the next are the same":          {{0, 0}, {1, 0}, {0, 0}},
		"crosses itself between point 1 and point 3": {{0, 0}, {10, 10}, {10, 0}, {0, 10}},
		"crosses itself between point 2 and point 4": {{0, 0}, {10, 0}, {-3, 0}, {4, 6}}, // runs back over itself
		"the outline encloses no area":               {{0, 0}, {1, 1}, {2, 2}},
	} {
		assert.ErrorContains(t, p.Check(), want)
		for i := range p {
			p[i][0] = -p[i][0]
		}
		assert.ErrorContains(t, p.Check(), want, "in the mirror")
	}
	touching := Polygon{{0, 0}, {10, 0}, {10, 5}, {5, 0}, {0, 5}}
	assert.ErrorContains(t, touching.Check(), "crosses itself")
}

func TestCheckPassesWhatDoesNotCross(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		assert.NoError(t, star(t).Check())
		assert.NoError(t, convex(t).Check())
	})
}

func BenchmarkKern(b *testing.B) {
	p := Superellipse(36, 22, 2.5)
	for b.Loop() {
		p.Kern()
	}
}
