package screen

import "strings"

// dotFont is a font of letters five dots high, large enough to read from across a
// room. It has the characters that the screen writes large, and no others.
var dotFont = map[rune][5]string{
	'0': {"###", "# #", "# #", "# #", "###"},
	'1': {" # ", "## ", " # ", " # ", "###"},
	'2': {"###", "  #", "###", "#  ", "###"},
	'3': {"###", "  #", " ##", "  #", "###"},
	'4': {"# #", "# #", "###", "  #", "  #"},
	'5': {"###", "#  ", "###", "  #", "###"},
	'6': {"###", "#  ", "###", "# #", "###"},
	'7': {"###", "  #", "  #", " # ", " # "},
	'8': {"###", "# #", "###", "# #", "###"},
	'9': {"###", "# #", "###", "  #", "###"},
	'+': {"   ", " # ", "###", " # ", "   "},
	'−': {"   ", "   ", "###", "   ", "   "},
	'–': {"   ", "   ", "###", "   ", "   "},
	'.': {" ", " ", " ", " ", "#"},
	':': {" ", "#", " ", "#", " "},
	' ': {"  ", "  ", "  ", "  ", "  "},
	'A': {" # ", "# #", "###", "# #", "# #"},
	'B': {"## ", "# #", "## ", "# #", "## "},
	'C': {"###", "#  ", "#  ", "#  ", "###"},
	'D': {"## ", "# #", "# #", "# #", "## "},
	'E': {"###", "#  ", "## ", "#  ", "###"},
	'F': {"###", "#  ", "## ", "#  ", "#  "},
	'G': {"###", "#  ", "# #", "# #", "###"},
	'H': {"# #", "# #", "###", "# #", "# #"},
	'I': {"#", "#", "#", "#", "#"},
	'K': {"# #", "# #", "## ", "# #", "# #"},
	'L': {"#  ", "#  ", "#  ", "#  ", "###"},
	'M': {"#   #", "## ##", "# # #", "#   #", "#   #"},
	'N': {"#  #", "## #", "# ##", "#  #", "#  #"},
	'O': {"###", "# #", "# #", "# #", "###"},
	'P': {"###", "# #", "###", "#  ", "#  "},
	'R': {"## ", "# #", "## ", "# #", "# #"},
	'S': {"###", "#  ", "###", "  #", "###"},
	'T': {"###", " # ", " # ", " # ", " # "},
	'V': {"# #", "# #", "# #", "# #", " # "},
	'W': {"#   #", "#   #", "# # #", "## ##", "#   #"},
	'Y': {"# #", "# #", " # ", " # ", " # "},
}

// letterDots is the height of a letter, dots.
const letterDots = 5

// large returns the width of text in large letters of size 1, in dots.
func large(text string) (wide int) {
	for _, r := range text {
		wide += len(dotFont[r][0]) + 1
	}
	return max(0, wide-1)
}

// largeRows returns the number of rows of the screen that large letters of a size
// take.
func largeRows(size int) int { return (letterDots*size + 1) / 2 }

// lettering is the size of large letters: the columns and the half rows of one of their
// dots. Narrow letters are higher than wide.
type lettering struct{ wide, high int }

// fitting returns the largest lettering in which lines of text fit into columns and rows,
// with a gap of a dot between the lines; letters are at most twice as high as wide.
func fitting(lines []string, columns, rows int) lettering {
	dots := len(lines)*(letterDots+1) - 1
	high := max(1, 2*rows/max(1, dots))
	wide := high
	for _, text := range lines {
		for wide > 1 && large(text)*wide > columns {
			wide--
		}
	}
	return lettering{wide, min(high, 2*wide)}
}

// Letters returns a text of digits, a few punctuation marks and capital letters as lines of
// large letters, without styles.
func Letters(text string) string {
	size := lettering{2, 2}
	c := newCanvas(large(text)*size.wide, letterDots)
	c.writeLetters(0, 0, size, text, letterColour, noColour)
	return c.render(NoColours)
}

// writeLarge writes lines of text in large letters in the middle of the columns from x on
// and of the rows from y on.
func (c *canvas) writeLarge(x, y, columns, rows int, lines ...string) {
	size := fitting(lines, columns, rows)
	above := (2*rows - size.high*(len(lines)*(letterDots+1)-1)) / 2
	if size.high%2 == 0 {
		above -= above % 2 // whole characters
	}
	half := 2*y + above
	for _, text := range lines {
		c.writeLetters(x+(columns-size.wide*large(text))/2, half, size, text, letterColour, noColour)
		half += size.high * (letterDots + 1)
	}
}

// writeLetters writes text in large letters with the upper left corner at column x and at a
// half row. on is the colour of the letters, ground that of the background.
func (c *canvas) writeLetters(x, half int, size lettering, text string, on, ground colourIndex) {
	var rows [letterDots]strings.Builder
	for _, r := range text {
		for i, dots := range dotFont[r] {
			rows[i].WriteString(dots)
			rows[i].WriteByte(' ')
		}
	}
	dot := func(i, j int) colourIndex {
		if j -= half; j >= 0 && j < letterDots*size.high && rows[j/size.high].String()[i/size.wide] == '#' {
			return on
		}
		return ground
	}
	for row := half / 2; 2*row < half+letterDots*size.high; row++ {
		for i := range large(text) * size.wide {
			c.dots(x+i, row, dot(i, 2*row), dot(i, 2*row+1))
		}
	}
}
