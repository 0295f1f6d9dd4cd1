package plots

import (
	"math"

	"gonum.org/v1/plot/vg"

	"aplomb/analyze/compare"
	"aplomb/device/platform"
	"aplomb/plots/words"
)

// loadedCell is a cell of the strip that the platform loads.
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
// the picture, rounded up.
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
	return roundUp(most)
}

// roundUp returns the smallest number that is not below v and is 1, 1.2, 1.5, 2,
// 2.5, 3, 4, 5, 6 or 8 times a power of ten. It returns 1 where v is not positive
// and finite.
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

// pressureKey draws the grey scale of pressure, from 0 to top kPa.
func (q canvas) pressureKey(left, y vg.Length, top float64) {
	const steps, wide, high = 6, 16, 9
	for i := range steps {
		x := left + vg.Length(i*wide)
		q.box(vg.Rectangle{Min: vg.Point{X: x, Y: y - high}, Max: vg.Point{X: x + wide - 0.5, Y: y}}, q.pressureGrey(float64(i)/(steps-1)))
	}
	q.strokeClosed(0.5, q.Hairline, nil, []vg.Point{{X: left, Y: y}, {X: left + steps*wide, Y: y}, {X: left + steps*wide, Y: y - high}, {X: left, Y: y - high}})
	q.write(left+steps*wide+6, y-high+1, fromLeft, q.small(), "pressure, 0 to "+words.Number(top, 0)+" kPa;  ±: 95 % interval")
}
