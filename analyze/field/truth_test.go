package field

import (
	"math"
	"math/rand/v2"

	"aplomb/device"
	"aplomb/device/platform"
)

// This file integrates the reference fields without any code of the package: each
// cell is divided into lines; on every line the interval inside outline and contact
// is found exactly, and the pressure along it is integrated by five-point
// Gauss-Legendre quadrature.

// truth is a field of pressure and its contact.
type truth struct {
	name     string
	pressure func(r platform.Point) float64 // kPa, within the contact
	// The contact is where level is positive; it is at most quadratic and
	// concave along any line.
	level func(r platform.Point) float64
	tail  bool // pressure is positive beyond the contact
}

// facts are the true results of a field: load, N; contact share, 0 to 1; centre of
// pressure, mm.
type facts struct {
	load, share float64
	cop         platform.Point
	extent      platform.Point // of the contact along columns and rows, mm
}

const (
	rulings = 24 // lines a cell
)

var (
	glAt = []float64{0.04691007703067, 0.23076534494716, 0.5, 0.76923465505284, 0.95308992296933}
	glW  = []float64{0.11846344252809, 0.23931433524968, 0.28444444444444, 0.23931433524968, 0.11846344252809}
)

// observe returns the readings of the strip (kPa, in scan order) under a field on a
// convex platform, and the true results of the field.
func observe(f truth, strip *device.Strip, outline platform.Polygon) ([]float64, facts) {
	p := make([]float64, strip.Cells())
	var t facts
	var area, loadMM2 float64
	var mom platform.Point
	lo, hi := platform.Point{math.Inf(1), math.Inf(1)}, platform.Point{math.Inf(-1), math.Inf(-1)}
	for k := range p {
		row, col := strip.RowCol(k)
		sq := strip.CellOutline(row, col)
		whole := true
		for _, q := range sq {
			whole = whole && outline.Contains(q)
		}
		e1 := platform.Point{sq[1][0] - sq[0][0], sq[1][1] - sq[0][1]}
		e2 := platform.Point{sq[3][0] - sq[0][0], sq[3][1] - sq[0][1]}
		cellArea := strip.CellArea()
		sum := 0.0
		for i := range rulings {
			s := (float64(i) + 0.5) / rulings
			a := platform.Point{sq[0][0] + s*e1[0], sq[0][1] + s*e1[1]}
			along := func(t float64) platform.Point { return platform.Point{a[0] + t*e2[0], a[1] + t*e2[1]} }
			t0, t1 := 0.0, 1.0
			if !whole {
				t0, t1 = inConvex(outline, a, e2)
			}
			if t1 <= t0 {
				continue
			}
			c0, c1 := positive(f.level(along(0)), f.level(along(0.5)), f.level(along(1)))
			c0, c1 = max(c0, t0), min(c1, t1)
			if c1 > c0 {
				area += (c1 - c0) * cellArea / rulings
				for _, t := range []float64{c0, c1} {
					local := platform.Point{(float64(col) + s) * strip.PitchMM[0], (float64(row) + t) * strip.PitchMM[1]}
					for j := range local {
						lo[j], hi[j] = min(lo[j], local[j]), max(hi[j], local[j])
					}
				}
			}
			if f.tail {
				c0, c1 = t0, t1
			}
			if c1 <= c0 {
				continue
			}
			for j, x := range glAt {
				r := along(c0 + x*(c1-c0))
				v := f.pressure(r) * glW[j] * (c1 - c0) / rulings
				sum += v
				mom[0] += v * r[0]
				mom[1] += v * r[1]
			}
		}
		p[k] = sum
		loadMM2 += sum
	}
	t.load = loadMM2 * strip.CellArea() / 1000
	t.cop = platform.Point{mom[0] / loadMM2, mom[1] / loadMM2}
	t.share = area / outline.Area()
	t.extent = platform.Point{hi[0] - lo[0], hi[1] - lo[1]}
	return p, t
}

