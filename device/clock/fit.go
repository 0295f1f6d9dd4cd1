package clock

import (
	"slices"
	"sort"
)

// Fit collects the frames of a whole recording for a Mapping. The zero Fit is ready to
// use. A frame takes constant time on average. It holds at most four points for every
// second; on a usual line it holds six to eight for every minute.
type Fit struct {
	origin  origin
	past    []segment // each until the strip started again
	segment segment
}

// Add adds a frame, with the arguments of Live.Add.
func (f *Fit) Add(tUS uint64, arrivalNS int64) { f.segment.add(f.origin.point(tUS, arrivalNS)) }

// Restart notes that the strip has restarted before the next frame.
func (f *Fit) Restart() {
	if f.segment.frames > 0 {
		f.past, f.segment = append(f.past, f.segment), f.segment.afterRestart()
	}
}

// Mapping returns the relation of the clocks according to all frames so far.
func (f *Fit) Mapping() Mapping {
	c := Mapping{origin: f.origin}
	pieces := append(slices.Clone(f.past), f.segment)
	// Segments before the first one with a rate of its own have that rate.
	first := slices.IndexFunc(pieces, func(p segment) bool { return p.to-p.from >= minRateS })
	for i, p := range pieces {
		if p.frames == 0 {
			continue
		}
		if i < first {
			p.end.rate = pieces[first].endLine().rate
		}
		p.corners = slices.Clone(p.corners)
		p.addCorner(p.lowest)
		c.lines = p.appendTo(c.lines)
	}
	return c
}

// lineFrom is a line that holds from x = from on.
type lineFrom struct {
	from float64
	straight
}

// appendTo appends the lines of a segment that is over. At both ends the curve is the
// line with the mean rate there, or the corners where they are lower.
func (p *segment) appendTo(lines []lineFrom) []lineFrom {
	near, far, ok := p.rateInterval()
	if !ok {
		return append(lines, lineFrom{p.from, p.constantRate()})
	}
	begin, end := p.from+near, p.to-near
	first, last := p.secant(begin, p.from+far), p.secant(end, p.to-far)
	height := func(x float64) float64 {
		switch y := p.at(x); {
		case x < begin:
			return min(y, first.at(x))
		case x > end:
			return min(y, last.at(x))
		default:
			return y
		}
	}
	places := append(make([]float64, 0, 2+len(p.corners)), begin, end)
	for _, c := range p.corners {
		places = append(places, c.x)
	}
	slices.Sort(places)
	places = slices.Compact(places)
	lines = slices.Grow(lines, 1+len(places))
	a := point{places[0], height(places[0])}
	lines = append(lines, lineFrom{p.from, straight{a, first.rate}})
	for _, x := range places[1:] {
		b := point{x, height(x)}
		lines = append(lines, lineFrom{a.x, straight{a, a.rateTo(b)}})
		a = b
	}
	return append(lines, lineFrom{a.x, straight{a, last.rate}})
}

// Mapping converts the time of a strip's clock to that of the host. It is piecewise
// linear.
type Mapping struct {
	origin origin
	lines  []lineFrom // in order of from
}

// Host returns the host's time at tUS of the strip's clock, ns since 1970, NaN where
// there are no frames. (A float64 of that size counts in steps of 256 ns.)
func (c *Mapping) Host(tUS uint64) float64 {
	return c.origin.host(c.Converter()(c.origin.seconds(tUS)))
}

// Converter returns a function that converts the time since the first frame by the
// strip's clock to the time since that frame arrived by the host's clock, both in s. It
// is fastest where every time is a little after the one before.
func (c *Mapping) Converter() func(x float64) float64 {
	i := -1
	return func(x float64) float64 {
		if len(c.lines) == 0 {
			return x
		}
		if i < 0 || x < c.lines[i].from || i+2 < len(c.lines) && x >= c.lines[i+2].from {
			i = max(0, sort.Search(len(c.lines), func(k int) bool { return c.lines[k].from > x })-1)
		} else if i+1 < len(c.lines) && x >= c.lines[i+1].from {
			i++
		}
		return c.lines[i].host(x)
	}
}

// FirstNS returns when the first frame arrived by the host's clock, ns since 1970.
func (c *Mapping) FirstNS() int64 { return c.origin.ns }
