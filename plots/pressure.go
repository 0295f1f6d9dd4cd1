package plots

import (
	"math"

	"gonum.org/v1/plot/vg"

	"aplomb/analyze/compare"
	"aplomb/device/platform"
)

// cell is one cell of the strip under the platform.
type cell struct {
	outline platform.Polygon
	part    platform.Polygon // inside the platform
	kPa     float64          // on that part
}

// cells returns the loaded cells under the platform. A cell that hangs over the
// edge reads low by the share of it that hangs over, which is made good here so
// that the edge does not look unloaded, down to a third of a cell.
func cells(f *compare.ShoeFoot) []cell {
	var out []cell
	outline := thin(f.Platform.Outline)
	for k, kPa := range f.MeanMap[:min(len(f.MeanMap), f.Strip.Cells())] {
		window := f.Strip.CellOutline(f.Strip.RowCol(k))
		part := outline.Clip(window)
		if share := part.Area() / f.Strip.CellArea(); share > 0 && kPa > 0 {
			out = append(out, cell{window, part, kPa / max(1.0/3, min(1, share))})
		}
	}
	return out
}

// top returns the pressure at the dark end of the scale: the largest drawn, rounded up, kPa.
func (p *Platforms) top() float64 {
	most := 0.0
	for _, row := range p.Rows {
		for _, f := range row.Feet {
			if f == nil {
				continue
			}
			for _, c := range cells(f) {
				most = max(most, c.kPa)
			}
		}
	}
	return roundUp(most)
}

// roundUp returns the next round number: of 1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8 times a power of ten.
func roundUp(v float64) float64 {
	if !(v > 0) || math.IsInf(v, 0) {
		return 1
	}
	power := math.Pow(10, math.Floor(math.Log10(v)))
	for _, m := range []float64{1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8} {
		if v <= m*power*(1+1e-9) {
			return m * power
		}
	}
	return 10 * power
}

// pressureKey draws the one scale of pressure, from none to top kPa.
func (q pen) pressureKey(left, y vg.Length, top float64) {
	const steps, wide, high = 6, 16, 9
	for i := range steps {
		x := left + vg.Length(i*wide)
		q.box(vg.Rectangle{Min: vg.Point{X: x, Y: y - high}, Max: vg.Point{X: x + wide - 0.5, Y: y}}, q.pressure(float64(i)/(steps-1)))
	}
	q.outline(0.5, q.Hair, nil, []vg.Point{{X: left, Y: y}, {X: left + steps*wide, Y: y}, {X: left + steps*wide, Y: y - high}, {X: left, Y: y - high}})
	q.write(left+steps*wide+6, y-high+1, fromLeft, q.small(), "pressure, 0 to "+Number(top, 0)+" kPa;  ±: 95 % interval")
}
