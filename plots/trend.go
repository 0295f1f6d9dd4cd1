package plots

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"aplomb/analyze/track"
	"aplomb/plots/words"
)

// Trend shows measures of one foot over visits, one panel below the other on one time
// axis. ShareAxes gives the pictures of two feet the same axes.
type Trend struct {
	Theme   Theme
	Panels  []TrendPanel  // from top to bottom
	Visits  []time.Time   // every visit, also one in which nothing was measured
	Changes []TrendChange // changes of the shoe or of the conditions
	Stops   []time.Time   // visits with the advice to stop because of pain
	Marks   bool          // whether the legend explains marks
	Zones   bool          // whether the legend explains areas and lines
}

// TrendPanel is one measure, or the pain before and after each visit where Pain is set.
// Its numbers are in display units.
type TrendPanel struct {
	Title    string
	Note     string // at the right of the title
	Measure  words.Display
	Plot     vg.Length      // height of the plot; 0 for a usual one
	Range    *[2]float64    // of the axis; nil where the panel has its own, see ShareAxes
	Kern     *[2]float64    // extent of the kern along this axis; nil for none
	Equal    *float64       // value at which both feet are alike; nil for none
	Segments []TrendSegment // by time
	Other    []TrendPoint   // means of the other foot, by time
	Missing  []time.Time    // visits in which this was not measured
	Pain     []TrendPain    // by time
}

// TrendSegment is a sequence of visits that are compared with one reference: in one shoe,
// under the same conditions.
type TrendSegment struct {
	Points []TrendPoint // by time
	Band   *[2]float64  // contains 95 % of visits without a change; nil where unknown
}

// TrendPoint is one visit.
type TrendPoint struct {
	At        time.Time
	Value     float64
	CI95      *[2]float64   // nil where it is not known
	Reference bool          // whether changes are counted from this visit
	Wording   track.Wording // of the change; empty where the noise is unknown
}

// TrendPain is the pain of a visit, 0 to 10; nil where unknown.
type TrendPain struct {
	At            time.Time
	Before, After *int
}

// TrendChange is a change of shoe or of conditions.
type TrendChange struct {
	Last  time.Time // last visit before it
	First time.Time // first visit after it
	Text  string
	Short string // replaces Text where that does not fit
}

// at returns the time at which the change is drawn, halfway between the two visits.
func (c TrendChange) at() time.Time { return c.Last.Add(c.First.Sub(c.Last) / 2) }

// NewTrendSegment returns visits of a series as a segment of a picture. The band is about
// the reference of the series, which need not be among points.
func NewTrendSegment(d words.Display, s track.Series, points []track.Point) TrendSegment {
	var out TrendSegment
	for _, p := range points {
		v := TrendPoint{At: p.At, Value: p.Mean * d.Scale, Reference: p.Reference, Wording: p.Wording}
		if p.OfMean != nil {
			v.CI95 = scaled(&p.OfMean.CI95, d.Scale)
		}
		out.Points = append(out.Points, v)
	}
	for _, p := range s.Points {
		if p.Reference && s.Repeat != nil {
			out.Band = &[2]float64{(p.Mean - s.Repeat.MDC95) * d.Scale, (p.Mean + s.Repeat.MDC95) * d.Scale}
		}
	}
	return out
}

// ShareAxes gives the panels of one measure in several pictures one axis, and all pictures
// one time axis.
func ShareAxes(all ...*Trend) {
	var visits []time.Time
	for _, p := range all {
		visits = append(visits, p.Visits...)
	}
	for _, p := range all {
		p.Visits = visits
		for i := range p.Panels {
			shared := emptyRange()
			for _, q := range all {
				for j := range q.Panels {
					if q.Panels[j].Measure.Measure == p.Panels[i].Measure.Measure && q.Panels[j].Pain == nil {
						r := q.Panels[j].valueRange()
						shared.include(r.lo, r.hi)
					}
				}
			}
			if p.Panels[i].Pain == nil && shared.lo <= shared.hi {
				p.Panels[i].Range = &[2]float64{shared.lo, shared.hi}
			}
		}
	}
}