// inConvex returns the interval of t, 0 ≤ t ≤ 1, in which a + t·e lies inside a convex
// outline.
func inConvex(outline platform.Polygon, a, e platform.Point) (t0, t1 float64) {
	t1 = 1
	for i, p := range outline {
		q := outline[(i+1)%len(outline)]
		n := platform.Point{p[1] - q[1], q[0] - p[0]} // inward
		at := n[0]*(a[0]-p[0]) + n[1]*(a[1]-p[1])
		rate := n[0]*e[0] + n[1]*e[1]
		switch {
		case rate > 0:
			t0 = max(t0, -at/rate)
		case rate < 0:
			t1 = min(t1, -at/rate)
		case at < 0:
			return 0, 0
		}
	}
	return t0, t1
}

// positive returns the interval of 0..1 on which the parabola through v0, vm and v1
// at 0, 1/2 and 1, concave or straight, is positive.
func positive(v0, vm, v1 float64) (t0, t1 float64) {
	a := 2 * (v0 + v1 - 2*vm)
	b := v1 - v0 - a
	scale := math.Abs(v0) + math.Abs(vm) + math.Abs(v1)
	if math.Abs(a) < 1e-9*scale {
		switch {
		case v0 > 0 && v1 > 0:
			return 0, 1
		case v0 <= 0 && v1 <= 0:
			return 0, 0
		case v0 > 0:
			return 0, v0 / (v0 - v1)
		}
		return -v0 / (v1 - v0), 1
	}
	d := b*b - 4*a*v0
	if d <= 0 {
		return 0, 0
	}
	r0, r1 := (-b+math.Sqrt(d))/(2*a), (-b-math.Sqrt(d))/(2*a)
	return max(0, r0), min(1, r1)
}

// outlines are the four platforms of the table.
var outlines = []struct {
	name  string
	curve platform.Polygon
}{
	{"rectangle 40 × 25", platform.Rectangle(40, 25)},
	{"superellipse 40 × 25", platform.Superellipse(40, 25, 2.5)},
	{"trapezoid 38/28 × 24", platform.Polygon{{-19, -12}, {19, -12}, {14, 12}, {-14, 12}}.Centred()},
	{"rectangle 36 × 22", platform.Rectangle(36, 22)},
}

// tableStrip returns a strip with a random seat that its profile states, large enough
// to extend beyond every outline.
func tableStrip(rng *rand.Rand, pitch float64) *device.Strip {
	s := &device.Strip{
		Name: "T", Foot: device.Left, Rows: int(math.Round(35 / pitch)), Cols: int(math.Round(50 / pitch)),
		PitchMM: [2]float64{pitch, pitch}, CellMM: [2]float64{pitch, pitch},
		FirstCell: "back-lateral", Scan: "rows",
		Calibration: device.Calibration{KPaPerCount: 0.5, GainSD: device.DefaultGainSD},
	}
	s.Mount.OffsetMM = [2]float64{5*rng.Float64() - 2.5, 5*rng.Float64() - 2.5}
	s.Mount.RotationDeg = 6*rng.Float64() - 3
	return s
}

// family draws random fields of one kind on a platform; shoot sets their scale.
type family struct {
	name string
	gain float64 // relative standard deviation of the cells' gains
	draw func(rng *rand.Rand, outline platform.Polygon) truth
}

var families = []family{
	{"L", 0, drawL}, {"U", 0, drawU}, {"M", 0, drawM}, {"C", 0, drawC}, {"G", 0, drawG},
	{"L+gain", 0.03, drawL}, {"U+gain", 0.03, drawU},
	{"D", 0, drawD}, {"D+gain", 0.03, drawD}, {"P", 0, drawP},
}

func direction(rng *rand.Rand) platform.Point {
	sin, cos := math.Sincos(2 * math.Pi * rng.Float64())
	return platform.Point{cos, sin}
}

// support returns the support function of the outline: the largest n·r in it, mm.
func support(outline platform.Polygon, n platform.Point) float64 {
	far := math.Inf(-1)
	for _, q := range outline {
		far = max(far, n[0]*q[0]+n[1]*q[1])
	}
	return far
}

