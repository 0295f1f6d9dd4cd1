package plots

import (
	"math"

	"gonum.org/v1/plot/vg"

	"aplomb/analyze/measure"
)

// MainMeasures are those that pictures show, the declared first one at the head.
var MainMeasures = []measure.Measure{measure.Over, measure.Medial, measure.ContactShare, measure.Load}

// spread collects what an axis has to hold.
type spread struct{ lo, hi float64 }

func newSpread() spread { return spread{math.Inf(1), math.Inf(-1)} }

func (s *spread) hold(values ...float64) {
	for _, v := range values {
		if !math.IsNaN(v) && !math.IsInf(v, 0) {
			s.lo, s.hi = min(s.lo, v), max(s.hi, v)
		}
	}
}

// stretch lets intervals widen the axis, but to no more than thrice: that of
// two relevés may be huge, and would crowd everything else into one spot.
func (s *spread) stretch(intervals [][2]float64) {
	room := s.hi - s.lo
	lo, hi := s.lo-room, s.hi+room
	for _, ci := range intervals {
		s.hold(max(lo, ci[0]), min(hi, ci[1]))
	}
}

// axis returns an axis over the spread with a little air at its ends.
func (s spread) axis(from, to vg.Length) axis {
	if s.lo > s.hi {
		s = spread{0, 1}
	}
	air := 0.04 * (s.hi - s.lo)
	if air < 1e-6*max(1, math.Abs(s.hi)) { // no spread but that of rounding, too fine for ticks
		air = max(1, 0.05*math.Abs(s.hi))
	}
	return axis{s.lo - air, s.hi + air, from, to}
}

// zone returns the extent of the kern along the axis of a measure in shown
// units, nil for a measure that has no target.
func zone(p measure.Platform, m measure.Measure) *[2]float64 {
	along := map[measure.Measure]int{measure.Medial: 0, measure.Over: 1}
	k, ok := along[m]
	if !ok || len(p.Kern) == 0 {
		return nil
	}
	lo, hi := p.Kern.Bounds()
	return &[2]float64{lo[k], hi[k]}
}

// values returns a measure of every relevé that has it, in shown units.
func values(releves []measure.Releve, s Shown) []float64 {
	var out []float64
	for _, r := range releves {
		if v, ok := r.Value(s.Measure); ok {
			out = append(out, v*s.Scale)
		}
	}
	return out
}

func scaled(ci *[2]float64, by float64) *[2]float64 {
	if ci == nil {
		return nil
	}
	return &[2]float64{ci[0] * by, ci[1] * by}
}

// foot of a panel: the axis, its ticks and what its ends mean.
const axisBlock = 16

func (p pen) valueAxis(a axis, y vg.Length, s Shown) {
	small := p.small()
	p.line(0.7, p.Quiet, vg.Point{X: a.from, Y: y}, vg.Point{X: a.to, Y: y})
	taken := [2]vg.Length{a.from - 6, a.to + 6}
	if s.Low != "" {
		p.write(a.from, y-12, fromLeft, small, "← "+s.Low)
		p.write(a.to, y-12, fromRight, small, s.High+" →")
		taken[0] = a.from + small.width("← "+s.Low) + 4
		taken[1] = a.to - small.width(s.High+" →") - 4
	}
	for _, t := range a.ticks(30) {
		x, half := a.at(t.Value), small.width(t.Label)/2
		p.line(0.7, p.Quiet, vg.Point{X: x, Y: y}, vg.Point{X: x, Y: y - 3})
		if x-half >= taken[0] && x+half <= taken[1] {
			p.write(x, y-12, centred, small, t.Label)
		}
	}
}

// zoneBand draws the target between bottom and top.
func (p pen) zoneBand(a axis, z *[2]float64, bottom, top vg.Length) {
	if z == nil {
		return
	}
	x0, x1 := a.at(max(a.lo, z[0])), a.at(min(a.hi, z[1]))
	p.box(vg.Rectangle{Min: vg.Point{X: x0, Y: bottom}, Max: vg.Point{X: x1, Y: top}}, p.Zone)
	for _, x := range []vg.Length{x0, x1} {
		p.line(1, p.Kern, vg.Point{X: x, Y: bottom}, vg.Point{X: x, Y: top})
	}
}
