package seat

import (
	"math"

	"aplomb/device/platform"
)

// tiles divide the surface of a platform into squares.
type tiles struct {
	shape *shape
	nodes int     // spacing of the tiles, in nodes of the table of distances
	side  float64 // the same, mm
	list  []tile
	area  float64 // of the bearing outline, in tiles
	steep float64 // the dome's largest slope along medial plus that along over
}

func newTiles(s *shape, nodes int) *tiles {
	return &tiles{shape: s, nodes: nodes, side: float64(nodes) * nodeMM}
}

// Sides of tiles, in nodes. Fine tiles give the share, coarse ones its changes from draw
// to draw.
const (
	fineTiles   = 2
	coarseTiles = 4
)

// tile is the surface in one square about its centre.
type tile struct {
	at     platform.Point // mm
	dome   float64        // recess by the dome, mm
	slope  platform.Point // of it along medial and over
	cover  float64        // area inside the bearing outline ÷ area of the square
	inside float64        // distance to the bearing outline, mm
	normal platform.Point // of the outline, outward
	radius float64        // of the rounded edge, mm
	edge   bool           // whether outline or rounding reach into the square
}

// lay computes the surface of the platform with parameters v.
func (t *tiles) lay(v *vector) {
	r, s := v.relief(), t.shape
	a, b := 1/(s.half[0]*s.half[0]), 1/(s.half[1]*s.half[1])
	t.list, t.area, t.steep = t.list[:0], 0, 0
	var steepest platform.Point
	for j := 0; j < s.rows; j += t.nodes {
		y := s.lo[1] + nodeMM*float64(j)
		for i := 0; i < s.cols; i += t.nodes {
			e := &s.nodes[j*s.cols+i]
			inside := e.inside + e.perWidth*r.growWidth + e.perDepth*r.growDepth
			if inside <= -t.side {
				continue
			}
			x := s.lo[0] + nodeMM*float64(i)
			q := tile{
				at: platform.Point{x, y}, dome: r.domeMedial*x*x*a + r.domeOver*y*y*b,
				slope: platform.Point{2 * r.domeMedial * x * a, 2 * r.domeOver * y * b}, cover: 1,
			}
			q.radius = r.backRadius + (r.frontRadius-r.backRadius)*facing(e.front)
			if inside < q.radius+t.side {
				q.edge, q.inside = true, inside
				q.normal[1] = 2*e.front - 1
				q.normal[0] = math.Copysign(math.Sqrt(max(0, 1-q.normal[1]*q.normal[1])), x)
				q.cover = t.above(inside, q.normal)
			}
			if q.cover > 0 {
				t.list = append(t.list, q)
				t.area += q.cover
				steepest[0], steepest[1] = max(steepest[0], math.Abs(q.slope[0])), max(steepest[1], math.Abs(q.slope[1]))
			}
		}
	}
	t.steep = steepest[0] + steepest[1]
}

// share returns the share, 0 to 1, of the bearing area on which the platform carries more
// than ContactKPa on the floor. lay must have been called with v; p is the plane of the
// map. The line along which the platform lifts off, and the one at which contact ends on
// a rounded edge, are moved outward by lift and edge, mm, but not beyond the outline.
func (t *tiles) share(v *vector, p plane, lift, edge float64) float64 {
	sin, cos := math.Sincos(v[turn])
	stiffness := math.Exp(v[holdBed])
	du, dv := p[1]*cos-p[2]*sin, p[1]*sin+p[2]*cos // slope of the plane along medial and over
	base := p[0] - du*v[medial] - dv*v[over] - ContactKPa + lift*math.Hypot(du, dv)
	// Where the pressure at the centre of a tile differs from the threshold by more than
	// this, the whole tile is on one side of it.
	reach := t.side / 2 * (math.Abs(du) + math.Abs(dv) + stiffness*t.steep)
	sum := 0.0
	for i := range t.list {
		q := &t.list[i]
		f := base + du*q.at[0] + dv*q.at[1] - stiffness*q.dome
		if f <= -reach {
			continue
		}
		part := 1.0
		if f < reach {
			part = t.above(f, platform.Point{du - stiffness*q.slope[0], dv - stiffness*q.slope[1]})
		}
		if part > 0 && q.edge {
			// Contact ends where the rounded edge recedes by f ÷ stiffness; see round.
			if rise := q.radius - max(0, f)/stiffness; rise > 0 {
				part *= min(q.cover, t.above(q.inside-q.radius+math.Sqrt(max(0, q.radius*q.radius-rise*rise))+edge, q.normal))
			} else {
				part *= q.cover
			}
		}
		sum += part
	}
	return sum / t.area
}

