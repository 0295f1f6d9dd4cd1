package seat

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/device/sim"
)

// laid returns a computed scene for tests.
func laid(strip *device.Strip, outline platform.Polygon, p pose, r relief, stiffness, curve, sigma float64) (*grid, *scene) {
	g := newGrid(strip)
	s := newScene(g)
	s.site.place(g, newShape(outline), p)
	s.layer.lay(g, s.site, r, nil)
	s.ground.set(g, stiffness, curve, sigma)
	return g, &s
}

// Under a flat platform in full contact a cell reads the integral of the plane over the
// part of the cell inside the outline, which Green's theorem gives exactly.
func TestFlatPlatformReadsThePlane(t *testing.T) {
	strip := sim.SeatStrip()
	outline := platform.Superellipse(36, 22, 2.5)
	rapid.Check(t, func(t *rapid.T) {
		at := pose{rapid.Float64Range(-2, 2).Draw(t, "medial"), rapid.Float64Range(-2, 2).Draw(t, "over"), rapid.Float64Range(-0.1, 0.1).Draw(t, "turn")}
		p := plane{300, rapid.Float64Range(-6, 6).Draw(t, "slope"), rapid.Float64Range(-8, 8).Draw(t, "tilt")}
		g, s := laid(strip, outline, at, relief{}, 1500, 0, 0)
		m := make([]float64, strip.Cells())
		g.read(s.layer, &s.ground, p, m, nil)

		placed := *strip
		placed.Mount.OffsetMM, placed.Mount.RotationDeg = [2]float64{at.medial, at.over}, at.turn*180/math.Pi
		sin, cos := math.Sincos(at.turn)
		for k := range m {
			part := outline.Clip(placed.CellOutline(k/strip.Cols, k%strip.Cols)).Moments()
			// Centroid of that part in the strip's axes.
			dm, do := part.Centroid[0]-at.medial, part.Centroid[1]-at.over
			want := part.Area / strip.CellArea() * (p[0] + p[1]*(cos*dm+sin*do) + p[2]*(cos*do-sin*dm))
			assert.InDelta(t, want, m[k], 0.015*300, "cell %d", k)
		}
	})
}

// Under a tilted platform in partial contact the load is that of a wedge: for the
// pressure b·(y - y₀) over depth c and width w it is b·w·c²/2.
func TestWedgeOfContact(t *testing.T) {
	strip := sim.SeatStrip()
	g, s := laid(strip, platform.Rectangle(30, 20), pose{}, relief{}, 1500, 0, 0)
	m := make([]float64, strip.Cells())
	g.read(s.layer, &s.ground, plane{-100, 0, 25}, m, nil) // contact from y = 4 to 10
	sum := 0.0
	for _, v := range m {
		sum += v * strip.CellArea()
	}
	assert.InEpsilon(t, 25.*30*6*6/2, sum, 0.005)
}

// Under a rounded edge contact extends √(2rp/K) beyond the tangent line, and the recess
// there is that of a circle.
func TestRoundedEdge(t *testing.T) {
	const r = 2.0
	assert.Zero(t, round(r, r))
	assert.Zero(t, round(5, r))
	assert.InDelta(t, r, round(0, r), 1e-12)
	assert.InDelta(t, r-math.Sqrt(r*r-1), round(1, r), 1e-12)
	reach := math.Sqrt(2 * r * 0.1) // at a depth of 0.1 mm, for radii much larger than that
	assert.InDelta(t, 0.1, round(r-reach, r), 0.006)
}

// The derivatives with respect to the plane agree with difference quotients.
func TestSlopesAreDerivatives(t *testing.T) {
	strip := sim.SeatStrip()
	g, s := laid(strip, platform.Superellipse(36, 22, 2.5), pose{0.5, -0.3, 0.02},
		relief{domeMedial: 0.05, domeOver: 0.1, frontRadius: 1, backRadius: 3}, 60, 0.002, 1)
	p := plane{60, 3, -9}
	n := strip.Cells()
	m, up, down, slope := make([]float64, n), make([]float64, n), make([]float64, n), make([]plane, n)
	g.read(s.layer, &s.ground, p, m, slope)
	for a, h := range []float64{1e-3, 1e-4, 1e-4} {
		q := p
		q[a] += h
		g.read(s.layer, &s.ground, q, up, nil)
		q[a] -= 2 * h
		g.read(s.layer, &s.ground, q, down, nil)
		for k := range m {
			d := (up[k] - down[k]) / (2 * h)
			assert.InDelta(t, d, slope[k][a], 1e-3*math.Abs(d)+1e-3)
		}
	}
}

// The derivatives with respect to the shared parameters agree with difference quotients
// over small steps within a few percent, where no parameter is near a limit.
func TestSlopesAreSecants(t *testing.T) {
	in, _ := example(t, "all together", 3, given{press: true, holds: true}, nil)
	s := newShape(in.Outline)
	press, _ := fitted(in, s, Press, nil)
	holds, _ := fitted(in, s, Hold, press)
	for _, f := range []*found{press, holds} {
		at := state{v: f.v, gains: f.gains, planes: f.planes}
		for i := domeMedial; i <= backRadius; i++ {
			at.v[i] += 0.1
		}
		p := f.problem
		p.lay(&at.v)
		by := slices.Clone(p.slopes(&at).by)
		secants := p.secants(&at, &step).by
		for i := range shared {
			var difference, size float64
			for k := range by {
				d := by[k][i] - secants[k][i]
				difference += d * d
				size += secants[k][i] * secants[k][i]
			}
			assert.Equal(t, concerns(i, p.kind), size > 0, names[i])
			// The root mean square over the cells; contact under a sharp edge changes in steps.
			assert.LessOrEqual(t, math.Sqrt(difference), 0.15*math.Sqrt(size), names[i])
		}
	}
}

