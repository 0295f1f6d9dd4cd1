//go:build !race

package sim

import (
	"math"
	"slices"
	"sort"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/device/platform"
)

func surface(t require.TestingT, shape Shape) *Surface {
	s, err := NewSurface(shape)
	require.NoError(t, err)
	return s
}

// With the default grid a flat Surface agrees with the exact Sole, whose contact
// is cut along the limit of contact: centre of pressure within 0.005 mm, contact
// share within 0.3 percentage points, reading of a cell within 0.5 % of the largest.
func TestSurfaceConverges(t *testing.T) {
	outline := platform.Superellipse(36, 22, 2.5)
	s, sole := surface(t, Shape{Outline: outline}), NewSole(outline, 0, DefaultBedKPaMM)
	strip := SeatStrip()
	strip.Mount.OffsetMM, strip.Mount.RotationDeg = [2]float64{0.7, -1.2}, 1.5
	cells := NewCells(s, strip, Seat{0.7, -1.2, 1.5}, 0, Overhang{})
	pads := NewActiveAreas(strip, sole)
	got, want := make([]float64, strip.Cells()), make([]float64, strip.Cells())
	for _, cop := range []platform.Point{{0, 0}, {0, -3}, {0, -5}, {1, -6.5}, {-8, -4}, {3, 7}, {10, 1}} {
		im, err := s.Press(Bed{KPaMM: DefaultBedKPaMM}, 280, cop, Pose{})
		require.NoError(t, err)
		exact := sole.Contact(im.Pose)
		require.InDelta(t, cop[0], exact.CoP[0], 0.005, "%v", cop)
		require.InDelta(t, cop[1], exact.CoP[1], 0.005, "%v", cop)
		require.InEpsilon(t, 280, exact.LoadN, 0.001, "%v", cop)
		require.InDelta(t, exact.Share, im.AreaMM2(0)/outline.Area(), 0.003, "%v", cop)
		cells.Read(im, got)
		pads.Read(im.Pose, want)
		peak := sole.Peak(im.Pose)
		for k := range got {
			require.InDelta(t, want[k], got[k], 0.005*peak, "%v cell %d", cop, k)
		}
	}
}

// Where no exact answer is known, the default grid agrees with one of 0.1 mm: the
// readings of cells and the contact share of holds and pad presses.
func TestGridConverges(t *testing.T) {
	strip := SeatStrip()
	got, want := make([]float64, strip.Cells()), make([]float64, strip.Cells())
	for _, name := range []string{"kind", "rounded 2 mm", "all together", "back 3 mm, front 1 mm", "bent overhang, tail", "foam pulls at the edge"} {
		s := setup(t, name, 3)
		p := s.Physics
		shape := s.shape()
		coarse := surface(t, shape)
		shape.GridMM = 0.1
		fine := surface(t, shape)
		a := NewCells(coarse, strip, Seat{0.4, -0.9, 1}, p.SpreadMM, p.Overhang)
		b := NewCells(fine, strip, Seat{0.4, -0.9, 1}, p.SpreadMM, p.Overhang)
		for _, c := range []struct {
			bed   Bed
			loadN float64
			reach float64
			angle float64
		}{
			{p.floor(), 250, 0, 0}, {p.floor(), 250, 0.3, -90}, {p.floor(), 300, 0.6, -100},
			{p.pad(), 100, 0, 0}, {p.pad(), 100, 0.6, 30}, {p.pad(), 100, 0.8, 200}, {p.pad(), 100, 0.95, 270},
		} {
			if s.Press != (PadPress{}) {
				c.reach = min(c.reach, s.Press.Reach[1])
			}
			sin, cos := math.Sincos(c.angle * math.Pi / 180)
			r := c.reach * shape.Outline.Reach(platform.Point{cos, sin})
			x, err := coarse.Press(c.bed, c.loadN, platform.Point{r * cos, r * sin}, Pose{})
			require.NoError(t, err)
			y, err := fine.Press(c.bed, c.loadN, platform.Point{r * cos, r * sin}, Pose{})
			require.NoError(t, err)
			a.Read(x, got)
			b.Read(y, want)
			worst := 0.0
			for k := range got {
				worst = max(worst, math.Abs(got[k]-want[k]))
			}
			t.Logf("%s %v: cell %.3f %% of the peak, contact %+.3f points", name, c, 100*worst/slices.Max(want),
				100*(x.AreaMM2(10)-y.AreaMM2(10))/fine.area)
			require.Less(t, worst, 0.01*slices.Max(want), "%s %v", name, c)
			require.InDelta(t, y.AreaMM2(10)/fine.area, x.AreaMM2(10)/fine.area, 0.003, "%s %v", name, c)
		}
	}
}

