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
	' ': {"  ", "  ", "  ", "  ", "  "},
	'A': {" # ", "# #", "###", "# #", "# #"},
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
	'Y': {"# #", "# #", " # ", " # ", " # "},
}

// large returns the width of text in large letters of size 1, in dots.
func large(text string) (wide int) {
	for _, r := range text {
		wide += len(dotFont[r][0]) + 1
	}
	return max(0, wide-1)
}

// largeRows returns the number of rows of the screen that large letters of a size
// take.
func largeRows(size int) int { return (5*size + 1) / 2 }

// largest returns the largest size, from 1 to most, at which text fits into a
// number of columns.
func largest(text string, columns, most int) int {
	for most > 1 && large(text)*most > columns {
		most--
	}
	return most
}

// writeLarge writes text in large letters of a size with the upper left corner at
// x, y. on is the colour of the letters, ground that of the background.
func (c *canvas) writeLarge(x, y, size int, text string, on, ground colourIndex) {
	var rows [5]strings.Builder
	for _, r := range text {
		for i, dots := range dotFont[r] {
			rows[i].WriteString(dots)
			rows[i].WriteByte(' ')
		}
	}
	dot := func(i, j int) colourIndex {
		if row := j / size; row < 5 && i/size < rows[row].Len() && rows[row].String()[i/size] == '#' {
			return on
		}
		return ground
	}
	for j := range largeRows(size) {
		for i := range large(text) * size {
			c.dots(x+i, y+j, dot(i, 2*j), dot(i, 2*j+1))
		}
	}
}
