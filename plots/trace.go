package plots

import (
	"cmp"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strconv"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/plots/words"
)

// Trace shows load and over against time, the left foot above the right foot, with
// the phases of every relevé, the pad presses and the gaps where frames are missing.
type Trace struct {
	Theme Theme
	Title string
	Feet  []TraceFoot
}

// TraceFoot is one foot of a recording. Times are in seconds since the first frame.
type TraceFoot struct {
	Foot     device.Foot
	Samples  []measure.Sample
	Releves  []measure.Releve // of this foot
	Presses  []measure.Press  // of this foot
	Platform *measure.Platform
}

// NewTrace returns the picture of a recording. It omits a foot without a stored trace.
func NewTrace(r *measure.Result) *Trace {
	p := &Trace{Theme: DefaultTheme(), Title: filepath.Base(r.Recording.File)}
	for _, foot := range device.Feet {
		if len(r.Traces[foot]) == 0 {
			continue
		}
		f := TraceFoot{Foot: foot, Samples: r.Traces[foot], Presses: r.Presses[foot], Platform: r.Platforms.Of(foot)}
		for _, rel := range r.Releves {
			if rel.Foot == foot {
				f.Releves = append(f.Releves, rel)
			}
		}
		p.Feet = append(p.Feet, f)
	}
	return p
}

const (
	traceWide   = 16 * vg.Centimeter
	traceGutter = 46
	traceEnds   = 28 // for the names of the ends of over
	traceHead   = 28 // for the foot's name and the numbers of its relevés
	traceLoad   = 56
	traceOver   = 62
	traceSpace  = 10
	traceFoot   = traceHead + traceLoad + traceSpace + traceOver
	traceAxis   = 28
	traceGap    = 8
)

// Size implements Picture.
func (p *Trace) Size() (width, height vg.Length) {
	n := vg.Length(len(p.Feet))
	return traceWide, 2*panelMargin + pictureHead + n*traceFoot + max(0, n-1)*traceGap + traceAxis +
		p.legend().height(p.Theme.small(), traceWide-2*panelMargin)
}

// Draw implements Picture.
func (p *Trace) Draw(c draw.Canvas) {
	q := newCanvas(c, &p.Theme)
	left, right, y := c.Min.X+panelMargin, c.Max.X-panelMargin, c.Max.Y-panelMargin
	q.write(left, y-10, fromLeft, q.strong(), fit(p.Title, q.strong(), right-left))
	y -= pictureHead
	time := emptyRange()
	load, over := emptyRange(), emptyRange() // both feet have the same axes
	load.include(0)
	for _, f := range p.Feet {
		over.include(f.overRange())
		time.include(f.Samples[0].T, f.Samples[len(f.Samples)-1].T)
		for _, s := range f.Samples {
			load.include(float64(s.LoadN))
		}
	}
	if !(time.hi > time.lo) {
		time = valueRange{0, 1}
	}
	t := axis{time.lo, time.hi, left + traceGutter, right - traceEnds}
	for i, f := range p.Feet {
		if i > 0 {
			y -= traceGap
		}
		f.draw(q, t, load.hi, over, left, y)
		y -= traceFoot
	}
	small := q.small()
	q.line(0.7, q.Quiet, vg.Point{X: t.from, Y: y}, vg.Point{X: t.to, Y: y})
	for _, tick := range t.ticks(50) {
		x := t.at(tick.Value)
		q.line(0.7, q.Quiet, vg.Point{X: x, Y: y}, vg.Point{X: x, Y: y - 3})
		half := small.width(tick.Label) / 2
		q.write(min(x, t.to-half), y-12, centred, small, tick.Label)
	}
	q.write((t.from+t.to)/2, y-23, centred, small, "seconds since the first frame")
	p.legend().draw(q, left, y-traceAxis, right-left)
}