// edgeLine draws a line n·r = d that leaves between a quarter of the outline's extent
// along n and beyond times the extent on the loaded side.
func edgeLine(rng *rand.Rand, outline platform.Polygon, beyond float64) (n platform.Point, d float64) {
	n = direction(rng)
	far, near := support(outline, n), -support(outline, platform.Point{-n[0], -n[1]})
	return n, near + (far-near)*(0.25+(beyond-0.25)*rng.Float64())
}

// drawL draws field L: pressure increases linearly from a line; contact is full if the
// line is outside.
func drawL(rng *rand.Rand, outline platform.Polygon) truth {
	return elastic(rng, outline, "L", 1)
}

// drawC draws field C: as L, to a power from 0.75 to 1.4.
func drawC(rng *rand.Rand, outline platform.Polygon) truth {
	return elastic(rng, outline, "C", 0.75+0.65*rng.Float64())
}

func elastic(rng *rand.Rand, outline platform.Polygon, name string, exponent float64) truth {
	n, d := edgeLine(rng, outline, 1.6)
	level := func(r platform.Point) float64 { return d - n[0]*r[0] - n[1]*r[1] }
	return truth{name: name, level: level,
		pressure: func(r platform.Point) float64 { return math.Pow(max(0, level(r)), exponent) }}
}

// drawU draws field U: uniform on one side of a line.
func drawU(rng *rand.Rand, outline platform.Polygon) truth {
	n, d := edgeLine(rng, outline, 1.05)
	return truth{name: "U", level: func(r platform.Point) float64 { return d - n[0]*r[0] - n[1]*r[1] },
		pressure: func(platform.Point) float64 { return 1 }}
}

// drawM draws field M: a plane with any gradient on one side of a line; its minimum is
// 0.1 to 0.9 of its mean.
func drawM(rng *rand.Rand, outline platform.Polygon) truth {
	t := drawU(rng, outline)
	u, lowest := direction(rng), 0.1+0.8*rng.Float64()
	slope := (1 - lowest) / support(outline, platform.Point{-u[0], -u[1]})
	t.name, t.pressure = "M", func(r platform.Point) float64 { return 1 + slope*(u[0]*r[0]+u[1]*r[1]) }
	return t
}

// drawG draws field G: a Gaussian bump; its contact is by definition the area with
// pressure above 1 % of the maximum.
func drawG(rng *rand.Rand, outline platform.Polygon) truth {
	c := platform.Point{8*rng.Float64() - 4, 6*rng.Float64() - 3}
	a, b := 6+6*rng.Float64(), 5+4*rng.Float64()
	q := func(r platform.Point) float64 {
		x, y := (r[0]-c[0])/a, (r[1]-c[1])/b
		return (x*x + y*y) / 2
	}
	return truth{name: "G", tail: true, level: func(r platform.Point) float64 { return math.Log(100) - q(r) },
		pressure: func(r platform.Point) float64 { return math.Exp(-q(r)) }}
}

// drawD draws field D: a domed platform on an elastic bed, a paraboloid that ends at
// zero.
func drawD(rng *rand.Rand, outline platform.Polygon) truth {
	q := ellipse(rng)
	return truth{name: "D", level: func(r platform.Point) float64 { return 1 - q(r) },
		pressure: func(r platform.Point) float64 { return max(0, 1-q(r)) }}
}

// drawP draws field P: uniform on an elliptic patch.
func drawP(rng *rand.Rand, outline platform.Polygon) truth {
	q := ellipse(rng)
	return truth{name: "P", level: func(r platform.Point) float64 { return 1 - q(r) },
		pressure: func(r platform.Point) float64 { return 1 }}
}

func ellipse(rng *rand.Rand) func(r platform.Point) float64 {
	c := platform.Point{10*rng.Float64() - 5, 8*rng.Float64() - 4}
	a, b := 12+12*rng.Float64(), 9+7*rng.Float64()
	return func(r platform.Point) float64 {
		x, y := (r[0]-c[0])/a, (r[1]-c[1])/b
		return x*x + y*y
	}
}
