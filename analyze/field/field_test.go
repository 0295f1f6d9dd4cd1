package field

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"aplomb/device"
	"aplomb/device/platform"
)

// squared returns a strip of 5 mm cells with this many rows and columns, not
// rotated.
func squared(rows, cols int, offset platform.Point) *device.Strip {
	s := tableStrip(rand.New(rand.NewPCG(1, 1)), 5)
	s.Rows, s.Cols = rows, cols
	s.Mount.OffsetMM, s.Mount.RotationDeg = offset, 0
	return s
}

// beam returns the readings of a strip under a width × depth rectangle whose
// load F (N) acts at e along over, by the middle-third rule for a base that takes
// no tension: within depth/6 the pressure runs linearly from F/A·(1 - 6e/B) to
// F/A·(1 + 6e/B); beyond, over the length 3·(B/2 - e) from 4F/(3L(B - 2e)) to 0.
// Both follow from statics: a triangle balances the load where its centroid lies
// under it. Each reading is that line integrated exactly over the cell's part inside.
func beam(strip *device.Strip, width, depth, load, e float64) (p []float64, share, most float64) {
	sign := 1.0
	if e < 0 {
		sign, e = -1, -e
	}
	mean := load * 1000 / (width * depth) // kPa
	share, most = 1, mean*(1+6*e/depth)
	least := mean * (1 - 6*e/depth)
	length := depth
	if e > depth/6 {
		share = 3 * (0.5 - e/depth)
		length = share * depth
		most, least = 4*load*1000/(3*width*(depth-2*e)), 0
	}
	// Integral of the pressure from the loaded edge inward to s.
	upTo := func(s float64) float64 {
		s = min(max(0, s), length)
		return most*s - (most-least)*s*s/(2*length)
	}
	p = make([]float64, strip.Cells())
	for k := range p {
		c := strip.CellOutline(strip.RowCol(k))
		across := max(0, min(c[2][0], width/2)-max(c[0][0], -width/2))
		a, b := c[0][1], c[2][1]
		if sign < 0 {
			a, b = -b, -a
		}
		p[k] = across * (upTo(depth/2-a) - upTo(depth/2-b)) / strip.CellArea()
	}
	return p, share, most
}

// The eccentricity covers the whole range with load on at least two rows, and then one
// row; within a single row the readings do not show the edge of contact.
func TestMiddleThird(t *testing.T) {
	const load = 300.0
	for _, size := range [][2]float64{{40, 25}, {36, 22}} {
		width, depth := size[0], size[1]
		for _, offset := range []platform.Point{{0, 0}, {1.3, -0.9}} {
			strip := squared(7, 10, offset)
			g := New(strip, platform.Rectangle(width, depth))
			ws := g.Weights()
			for e := -0.44; e < 0.441; e += 0.02 {
				p, share, most := beam(strip, width, depth, load, e*depth)
				m := g.Reconstruct(p, nil)
				require.InDelta(t, load, m.LoadN, 1e-9*load)
				require.True(t, m.CoPOK)
				length := share * depth
				shareTol, copTol := 2e-4, 2e-3
				if length < 10 {
					shareTol, copTol = 0.01, 0.03
				}
				if length < 5 {
					shareTol, copTol = 0.1, 0.6
				}
				require.InDelta(t, share, m.ContactShare, shareTol, "e/B %.2f, %s", e, m.Family)
				require.InDelta(t, 0, m.CoP[0], copTol, "e/B %.2f, %s", e, m.Family)
				require.InDelta(t, e*depth, m.CoP[1], copTol, "e/B %.2f, %s", e, m.Family)
				light := weighted(ws, p)
				require.InDelta(t, 0, light[0], 1e-3)
				if share == 1 {
					require.InDelta(t, e*depth, light[1], 1e-3, "weights, e/B %.2f", e)
				}

				// The largest reading is the mean over the row at the loaded edge, or
				// over the next where little of that row is inside.
				far := 0.0
				for k := range p {
					if p[k] >= m.PeakKPa-1e-9 && g.cells[k].w >= minInside {
						far = p[k] / g.cells[k].w
						at := depth/2 - math.Abs(g.cells[k].centroid[1])
						if whole := length >= depth || at < length-2.5; whole {
							least := max(0, 2*load*1000/(width*depth)-most)
							require.InEpsilon(t, most-(most-least)*at/length, far, 1e-6, "largest pressure, e/B %.2f", e)
						}
					}
				}
				require.Positive(t, far)
				require.InDelta(t, 1, m.Back+m.Middle+m.Front, 1e-9)
			}
		}
	}
}