// By the middle-third rule, which textbooks of foundation engineering give for eccentric
// footings, a strip of 3·(depth/2 - e) of a rectangle carries the load.
func TestSurfaceMiddleThird(t *testing.T) {
	s := surface(t, Shape{Outline: platform.Rectangle(36, 22)})
	for _, e := range []float64{0, 2, 22.0 / 6, 5, 7, 9} {
		im, err := s.Press(Bed{KPaMM: 1500}, 300, platform.Point{0, -e}, Pose{})
		require.NoError(t, err)
		require.InDelta(t, min(1, 3*(0.5-e/22)), im.AreaMM2(0)/(36*22), 0.003, "e = %v", e)
	}
}

// An axisymmetric paraboloid r²/2R pushed in over a circle of radius a has the
// indentation a²/2R and carries k·π·a⁴/4R: the integral of k·(a² - r²)/2R over the
// circle.
func TestSurfaceParaboloid(t *testing.T) {
	const radius, height, stiffness = 15.0, 0.6, 1500.0
	s := surface(t, Shape{Outline: circle(radius), DomeMM: height})
	r := radius * radius / (2 * height)
	for _, a := range []float64{3, 6, 9, 12, 14.5} {
		load := stiffness * math.Pi * math.Pow(a, 4) / (4 * r) / 1000
		im, err := s.Press(Bed{KPaMM: stiffness}, load, platform.Point{}, Pose{})
		require.NoError(t, err)
		require.InEpsilon(t, a*a/(2*r), im.Pose.DepthMM, 0.003, "a = %v", a)
		require.InEpsilon(t, math.Pi*a*a, im.AreaMM2(0), 0.003, "a = %v", a)
	}
}

// A rounded edge rises by s²/2R to second order at the distance s beyond the
// point where the arc begins. A platform pushed in by d without tilt therefore
// touches up to √(2Rd - d²) beyond that point, exactly for a circle: there the
// arc has risen by d.
func TestRoundedEdgeTouches(t *testing.T) {
	const w, h, r, load = 36.0, 22.0, 2.0, 300.0
	s := surface(t, Shape{Outline: platform.Rectangle(w, h), RoundFrontMM: r, RoundBackMM: r})
	im, err := s.Press(Bed{KPaMM: 1500}, load, platform.Point{}, Pose{})
	require.NoError(t, err)
	d := im.Pose.DepthMM
	beyond := math.Sqrt(2*r*d - d*d)
	require.InDelta(t, math.Sqrt(2*r*d), beyond, 0.05)
	// The nearest edge sets the height, so the touching part is a rectangle again.
	want := (w - 2*r + 2*beyond) * (h - 2*r + 2*beyond)
	require.InEpsilon(t, want, im.AreaMM2(0), 0.003)
	// A fine profile along each axis sees where the gap equals the depth.
	require.InDelta(t, d, s.Gap(platform.Point{w/2 - r + beyond, 0}), 1e-9)
	require.InDelta(t, 0, s.Gap(platform.Point{0, h/2 - r}), 1e-9)
	// Load on the flat part and on the arc: ∫(d - gap) over frames of equal gap,
	// whose length is that of a rectangle's edge at the distance s beyond.
	sum, n := (w-2*r)*(h-2*r)*d, 20000
	for i := range n {
		x := beyond * (float64(i) + 0.5) / float64(n)
		gap := r - math.Sqrt(r*r-x*x)
		sum += (d - gap) * 2 * ((w - 2*r + 2*x) + (h - 2*r + 2*x)) * beyond / float64(n)
	}
	require.InEpsilon(t, load, 1500*sum/1000, 0.002)
}