const (
	trendWide  = 8.8 * vg.Centimeter
	trendPlot  = 48
	trendScale = 28 // for the figures to the left of a panel
	trendDates = 16
	trendHead  = 16
	trendGap   = 7
)

func (p *TrendPanel) height() vg.Length {
	if p.Plot > 0 {
		return p.Plot
	}
	return trendPlot
}

// Size implements Picture.
func (p *Trend) Size() (width, height vg.Length) {
	height = 2*panelMargin + trendDates + 4 + p.legend().height(p.Theme.small(), trendWide-2*panelMargin)
	for i := range p.Panels {
		height += trendHead + p.Panels[i].height() + p.eventHead(i) + trendGap
	}
	return trendWide, height
}

// eventHead returns the height of the line above a plot with the names of stops and
// changes: that of the first panel where there are any.
func (p *Trend) eventHead(panel int) vg.Length {
	if panel > 0 || len(p.Stops)+len(p.Changes) == 0 || p.Panels[panel].Pain != nil && len(p.Changes) == 0 {
		return 0
	}
	return 12
}

// Draw implements Picture.
func (p *Trend) Draw(c draw.Canvas) {
	q := newCanvas(c, &p.Theme)
	left, right, y := c.Min.X+panelMargin, c.Max.X-panelMargin, c.Max.Y-panelMargin
	times := p.timeAxis(left+trendScale+9, right-9)
	for i := range p.Panels {
		panel := &p.Panels[i]
		panel.writeHead(q, left, right, y)
		y -= trendHead
		area := vg.Rectangle{Min: vg.Point{X: left + trendScale, Y: y - panel.height() - p.eventHead(i)}, Max: vg.Point{X: right, Y: y}}
		v := panel.axis(area.Min.Y+5, area.Max.Y-5-p.eventHead(i))
		panel.drawZones(q, times, v, area, p.Changes)
		p.drawEvents(q, times, area, p.eventHead(i) > 0, panel.Pain == nil)
		panel.drawScale(q, v, area)
		if panel.Pain != nil {
			panel.drawPain(q, times, v, area, p.Stops, p.markSize(times))
		} else {
			panel.drawVisits(q, times, v, area, p.markSize(times))
		}
		y = area.Min.Y - trendGap
	}
	p.writeDates(q, times, y+trendGap)
	p.legend().draw(q, left, y+trendGap-trendDates-4, right-left)
}

// timeAxis returns the time axis, in seconds since 1970.
func (p *Trend) timeAxis(from, to vg.Length) axis {
	s := emptyRange()
	for _, at := range p.Visits {
		s.include(float64(at.Unix()))
	}
	const day = 86400
	if s.lo > s.hi {
		s = valueRange{0, day}
	}
	if s.hi-s.lo < day {
		middle := (s.lo + s.hi) / 2
		s = valueRange{middle - day, middle + day}
	}
	return axis{s.lo, s.hi, from, to}
}

func (a axis) when(t time.Time) vg.Length { return a.at(float64(t.Unix())) }

// crowded is the half-size of marks below which visits count as many.
const crowded = 2.4

// markSize returns the half-size of marks, smaller where visits are many.
func (p *Trend) markSize(times axis) vg.Length {
	met := map[int64]bool{}
	for _, at := range p.Visits {
		met[at.Unix()/86400] = true
	}
	return max(1.8, min(3.4, 0.36*(times.to-times.from)/vg.Length(max(1, len(met)))))
}

func (p *TrendPanel) writeHead(q canvas, left, right, y vg.Length) {
	bold, plain := style{q.Text, true, q.Ink}, q.small()
	note := fit(p.Note, plain, (right-left)/2)
	q.write(right, y-11, fromRight, plain, note)
	q.write(left, y-11, fromLeft, bold, fit(p.Title, bold, right-left-plain.width(note)-8))
}

