package plots

import (
	"math"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"aplomb/analyze/compare"
	"aplomb/device/platform"
	"aplomb/plots/words"
)

// loadedCell is a loaded cell of the strip.
type loadedCell struct {
	outline platform.Polygon // medial and over, mm
	within  platform.Polygon // the part of outline within the platform
	kPa     float64          // mean pressure on that part
}

// loadedCells returns the loaded cells under the platform. A cell that reaches
// beyond the platform's edge reads the mean over its whole area; its pressure is
// divided here by the share of the cell within the outline, but by no less than
// one third.
func loadedCells(f *compare.ShoeFoot) []loadedCell {
	var out []loadedCell
	outline := simplify(f.Platform.Outline)
	for k, kPa := range f.MeanMap[:min(len(f.MeanMap), f.Strip.Cells())] {
		whole := f.Strip.CellOutline(f.Strip.RowCol(k))
		within := outline.Clip(whole)
		if share := within.Area() / f.Strip.CellArea(); share > 0 && kPa > 0 {
			out = append(out, loadedCell{whole, within, kPa / max(1.0/3, min(1, share))})
		}
	}
	return out
}

// top returns the pressure at the dark end of the grey scale, kPa: the largest of
// the picture, 1 where there is none.
func (p *Platforms) top() float64 {
	most := 0.0
	for _, row := range p.Rows {
		for _, f := range row.Feet {
			if f == nil {
				continue
			}
			for _, c := range loadedCells(f) {
				most = max(most, c.kPa)
			}
		}
	}
	if !(most > 0) || math.IsInf(most, 0) {
		return 1
	}
	return most
}

// contactEdgeWide is the width of the line at which contact ends, points.
const contactEdgeWide = 1.2

// contactEdge returns the edge of contact of the relevé whose centre of pressure is
// closest to the mean of the shoe, in pieces within the platform's outline, medial and
// over in mm. It is nil where the platform does not lift off there.
func contactEdge(f *compare.ShoeFoot) [][2]platform.Point {
	at, ok := place(f)
	if !ok {
		return nil
	}
	var edge, within [][2]platform.Point
	nearest := math.Inf(1)
	for _, r := range f.Releves {
		if r.Hold == nil {
			continue
		}
		if d := math.Hypot(r.MedialMM-at[0], r.OverMM-at[1]); d < nearest {
			nearest, edge = d, r.ContactEdge
		}
	}
	for _, piece := range edge {
		if f.Platform.Outline.Contains(piece[0]) && f.Platform.Outline.Contains(piece[1]) {
			within = append(within, piece)
		}
	}
	return within
}

// drawContactEdge draws the edge of contact.
func (q canvas) drawContactEdge(v projection, edge [][2]platform.Point) {
	if len(edge) == 0 {
		return
	}
	var path vg.Path
	for _, piece := range edge {
		path.Move(v.at(piece[0]))
		path.Line(v.at(piece[1]))
	}
	q.SetLineStyle(draw.LineStyle{Color: q.Paper, Width: 3})
	q.Stroke(path)
	q.SetLineStyle(draw.LineStyle{Color: q.Ink, Width: contactEdgeWide})
	q.Stroke(path)
}

// pressureKey draws the grey scale of pressure, from 0 to top kPa, the largest pressure of
// the picture.
func (q canvas) pressureKey(left, y vg.Length, top float64) {
	const steps, wide, high = 48, 2.5, 9
	small := q.small()
	none, most := "pressure: 0", words.Number(top, 0)+" kPa, the largest here"
	q.write(left, y-high+1, fromLeft, small, none)
	left += small.width(none) + 5
	for i := range steps {
		x := left + vg.Length(i)*wide
		q.box(vg.Rectangle{Min: vg.Point{X: x, Y: y - high}, Max: vg.Point{X: x + wide, Y: y}}, q.pressureGrey(float64(i)/(steps-1)))
	}
	q.strokeClosed(0.5, q.Hairline, nil, []vg.Point{{X: left, Y: y}, {X: left + steps*wide, Y: y}, {X: left + steps*wide, Y: y - high}, {X: left, Y: y - high}})
	q.write(left+steps*wide+5, y-high+1, fromLeft, small, most)
}