func (f *TraceFoot) draw(q canvas, t axis, most float64, across valueRange, left, y vg.Length) {
	q.write(left, y-11, fromLeft, style{q.Text, true, q.Quiet}, f.Foot.String()+" foot")
	y -= traceHead
	bottom := y - traceLoad - traceSpace - traceOver
	f.drawParts(q, t, bottom, y)
	gaps := f.gaps()

	load := axis{0, max(1, most) * 1.05, y - traceLoad, y}
	q.verticalAxis(load, left, t.from, "load, N")
	f.drawCurve(q, t, load, func(s measure.Sample) float64 { return float64(s.LoadN) })

	lo, hi := across.lo, across.hi
	over := axis{lo, hi, bottom, bottom + traceOver}
	if f.Platform != nil && len(f.Platform.Kern) > 0 {
		kern := kernRange(*f.Platform, measure.Over)
		back, front := over.at(max(lo, kern[0])), over.at(min(hi, kern[1]))
		q.box(vg.Rectangle{Min: vg.Point{X: t.from, Y: back}, Max: vg.Point{X: t.to, Y: front}}, q.KernFill)
		for _, y := range []vg.Length{back, front} {
			q.line(0.8, q.Kern, vg.Point{X: t.from, Y: y}, vg.Point{X: t.to, Y: y})
		}
		q.write(t.to+4, (back+front)/2-3, fromLeft, style{q.Small, false, q.Kern}, "kern")
	}
	q.verticalAxis(over, left, t.from, "over, mm")
	f.drawCurve(q, t, over, func(s measure.Sample) float64 { return float64(s.OverMM) })
	q.write(t.to+4, bottom+traceOver-7, fromLeft, q.small(), "front")
	q.write(t.to+4, bottom, fromLeft, q.small(), "back")

	for _, g := range gaps {
		r := vg.Rectangle{Min: vg.Point{X: t.at(g[0]), Y: bottom}, Max: vg.Point{X: max(t.at(g[1]), t.at(g[0])+1), Y: y}}
		q.drawGap(r)
	}
}

// drawGap draws the time in which frames are missing as an empty box with dashed
// sides and solid ends.
func (q canvas) drawGap(r vg.Rectangle) {
	q.box(r, q.Paper)
	q.dashed(0.7, q.Ink, r.Min, vg.Point{X: r.Min.X, Y: r.Max.Y})
	q.dashed(0.7, q.Ink, vg.Point{X: r.Max.X, Y: r.Min.Y}, r.Max)
	for _, y := range []vg.Length{r.Min.Y, r.Max.Y} {
		mid := (r.Min.X + r.Max.X) / 2
		half := max(2.5, (r.Max.X-r.Min.X)/2)
		q.box(vg.Rectangle{Min: vg.Point{X: mid - half, Y: y - 1.2}, Max: vg.Point{X: mid + half, Y: y + 1.2}}, q.Ink)
	}
}

// traceLabel is a text above a part of the trace.
type traceLabel struct {
	part vg.Rectangle
	text string
}

// drawParts draws presses and phases and labels them, as far as there is room.
func (f *TraceFoot) drawParts(q canvas, t axis, bottom, top vg.Length) {
	labels := append(f.drawPresses(q, t, bottom, top), f.drawPhases(q, t, bottom, top)...)
	slices.SortStableFunc(labels, func(a, b traceLabel) int { return cmp.Compare(a.part.Min.X, b.part.Min.X) })
	small := q.small()
	free := vg.Length(math.Inf(-1)) // right end of the label before
	for _, l := range labels {
		half := small.width(l.text) / 2
		x := min((l.part.Min.X+l.part.Max.X)/2, t.to-half)
		if x-half >= free {
			q.write(x, top+5, centred, small, l.text)
			free = x + half + 3
		}
	}
}

// span returns the part of the trace between two times, s.
func (t axis) span(from, to float64, bottom, top vg.Length) vg.Rectangle {
	return vg.Rectangle{Min: vg.Point{X: t.at(max(t.lo, from)), Y: bottom}, Max: vg.Point{X: t.at(min(t.hi, to)), Y: top}}
}