// A central load on a rectangle gives a third of the load in each third; a load on
// the edge of the kern gives 1/9, 3/9 and 5/9, the thirds of a triangle.
func TestThirds(t *testing.T) {
	strip := squared(5, 8, platform.Point{})
	g := New(strip, platform.Rectangle(40, 25))
	p, _, _ := beam(strip, 40, 25, 300, 0)
	m := g.Reconstruct(p, nil)
	require.InDeltaSlice(t, []float64{1. / 3, 1. / 3, 1. / 3}, []float64{m.Back, m.Middle, m.Front}, 1e-6)
	p, _, _ = beam(strip, 40, 25, 300, 25./6)
	m = g.Reconstruct(p, nil)
	require.InDeltaSlice(t, []float64{1. / 9, 3. / 9, 5. / 9}, []float64{m.Back, m.Middle, m.Front}, 1e-5)
}

// An ellipse with semi-axes a and b has the area πab and a kern of a quarter of
// its size: the pressure ∝ 1 + medial/a is nowhere negative and has its resultant
// at a/4. The half ellipse under uniform pressure has its centroid 4b/3π from the
// middle.
func TestEllipse(t *testing.T) {
	const a, b = 20.0, 12.5
	outline := platform.Superellipse(2*a, 2*b, 2)
	strip := squared(7, 10, platform.Point{0.7, 1.1})
	g := New(strip, outline)
	require.InEpsilon(t, math.Pi*a*b, g.Area, 1e-3)
	inside := 0.0
	for _, w := range insideFractions(g) {
		inside += w * 25
	}
	require.InEpsilon(t, g.Area, inside, 1e-9)

	ramp := truth{level: func(r platform.Point) float64 { return 1 + r[0]/a },
		pressure: func(r platform.Point) float64 { return 300 * (1 + r[0]/a) }}
	p, _ := observe(ramp, strip, outline)
	m := g.Reconstruct(p, nil)
	require.InDelta(t, a/4, m.CoP[0], 0.005)
	require.InDelta(t, 0, m.CoP[1], 0.005)
	require.InDelta(t, 1, m.ContactShare, 0.002)
	light := weighted(g.Weights(), p)
	require.InDelta(t, a/4, light[0], 0.005)

	half := truth{level: func(r platform.Point) float64 { return -r[1] },
		pressure: func(platform.Point) float64 { return 600 }}
	p, _ = observe(half, strip, outline)
	m = g.Reconstruct(p, nil)
	require.Equal(t, UniformCut, m.Family)
	require.InDelta(t, -4*b/(3*math.Pi), m.CoP[1], 0.005)
	require.InDelta(t, 0.5, m.ContactShare, 0.001)
}

