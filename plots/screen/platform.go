package screen

import (
	"math"

	"aplomb/analyze/live"
	"aplomb/device"
	"aplomb/device/platform"
)

// Side is what stays the same of one foot.
type Side struct {
	Foot    device.Foot
	Strip   *device.Strip
	Outline platform.Polygon
	Kern    platform.Polygon

	at     []int     // row·cols + col → cell in scan order
	inside []float64 // by cell: the fraction of it inside the outline, a third at least
}

// NewSide describes a foot that stands on a strip in a shoe.
func NewSide(s *device.Strip, shoe *device.Shoe) *Side {
	outline := shoe.Outline()
	v := &Side{Foot: s.Foot, Strip: s, Outline: outline, Kern: outline.Kern(), at: make([]int, s.Cells()), inside: make([]float64, s.Cells())}
	for k := range v.inside {
		row, col := s.RowCol(k)
		v.at[row*s.Cols+col] = k
		v.inside[k] = max(1.0/3, outline.Clip(s.CellOutline(row, col)).Area()/s.CellArea())
	}
	return v
}

// cellAt returns which cell lies over a point, -1 where there is none.
func (v *Side) cellAt(p platform.Point) int {
	if v.Strip == nil {
		return -1
	}
	sin, cos := math.Sincos(v.Strip.Mount.RotationDeg * math.Pi / 180)
	m, o := p[0]-v.Strip.Mount.OffsetMM[0], p[1]-v.Strip.Mount.OffsetMM[1]
	col := int(math.Round((cos*m+sin*o)/v.Strip.PitchMM[0] + float64(v.Strip.Cols-1)/2))
	row := int(math.Round((cos*o-sin*m)/v.Strip.PitchMM[1] + float64(v.Strip.Rows-1)/2))
	if row < 0 || row >= v.Strip.Rows || col < 0 || col >= v.Strip.Cols {
		return -1
	}
	return v.at[row*v.Strip.Cols+col]
}

// What a dot of a platform's picture shows.
type part uint8

const (
	outside part = iota
	inside
	rim  // of the outline
	kern // its rim
)

// picture is one platform, drawn in dots, front up, seen through the foot from
// above: the left foot's big toe is to the right, the right foot's to the left.
type picture struct {
	side       *Side
	wide, high int // dots
	mm         float64
	centre     platform.Point // in the middle of the picture
	parts      []part
	cells      []int // -1 where there is none
}

// scaleFor is how many mm a dot must be for the platform to fit so many dots.
func (v *Side) scaleFor(wide, high int) float64 {
	lo, hi := v.Outline.Bounds()
	return max((hi[0]-lo[0])/float64(max(1, wide-2)), (hi[1]-lo[1])/float64(max(1, high-1)))
}

func newPicture(v *Side, wide, high int, mm float64) *picture {
	lo, hi := v.Outline.Bounds()
	p := &picture{side: v, wide: wide, high: high, mm: mm, centre: platform.Point{(lo[0] + hi[0]) / 2, (lo[1] + hi[1]) / 2}}
	p.parts, p.cells = make([]part, wide*high), make([]int, wide*high)
	in, within := p.mask(v.Outline), p.mask(v.Kern)
	for j := range high {
		for i := range wide {
			k := j*wide + i
			p.cells[k] = -1
			if !in(i, j) {
				continue
			}
			p.parts[k], p.cells[k] = inside, v.cellAt(p.point(i, j))
			switch {
			case onRim(in, i, j):
				p.parts[k] = rim
			case within(i, j) && onRim(within, i, j):
				p.parts[k] = kern
			}
		}
	}
	return p
}

// mask returns which dots lie within a curve, without those that stand out of
// it alone.
func (p *picture) mask(curve platform.Polygon) func(i, j int) bool {
	in := make([]bool, p.wide*p.high)
	for k := range in {
		in[k] = curve.Contains(p.point(k%p.wide, k/p.wide))
	}
	is := func(i, j int) bool { return i >= 0 && i < p.wide && j >= 0 && j < p.high && in[j*p.wide+i] }
	for k := range in {
		i, j := k%p.wide, k/p.wide
		in[k] = in[k] && (is(i-1, j) || is(i+1, j)) && (is(i, j-1) || is(i, j+1))
	}
	return is
}