// drawPresses draws a frame round every pad press and returns the labels.
func (f *TraceFoot) drawPresses(q canvas, t axis, bottom, top vg.Length) (labels []traceLabel) {
	for _, p := range f.Presses {
		r := t.span(p.StartS, p.EndS, bottom, top)
		q.strokeClosed(0.7, q.Hairline, nil, []vg.Point{r.Min, {X: r.Max.X, Y: r.Min.Y}, r.Max, {X: r.Min.X, Y: r.Max.Y}})
		labels = append(labels, traceLabel{r, "pad press"})
	}
	return labels
}

// drawPhases shades the rise, hold and lower of every relevé and returns its number.
func (f *TraceFoot) drawPhases(q canvas, t axis, bottom, top vg.Length) (labels []traceLabel) {
	for _, r := range f.Releves {
		all := t.span(r.StartS, r.EndS, bottom, top)
		label := strconv.Itoa(r.N)
		if r.Hold == nil {
			q.hatch(all, q.Hairline)
			label = strconv.Itoa(r.N) + " aborted"
		} else if r.Discarded {
			q.hatch(all, q.Hairline)
			label = strconv.Itoa(r.N) + " discarded"
		} else {
			q.box(all, q.Faint)
			hold := t.span(r.HoldStartS, r.HoldStartS+r.HoldS, bottom, top)
			q.box(hold, q.Tint)
			q.box(vg.Rectangle{Min: vg.Point{X: hold.Min.X, Y: top}, Max: vg.Point{X: hold.Max.X, Y: top + 2}}, q.Quiet)
		}
		labels = append(labels, traceLabel{all, label})
	}
	return labels
}

// verticalAxis draws a vertical axis at x with its ticks, and its name at left.
func (q canvas) verticalAxis(a axis, left, x vg.Length, name string) {
	small := q.small()
	q.line(0.7, q.Quiet, vg.Point{X: x, Y: a.from}, vg.Point{X: x, Y: a.to})
	for _, tick := range a.ticks(15) {
		y := a.at(tick.Value)
		q.line(0.7, q.Quiet, vg.Point{X: x - 3, Y: y}, vg.Point{X: x, Y: y})
		if y-small.size*0.35 >= a.from-4 && y+small.size*0.4 <= a.to+4 {
			q.write(x-5, y-small.size*0.35, fromRight, small, tick.Label)
		}
	}
	q.writeUpwards(left+7, (a.from+a.to)/2, small, name)
}

// overRange returns the platform's extent along over, mm.
func (f *TraceFoot) overRange() (lo, hi float64) {
	if f.Platform == nil || len(f.Platform.Outline) == 0 {
		return -12, 12
	}
	a, b := f.Platform.Outline.Bounds()
	return a[1], b[1]
}

// gaps returns the start and end of every gap, s.
func (f *TraceFoot) gaps() [][2]float64 {
	var out [][2]float64
	for i, s := range f.Samples {
		if s.Flags&measure.AfterGap != 0 && i > 0 {
			out = append(out, [2]float64{f.Samples[i-1].T, s.T})
		}
	}
	return out
}

// drawCurve draws a value of the samples against time.
func (f *TraceFoot) drawCurve(q canvas, t, a axis, value func(measure.Sample) float64) {
	for _, run := range f.runs(t, a, value) {
		q.line(0.8, q.Ink, run...)
	}
}

// runs returns the points of a curve of a value against time, in separate runs
// where frames or values are missing. The curve is decimated: of the samples that
// share a column 0.75 points wide it keeps the lowest and the highest, so that the
// picture of a long recording has few points and the same appearance.
func (f *TraceFoot) runs(t, a axis, value func(measure.Sample) float64) [][]vg.Point {
	var runs [][]vg.Point
	var run []vg.Point
	var c minMax
	for _, s := range f.Samples {
		v := value(s)
		missing := math.IsNaN(v)
		if missing || s.Flags&measure.AfterGap != 0 {
			if run = c.appendTo(run); len(run) > 1 {
				runs = append(runs, run)
			}
			run = nil
		}
		if missing {
			continue
		}
		at := vg.Point{X: t.at(s.T), Y: a.at(max(a.lo, min(a.hi, v)))}
		if c.n > 0 && columnOf(at) != c.column {
			run = c.appendTo(run)
		}
		c.add(at)
	}
	if run = c.appendTo(run); len(run) > 1 {
		runs = append(runs, run)
	}
	return runs
}