// edge returns the line along which the platform lifts off to less than ContactKPa under
// the plane p of a map. lay must have been called with v. The line has one straight piece
// in each tile that it crosses, where the pressure, linear in the tile, is ContactKPa.
// Ends are [medial, over] in mm.
func (t *tiles) edge(v *vector, p plane) (line [][2]platform.Point) {
	sin, cos := math.Sincos(v[turn])
	stiffness := math.Exp(v[holdBed])
	du, dv := p[1]*cos-p[2]*sin, p[1]*sin+p[2]*cos
	base := p[0] - du*v[medial] - dv*v[over] - ContactKPa
	for i := range t.list {
		q := &t.list[i]
		f := base + du*q.at[0] + dv*q.at[1] - stiffness*q.dome
		g := platform.Point{du - stiffness*q.slope[0], dv - stiffness*q.slope[1]}
		if steep := math.Hypot(g[0], g[1]); steep > 0 {
			nearest := platform.Point{-f * g[0] / (steep * steep), -f * g[1] / (steep * steep)} // from the tile's centre
			along := platform.Point{-g[1] / steep, g[0] / steep}
			if from, to := withinSquare(nearest, along, t.side/2); from < to {
				end := func(s float64) platform.Point {
					return platform.Point{q.at[0] + nearest[0] + s*along[0], q.at[1] + nearest[1] + s*along[1]}
				}
				line = append(line, [2]platform.Point{end(from), end(to)})
			}
		}
	}
	return line
}

// withinSquare returns the distances from a point, along a unit vector, at which a
// straight line enters and leaves the square with the given half-side about the origin;
// from exceeds to where it misses the square.
func withinSquare(point, direction platform.Point, half float64) (from, to float64) {
	from, to = math.Inf(-1), math.Inf(1)
	for i, d := range direction {
		a, b := (-half-point[i])/d, (half-point[i])/d
		if d == 0 { // parallel to these sides
			if math.Abs(point[i]) > half {
				return to, from
			}
			continue
		}
		from, to = max(from, min(a, b)), min(to, max(a, b))
	}
	return from, to
}

// above returns the part, 0 to 1, of a tile in which a linear function is positive; value
// is its value at the tile's centre, and slope is per mm. It is exact for a slope along
// an axis.
func (t *tiles) above(value float64, slope platform.Point) float64 {
	w := t.side * (math.Abs(slope[0]) + math.Abs(slope[1]))
	switch {
	case value >= w/2:
		return 1
	case value <= -w/2:
		return 0
	}
	return 0.5 + value/w
}

// tiltBy is the change of pressure at the end of a half-axis, as a part of the largest
// pressure, from which the derivative of contact with respect to tilt is computed.
const tiltBy = 0.02

// perMM returns the derivative of the share of the bearing area in contact with respect
// to the centre of pressure along medial and over, 1/mm, as the platform tilts under
// constant load; 0 where a tilt does not move the centre of pressure. lay must have been
// called with v.
func (t *tiles) perMM(v *vector, p plane) (per platform.Point) {
	load, _, most := t.bears(v, p)
	sin, cos := math.Sincos(v[turn])
	for axis := range per {
		var share [2]float64
		var at [2]platform.Point
		for i, sign := range []float64{-1, 1} {
			d := sign * tiltBy * most / t.shape.half[axis]
			q := plane{p[0], p[1] + d*cos, p[2] - d*sin} // along medial, in the strip's axes
			if axis == 1 {
				q[1], q[2] = p[1]+d*sin, p[2]+d*cos
			}
			for range 3 { // to the depth at which the platform bears the same load
				now, _, _ := t.bears(v, q)
				area := t.share(v, q, 0, 0) * t.area * t.side * t.side
				q[0] += (load - now) / area
			}
			share[i] = t.share(v, q, 0, 0)
			_, at[i], _ = t.bears(v, q)
		}
		if moved := at[1][axis] - at[0][axis]; moved > 0 {
			per[axis] = (share[1] - share[0]) / moved
		}
	}
	return per
}

// bears returns the load that the platform bears on the floor under the plane p, kPa·mm²,
// its centre, mm, and the largest pressure, kPa. lay must have been called with v.
func (t *tiles) bears(v *vector, p plane) (load float64, centre platform.Point, most float64) {
	sin, cos := math.Sincos(v[turn])
	stiffness := math.Exp(v[holdBed])
	du, dv := p[1]*cos-p[2]*sin, p[1]*sin+p[2]*cos
	base := p[0] - du*v[medial] - dv*v[over]
	for i := range t.list {
		q := &t.list[i]
		f := base + du*q.at[0] + dv*q.at[1] - stiffness*q.dome
		if q.edge {
			f -= stiffness * round(q.inside, q.radius)
		}
		if f <= 0 {
			continue
		}
		most = max(most, f)
		f *= q.cover * t.side * t.side
		load += f
		centre[0] += f * q.at[0]
		centre[1] += f * q.at[1]
	}
	if load > 0 {
		centre[0], centre[1] = centre[0]/load, centre[1]/load
	}
	return load, centre, most
}