// onRim says whether a dot within a curve has a neighbour that is not.
func onRim(in func(i, j int) bool, i, j int) bool {
	return !in(i-1, j) || !in(i+1, j) || !in(i, j-1) || !in(i, j+1)
}

// point is where a dot's middle lies on the platform, mm.
func (p *picture) point(i, j int) platform.Point {
	across := (float64(i) + 0.5 - float64(p.wide)/2) * p.mm
	if p.side.Foot == device.Right {
		across = -across
	}
	return platform.Point{p.centre[0] + across, p.centre[1] + (float64(p.high)/2-float64(j)-0.5)*p.mm}
}

// dot is the reverse of point.
func (p *picture) dot(at platform.Point) (i, j int) {
	across := at[0] - p.centre[0]
	if p.side.Foot == device.Right {
		across = -across
	}
	return int(math.Floor(across/p.mm + float64(p.wide)/2)), int(math.Floor(float64(p.high)/2 - (at[1]-p.centre[1])/p.mm))
}

// draw draws the platform with its corner at x, y; top is the pressure at the
// end of the scale, kPa.
func (p *picture) draw(c *canvas, x, y int, f *live.Foot, top float64, colours bool) {
	ci, cj := -100, -100
	if f.Located {
		ci, cj = p.dot(f.At)
		ci, cj = max(0, min(p.wide-1, ci)), max(0, min(p.high-1, cj))
	}
	reach, small := 1, p.mm > 1 // a small mark leaves the kern to be seen
	if p.mm < 0.8 {
		reach = 2
	}
	if !colours {
		p.drawPlain(c, x, y, f, top, ci, cj)
		return
	}
	of := func(i, j int) ink {
		if j >= p.high {
			return noInk
		}
		if u, v := abs(i-ci), abs(j-cj); min(u, v) == 0 && max(u, v) <= reach {
			return mark
		} else if min(u, v) <= 1 && max(u, v) <= reach+1 && (!small || max(u, v) <= 1) {
			return shadow
		}
		k := j*p.wide + i
		switch p.parts[k] {
		case rim:
			return edge
		case kern:
			return target
		case inside:
			if p.suspect(f, k) && (i+j)%2 == 0 {
				return suspect
			}
			return shade(p.pressure(f, k) / top)
		}
		return noInk
	}
	for j := 0; j < p.high; j += 2 {
		for i := range p.wide {
			c.dots(x+i, y+j/2, of(i, j), of(i, j+1))
		}
	}
}

// drawPlain draws the platform in characters alone.
func (p *picture) drawPlain(c *canvas, x, y int, f *live.Foot, top float64, ci, cj int) {
	for j := 0; j < p.high; j += 2 {
		for i := range p.wide {
			char := ' '
			k, below := j*p.wide+i, min(j+1, p.high-1)*p.wide+i
			is := func(w part) bool { return p.parts[k] == w || p.parts[below] == w }
			switch {
			case i == ci && j/2 == cj/2:
				char = 'X'
			case is(rim):
				char = 'o'
			case is(kern):
				char = '+'
			case is(inside) && (p.suspect(f, k) || p.suspect(f, below)):
				char = '!'
			case is(inside):
				char = shadeChar((p.pressure(f, k) + p.pressure(f, below)) / 2 / top)
			}
			c.set(x+i, y+j/2, place{char: char, bold: char == 'X'})
		}
	}
}

// pressure is what a dot carries, kPa. A cell that hangs over the edge reads
// low by what hangs over, which is made good here, down to a third of a cell.
func (p *picture) pressure(f *live.Foot, k int) float64 {
	if cell := p.cells[k]; cell >= 0 && cell < len(f.KPa) {
		return f.KPa[cell] / min(1, p.side.inside[cell])
	}
	return 0
}

func (p *picture) suspect(f *live.Foot, k int) bool {
	cell := p.cells[k]
	return cell >= 0 && cell < len(f.Suspect) && f.Suspect[cell]
}

func abs(n int) int { return max(n, -n) }
