package sim

import (
	"errors"
	"fmt"
	"math"

	"aplomb/device/platform"
)

// Shape describes the underside of a platform; lengths are in mm. With the zero
// values of all fields but Outline the underside is flat and its edges are
// sharp. All departures from that can be combined.
type Shape struct {
	// Outline is the true outline seen from below, [medial, over], counter-clockwise,
	// centroid at the origin.
	Outline platform.Polygon
	// DomeMM is the height of the edge above the centre, as in NewSole.
	DomeMM float64
	// RoundFrontMM and RoundBackMM are the radii of the rounded edge, a circular
	// arc that is tangent to the underside and vertical at the outline. The front
	// radius holds in the front quarter of the depth, the back radius in the back
	// quarter, and a smooth step blends them along the sides.
	RoundFrontMM, RoundBackMM float64
	// PleatsMM is the height of the highest pleat or paste bump. Pleats are radial
	// folds at the front and the back edge; PleatSeed draws their number and place.
	PleatsMM  float64
	PleatSeed uint64
	// GridMM is the grid step; 0 stands for DefaultGridMM.
	GridMM float64
}

// DefaultGridMM is the step of a Surface's grid. TestSurfaceConverges shows that with it
// the centre of pressure of a flat platform is within 0.005 mm, and its contact share
// within 0.3 percentage points, of those of the exact Sole.
const DefaultGridMM = 0.25

// Surface is the underside of a platform as heights on a square grid. It is
// rigid; a Bed deforms under it. A Surface is not changed by its methods and may
// be used by several goroutines at once.
type Surface struct {
	shape  Shape
	hull   platform.Polygon
	dome   dome
	pleats pleats
	size   float64 // a length of the platform, mm, that turns tilts into depths
	step   float64 // mm
	area   float64 // of the outline, mm²

	cols, rows int            // of the grid, which covers the outline's bounds
	corner     platform.Point // back-lateral corner of the grid, mm
	points     []point        // squares of the grid that lie at least partly inside the outline
	square     []int32        // of each point, its square's index in the grid, row by row from the back
}

// point stands for the part of one grid square that lies inside the outline.
type point struct {
	m, o           float64 // centroid of the part, mm
	area           float64 // of the part, mm²
	gap            float64 // height above the reference plane, mm
	slopeM, slopeO float64 // slope of the gap, mm per mm
	edge           float64 // length of the outline that belongs to it, mm
}

// NewSurface samples a shape on its grid. The error names an impossible field.
func NewSurface(shape Shape) (*Surface, error) {
	if shape.GridMM == 0 {
		shape.GridMM = DefaultGridMM
	}
	if err := shape.check(); err != nil {
		return nil, fmt.Errorf("surface: %w", err)
	}
	lo, hi := shape.Outline.Bounds()
	s := &Surface{
		shape:  shape,
		hull:   shape.Outline.Hull(),
		dome:   newDome(shape.Outline, shape.DomeMM),
		pleats: newPleats(shape),
		size:   math.Hypot(hi[0]-lo[0], hi[1]-lo[1]) / 4,
		step:   shape.GridMM,
		area:   shape.Outline.Area(),
	}
	// The grid is symmetric about the origin, so that a symmetric platform has
	// symmetric squares.
	nm := int(math.Ceil(max(-lo[0], hi[0]) / s.step))
	no := int(math.Ceil(max(-lo[1], hi[1]) / s.step))
	s.cols, s.rows = 2*nm, 2*no
	s.corner = platform.Point{-float64(nm) * s.step, -float64(no) * s.step}
	s.cut()
	return s, nil
}

func (s *Shape) check() error {
	switch lo, hi := s.Outline.Bounds(); {
	case len(s.Outline) < 3 || !(s.Outline.Area() > 1):
		return errors.New("an outline of at least 1 mm²")
	case !(s.GridMM >= 0.02):
		return fmt.Errorf("a grid of %v mm: at least 0.02", s.GridMM)
	case !(s.DomeMM >= 0 && s.PleatsMM >= 0 && s.RoundFrontMM >= 0 && s.RoundBackMM >= 0):
		return fmt.Errorf("dome %v, pleats %v, rounding %v and %v mm: 0 or more", s.DomeMM, s.PleatsMM, s.RoundFrontMM, s.RoundBackMM)
	case max(s.RoundFrontMM, s.RoundBackMM) > min(hi[0]-lo[0], hi[1]-lo[1])/2:
		return fmt.Errorf("rounding by %v and %v mm: at most half of the platform", s.RoundFrontMM, s.RoundBackMM)
	}
	return nil
}

// cut divides the outline into the squares of the grid.
func (s *Surface) cut() {
	h := s.step
	left, right := s.corner[0], -s.corner[0]
	for j := range s.rows {
		o := s.corner[1] + float64(j)*h
		row := s.shape.Outline.Clip(platform.Polygon{{left, o}, {right, o}, {right, o + h}, {left, o + h}})
		if len(row) == 0 {
			continue
		}
		for i := range s.cols {
			m := left + float64(i)*h
			// The row's polygon is short, so cutting it is quick.
			mo := row.Clip(platform.Polygon{{m, o}, {m + h, o}, {m + h, o + h}, {m, o + h}}).Moments()
			if mo.Area < 1e-6*h*h {
				continue
			}
			p := point{m: mo.Centroid[0], o: mo.Centroid[1], area: mo.Area}
			p.gap = s.Gap(mo.Centroid)
			s.points = append(s.points, p)
			s.square = append(s.square, int32(j*s.cols+i))
		}
	}
	s.slopes()
	s.edges()
}

