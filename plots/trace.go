package plots

import (
	"fmt"
	"math"
	"path/filepath"
	"strconv"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"aplomb/analyze/measure"
	"aplomb/device"
)

// Trace is load and over against time, a foot above the other, with the
// phases of every relevé found and what is missing.
type Trace struct {
	Look  Look
	Title string
	Feet  []TraceFoot
}

// TraceFoot is one foot of a recording.
type TraceFoot struct {
	Foot     device.Foot
	Samples  []measure.Sample
	Releves  []measure.Releve // of this foot
	Platform *measure.Platform
}

// NewTrace takes a recording whose trace was kept.
func NewTrace(r *measure.Result) *Trace {
	p := &Trace{Look: DefaultLook(), Title: filepath.Base(r.Recording.File)}
	for _, foot := range device.Feet {
		if len(r.Traces[foot]) == 0 {
			continue
		}
		f := TraceFoot{Foot: foot, Samples: r.Traces[foot], Platform: r.Platforms.Of(foot)}
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
	traceEnds   = 28 // for what the ends of over mean
	traceHead   = 28 // a foot's name and the numbers of its relevés
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
		p.legend().height(p.Look.small(), traceWide-2*panelMargin)
}

// Draw implements Picture.
func (p *Trace) Draw(c draw.Canvas) {
	q := newPen(c, &p.Look)
	left, right, y := c.Min.X+panelMargin, c.Max.X-panelMargin, c.Max.Y-panelMargin
	q.write(left, y-10, fromLeft, q.strong(), fit(p.Title, q.strong(), right-left))
	y -= pictureHead
	time := newSpread()
	load := newSpread()
	load.hold(0)
	for _, f := range p.Feet {
		time.hold(f.Samples[0].T, f.Samples[len(f.Samples)-1].T)
		for _, s := range f.Samples {
			load.hold(float64(s.LoadN))
		}
	}
	if !(time.hi > time.lo) {
		time = spread{0, 1}
	}
	t := axis{time.lo, time.hi, left + traceGutter, right - traceEnds}
	for i, f := range p.Feet {
		if i > 0 {
			y -= traceGap
		}
		f.draw(q, t, load.hi, left, y)
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

func (f *TraceFoot) draw(q pen, t axis, most float64, left, y vg.Length) {
	q.write(left, y-11, fromLeft, style{q.Text, true, q.Quiet}, f.Foot.String()+" foot")
	y -= traceHead
	bottom := y - traceLoad - traceSpace - traceOver
	f.phases(q, t, bottom, y)
	gaps := f.gaps()

	load := axis{0, max(1, most) * 1.05, y - traceLoad, y}
	q.uprightAxis(load, left, t.from, "load, N")
	f.curve(q, t, load, func(s measure.Sample) float64 { return float64(s.LoadN) })

	lo, hi := f.depth()
	over := axis{lo, hi, bottom, bottom + traceOver}
	if f.Platform != nil && len(f.Platform.Kern) > 0 {
		z := zone(*f.Platform, measure.Over)
		z0, z1 := over.at(max(lo, z[0])), over.at(min(hi, z[1]))
		q.box(vg.Rectangle{Min: vg.Point{X: t.from, Y: z0}, Max: vg.Point{X: t.to, Y: z1}}, q.Zone)
		for _, y := range []vg.Length{z0, z1} {
			q.line(0.8, q.Kern, vg.Point{X: t.from, Y: y}, vg.Point{X: t.to, Y: y})
		}
		q.write(t.to+4, (z0+z1)/2-3, fromLeft, style{q.Small, false, q.Kern}, "kern")
	}
	q.uprightAxis(over, left, t.from, "over, mm")
	f.curve(q, t, over, func(s measure.Sample) float64 { return float64(s.OverMM) })
	q.write(t.to+4, bottom+traceOver-7, fromLeft, q.small(), "front")
	q.write(t.to+4, bottom, fromLeft, q.small(), "back")

	for _, g := range gaps {
		r := vg.Rectangle{Min: vg.Point{X: t.at(g[0]), Y: bottom}, Max: vg.Point{X: max(t.at(g[1]), t.at(g[0])+1), Y: y}}
		q.lost(r)
	}
}

// lost draws missing frames: paper with a solid edge above and below.
func (q pen) lost(r vg.Rectangle) {
	q.box(r, q.Paper)
	q.dashed(0.7, q.Ink, r.Min, vg.Point{X: r.Min.X, Y: r.Max.Y})
	q.dashed(0.7, q.Ink, vg.Point{X: r.Max.X, Y: r.Min.Y}, r.Max)
	for _, y := range []vg.Length{r.Min.Y, r.Max.Y} {
		mid := (r.Min.X + r.Max.X) / 2
		half := max(2.5, (r.Max.X-r.Min.X)/2)
		q.box(vg.Rectangle{Min: vg.Point{X: mid - half, Y: y - 1.2}, Max: vg.Point{X: mid + half, Y: y + 1.2}}, q.Ink)
	}
}

// phases shades rise, hold and lower of every relevé and numbers it.
func (f *TraceFoot) phases(q pen, t axis, bottom, top vg.Length) {
	small := q.small()
	free := vg.Length(math.Inf(-1)) // from where a label does not touch the one before
	for _, r := range f.Releves {
		span := func(from, to float64) vg.Rectangle {
			return vg.Rectangle{Min: vg.Point{X: t.at(max(t.lo, from)), Y: bottom}, Max: vg.Point{X: t.at(min(t.hi, to)), Y: top}}
		}
		all := span(r.StartS, r.EndS)
		label := strconv.Itoa(r.N)
		if r.Hold == nil {
			q.hatch(all, q.Hair)
			label = strconv.Itoa(r.N) + " aborted"
		} else if r.Discarded {
			q.hatch(all, q.Hair)
			label = strconv.Itoa(r.N) + " discarded"
		} else {
			q.box(all, q.Faint)
			hold := span(r.HoldStartS, r.HoldStartS+r.HoldS)
			q.box(hold, q.Tint)
			q.box(vg.Rectangle{Min: vg.Point{X: hold.Min.X, Y: top}, Max: vg.Point{X: hold.Max.X, Y: top + 2}}, q.Quiet)
		}
		half := small.width(label) / 2
		x := min((all.Min.X+all.Max.X)/2, t.to-half)
		if x-half >= free {
			q.write(x, top+5, centred, small, label)
			free = x + half + 3
		}
	}
}

// uprightAxis draws an upright axis at x with its ticks, and its name at left.
func (q pen) uprightAxis(a axis, left, x vg.Length, name string) {
	small := q.small()
	q.line(0.7, q.Quiet, vg.Point{X: x, Y: a.from}, vg.Point{X: x, Y: a.to})
	for _, tick := range a.ticks(15) {
		y := a.at(tick.Value)
		q.line(0.7, q.Quiet, vg.Point{X: x - 3, Y: y}, vg.Point{X: x, Y: y})
		if y-small.size*0.35 >= a.from-4 && y+small.size*0.4 <= a.to+4 {
			q.write(x-5, y-small.size*0.35, fromRight, small, tick.Label)
		}
	}
	q.turned(left+7, (a.from+a.to)/2, small, name)
}

// turned writes text upwards, centred on y.
func (q pen) turned(x, y vg.Length, s style, text string) {
	q.Push()
	q.Translate(vg.Point{X: x, Y: y})
	q.Rotate(math.Pi / 2)
	q.write(0, 0, centred, s, text)
	q.Pop()
}

// depth returns the platform's extent along over, mm.
func (f *TraceFoot) depth() (lo, hi float64) {
	if f.Platform == nil || len(f.Platform.Outline) == 0 {
		return -12, 12
	}
	a, b := f.Platform.Outline.Bounds()
	return a[1], b[1]
}

// gaps returns from when until when frames are missing, s.
func (f *TraceFoot) gaps() [][2]float64 {
	var out [][2]float64
	for i, s := range f.Samples {
		if s.Flags&measure.AfterGap != 0 && i > 0 {
			out = append(out, [2]float64{f.Samples[i-1].T, s.T})
		}
	}
	return out
}

// curve draws a value against time.
func (f *TraceFoot) curve(q pen, t, a axis, of func(measure.Sample) float64) {
	for _, run := range f.runs(t, a, of) {
		q.line(0.8, q.Ink, run...)
	}
}

// runs places a value against time on the canvas, broken where frames or values
// are missing. Where many samples share a column of three quarters of a point,
// their smallest and largest stand for them all, so that a long recording looks
// as it would and stays small.
func (f *TraceFoot) runs(t, a axis, of func(measure.Sample) float64) [][]vg.Point {
	var runs [][]vg.Point
	var run []vg.Point
	var c column
	for _, s := range f.Samples {
		v := of(s)
		missing := math.IsNaN(v)
		if missing || s.Flags&measure.AfterGap != 0 {
			if run = c.empty(run); len(run) > 1 {
				runs = append(runs, run)
			}
			run = nil
		}
		if missing {
			continue
		}
		at := vg.Point{X: t.at(s.T), Y: a.at(max(a.lo, min(a.hi, v)))}
		if c.n > 0 && placeOf(at) != c.place {
			run = c.empty(run)
		}
		c.add(at)
	}
	if run = c.empty(run); len(run) > 1 {
		runs = append(runs, run)
	}
	return runs
}

// column gathers the points that share a column of the picture.
type column struct {
	n, place    int
	least, most vg.Point
}

func placeOf(p vg.Point) int { return int(p.X / 0.75) }

func (c *column) add(p vg.Point) {
	if c.n == 0 {
		*c = column{0, placeOf(p), p, p}
	}
	c.n++
	if p.Y < c.least.Y {
		c.least = p
	}
	if p.Y > c.most.Y {
		c.most = p
	}
}

// empty moves what is gathered to the end of run, in order of time.
func (c *column) empty(run []vg.Point) []vg.Point {
	if c.n == 0 {
		return run
	}
	c.n = 0
	a, b := c.least, c.most
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
		{16, func(q pen, at vg.Point) {
			q.box(vg.Rectangle{Min: vg.Point{X: at.X, Y: at.Y - 5}, Max: vg.Point{X: at.X + 16, Y: at.Y + 4}}, q.Tint)
			q.box(vg.Rectangle{Min: vg.Point{X: at.X, Y: at.Y + 4}, Max: vg.Point{X: at.X + 16, Y: at.Y + 6}}, q.Quiet)
		}, "hold"},
		{16, func(q pen, at vg.Point) {
			r := vg.Rectangle{Min: vg.Point{X: at.X, Y: at.Y - 5}, Max: vg.Point{X: at.X + 16, Y: at.Y + 5}}
			q.box(r, q.Faint)
			q.outline(0.4, q.Hair, nil, []vg.Point{r.Min, {X: r.Max.X, Y: r.Min.Y}, r.Max, {X: r.Min.X, Y: r.Max.Y}})
		}, "rise, lower"},
	}
	aborted, discarded, lost := false, false, false
	for _, f := range p.Feet {
		for _, r := range f.Releves {
			aborted = aborted || r.Hold == nil
			discarded = discarded || r.Discarded
		}
		lost = lost || len(f.gaps()) > 0
	}
	if aborted || discarded {
		why := "aborted, not measured"
		switch {
		case !aborted:
			why = "discarded"
		case discarded:
			why = "aborted or discarded"
		}
		l = append(l, legendItem{16, func(q pen, at vg.Point) {
			q.hatch(vg.Rectangle{Min: vg.Point{X: at.X, Y: at.Y - 5}, Max: vg.Point{X: at.X + 16, Y: at.Y + 5}}, q.Hair)
		}, why})
	}
	if lost {
		l = append(l, legendItem{12, func(q pen, at vg.Point) {
			q.lost(vg.Rectangle{Min: vg.Point{X: at.X + 2, Y: at.Y - 5}, Max: vg.Point{X: at.X + 10, Y: at.Y + 5}})
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
		text += fmt.Sprintf(" %s foot: %s, %d aborted, %s.", f.Foot, Count(len(f.Releves), "relevé", "relevés"), aborted,
			Count(len(f.gaps()), "gap", "gaps"))
	}
	return text
}