// valueRange returns the range of the panel's axis. It contains means, kern and the value
// at which both feet are equal, and intervals and bands as far as possible.
func (p *TrendPanel) valueRange() valueRange {
	const leastShares = 4 // least range round p.Equal, percentage points
	s := emptyRange()
	var wide [][2]float64
	for _, segment := range p.Segments {
		for _, v := range segment.Points {
			s.include(v.Value)
			if v.CI95 != nil {
				wide = append(wide, *v.CI95)
			}
		}
		if segment.Band != nil {
			wide = append(wide, *segment.Band)
		}
	}
	for _, v := range p.Other {
		s.include(v.Value)
	}
	if p.Kern != nil {
		s.include(p.Kern[0], p.Kern[1])
	}
	if p.Equal != nil {
		s.include(*p.Equal)
		if s.hi-s.lo < leastShares { // so that intervals of equal values have room
			s.include(*p.Equal-leastShares/2, *p.Equal+leastShares/2)
		}
	}
	s.includeIntervals(wide)
	return s
}

func (p *TrendPanel) axis(from, to vg.Length) axis {
	switch {
	case p.Pain != nil:
		return axis{0, 10, from, to}
	case p.Range != nil:
		return valueRange{p.Range[0], p.Range[1]}.axis(from, to)
	}
	return p.valueRange().axis(from, to)
}

// drawZones draws the kern as a filled band, and the band of noise of each segment, between
// the changes round it, as a hatched one.
func (p *TrendPanel) drawZones(q canvas, times, v axis, area vg.Rectangle, changes []TrendChange) {
	within := func(y vg.Length) vg.Length { return max(area.Min.Y, min(area.Max.Y, y)) }
	if p.Kern != nil {
		lo, hi := within(v.at(p.Kern[0])), within(v.at(p.Kern[1]))
		q.drawKern(vg.Rectangle{Min: vg.Point{X: area.Min.X, Y: lo}, Max: vg.Point{X: area.Max.X, Y: hi}})
	}
	if p.Equal != nil {
		y := v.at(*p.Equal)
		q.line(0.8, q.Quiet, vg.Point{X: area.Min.X, Y: y}, vg.Point{X: area.Max.X, Y: y})
	}
	for _, segment := range p.Segments {
		if segment.Band == nil || len(segment.Points) == 0 {
			continue
		}
		from, to := area.Min.X, area.Max.X
		first, last := segment.Points[0].At, segment.Points[len(segment.Points)-1].At
		for _, c := range changes {
			if !c.at().After(first) {
				from = times.when(c.at())
			}
			if c.at().After(last) {
				to = min(to, times.when(c.at()))
			}
		}
		q.drawNoise(vg.Rectangle{
			Min: vg.Point{X: from, Y: within(v.at(segment.Band[0]))}, Max: vg.Point{X: to, Y: within(v.at(segment.Band[1]))},
		})
	}
}

func (q canvas) drawKern(r vg.Rectangle) {
	q.box(r, q.KernFill)
	for _, y := range []vg.Length{r.Min.Y, r.Max.Y} {
		q.line(1, q.Kern, vg.Point{X: r.Min.X, Y: y}, vg.Point{X: r.Max.X, Y: y})
	}
}

func (q canvas) drawNoise(r vg.Rectangle) {
	q.hatch(r, mix(q.Paper, q.Quiet, 0.85))
	for _, y := range []vg.Length{r.Min.Y, r.Max.Y} {
		q.line(0.5, q.Quiet, vg.Point{X: r.Min.X, Y: y}, vg.Point{X: r.Max.X, Y: y})
	}
}

// stopLine draws the line of a stop.
func (q canvas) stopLine(from, to vg.Point) {
	q.StrokeLines(draw.LineStyle{Color: q.Ink, Width: 1.5, Dashes: []vg.Length{5, 2.5}}, []vg.Point{from, to})
}

