package screen

import (
	"math"

	"aplomb/analyze/live"
	"aplomb/device"
	"aplomb/device/platform"
)

// Platform is the geometry of one foot of a recording: the strip, and the outline
// and kern of the shoe's platform in mm from the centroid.
type Platform struct {
	Foot    device.Foot
	Strip   *device.Strip
	Outline platform.Polygon
	Kern    platform.Polygon

	scan  []int     // index of each cell in scan order, by row·cols + col
	share []float64 // of each cell that lies within the outline, at least 1/3, in scan order
}

// NewPlatform returns the geometry of a shoe on a strip.
func NewPlatform(s *device.Strip, shoe *device.Shoe) *Platform { return newPlatform(s, shoe.Outline()) }

func newPlatform(s *device.Strip, outline platform.Polygon) *Platform {
	v := &Platform{Foot: s.Foot, Strip: s, Outline: outline, Kern: outline.Kern(), scan: make([]int, s.Cells()), share: make([]float64, s.Cells())}
	for k := range v.share {
		row, col := s.RowCol(k)
		v.scan[row*s.Cols+col] = k
		v.share[k] = max(1.0/3, outline.Clip(s.CellOutline(row, col)).Area()/s.CellArea())
	}
	return v
}

// cellAt returns the index of the cell at a point, in scan order, or -1 where there
// is none.
func (v *Platform) cellAt(p platform.Point) int {
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
	return v.scan[row*v.Strip.Cols+col]
}

// dotKind is the content of a dot of a raster.
type dotKind uint8

const (
	outside dotKind = iota
	inside
	outlineRim
	kernRim
)

// raster is a platform drawn in dots, as seen from above through the foot, front
// up: the big toe is to the right on the left foot and to the left on the right
// foot. Dots are counted from the upper left.
type raster struct {
	platform   *Platform
	wide, high int            // dots
	mm         float64        // width and height of a dot
	centre     platform.Point // point of the platform in the middle of the raster, mm
	kinds      []dotKind      // by row·wide + column
	cells      []int          // index of the cell at each dot, or -1, by row·wide + column
}

// scaleFor returns the size of a dot, in mm, at which the platform fits into a
// raster of wide × high dots.
func (v *Platform) scaleFor(wide, high int) float64 {
	lo, hi := v.Outline.Bounds()
	return max((hi[0]-lo[0])/float64(max(1, wide-2)), (hi[1]-lo[1])/float64(max(1, high-1)))
}

func newRaster(v *Platform, wide, high int, mm float64) *raster {
	lo, hi := v.Outline.Bounds()
	p := &raster{platform: v, wide: wide, high: high, mm: mm, centre: platform.Point{(lo[0] + hi[0]) / 2, (lo[1] + hi[1]) / 2}}
	p.kinds, p.cells = make([]dotKind, wide*high), make([]int, wide*high)
	in, within := p.mask(v.Outline), p.mask(v.Kern)
	for j := range high {
		for i := range wide {
			k := j*wide + i
			p.cells[k] = -1
			if !in(i, j) {
				continue
			}
			p.kinds[k], p.cells[k] = inside, v.cellAt(p.point(i, j))
			switch {
			case onRim(in, i, j):
				p.kinds[k] = outlineRim
			case within(i, j) && onRim(within, i, j):
				p.kinds[k] = kernRim
			}
		}
	}
	return p
}

