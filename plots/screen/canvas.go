package screen

import "strings"

// colourIndex is an index into palette. noColour is the terminal's own colour.
type colourIndex uint8

// character is what one character position of the screen shows.
type character struct {
	char      rune
	fore      colourIndex
	back      colourIndex
	bold, dim bool
}

// canvas is a grid of characters, wide columns by high rows, with its origin at the
// upper left. Characters outside it are not drawn.
type canvas struct {
	wide, high int
	characters []character
}

func newCanvas(wide, high int) *canvas {
	c := &canvas{wide: max(0, wide), high: max(0, high)}
	c.characters = make([]character, c.wide*c.high)
	for i := range c.characters {
		c.characters[i].char = ' '
	}
	return c
}

func (c *canvas) set(x, y int, p character) {
	if x >= 0 && x < c.wide && y >= 0 && y < c.high {
		c.characters[y*c.wide+x] = p
	}
}

// style is the colours and weight of a text.
type style struct {
	fore      colourIndex
	back      colourIndex
	bold, dim bool
}

var (
	usual  = style{}
	strong = style{bold: true}
	quiet  = style{dim: true}
)

// write writes text at x, y, shortened to at most most columns. It returns the
// number of columns that the text takes.
func (c *canvas) write(x, y, most int, s style, text string) (n int) {
	for _, r := range cut(text, most) {
		r, wide := displayRune(r)
		p := character{char: r, fore: s.fore, back: s.back, bold: s.bold, dim: s.dim}
		if wide == 2 {
			if x+n+1 >= c.wide {
				p.char = '?'
			} else {
				c.set(x+n+1, y, character{})
			}
		}
		c.set(x+n, y, p)
		n += wide
	}
	return n
}

// centre writes text in the middle of the wide columns from x on.
func (c *canvas) centre(x, y, wide int, s style, text string) {
	c.write(x+max(0, (wide-columns(text))/2), y, wide, s, text)
}

// right writes text so that it ends in the column before x+wide.
func (c *canvas) right(x, y, wide int, s style, text string) {
	c.write(x+max(0, wide-columns(text)), y, wide, s, text)
}

// dots draws one character as two dots, one above the other. A character of a
// terminal is about twice as high as wide, so that the dots are about square.
func (c *canvas) dots(x, y int, upper, lower colourIndex) {
	switch {
	case upper == noColour && lower == noColour:
		c.set(x, y, character{char: ' '})
	case upper == lower:
		c.set(x, y, character{char: '█', fore: upper})
	case upper == noColour:
		c.set(x, y, character{char: '▄', fore: lower})
	case lower == noColour:
		c.set(x, y, character{char: '▀', fore: upper})
	default:
		c.set(x, y, character{char: '▀', fore: upper, back: lower})
	}
}

// render returns the canvas as lines of text with control sequences for the styles.
// Without colours the styles are bold and dim only.
func (c *canvas) render(colours Colours) string {
	var b strings.Builder
	b.Grow(len(c.characters) * 4)
	for y := range c.high {
		if y > 0 {
			b.WriteByte('\n')
		}
		row := c.characters[y*c.wide : (y+1)*c.wide]
		last := style{}
		for _, p := range row {
			s := style{p.fore, p.back, p.bold, p.dim}
			if colours == NoColours {
				s.fore, s.back = noColour, noColour
			}
			if s != last {
				s.writeSGR(&b, colours)
				last = s
			}
			if p.char != 0 { // 0 is the second column of the character before
				b.WriteRune(p.char)
			}
		}
		if last != (style{}) {
			b.WriteString("\x1b[m")
		}
	}
	return b.String()
}

// writeSGR writes the control sequence (select graphic rendition, ECMA-48) that sets the
// style in a terminal.
func (s style) writeSGR(b *strings.Builder, colours Colours) {
	b.WriteString("\x1b[0")
	if s.bold {
		b.WriteString(";1")
	}
	if s.dim {
		b.WriteString(";2")
	}
	if s.fore != noColour {
		palette[s.fore].writeSGR(b, colours, false)
	}
	if s.back != noColour {
		palette[s.back].writeSGR(b, colours, true)
	}
	b.WriteByte('m')
}