// drawEvents draws a line for every stop and every change. named reports that their names
// are written above the plot, stopsNamed that those of the stops are too.
func (p *Trend) drawEvents(q canvas, times axis, area vg.Rectangle, named, stopsNamed bool) {
	s := style{q.Small, true, q.Ink}
	top := area.Max.Y
	if named {
		top -= 11
	}
	type word struct {
		from, to vg.Length
		text     string
	}
	var written []word
	// put writes a text centred over x, shifted as far as necessary to fit over the plot,
	// if that position is free.
	put := func(x vg.Length, text string) bool {
		half := s.width(text) / 2
		x = max(area.Min.X+half, min(area.Max.X-half, x))
		w := word{x - half - 2, x + half + 2, text}
		if slices.ContainsFunc(written, func(o word) bool { return w.from < o.to && w.to > o.from }) {
			return false
		}
		written = append(written, w)
		q.write(x, top+2, centred, s, text)
		return true
	}
	for _, c := range p.Changes {
		x := times.when(c.at())
		q.line(0.9, q.Ink, vg.Point{X: x, Y: area.Min.Y}, vg.Point{X: x, Y: top})
		if named && !put(x, fit(c.Text, s, (area.Max.X-area.Min.X)/3)) {
			put(x, c.Short)
		}
	}
	stops := slices.Clone(p.Stops)
	slices.SortFunc(stops, time.Time.Compare)
	const word1 = "stop"
	for i := 0; i < len(stops); i++ {
		x := times.when(stops[i])
		q.stopLine(vg.Point{X: x, Y: area.Min.Y}, vg.Point{X: x, Y: top})
		last, n := x, 1
		for ; i+1 < len(stops) && times.when(stops[i+1])-last < s.width(word1)+4; i, n = i+1, n+1 {
			last = times.when(stops[i+1])
			q.stopLine(vg.Point{X: last, Y: area.Min.Y}, vg.Point{X: last, Y: top})
		}
		if text := word1; named && stopsNamed {
			if n > 1 {
				text = fmt.Sprintf("%d stops", n)
			}
			put((x+last)/2, text)
		}
	}
}

func (p *TrendPanel) drawScale(q canvas, v axis, area vg.Rectangle) {
	q.line(0.7, q.Quiet, vg.Point{X: area.Min.X, Y: area.Max.Y}, area.Min, vg.Point{X: area.Max.X, Y: area.Min.Y})
	for _, t := range v.ticks(12) {
		at := v.at(t.Value)
		q.line(0.7, q.Quiet, vg.Point{X: area.Min.X - 3, Y: at}, vg.Point{X: area.Min.X, Y: at})
		q.write(area.Min.X-5, at-q.Small*0.35, fromRight, q.small(), t.Label)
	}
}

// drawVisits draws the means of the visits with their intervals, joined within a segment,
// and those of the other foot as a dotted line.
func (p *TrendPanel) drawVisits(q canvas, times, v axis, area vg.Rectangle, size vg.Length) {
	path := func(points []TrendPoint) (all []vg.Point) {
		for _, one := range points {
			all = append(all, vg.Point{X: times.when(one.At), Y: v.at(one.Value)})
		}
		return all
	}
	if other := path(p.Other); len(other) > 1 {
		q.dotted(other...)
	}
	for _, at := range p.Missing {
		q.drawMark(Mark{Cross, q.Quiet}, vg.Point{X: times.when(at), Y: area.Min.Y + 5}, 2.6)
	}
	for _, segment := range p.Segments {
		at := path(segment.Points)
		if len(at) > 1 {
			q.line(1.1, q.Ink, at...)
		}
		for i, one := range segment.Points {
			if one.CI95 != nil {
				q.drawUpright(v, area, at[i].X, *one.CI95, size < crowded)
			}
		}
		for i, one := range segment.Points {
			q.drawVisit(one, at[i], size)
		}
	}
}