// mask returns a function that reports whether a dot lies within a curve. Single
// dots that protrude from the rest are left out.
func (p *raster) mask(curve platform.Polygon) func(i, j int) bool {
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

// onRim reports whether a dot within a curve has a neighbour outside it.
func onRim(in func(i, j int) bool, i, j int) bool {
	return !in(i-1, j) || !in(i+1, j) || !in(i, j-1) || !in(i, j+1)
}

// point returns the point of the platform at the middle of a dot, mm.
func (p *raster) point(i, j int) platform.Point {
	across := (float64(i) + 0.5 - float64(p.wide)/2) * p.mm
	if p.platform.Foot == device.Right {
		across = -across
	}
	return platform.Point{p.centre[0] + across, p.centre[1] + (float64(p.high)/2-float64(j)-0.5)*p.mm}
}

// dot returns the dot at a point of the platform. It may lie outside the raster.
func (p *raster) dot(at platform.Point) (i, j int) {
	across := at[0] - p.centre[0]
	if p.platform.Foot == device.Right {
		across = -across
	}
	return int(math.Floor(across/p.mm + float64(p.wide)/2)), int(math.Floor(float64(p.high)/2 - (at[1]-p.centre[1])/p.mm))
}

// draw draws the platform with its upper left corner at x, y. It highlights the outline
// at the edges that a pad press has loaded.
func (p *raster) draw(c *canvas, x, y int, f *live.FootState, colours Colours, loaded live.Edges) {
	ci, cj := -100, -100
	if f.Located {
		ci, cj = p.dot(f.At)
		ci, cj = max(0, min(p.wide-1, ci)), max(0, min(p.high-1, cj))
	}
	reach, small := 1, p.mm > 1 // a small mark does not hide the kern
	if p.mm < 0.8 {
		reach = 2
	}
	if colours < Colours256 {
		p.drawPlain(c, x, y, f, ci, cj, loaded)
		return
	}
	of := func(i, j int) colourIndex {
		if j >= p.high {
			return noColour
		}
		if u, v := abs(i-ci), abs(j-cj); min(u, v) == 0 && max(u, v) <= reach {
			return copColour
		} else if min(u, v) <= 1 && max(u, v) <= reach+1 && (!small || max(u, v) <= 1) {
			return copHalo
		}
		k := j*p.wide + i
		switch p.kinds[k] {
		case outlineRim:
			if loaded[p.edge(i, j)] {
				return loadedColour
			}
			return outlineColour
		case kernRim:
			return kernColour
		case inside:
			if p.suspect(f, k) && (i+j)%2 == 0 {
				return suspectColour
			}
			return pressureColour(ofScale(p.pressure(f, k)))
		}
		return noColour
	}
	for j := 0; j < p.high; j += 2 {
		for i := range p.wide {
			c.dots(x+i, y+j/2, of(i, j), of(i, j+1))
		}
	}
}

// drawPlain draws the platform in characters that need no colours, though they have some.
// ci, cj is the dot at the centre of pressure.
func (p *raster) drawPlain(c *canvas, x, y int, f *live.FootState, ci, cj int, loaded live.Edges) {
	for j := 0; j < p.high; j += 2 {
		for i := range p.wide {
			char, fore := ' ', noColour
			k, below := j*p.wide+i, min(j+1, p.high-1)*p.wide+i
			is := func(kind dotKind) bool { return p.kinds[k] == kind || p.kinds[below] == kind }
			switch {
			case i == ci && j/2 == cj/2:
				char, fore = 'X', copColour
			case is(outlineRim) && loaded[p.edge(i, j)]:
				char, fore = '#', loadedColour
			case is(outlineRim):
				char, fore = 'o', outlineColour
			case is(kernRim):
				char, fore = '+', kernColour
			case is(inside) && (p.suspect(f, k) || p.suspect(f, below)):
				char, fore = '!', suspectColour
			case is(inside):
				share := ofScale((p.pressure(f, k) + p.pressure(f, below)) / 2)
				char, fore = plainShade(share), pressureColour(share)
			}
			c.set(x+i, y+j/2, character{char: char, fore: fore, bold: char == 'X'})
		}
	}
}

// edge returns the edge of the platform that a dot of its outline belongs to.
func (p *raster) edge(i, j int) live.Edge {
	lo, hi := p.platform.Outline.Bounds()
	at := p.point(i, j)
	m, o := at[0]/(hi[0]-lo[0]), at[1]/(hi[1]-lo[1])
	switch {
	case o >= math.Abs(m):
		return live.Front
	case -o >= math.Abs(m):
		return live.Back
	case m > 0:
		return live.BigToe
	}
	return live.LittleToe
}

// pressure returns the pressure at dot k, kPa. A cell that reaches beyond the
// platform's edge reads the mean over its whole area; its pressure is divided here
// by the share of the cell within the outline, but by no less than one third.
func (p *raster) pressure(f *live.FootState, k int) float64 {
	if cell := p.cells[k]; cell >= 0 && cell < len(f.KPa) {
		return f.KPa[cell] / min(1, p.platform.share[cell])
	}
	return 0
}

// suspect reports whether the reading at dot k is doubtful.
func (p *raster) suspect(f *live.FootState, k int) bool {
	cell := p.cells[k]
	return cell >= 0 && cell < len(f.Suspect) && f.Suspect[cell]
}

func abs(n int) int { return max(n, -n) }