// Load and moments of the solved pose equal the applied ones.
func TestSurfaceEquilibrium(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		outline := convex(t)
		lo, hi := outline.Bounds()
		most := min(3, min(hi[0]-lo[0], hi[1]-lo[1])/2)
		s := surface(t, Shape{
			Outline: outline, GridMM: 0.5,
			DomeMM:       rapid.SampledFrom([]float64{0, 0.2}).Draw(t, "dome"),
			RoundFrontMM: rapid.Float64Range(0, most).Draw(t, "front"),
			RoundBackMM:  rapid.Float64Range(0, most).Draw(t, "back"),
			PleatsMM:     rapid.SampledFrom([]float64{0, 0.3}).Draw(t, "pleats"),
			PleatSeed:    rapid.Uint64().Draw(t, "seed"),
		})
		bed := rapid.SampledFrom([]Bed{{KPaMM: 1500}, {KPaMM: 60}, {KPaMM: 60, ThicknessMM: 6}}).Draw(t, "bed")
		pose := Pose{}
		for range 3 {
			load := rapid.Float64Range(20, 900).Draw(t, "load")
			q := inside(t, outline, 0.85)
			im, err := s.Press(bed, load, q, pose)
			require.NoError(t, err)
			require.InEpsilon(t, load, im.LoadN, 1e-6)
			require.InDelta(t, q[0], im.CoP[0], 1e-6)
			require.InDelta(t, q[1], im.CoP[1], 1e-6)
			pose = im.Pose
		}
	})
}

func TestSurfaceBearsNoLoadOutside(t *testing.T) {
	s := surface(t, Shape{Outline: platform.Rectangle(36, 22)})
	for _, q := range []platform.Point{{0, 11}, {0, -11.01}, {18.5, 0}, {40, 40}, {math.NaN(), 0}} {
		_, err := s.Press(Bed{KPaMM: 1500}, 300, q, Pose{})
		require.ErrorIs(t, err, ErrReach, "%v", q)
	}
	for _, load := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		_, err := s.Press(Bed{KPaMM: 1500}, load, platform.Point{}, Pose{})
		require.ErrorIs(t, err, ErrReach, "%v N", load)
	}
}

// A symmetric platform gives mirrored pressures for mirrored loads.
func TestSurfaceSymmetry(t *testing.T) {
	s := surface(t, Shape{Outline: platform.Superellipse(36, 22, 2.5), DomeMM: 0.1, RoundFrontMM: 1.5, RoundBackMM: 1.5})
	strip := SeatStrip()
	cells := NewCells(s, strip, Seat{}, 1, Overhang{})
	a, b := make([]float64, strip.Cells()), make([]float64, strip.Cells())
	left, err := s.Press(Bed{KPaMM: 1500}, 250, platform.Point{-4, -3}, Pose{})
	require.NoError(t, err)
	right, err := s.Press(Bed{KPaMM: 1500}, 250, platform.Point{4, 3}, Pose{})
	require.NoError(t, err)
	cells.Read(left, a)
	cells.Read(right, b)
	for k := range a {
		require.InDelta(t, a[k], b[len(b)-1-k], 1e-6)
	}
	require.InDelta(t, left.AreaMM2(10), right.AreaMM2(10), 1e-6)
}