func (q canvas) dotted(pts ...vg.Point) {
	q.StrokeLines(draw.LineStyle{Color: q.Quiet, Width: 1.2, Dashes: []vg.Length{1.2, 2}}, pts)
}

// drawUpright draws an interval of values at x. An end beyond the plot is an arrowhead.
// It is thin, and has no bars across its ends, where visits are many.
func (q canvas) drawUpright(v axis, area vg.Rectangle, x vg.Length, ci [2]float64, many bool) {
	const half = 1.8
	lo, hi := max(area.Min.Y, v.at(ci[0])), min(area.Max.Y, v.at(ci[1]))
	if many && v.at(ci[0]) >= area.Min.Y && v.at(ci[1]) <= area.Max.Y {
		q.line(0.6, q.Quiet, vg.Point{X: x, Y: lo}, vg.Point{X: x, Y: hi})
		return
	}
	q.line(1.1, q.Ink, vg.Point{X: x, Y: lo}, vg.Point{X: x, Y: hi})
	end := func(y, inwards vg.Length, beyond bool) {
		if beyond {
			q.fill(q.Ink, []vg.Point{{X: x, Y: y}, {X: x + half, Y: y + inwards*4}, {X: x - half, Y: y + inwards*4}})
			return
		}
		q.line(0.9, q.Ink, vg.Point{X: x - half, Y: y}, vg.Point{X: x + half, Y: y})
	}
	end(lo, 1, v.at(ci[0]) < area.Min.Y)
	end(hi, -1, v.at(ci[1]) > area.Max.Y)
}

// drawVisit draws the reference visit as a square, a visit whose change is beyond noise as
// a disc, and any other as a ring.
func (q canvas) drawVisit(v TrendPoint, at vg.Point, size vg.Length) {
	switch {
	case v.Reference:
		q.drawMark(Mark{Square, q.Ink}, at, size)
	case v.Wording == track.BeyondNoise:
		q.drawMark(Mark{Disc, q.Ink}, at, size)
	default:
		q.drawOpen(at, size)
	}
}

// drawOpen draws a ring that is filled with the colour of paper.
func (q canvas) drawOpen(at vg.Point, size vg.Length) {
	path := Disc.path(at, size-0.4)
	q.SetColor(q.Paper)
	q.Fill(path)
	q.SetLineStyle(draw.LineStyle{Color: q.Ink, Width: 1.3})
	q.Stroke(path)
}

// drawPain draws pain before a visit as a ring, pain after it as a disc to the right of it,
// and a stop as an octagon with the word where it has room.
func (p *TrendPanel) drawPain(q canvas, times, v axis, area vg.Rectangle, stops []time.Time, size vg.Length) {
	var stopped []vg.Point
	for _, one := range p.Pain {
		x := times.when(one.At)
		var ends []vg.Point
		for i, pain := range []*int{one.Before, one.After} {
			if pain != nil {
				ends = append(ends, vg.Point{X: x + size*[]vg.Length{-0.7, 0.7}[i], Y: v.at(float64(*pain))})
			}
		}
		if len(ends) == 0 {
			continue
		}
		q.line(1.1, q.Ink, ends...)
		if one.Before != nil {
			q.drawOpen(ends[0], size*0.85)
		}
		if one.After != nil {
			q.drawMark(Mark{Disc, q.Ink}, ends[len(ends)-1], size*0.75)
		}
		if slices.ContainsFunc(stops, one.At.Equal) {
			stopped = append(stopped, ends[len(ends)-1])
		}
	}
	bold := style{q.Small, true, q.Ink}
	const word = "stop"
	half, free := bold.width(word)/2, area.Min.X
	for _, at := range stopped {
		if y := at.Y + 6; at.X-half >= free && at.X+half <= area.Max.X {
			if y+q.Small > area.Max.Y {
				y = at.Y - 6 - q.Small*0.7
			}
			q.writeOnPaper(at.X-half, y, bold, word, 2*half)
			free = at.X + half
		}
		q.drawOctagon(at)
	}
}

