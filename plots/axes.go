package plots

import (
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"

	"aplomb/analyze/measure"
	"aplomb/plots/words"
)

// MainMeasures are the measures that pictures show, in this order. The primary
// measure comes first.
var MainMeasures = []measure.Measure{measure.Over, measure.Medial, measure.ContactShare, measure.Load}

// axis maps the values lo to hi to the coordinates from to to, in points.
type axis struct {
	lo, hi   float64
	from, to vg.Length
}

func (a axis) at(v float64) vg.Length {
	return a.from + (a.to-a.from)*vg.Length((v-a.lo)/(a.hi-a.lo))
}

// ticks returns labelled ticks at multiples of 1, 2 or 5 times a power of ten,
// as many as leave a distance of at least apart between neighbours.
func (a axis) ticks(apart vg.Length) []plot.Tick {
	least := (a.hi - a.lo) * float64(apart/(a.to-a.from))
	power := math.Floor(math.Log10(least))
	step := math.Pow(10, power+1)
	for _, m := range []float64{1, 2, 5} {
		if m*math.Pow(10, power) >= least*(1-1e-9) {
			step = m * math.Pow(10, power)
			break
		}
	}
	var out []plot.Tick
	for i := math.Ceil(a.lo/step - 1e-9); i*step <= a.hi+1e-9*step; i++ {
		out = append(out, plot.Tick{Value: i * step, Label: words.Number(i*step, max(0, -int(math.Floor(math.Log10(step)+1e-9))))})
	}
	return out
}

// valueRange is the range of the values that an axis has to show.
type valueRange struct{ lo, hi float64 }

func emptyRange() valueRange { return valueRange{math.Inf(1), math.Inf(-1)} }

// include widens the range to all finite values given.
func (r *valueRange) include(values ...float64) {
	for _, v := range values {
		if !math.IsNaN(v) && !math.IsInf(v, 0) {
			r.lo, r.hi = min(r.lo, v), max(r.hi, v)
		}
	}
}

// includeIntervals widens the range to the intervals, by at most its own width on
// either side. The interval of two relevés can be so wide that an axis that shows
// it leaves no room for the values.
func (r *valueRange) includeIntervals(intervals [][2]float64) {
	width := r.hi - r.lo
	lo, hi := r.lo-width, r.hi+width
	for _, ci := range intervals {
		r.include(max(lo, ci[0]), min(hi, ci[1]))
	}
}

// union returns the range of both.
func (r valueRange) union(s valueRange) valueRange {
	return valueRange{min(r.lo, s.lo), max(r.hi, s.hi)}
}

// axisOf returns the axis of a measure over the range: from 0 to 100 for a share in per
// cent, else with a margin at both ends.
func (r valueRange) axisOf(d words.Display, from, to vg.Length) axis {
	if d.Proportion {
		return axis{0, 100, from, to}
	}
	return r.axis(from, to)
}

// axis returns an axis over the range with a margin at both ends.
func (r valueRange) axis(from, to vg.Length) axis {
	if r.lo > r.hi {
		r = valueRange{0, 1}
	}
	margin := 0.04 * (r.hi - r.lo)
	if margin < 1e-6*max(1, math.Abs(r.hi)) { // the values differ by rounding alone
		margin = max(1, 0.05*math.Abs(r.hi))
	}
	return axis{r.lo - margin, r.hi + margin, from, to}
}

// kernRange returns the extent of the kern along the axis of a measure, in mm. It
// is nil for a measure that has no target.
func kernRange(p measure.Platform, m measure.Measure) *[2]float64 {
	along := map[measure.Measure]int{measure.Medial: 0, measure.Over: 1}
	k, ok := along[m]
	if !ok || len(p.Kern) == 0 {
		return nil
	}
	lo, hi := p.Kern.Bounds()
	return &[2]float64{lo[k], hi[k]}
}

// releveValues returns a measure of every relevé that has it, in display units.
func releveValues(releves []measure.Releve, d words.Display) []float64 {
	var out []float64
	for _, r := range releves {
		if v, ok := r.Value(d.Measure); ok {
			out = append(out, v*d.Scale)
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

func shifted(ci *[2]float64, by float64) *[2]float64 {
	return &[2]float64{ci[0] + by, ci[1] + by}
}

// axisBlock is the height of the axis below a panel with its labels, points.
const axisBlock = 16

// horizontalAxis draws the axis of a measure at height y, with its ticks and the names of
// its ends.
func (q canvas) horizontalAxis(a axis, y vg.Length, d words.Display) {
	small := q.small()
	q.line(0.7, q.Quiet, vg.Point{X: a.from, Y: y}, vg.Point{X: a.to, Y: y})
	free := [2]vg.Length{a.from - 8, a.to + 8} // range for tick labels
	if d.Low != "" {
		q.write(a.from, y-12, fromLeft, small, "← "+d.Low)
		q.write(a.to, y-12, fromRight, small, d.High+" →")
		free[0] = a.from + small.width("← "+d.Low) + 4
		free[1] = a.to - small.width(d.High+" →") - 4
	}
	for _, t := range a.ticks(30) {
		x, half := a.at(t.Value), small.width(t.Label)/2
		q.line(0.7, q.Quiet, vg.Point{X: x, Y: y}, vg.Point{X: x, Y: y - 3})
		if x-half >= free[0] && x+half <= free[1] {
			q.write(x, y-12, centred, small, t.Label)
		}
	}
}

// kernBand draws the extent of the kern along an axis as a band from bottom to
// top. It draws nothing where kern is nil.
func (q canvas) kernBand(a axis, kern *[2]float64, bottom, top vg.Length) {
	if kern == nil {
		return
	}
	x0, x1 := a.at(max(a.lo, kern[0])), a.at(min(a.hi, kern[1]))
	q.box(vg.Rectangle{Min: vg.Point{X: x0, Y: bottom}, Max: vg.Point{X: x1, Y: top}}, q.KernFill)
	for _, x := range []vg.Length{x0, x1} {
		q.line(1, q.Kern, vg.Point{X: x, Y: bottom}, vg.Point{X: x, Y: top})
	}
}
