package plots

import (
	"strings"

	"gonum.org/v1/plot/vg"
)

// legend explains the symbols of a picture.
type legend []legendItem

// legendItem is a symbol with its meaning. sample draws the symbol to the right
// of left, the middle of its left edge.
type legendItem struct {
	wide   vg.Length // of the symbol, points
	sample func(q canvas, left vg.Point)
	text   string
}

const (
	legendLine    = 14
	legendGap     = 5  // between a symbol and its text
	legendItemGap = 14 // between items
)

// lines breaks the items into lines that are at most wide. A text that is wider is broken
// after a semicolon, and the rest begins the next line.
func (l legend) lines(s style, wide vg.Length) []legend {
	var out []legend
	var x vg.Length
	for _, item := range l {
		w := item.wide + legendGap + s.width(item.text)
		if first, rest, two := strings.Cut(item.text, "; "); two && w > wide {
			item.text = first + ";"
			out = append(out, legend{item}, legend{{item.wide, func(canvas, vg.Point) {}, rest}})
			x = wide
			continue
		}
		if len(out) == 0 || x+w > wide {
			out, x = append(out, nil), 0
		}
		out[len(out)-1] = append(out[len(out)-1], item)
		x += w + legendItemGap
	}
	return out
}

func (l legend) height(s style, wide vg.Length) vg.Length {
	return legendLine * vg.Length(len(l.lines(s, wide)))
}

// draw draws the legend below top.
func (l legend) draw(q canvas, left, top, wide vg.Length) {
	s := q.small()
	for i, line := range l.lines(s, wide) {
		x, y := left, top-legendLine*vg.Length(i)-legendLine/2
		for _, item := range line {
			item.sample(q, vg.Point{X: x, Y: y})
			x += item.wide + legendGap
			q.write(x, y-s.size*0.35, fromLeft, s, item.text)
			x += s.width(item.text) + legendItemGap
		}
	}
}