// drawOctagon draws the mark of a stop: an octagon within another.
func (q canvas) drawOctagon(at vg.Point) {
	for _, one := range []struct {
		size  vg.Length
		paper bool
	}{{5, false}, {3.6, true}, {2.7, false}} {
		var corners []vg.Point
		for i := range 8 {
			angle := math.Pi/8 + float64(i)*math.Pi/4
			corners = append(corners, vg.Point{X: at.X + one.size*vg.Length(math.Cos(angle)), Y: at.Y + one.size*vg.Length(math.Sin(angle))})
		}
		ink := q.Ink
		if one.paper {
			ink = q.Paper
		}
		q.fill(ink, corners)
	}
}

// dateOfVisit is the format of dates on the time axis.
const dateOfVisit = "2 Jan 06"

// writeDates marks every visit on the time axis, and writes the dates of the last, of the
// first and of every other visit where there is room.
func (p *Trend) writeDates(q canvas, times axis, y vg.Length) {
	visits := slices.Clone(p.Visits)
	slices.SortFunc(visits, time.Time.Compare)
	if n := len(visits); n > 1 {
		first := append([]time.Time{visits[n-1]}, p.Stops...) // dates of stops come before others
		visits = append(first, visits[:n-1]...)
	}
	many := p.markSize(times) < crowded
	written := map[string]bool{}
	var boxes [][2]vg.Length
	for _, at := range visits {
		x, text := times.when(at), at.Format(dateOfVisit)
		if !many {
			q.line(0.7, q.Quiet, vg.Point{X: x, Y: y}, vg.Point{X: x, Y: y - 3})
		}
		half := q.small().width(text)/2 + 3
		centre := max(q.Min.X+panelMargin+half, min(q.Max.X-panelMargin-half, x))
		free := !written[text]
		for _, b := range boxes {
			free = free && (centre+half <= b[0] || centre-half >= b[1])
		}
		if free {
			written[text] = true
			boxes = append(boxes, [2]vg.Length{centre - half, centre + half})
			q.line(0.7, q.Quiet, vg.Point{X: x, Y: y}, vg.Point{X: x, Y: y - 3})
			q.write(centre, y-12, centred, q.small(), text)
		}
	}
}

