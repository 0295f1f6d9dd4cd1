package plots

import (
	"gonum.org/v1/plot/vg"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/platform"
)

// Functions that tests outside the package call.
var (
	WriteDPI = write
	Simplify = simplify
	FileName = fileName
)

// ToCanvas maps a point of a foot's platform, mm, to a canvas with the platform's
// centroid at its origin and a scale of one point a mm.
func ToCanvas(foot device.Foot, r platform.Point) vg.Point {
	return projection{vg.Point{}, 1, foot}.at(r)
}

// Ticks returns the values of the ticks of an axis.
func Ticks(lo, hi float64, long, apart vg.Length) (values []float64, labels []string) {
	for _, t := range (axis{lo, hi, 0, long}).ticks(apart) {
		values, labels = append(values, t.Value), append(labels, t.Label)
	}
	return values, labels
}

// TextWidth returns the width of a text in the style of explanations.
func TextWidth(text string) vg.Length {
	l := DefaultTheme()
	return l.small().width(text)
}

// FitSmall shortens a text in the style of explanations.
func FitSmall(text string, wide vg.Length) string {
	l := DefaultTheme()
	return fit(text, l.small(), wide)
}

// LoadCurve returns the curve of load on a canvas that shows the times lo to hi, s,
// on a width of wide, and loads of 0 to most, N, at one point a newton.
func LoadCurve(f TraceFoot, wide vg.Length, lo, hi, most float64) [][]vg.Point {
	return f.runs(axis{lo, hi, 0, wide}, axis{0, most, 0, vg.Length(most)}, func(s measure.Sample) float64 { return float64(s.LoadN) })
}

// LettersOf returns the x coordinates at which the outlines of a text begin and
// end, and the width of the text.
func LettersOf(text string) (lo, hi, wide vg.Length) {
	l := DefaultTheme()
	for i, c := range textOutline(l.small().face(), vg.Point{}, text) {
		if i == 0 {
			lo = c.Pos.X
		}
		lo, hi = min(lo, c.Pos.X), max(hi, c.Pos.X)
	}
	return lo, hi, l.small().width(text)
}

// Ellipse returns the drawn prediction ellipse of a foot's relevés.
func Ellipse(f *compare.ShoeFoot) platform.Polygon { return ellipse(f) }

// InKerns maps a point of a platform with its own kern to another kern, and returns the
// distance of the result from the centre in kerns.
func InKerns(r platform.Point, own, reference platform.Polygon) (at platform.Point, ratio float64) {
	a := againstFoot{kern: reference}
	at = a.inKerns(r, own)
	return at, a.ratio(at)
}

// WithInformation gives a PDF the document information of a picture without any.
func WithInformation(pdf []byte) ([]byte, error) { return metadata{}.withInformation(pdf) }

// Swarm returns the distances of drawn marks from the middle of their row.
func Swarm(at []vg.Length, size, tall vg.Length) []vg.Length { return swarm(at, size, tall) }

// EachAxis calls with for the axis of each panel of the pictures of shoes, feet and the
// ladder of a comparison.
func EachAxis(c *compare.Comparison, with func(what string, lo, hi float64)) {
	for _, foot := range device.Feet {
		for _, p := range NewShoes(c, foot).Panels {
			a := p.axis(0, 100)
			with("shoes "+p.Measure.Measure.String(), a.lo, a.hi)
		}
	}
	for _, shoe := range shoeCodes(c) {
		for _, p := range NewFeet(c, shoe).Panels {
			a := p.axis(0, 100)
			with("feet "+p.Measure.Measure.String(), a.lo, a.hi)
		}
	}
	for _, p := range NewLadder(c).Panels {
		a := p.axis(0, 100)
		with("ladder", a.lo, a.hi)
	}
}

// ContactEdge returns the drawn edge of contact of a shoe on a foot.
func ContactEdge(f *compare.ShoeFoot) [][2]platform.Point { return contactEdge(f) }

// ScaleOf returns the size of one mm of platform in a picture, in points.
func ScaleOf(p *Place) vg.Length { return p.scale() }
