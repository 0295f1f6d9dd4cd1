package plots

import (
	"gonum.org/v1/plot/vg"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/platform"
)

// What the tests outside the package look at.
var (
	WriteDPI = write
	Thin     = thin
	FileName = fileName
	RoundUp  = roundUp
)

// Place maps a point of a foot's platform to a canvas with the platform's
// centroid at its origin, a point a mm.
func Place(foot device.Foot, r platform.Point) vg.Point { return view{vg.Point{}, 1, foot}.at(r) }

// Ticks returns the values of the ticks of an axis.
func Ticks(lo, hi float64, long, apart vg.Length) (values []float64, labels []string) {
	for _, t := range (axis{lo, hi, 0, long}).ticks(apart) {
		values, labels = append(values, t.Value), append(labels, t.Label)
	}
	return values, labels
}

// TextWidth returns the width of a text as pictures explain things.
func TextWidth(text string) vg.Length {
	l := DefaultLook()
	return l.small().width(text)
}

// FitSmall shortens a text as pictures explain things.
func FitSmall(text string, wide vg.Length) string {
	l := DefaultLook()
	return fit(text, l.small(), wide)
}

// LoadCurve returns the curve of load on a canvas of so many points, a point a newton.
func LoadCurve(f TraceFoot, wide vg.Length, lo, hi, most float64) [][]vg.Point {
	return f.runs(axis{lo, hi, 0, wide}, axis{0, most, 0, vg.Length(most)}, func(s measure.Sample) float64 { return float64(s.LoadN) })
}

// LettersOf returns where the outlines of a text begin and end, and its width.
func LettersOf(text string) (lo, hi, wide vg.Length) {
	l := DefaultLook()
	for i, c := range letters(l.small().face(), vg.Point{}, text) {
		if i == 0 {
			lo = c.Pos.X
		}
		lo, hi = min(lo, c.Pos.X), max(hi, c.Pos.X)
	}
	return lo, hi, l.small().width(text)
}

// Ellipse returns the prediction ellipse that is drawn of a foot's relevés.
func Ellipse(f *compare.ShoeFoot) platform.Polygon { return ellipse(f) }