// Without noise, errors of the centre of pressure decrease at least as the pitch to
// the power 1.5. Fields that a model fits have negligible errors at any pitch, in
// contact share as well. The contact of a Gaussian bump ends by definition at 1 %
// of its maximum; its share converges more slowly.
func TestErrorFallsWithPitch(t *testing.T) {
	for _, f := range families[:5] {
		var rms [3][3]float64
		for i, pitch := range []float64{5, 2.5, 1.25} {
			rng := rand.New(rand.NewPCG(7, 3))
			var errs tally
			for range 6 {
				s := shoot(rng, f, outlines[2].curve, pitch, 0)
				if s.truth.share < 0.35 {
					continue
				}
				m := s.grid.Reconstruct(s.p, nil)
				errs.add(m.CoP, m.ContactShare, s.truth)
			}
			rms[i] = errs.rms()
		}
		t.Logf("%s: %.5f", f.name, rms)
		for i := range 2 {
			require.LessOrEqual(t, rms[1][i], rms[0][i]/math.Pow(2, 1.5)+5e-4, "%s 5 to 2.5 mm", f.name)
			require.LessOrEqual(t, rms[2][i], rms[1][i]/math.Pow(2, 1.5)+5e-4, "%s 2.5 to 1.25 mm", f.name)
		}
		if f.name == "G" {
			require.Less(t, rms[2][2], 0.5)
		} else {
			require.LessOrEqual(t, rms[2][2], rms[0][2]/8+0.05, "%s share", f.name)
		}
	}
}

// ShiftSeat(d) gives the true centre of pressure for a strip whose seat differs by d from
// its profile's. The profile's grid gives one that is off by d.
func TestShiftSeat(t *testing.T) {
	outline := platform.Rectangle(36, 22)
	d := platform.Point{0.6, 1}
	strip := squared(7, 10, platform.Point{0.4, -0.2})
	moved := *strip
	moved.Mount.OffsetMM[0] += d[0]
	moved.Mount.OffsetMM[1] += d[1]
	f := truth{level: func(r platform.Point) float64 { return 8 - r[1] },
		pressure: func(r platform.Point) float64 { return 100 * (8 - r[1]) / 8 }}
	p, want := observe(f, &moved, outline)
	g := New(strip, outline)
	m := g.ShiftSeat(d).Reconstruct(p, nil)
	require.InDelta(t, want.cop[1], m.CoP[1], 0.005)
	require.InDelta(t, want.cop[0], m.CoP[0], 0.005)
	require.InDelta(t, want.share, m.ContactShare, 0.002)
	require.InDelta(t, want.cop[1]-1, weighted(g.Weights(), p)[1], 0.3, "a strip further forward reads less")
	require.Equal(t, platform.Point{0.4, -0.2}, platform.Point(g.strip.Mount.OffsetMM), "the grid itself stays")
}

func TestNothingOnIt(t *testing.T) {
	g := New(squared(5, 8, platform.Point{}), platform.Rectangle(36, 22))
	require.Equal(t, Reconstruction{}, g.Reconstruct(make([]float64, 40), nil))
	p := make([]float64, 40)
	p[20] = 900 // 22.5 N: below LoadFloorN
	m := g.Reconstruct(p, nil)
	require.False(t, m.CoPOK)
	require.Zero(t, m.ContactShare)
	require.InDelta(t, 22.5, m.LoadN, 1e-9)
	require.Equal(t, 900.0, m.PeakKPa)
}

// Load on a cell outside the outline counts and acts at the centre of its cell.
func TestOffOutline(t *testing.T) {
	strip := squared(7, 10, platform.Point{})
	g := New(strip, platform.Rectangle(30, 15))
	p := make([]float64, 70)
	for k := range p {
		row, col := strip.RowCol(k)
		if row >= 2 && row < 5 && col >= 2 && col < 8 {
			p[k] = 900
		}
	}
	p[0] = 1800 // a corner cell, centred at [-22.5, -15]
	m := g.Reconstruct(p, nil)
	require.InDelta(t, 18.*22.5+45, m.LoadN, 1e-9)
	require.InDelta(t, 0.1, m.OffOutlineShare, 1e-9)
	require.InDelta(t, 0.1*-22.5, m.CoP[0], 0.01)
	require.InDelta(t, 0.1*-15, m.CoP[1], 0.01)
	light := weighted(g.Weights(), p)
	require.InDelta(t, -2.25, light[0], 0.01)
	require.Equal(t, 900.0, m.PeakKPa, "a cell beside the platform is no peak")
}