func (p *Trend) legend() (all legend) {
	mark := func(text string, draw func(q canvas, at vg.Point)) {
		all = append(all, legendItem{10, func(q canvas, left vg.Point) { draw(q, vg.Point{X: left.X + 5, Y: left.Y}) }, text})
	}
	swatch := func(text string, draw func(q canvas, r vg.Rectangle)) {
		all = append(all, legendItem{16, func(q canvas, left vg.Point) {
			draw(q, vg.Rectangle{Min: vg.Point{X: left.X, Y: left.Y - 4.5}, Max: vg.Point{X: left.X + 16, Y: left.Y + 4.5}})
		}, text})
	}
	has := func(some func(TrendPanel) bool) bool { return slices.ContainsFunc(p.Panels, some) }
	const size = 3.2
	visit := func(some func(TrendPoint) bool) bool {
		return has(func(t TrendPanel) bool {
			return slices.ContainsFunc(t.Segments, func(s TrendSegment) bool { return slices.ContainsFunc(s.Points, some) })
		})
	}
	if p.Marks {
		if visit(func(v TrendPoint) bool { return v.Reference }) {
			mark("reference visit", func(q canvas, at vg.Point) { q.drawVisit(TrendPoint{Reference: true}, at, size) })
		}
		if visit(func(v TrendPoint) bool { return !v.Reference && v.Wording == track.BeyondNoise }) {
			mark(string(track.BeyondNoise), func(q canvas, at vg.Point) { q.drawVisit(TrendPoint{Wording: track.BeyondNoise}, at, size) })
		}
		if visit(func(v TrendPoint) bool { return !v.Reference && v.Wording != track.BeyondNoise }) {
			mark("within noise, or noise not known", func(q canvas, at vg.Point) { q.drawVisit(TrendPoint{}, at, size) })
		}
		if visit(func(v TrendPoint) bool { return v.CI95 != nil }) {
			mark("95 % interval", func(q canvas, at vg.Point) {
				for _, y := range []vg.Length{-4.5, 4.5} {
					q.line(0.9, q.Ink, vg.Point{X: at.X - 1.8, Y: at.Y + y}, vg.Point{X: at.X + 1.8, Y: at.Y + y})
				}
				q.line(1.1, q.Ink, vg.Point{X: at.X, Y: at.Y - 4.5}, vg.Point{X: at.X, Y: at.Y + 4.5})
			})
		}
		if len(p.Stops) > 0 {
			mark("stop for pain", func(q canvas, at vg.Point) {
				q.stopLine(vg.Point{X: at.X, Y: at.Y - 6}, vg.Point{X: at.X, Y: at.Y + 6})
			})
		}
		if has(func(t TrendPanel) bool { return len(t.Missing) > 0 }) {
			mark("nothing measured", func(q canvas, at vg.Point) { q.drawMark(Mark{Cross, q.Quiet}, at, 2.6) })
		}
	}
	if p.Zones {
		if has(func(t TrendPanel) bool { return t.Kern != nil }) {
			swatch(words.Kern, canvas.drawKern)
		}
		if has(func(t TrendPanel) bool { return len(t.Other) > 1 }) {
			swatch("the other foot", func(q canvas, r vg.Rectangle) {
				y := (r.Min.Y + r.Max.Y) / 2
				q.dotted(vg.Point{X: r.Min.X, Y: y}, vg.Point{X: r.Max.X, Y: y})
			})
		}
		if has(func(t TrendPanel) bool {
			return slices.ContainsFunc(t.Segments, func(s TrendSegment) bool { return s.Band != nil })
		}) {
			swatch("noise: 95 % of visits if nothing has changed", canvas.drawNoise)
		}
	}
	return all
}

// Describe implements Picture.
func (p *Trend) Describe() string {
	var b strings.Builder
	for _, panel := range p.Panels {
		if b.Len() > 0 {
			b.WriteString(" ")
		}
		panel.describe(&b)
	}
	for _, c := range p.Changes {
		fmt.Fprintf(&b, " From %s on: %s.", c.First.Format(dateOfVisit), c.Text)
	}
	for _, at := range p.Stops {
		fmt.Fprintf(&b, " Stop on %s.", at.Format(dateOfVisit))
	}
	if b.Len() == 0 {
		return "No visits."
	}
	return b.String()
}

func (p *TrendPanel) describe(b *strings.Builder) {
	b.WriteString(strings.Join(nonEmpty(p.Title, p.Note), ", "))
	if p.Kern != nil {
		fmt.Fprintf(b, "; %s from %s to %s", words.Kern, p.Measure.Value(p.Kern[0]/p.Measure.Scale), p.Measure.Value(p.Kern[1]/p.Measure.Scale))
	}
	for _, segment := range p.Segments {
		for _, v := range segment.Points {
			fmt.Fprintf(b, "; %s: %s", v.At.Format(dateOfVisit), p.Measure.PlusMinus(v.Value/p.Measure.Scale, scaled(v.CI95, 1/p.Measure.Scale)))
		}
	}
	for _, v := range p.Pain {
		fmt.Fprintf(b, "; %s: %s", v.At.Format(dateOfVisit), strings.Join(nonEmpty(painText("before", v.Before), painText("after", v.After)), ", "))
	}
	b.WriteString(".")
}

func painText(when string, pain *int) string {
	if pain == nil {
		return ""
	}
	return fmt.Sprintf("%d %s", *pain, when)
}