// A layer that spreads pressure changes neither the load nor its centre: a strip large
// enough reads both unchanged, for any seat.
func TestSpreadKeepsLoadAndCentre(t *testing.T) {
	s := surface(t, Shape{Outline: platform.Superellipse(36, 22, 2.5), RoundBackMM: 1})
	im, err := s.Press(Bed{KPaMM: 1500}, 250, platform.Point{2, -5}, Pose{})
	require.NoError(t, err)
	strip := SeatStrip()
	strip.Rows, strip.Cols = 60, 80
	strip.PitchMM, strip.CellMM = [2]float64{1, 1}, [2]float64{1, 1}
	seat := Seat{1.3, -0.4, 3}
	strip.Mount.OffsetMM, strip.Mount.RotationDeg = [2]float64{seat.MedialMM, seat.OverMM}, seat.RotationDeg
	kPa := make([]float64, strip.Cells())
	for _, spread := range []float64{0, 0.3, 1.5} {
		NewCells(s, strip, seat, spread, Overhang{}).Read(im, kPa)
		var f, m, o, oo float64
		for k, p := range kPa {
			c := strip.Centre(strip.RowCol(k))
			f, m, o, oo = f+p, m+p*c[0], o+p*c[1], oo+p*c[1]*c[1]
		}
		require.InEpsilon(t, 250, f/1000, 1e-4, "spread %v", spread)
		require.InDelta(t, 2, m/f, 0.002, "spread %v", spread)
		require.InDelta(t, -5, o/f, 0.002, "spread %v", spread)
		// Each variance is the sum of those of pressure, spread, cell and square.
		var mean, square, all float64
		for i, p := range im.kPa {
			q := s.points[i]
			all, mean, square = all+p*q.area, mean+p*q.area*q.o, square+p*q.area*q.o*q.o
		}
		inner := square/all - (mean/all)*(mean/all)
		require.InDelta(t, inner+spread*spread+(1+s.step*s.step)/12, oo/f-(o/f)*(o/f), 0.03, "spread %v", spread)
	}
}

// Even pressure on a rectangle that a Gaussian spreads is, along each axis, a
// difference of normal distribution functions. The test adds up the area where
// their product exceeds a fraction of the pressure.
func TestStripAreaOfARectangle(t *testing.T) {
	s := surface(t, Shape{Outline: platform.Rectangle(60, 40)})
	im, err := s.Press(Bed{KPaMM: 1500}, 600, platform.Point{}, Pose{})
	require.NoError(t, err)
	p := 600.0 / (60 * 40) * 1000
	const sd, h = 1.5, 0.01
	along := func(x, half float64) float64 {
		return (math.Erf((x+half)/(sd*math.Sqrt2)) - math.Erf((x-half)/(sd*math.Sqrt2))) / 2
	}
	for _, q := range []float64{0.2, 0.35, 0.6, 0.75, 0.9} {
		want := 0.0
		for x := h / 2; x < 30; x += h {
			y := sort.Search(20000, func(i int) bool { return along(x, 30)*along(float64(i)/1000, 20) < q })
			want += 4 * h * float64(y) / 1000
		}
		require.InEpsilon(t, want, im.StripAreaMM2(sd, q*p), 0.001, "q = %v", q)
	}
}

// Pleats have the given height, lie at the front and the back, and stay the same for the
// same seed.
func TestPleats(t *testing.T) {
	shape := Shape{Outline: platform.Superellipse(36, 22, 2.5), PleatsMM: 0.3, PleatSeed: 7}
	s, again := surface(t, shape), surface(t, shape)
	shape.PleatSeed++
	other := surface(t, shape)
	lowest, differs := 0.0, false
	for i, q := range s.points {
		require.Equal(t, q, again.points[i])
		lowest, differs = min(lowest, q.gap), differs || q.gap != other.points[i].gap
		require.LessOrEqual(t, q.gap, 0.0)
	}
	require.True(t, differs)
	require.InDelta(t, -0.3, lowest, 0.02)
	require.Greater(t, s.Gap(platform.Point{}), -0.01)
}

