package screen

import "strings"

// ink is a colour of the palette; noInk leaves the terminal's own.
type ink uint8

// place is one character's place on the screen.
type place struct {
	char      rune
	fore      ink
	back      ink
	bold, dim bool
}

// canvas is a screen being drawn. What lies outside it is not drawn, so nothing
// ever is wider or higher than asked for.
type canvas struct {
	wide, high int
	places     []place
}

func newCanvas(wide, high int) *canvas {
	c := &canvas{wide: max(0, wide), high: max(0, high)}
	c.places = make([]place, c.wide*c.high)
	for i := range c.places {
		c.places[i].char = ' '
	}
	return c
}

func (c *canvas) set(x, y int, p place) {
	if x >= 0 && x < c.wide && y >= 0 && y < c.high {
		c.places[y*c.wide+x] = p
	}
}

// style is how text looks.
type style struct {
	fore      ink
	back      ink
	bold, dim bool
}

var (
	usual  = style{}
	strong = style{bold: true}
	quiet  = style{dim: true}
)

// write puts text at x, y, cut to at most so many columns. It returns how many
// it took.
func (c *canvas) write(x, y, most int, s style, text string) (n int) {
	for _, r := range cut(text, most) {
		r, wide := shown(r)
		p := place{char: r, fore: s.fore, back: s.back, bold: s.bold, dim: s.dim}
		if wide == 2 {
			if x+n+1 >= c.wide {
				p.char = '?'
			} else {
				c.set(x+n+1, y, place{})
			}
		}
		c.set(x+n, y, p)
		n += wide
	}
	return n
}

// centre writes text in the middle of so many columns from x.
func (c *canvas) centre(x, y, wide int, s style, text string) {
	c.write(x+max(0, (wide-columns(text))/2), y, wide, s, text)
}

// right writes text so that it ends before x+wide.
func (c *canvas) right(x, y, wide int, s style, text string) {
	c.write(x+max(0, wide-columns(text)), y, wide, s, text)
}

// dots draws two dots, one above the other, each as high as a character is wide.
func (c *canvas) dots(x, y int, upper, lower ink) {
	switch {
	case upper == noInk && lower == noInk:
		c.set(x, y, place{char: ' '})
	case upper == lower:
		c.set(x, y, place{char: '█', fore: upper})
	case upper == noInk:
		c.set(x, y, place{char: '▄', fore: lower})
	case lower == noInk:
		c.set(x, y, place{char: '▀', fore: upper})
	default:
		c.set(x, y, place{char: '▀', fore: upper, back: lower})
	}
}

// text returns the canvas as lines of styled text; without colours the styles
// are bold and dim alone.
func (c *canvas) text(colours bool) string {
	var b strings.Builder
	b.Grow(len(c.places) * 4)
	for y := range c.high {
		if y > 0 {
			b.WriteByte('\n')
		}
		row := c.places[y*c.wide : (y+1)*c.wide]
		last := style{}
		for _, p := range row {
			s := style{p.fore, p.back, p.bold, p.dim}
			if !colours {
				s.fore, s.back = noInk, noInk
			}
			if s != last {
				s.turnOn(&b)
				last = s
			}
			if p.char != 0 { // the second half of the character before
				b.WriteRune(p.char)
			}
		}
		if last != (style{}) {
			b.WriteString("\x1b[m")
		}
	}
	return b.String()
}

// turnOn writes what makes a terminal draw in this style from now on.
func (s style) turnOn(b *strings.Builder) {
	b.WriteString("\x1b[0")
	if s.bold {
		b.WriteString(";1")
	}
	if s.dim {
		b.WriteString(";2")
	}
	if s.fore != noInk {
		b.WriteString(";38;2;")
		b.WriteString(palette[s.fore].sgr)
	}
	if s.back != noInk {
		b.WriteString(";48;2;")
		b.WriteString(palette[s.back].sgr)
	}
	b.WriteByte('m')
}