// Spread distributes pressure among the cells and loses none of it on the strip.
func TestSpreadKeepsLoad(t *testing.T) {
	strip := sim.SeatStrip()
	outline := platform.Superellipse(20, 12, 2.5) // far from the border
	total := func(sigma float64) (sum, most float64) {
		g, s := laid(strip, outline, pose{}, relief{}, 1500, 0, sigma)
		m := make([]float64, strip.Cells())
		g.read(s.layer, &s.ground, plane{200, 2, 3}, m, nil)
		for _, v := range m {
			sum += v
			most = max(most, v)
		}
		return sum, most
	}
	sharp, peak := total(0)
	soft, lower := total(1.5)
	assert.InEpsilon(t, sharp, soft, 1e-4)
	assert.Less(t, lower, peak)
}

// Foam of thickness T and initial stiffness K answers the depth u with
// K·u/(1 - u/T).
func TestFoamStiffens(t *testing.T) {
	const stiffness, thickness = 60., 6.
	for _, u := range []float64{0.1, 1, 3, 5} {
		p, growth := answer(stiffness*u, 1/(stiffness*thickness))
		assert.InEpsilon(t, stiffness*u/(1-u/thickness), p, 1e-12)
		assert.InEpsilon(t, 1/math.Pow(1-u/thickness, 2), growth, 1e-12)
	}
	for _, f := range []float64{0.3, 0.8, 0.95, 2} {
		const h = 1e-6
		up, _ := answer(f, 1+h)
		down, _ := answer(f, 1-h)
		assert.InEpsilon(t, (up-down)/(2*h), stiffening(f, 1), 1e-6)
	}
	// The curve continues linearly where hardly any thickness is left.
	a, ga := answer(0.899999, 1)
	b, gb := answer(0.900001, 1)
	assert.InEpsilon(t, a, b, 1e-4)
	assert.InEpsilon(t, ga, gb, 1e-4)
}

// The table contains the distances to the polygon, and the derivatives for the outline
// scaled about its centroid.
func TestShape(t *testing.T) {
	outline := platform.Superellipse(36, 22, 2.5)
	s := newShape(outline)
	scaled := func(wide, deep float64) platform.Polygon {
		return sim.Stretch(outline, 1+2*wide/36, 1+2*deep/22)
	}
	wider, deeper := scaled(0.2, 0), scaled(0, 0.2)
	for _, at := range []platform.Point{{17, 0}, {-15, 7}, {3, -10.5}, {19, 1}, {0, 12}, {-12, -9}} {
		e := s.at(at[0], at[1])
		assert.InDelta(t, outline.EdgeDistance(at), e.inside, 0.05, "%v", at)
		assert.InDelta(t, wider.EdgeDistance(at)-outline.EdgeDistance(at), 0.2*e.perWidth, 0.02, "%v", at)
		assert.InDelta(t, deeper.EdgeDistance(at)-outline.EdgeDistance(at), 0.2*e.perDepth, 0.02, "%v", at)
	}
	assert.Greater(t, s.at(0, 11).front, 0.99)
	assert.Less(t, s.at(0, -11).front, 0.01)
	assert.InDelta(t, 0.5, s.at(18, 0).front, 0.02)
}

// The combination of two independent estimates of one quantity is the weighted mean with
// weights 1/u² and the variance 1/(1/u₁² + 1/u₂²), as in any textbook of statistics.
func TestCombine(t *testing.T) {
	x, cov := combine([3]float64{1, 10, 0}, [3]float64{2, 20, 3}, diagonal(0.04, 1, 1), diagonal(0.01, 4, 1e12))
	assert.InDelta(t, (1/0.04+2/0.01)/(1/0.04+1/0.01), x[0], 1e-9)
	assert.InDelta(t, (10./1+20./4)/(1+1./4), x[1], 1e-9)
	assert.InDelta(t, 0, x[2], 1e-9)
	assert.InDelta(t, 1/(1/0.04+1/0.01), cov.At(0, 0), 1e-9)
	assert.InDelta(t, 0.8, cov.At(1, 1), 1e-9)
	assert.InDelta(t, 1/5., apart([3]float64{0, 1, 9}, [3]float64{0, 0, 0}, diagonal(1, 1, 1), diagonal(1, 4, 1), 2), 1e-12)
}

func TestCondense(t *testing.T) {
	maps := make([]reading, 20)
	for i := range maps {
		maps[i] = reading{p: []float64{100, float64(10 * i), float64(i % 2)}, s: []float64{1, 1, 1}, n: 1}
	}
	holds := condense(maps, Hold)
	assert.Len(t, holds, mostHolds)
	n := 0
	for _, r := range holds {
		n += r.n
	}
	assert.Equal(t, 20, n, "every hold has its part")
	presses := condense(maps, Press)
	assert.Len(t, presses, mostPresses)
	for _, r := range presses {
		assert.Equal(t, 1, r.n, "presses are left out, not averaged")
	}
	assert.Len(t, maps, 20)
}
