package plots

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/plots/words"
)

// AgainstKern shows all shoes of a foot in one picture, each relative to its own kern:
// the distance of a shoe's mark from the centre, in kerns, is that of its mean centre of
// pressure from the centroid of its platform. The kern drawn is that of the first shoe; a
// mark lies inside it, in the same direction, where the load lies inside the shoe's own
// kern. With up to four shoes each mark has its 95 % region. Rings at whole multiples of
// the kern are the scale. The feet are side by side, seen from above, front up.
type AgainstKern struct {
	Theme Theme
	Rows  []PlatformRow
	Plain bool // words for a dancer: the kern is the target zone
}

// NewAgainstKern returns the picture of every shoe of a comparison.
func NewAgainstKern(c *compare.Comparison) *AgainstKern {
	p := NewPlatforms(c)
	return &AgainstKern{Theme: p.Theme, Rows: p.Rows}
}

const (
	againstWide   = 16 * vg.Centimeter
	againstColumn = (againstWide - 2*placeMargin - placeGap) / 2
	againstTall   = 7 * vg.Centimeter // of the rings, at most
	againstRings  = 6                 // at most; what lies further out is drawn at the edge
	againstShoes  = 4                 // with more, regions would hide one another and are left out
)

// againstFoot is one foot: the reference kern and the shoes that have the foot.
type againstFoot struct {
	foot  device.Foot
	kern  platform.Polygon
	shoes []againstShoe
	rings int // the outermost ring, in kerns
}

// againstShoe is one shoe in the coordinates of the reference kern, mm.
type againstShoe struct {
	row    *PlatformRow
	at     platform.Point
	region platform.Polygon
}

// feet returns the feet for which any shoe has a centre of pressure.
func (p *AgainstKern) feet() (out []againstFoot) {
	for _, foot := range device.Feet {
		a := againstFoot{foot: foot, rings: 2}
		for i := range p.Rows {
			f := p.Rows[i].Feet[foot]
			if f == nil || len(f.Platform.Kern) == 0 {
				continue
			}
			at, ok := place(f)
			if !ok {
				continue
			}
			if a.kern == nil {
				a.kern = simplify(f.Platform.Kern)
			}
			s := againstShoe{row: &p.Rows[i], at: a.inKerns(at, f.Platform.Kern)}
			for _, r := range p.regionOf(f) {
				s.region = append(s.region, a.inKerns(r, f.Platform.Kern))
			}
			a.rings = max(a.rings, int(math.Ceil(a.ratio(s.at)-1e-9)))
			for _, r := range s.region {
				a.rings = max(a.rings, int(math.Ceil(a.ratio(r)-1e-9)))
			}
			a.shoes = append(a.shoes, s)
		}
		a.rings = min(a.rings, againstRings)
		if len(a.shoes) > 0 {
			out = append(out, a)
		}
	}
	return out
}

// regionOf returns the 95 % region of a shoe's centre of pressure, nil where there are
// too many shoes.
func (p *AgainstKern) regionOf(f *compare.ShoeFoot) platform.Polygon {
	if len(p.Rows) > againstShoes {
		return nil
	}
	return regionOf(f)
}

// inKerns maps a point of a platform with a kern of its own to the reference kern: the
// direction stays, the distance is the same multiple of the kern's extent there.
func (a *againstFoot) inKerns(r platform.Point, own platform.Polygon) platform.Point {
	from, to := own.Reach(r), a.kern.Reach(r)
	if !(from > 0) || !(to > 0) || math.IsInf(from, 0) || math.IsInf(to, 0) {
		return r
	}
	return platform.Point{r[0] * to / from, r[1] * to / from}
}

// ratio returns the distance of a point from the centre, in kerns.
func (a *againstFoot) ratio(r platform.Point) float64 {
	if reach := a.kern.Reach(r); reach > 0 && r != (platform.Point{}) {
		return min(math.Hypot(r[0], r[1])/reach, 1e3)
	}
	return 0
}

// half returns the half-width and half-depth of the outermost ring, mm.
func (a *againstFoot) half() platform.Point {
	lo, hi := a.kern.Bounds()
	n := float64(a.rings)
	return platform.Point{n * max(-lo[0], hi[0]), n * max(-lo[1], hi[1])}
}

// scale returns the size of one mm, in points: the same for both feet.
func (p *AgainstKern) scale(feet []againstFoot) vg.Length {
	s := vg.Length(math.Inf(1))
	for _, a := range feet {
		half := a.half()
		s = min(s, againstColumn/2/vg.Length(half[0]), againstTall/2/vg.Length(half[1]))
	}
	return s
}

// height returns the height of the rings, on the paper.
func (p *AgainstKern) height(feet []againstFoot) (h vg.Length) {
	for i := range feet {
		h = max(h, 2*vg.Length(feet[i].half()[1])*p.scale(feet))
	}
	return h
}

// Size implements Picture.
func (p *AgainstKern) Size() (width, height vg.Length) {
	feet := p.feet()
	if len(feet) == 0 {
		return againstWide, 2 * placeMargin
	}
	return againstWide, 2*placeMargin + placeFootHead + 2*sideLabel + p.height(feet) + 6 +
		p.legend(feet).height(p.Theme.small(), againstWide-2*placeMargin)
}