// The front edge has one radius and the back edge another.
func TestRoundingDiffers(t *testing.T) {
	s := surface(t, Shape{Outline: platform.Superellipse(36, 22, 2.5), RoundFrontMM: 1, RoundBackMM: 3})
	edge := s.Outline().Reach(platform.Point{0, 1})
	require.InDelta(t, 1, s.Gap(platform.Point{0, edge}), 1e-3)
	require.InDelta(t, 3, s.Gap(platform.Point{0, -edge}), 1e-3)
	require.Zero(t, s.Gap(platform.Point{0, edge - 1.01}))
	require.InDelta(t, 3-math.Sqrt(8), s.Gap(platform.Point{0, -edge + 2}), 1e-3)
	require.InDelta(t, 2, s.Gap(platform.Point{s.Outline().Reach(platform.Point{1, 0}), 0}), 1e-2)
}

// Foam under a uniform platform has the pressure of the load.
func TestFoamStiffens(t *testing.T) {
	bed := Bed{KPaMM: 60, ThicknessMM: 6}
	s := surface(t, Shape{Outline: platform.Rectangle(30, 20)})
	im, err := s.Press(bed, 90, platform.Point{}, Pose{})
	require.NoError(t, err)
	require.InEpsilon(t, 150/(60+150.0/6), im.Pose.DepthMM, 1e-9)
	for _, u := range []float64{0.1, 1, 3, 5.3, 5.5, 8} {
		p, growth, energy := bed.pressure(u)
		const d = 1e-6
		p1, _, e1 := bed.pressure(u + d)
		p0, _, e0 := bed.pressure(u - d)
		require.InEpsilon(t, growth, (p1-p0)/(2*d), 1e-5)
		require.InEpsilon(t, p, (e1-e0)/(2*d), 1e-5)
		require.InEpsilon(t, u, bed.depth(p), 1e-9)
		require.Positive(t, energy)
	}
}

// A layer with shear pulls at the outline of a level platform: load = pressure ×
// (area + λ · circumference), and a strip reads that much more beside the edge.
func TestBedPullsAtTheEdge(t *testing.T) {
	s := surface(t, Shape{Outline: platform.Rectangle(30, 20)})
	im, err := s.Press(Bed{KPaMM: 60, EdgeMM: 2}, 100, platform.Point{}, Pose{})
	require.NoError(t, err)
	p := 100.0 * 1000 / (30*20 + 2*2*(30+20))
	require.InEpsilon(t, p/60, im.Pose.DepthMM, 1e-6)
	strip := SeatStrip()
	kPa := make([]float64, strip.Cells())
	NewCells(s, strip, Seat{OverMM: -2.5}, 0, Overhang{}).Read(im, kPa)
	// The front row ends at the front edge, the one behind it lies within.
	require.InEpsilon(t, p, kPa[3*8+3], 1e-6)
	require.InEpsilon(t, p*(5+2)/5, kPa[4*8+3], 1e-6)
}

func BenchmarkSurface(b *testing.B) {
	for _, c := range []struct {
		name   string
		spread float64
	}{{"press and cells", 0}, {"press, cells and area after spreading", 1.5}} {
		b.Run(c.name, func(b *testing.B) {
			s := surface(b, Shape{Outline: platform.Superellipse(36, 22, 2.5), RoundFrontMM: 2, RoundBackMM: 2})
			strip := SeatStrip()
			cells := NewCells(s, strip, Seat{}, c.spread, Overhang{})
			kPa := make([]float64, strip.Cells())
			for i := 0; b.Loop(); i++ {
				sin, cos := math.Sincos(float64(i))
				im, err := s.Press(Bed{KPaMM: 1500}, 300, platform.Point{cos, -5 + sin}, Pose{})
				if err != nil {
					b.Fatal(err)
				}
				cells.Read(im, kPa)
				im.StripAreaMM2(c.spread, 10)
			}
		})
	}
}
