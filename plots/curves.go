package plots

import (
	"math"

	"gonum.org/v1/gonum/stat"

	"aplomb/analyze/compare"
	"aplomb/analyze/stats"
	"aplomb/device/platform"
)

// simplify removes the points of a closed curve that lie within 0.01 mm of the
// line between the points that it keeps. Coordinates are in mm.
func simplify(p platform.Polygon) platform.Polygon {
	const tolerance = 0.01
	var out platform.Polygon
	for i := 0; i < len(p); {
		out = append(out, p[i])
		next := i + 1
		for next+1 < len(p) && alongLine(p[i], p[next+1], p[i+1:next+1], tolerance) {
			next++
		}
		i = next
	}
	return out
}

// alongLine reports whether all points lie within d of the line from a to b.
func alongLine(a, b platform.Point, points []platform.Point, d float64) bool {
	x, y := b[0]-a[0], b[1]-a[1]
	length := math.Hypot(x, y)
	for _, q := range points {
		if math.Abs(x*(q[1]-a[1])-y*(q[0]-a[0])) > d*length {
			return false
		}
	}
	return true
}

// stretchesWithin returns the stretches of a closed curve whose points lie within
// an outline.
func stretchesWithin(curve, outline platform.Polygon) []platform.Polygon {
	var out []platform.Polygon
	var run platform.Polygon
	for i := range curve {
		a, b := curve[i], curve[(i+1)%len(curve)]
		if !outline.Contains(a) || !outline.Contains(b) {
			run = nil
			continue
		}
		if run == nil {
			out, run = append(out, nil), platform.Polygon{a}
		}
		run = append(run, b)
		out[len(out)-1] = run
	}
	return out
}

// densify adds points to a closed curve, in mm, until neighbours are about 0.2 mm
// apart.
func densify(p platform.Polygon) platform.Polygon {
	var out platform.Polygon
	for i, a := range p {
		b := p[(i+1)%len(p)]
		n := 1 + int(math.Hypot(b[0]-a[0], b[1]-a[1])/0.2)
		for k := range n {
			f := float64(k) / float64(n)
			out = append(out, platform.Point{a[0] + f*(b[0]-a[0]), a[1] + f*(b[1]-a[1])})
		}
	}
	return out
}

// ellipse returns the 95 % prediction ellipse of the relevés' centres of pressure as a
// closed curve, medial and over in mm. The centre of pressure of the next relevé falls
// within it with a probability of 95 %. It is nil for fewer than three relevés, and where
// it is longer than the depth of the platform, which only shows that there are too few
// relevés.
func ellipse(f *compare.ShoeFoot) platform.Polygon {
	var medial, over []float64
	for _, r := range f.Releves {
		if r.Hold != nil {
			medial, over = append(medial, r.MedialMM), append(over, r.OverMM)
		}
	}
	if len(medial) < 3 {
		return nil
	}
	e := stats.PredictionEllipse95(stat.Variance(medial, nil), stat.Variance(over, nil), stat.Covariance(medial, over, nil), len(medial))
	lo, hi := f.Platform.Outline.Bounds()
	if !(e.SemiMajor > 0 && 2*e.SemiMajor <= hi[1]-lo[1]) {
		return nil
	}
	centre := platform.Point{stat.Mean(medial, nil), stat.Mean(over, nil)}
	sinA, cosA := math.Sincos(e.AngleRad)
	curve := make(platform.Polygon, 72)
	for i := range curve {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(len(curve)))
		u, v := e.SemiMajor*cos, e.SemiMinor*sin
		curve[i] = platform.Point{centre[0] + u*cosA - v*sinA, centre[1] + u*sinA + v*cosA}
	}
	return curve
}