// Draw implements Picture.
func (p *AgainstKern) Draw(c draw.Canvas) {
	q := newCanvas(c, &p.Theme)
	feet := p.feet()
	if len(feet) == 0 {
		return
	}
	left, y := c.Min.X+placeMargin, c.Max.Y-placeMargin
	for i := range feet {
		at := left + vg.Length(i)*(againstColumn+placeGap)
		q.write(at, y-10, fromLeft, style{q.Text, true, q.Quiet}, feet[i].foot.String()+" foot")
		origin := vg.Point{X: at + againstColumn/2, Y: y - placeFootHead - sideLabel - p.height(feet)/2}
		p.drawFoot(q, &feet[i], projection{origin, p.scale(feet), feet[i].foot})
	}
	y -= placeFootHead + 2*sideLabel + p.height(feet) + 6
	p.legend(feet).draw(q, left, y, againstWide-2*placeMargin)
}

func (p *AgainstKern) drawFoot(q canvas, a *againstFoot, v projection) {
	q.fill(q.KernFill, v.points(a.kern))
	for n := 2; n <= a.rings; n++ {
		q.strokeClosed(0.6, q.Quiet, []vg.Length{1, 2.5}, v.points(times(a.kern, float64(n))))
	}
	q.strokeClosed(1.3, q.Kern, nil, v.points(a.kern))
	for _, s := range a.shoes {
		region := densify(s.region)
		for _, part := range stretchesWithin(region, times(a.kern, float64(a.rings))) {
			pts := v.points(part)
			q.line(2.6, q.Paper, pts...)
			q.StrokeLines(draw.LineStyle{Color: s.row.Mark.Ink, Width: 1.4, Dashes: s.row.Mark.Shape.dashes()}, pts)
		}
	}
	for _, s := range a.shoes {
		at := s.at
		if beyond := a.ratio(at) / float64(a.rings); beyond > 1 {
			at = platform.Point{at[0] / beyond, at[1] / beyond}
		}
		q.drawMark(s.row.Mark, v.at(at), 3.8)
	}
	q.namesOfSides(v, a.half(), againstColumn)
}

func times(p platform.Polygon, by float64) platform.Polygon {
	out := make(platform.Polygon, len(p))
	for i, r := range p {
		out[i] = platform.Point{r[0] * by, r[1] * by}
	}
	return out
}

// dashes returns the line style that goes with a shape, so that lines differ without their
// colours.
func (s Shape) dashes() []vg.Length {
	return map[Shape][]vg.Length{
		Diamond: {5, 2}, Square: {1.5, 1.5}, Triangle: {5, 1.5, 1.5, 1.5}, Cross: {3, 3}, Wedge: {8, 2},
	}[s%hollow]
}

func (p *AgainstKern) legend(feet []againstFoot) (l legend) {
	met := map[*PlatformRow]bool{}
	region, rings := false, 0
	for i := range feet {
		rings = max(rings, feet[i].rings)
		for _, s := range feet[i].shoes {
			region = region || s.region != nil
			if met[s.row] {
				continue
			}
			met[s.row] = true
			l = append(l, legendItem{10, func(q canvas, at vg.Point) {
				q.drawMark(s.row.Mark, vg.Point{X: at.X + 5, Y: at.Y}, 3.4)
			}, fit(s.row.Title, p.Theme.small(), 5*vg.Centimeter)})
		}
	}
	kern, multiples := words.Kern, "2, 3 … times as far out as its edge"
	if p.Plain {
		kern = words.TargetZone
	}
	if rings == 2 {
		multiples = "twice as far out as its edge"
	}
	l = append(l, kernSample(kern), legendItem{16, func(q canvas, at vg.Point) {
		q.StrokeLines(draw.LineStyle{Color: q.Quiet, Width: 0.6, Dashes: []vg.Length{1, 2.5}}, []vg.Point{at, {X: at.X + 16, Y: at.Y}})
	}, multiples})
	if region && !p.Plain {
		l = append(l, legendItem{16, func(q canvas, at vg.Point) { q.line(1.4, q.Ink, at, vg.Point{X: at.X + 16, Y: at.Y}) }, "edge of the 95 % region"})
	}
	if region && p.Plain {
		l = append(l, legendItem{16, func(q canvas, at vg.Point) { q.line(1.4, q.Ink, at, vg.Point{X: at.X + 16, Y: at.Y}) }, "how far off a mark may be"})
	}
	return l
}

// Describe implements Picture.
func (p *AgainstKern) Describe() string {
	var b strings.Builder
	kern := "kern"
	if p.Plain {
		kern = words.TargetZone
	}
	fmt.Fprintf(&b, "Where the load sits in each shoe against its %s, shoes over one another.", kern)
	for _, a := range p.feet() {
		for _, s := range a.shoes {
			f := s.row.Feet[a.foot]
			fmt.Fprintf(&b, " %s, %s foot: %s.", s.row.Title, a.foot, words.Verdict(f.Verdict, f.Misses, f.Measures[measure.Medial].Mean))
		}
	}
	return b.String()
}