// minMax is the lowest and the highest of n points that share a column of the
// picture.
type minMax struct {
	n, column       int
	lowest, highest vg.Point
}

func columnOf(p vg.Point) int { return int(p.X / 0.75) }

func (c *minMax) add(p vg.Point) {
	if c.n == 0 {
		*c = minMax{0, columnOf(p), p, p}
	}
	c.n++
	if p.Y < c.lowest.Y {
		c.lowest = p
	}
	if p.Y > c.highest.Y {
		c.highest = p
	}
}

// appendTo appends the lowest and the highest point to run, in order of time, and
// resets c.
func (c *minMax) appendTo(run []vg.Point) []vg.Point {
	if c.n == 0 {
		return run
	}
	c.n = 0
	a, b := c.lowest, c.highest
	if a.X > b.X {
		a, b = b, a
	}
	if run = append(run, a); b != a {
		run = append(run, b)
	}
	return run
}

func (p *Trace) legend() legend {
	l := legend{
		{16, func(q canvas, at vg.Point) {
			q.box(vg.Rectangle{Min: vg.Point{X: at.X, Y: at.Y - 5}, Max: vg.Point{X: at.X + 16, Y: at.Y + 4}}, q.Tint)
			q.box(vg.Rectangle{Min: vg.Point{X: at.X, Y: at.Y + 4}, Max: vg.Point{X: at.X + 16, Y: at.Y + 6}}, q.Quiet)
		}, "hold"},
		{16, func(q canvas, at vg.Point) {
			r := vg.Rectangle{Min: vg.Point{X: at.X, Y: at.Y - 5}, Max: vg.Point{X: at.X + 16, Y: at.Y + 5}}
			q.box(r, q.Faint)
			q.strokeClosed(0.4, q.Hairline, nil, []vg.Point{r.Min, {X: r.Max.X, Y: r.Min.Y}, r.Max, {X: r.Min.X, Y: r.Max.Y}})
		}, "rise, lower"},
	}
	aborted, discarded, gap := false, false, false
	for _, f := range p.Feet {
		for _, r := range f.Releves {
			aborted = aborted || r.Hold == nil
			discarded = discarded || r.Discarded
		}
		gap = gap || len(f.gaps()) > 0
	}
	if aborted || discarded {
		why := "aborted, not measured"
		switch {
		case !aborted:
			why = "discarded"
		case discarded:
			why = "aborted or discarded"
		}
		l = append(l, legendItem{16, func(q canvas, at vg.Point) {
			q.hatch(vg.Rectangle{Min: vg.Point{X: at.X, Y: at.Y - 5}, Max: vg.Point{X: at.X + 16, Y: at.Y + 5}}, q.Hairline)
		}, why})
	}
	if gap {
		l = append(l, legendItem{12, func(q canvas, at vg.Point) {
			q.drawGap(vg.Rectangle{Min: vg.Point{X: at.X + 2, Y: at.Y - 5}, Max: vg.Point{X: at.X + 10, Y: at.Y + 5}})
		}, "frames lost"})
	}
	return l
}

// Describe implements Picture.
func (p *Trace) Describe() string {
	text := "Load and over against time in " + p.Title + "."
	for _, f := range p.Feet {
		aborted := 0
		for _, r := range f.Releves {
			if r.Hold == nil {
				aborted++
			}
		}
		text += fmt.Sprintf(" %s foot: %s, %d aborted, %s", f.Foot, words.Count(len(f.Releves), "relevé", "relevés"), aborted,
			words.Count(len(f.gaps()), "gap", "gaps"))
		if n := len(f.Presses); n > 0 {
			text += ", " + words.Count(n, "pad press", "pad presses")
		}
		text += "."
	}
	return text
}