// edgeLoadMM is the distance inside the outline at which the load per length of a Bed's
// edge acts, mm.
const edgeLoadMM = 0.2

// edges assigns each short piece of the outline to the point edgeLoadMM inside it.
func (s *Surface) edges() {
	at := s.index()
	a := s.shape.Outline[len(s.shape.Outline)-1]
	for _, b := range s.shape.Outline {
		d := platform.Point{b[0] - a[0], b[1] - a[1]}
		l := math.Hypot(d[0], d[1])
		n := int(math.Ceil(10 * l / s.step))
		for i := range n {
			t := (float64(i) + 0.5) / float64(n)
			// The outline is counter-clockwise, so its inside lies to the left.
			m := a[0] + t*d[0] - d[1]/l*edgeLoadMM
			o := a[1] + t*d[1] + d[0]/l*edgeLoadMM
			c, r := int(math.Floor((m-s.corner[0])/s.step)), int(math.Floor((o-s.corner[1])/s.step))
			if c >= 0 && r >= 0 && c < s.cols && r < s.rows && at[r*s.cols+c] > 0 {
				s.points[at[r*s.cols+c]-1].edge += l / float64(n)
			}
		}
		a = b
	}
}

// index returns for each square of the grid the number of its point plus 1, and
// 0 for a square outside the outline.
func (s *Surface) index() []int32 {
	at := make([]int32, s.cols*s.rows)
	for k, c := range s.square {
		at[c] = int32(k) + 1
	}
	return at
}

// slopes sets the slopes of the gap from its values at neighbouring points.
func (s *Surface) slopes() {
	at := s.index()
	find := func(i, j int) (point, bool) {
		if i < 0 || j < 0 || i >= s.cols || j >= s.rows || at[j*s.cols+i] == 0 {
			return point{}, false
		}
		return s.points[at[j*s.cols+i]-1], true
	}
	for k, c := range s.square {
		i, j := int(c)%s.cols, int(c)/s.cols
		p := &s.points[k]
		lo, hi := *p, *p
		if q, ok := find(i-1, j); ok {
			lo = q
		}
		if q, ok := find(i+1, j); ok {
			hi = q
		}
		if d := hi.m - lo.m; d > 1e-9 {
			p.slopeM = (hi.gap - lo.gap) / d
		}
		lo, hi = *p, *p
		if q, ok := find(i, j-1); ok {
			lo = q
		}
		if q, ok := find(i, j+1); ok {
			hi = q
		}
		if d := hi.o - lo.o; d > 1e-9 {
			p.slopeO = (hi.gap - lo.gap) / d
		}
	}
}

// Outline returns the true outline, mm.
func (s *Surface) Outline() platform.Polygon { return s.shape.Outline }

// Gap returns the height of the underside at a point of the platform above the plane that
// touches a flat underside, mm. It is negative at pleats.
func (s *Surface) Gap(at platform.Point) float64 {
	return s.dome.gap(at) + s.rounding(at) - s.pleats.height(at)
}

// rounding returns the height of the rounded edge at a point, mm: at the distance d < r
// from the outline r - √(r² - (r-d)²).
func (s *Surface) rounding(at platform.Point) float64 {
	most := max(s.shape.RoundFrontMM, s.shape.RoundBackMM)
	if most == 0 {
		return 0
	}
	d, foot := nearest(s.shape.Outline, at)
	if d >= most {
		return 0
	}
	lo, hi := -s.corner[1], s.corner[1] // front and back, mm
	r := s.shape.RoundBackMM + (s.shape.RoundFrontMM-s.shape.RoundBackMM)*smoothStep((foot[1]-hi)/(lo-hi))
	if d >= r {
		return 0
	}
	return r - math.Sqrt(r*r-(r-d)*(r-d))
}

// smoothStep rises from 0 at a quarter to 1 at three quarters with a continuous slope.
func smoothStep(t float64) float64 {
	t = min(1, max(0, 2*t-0.5))
	return t * t * (3 - 2*t)
}

// nearest returns the point of the curve nearest to q and its distance, mm.
func nearest(p platform.Polygon, q platform.Point) (float64, platform.Point) {
	best, foot := math.Inf(1), platform.Point{}
	a := p[len(p)-1]
	for _, b := range p {
		dx, dy := b[0]-a[0], b[1]-a[1]
		t := 0.0
		if l := dx*dx + dy*dy; l > 0 {
			t = min(1, max(0, (dx*(q[0]-a[0])+dy*(q[1]-a[1]))/l))
		}
		f := platform.Point{a[0] + t*dx, a[1] + t*dy}
		if d := (q[0]-f[0])*(q[0]-f[0]) + (q[1]-f[1])*(q[1]-f[1]); d < best {
			best, foot = d, f
		}
		a = b
	}
	return math.Sqrt(best), foot
}
