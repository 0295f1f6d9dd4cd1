package screen

import "strings"

// letters are five dots high, to be read from across the room. It has just what
// this screen says in large.
var letters = map[rune][5]string{
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
	'E': {"###", "#  ", "## ", "#  ", "###"},
	'F': {"###", "#  ", "## ", "#  ", "#  "},
	'G': {"###", "#  ", "# #", "# #", "###"},
	'L': {"#  ", "#  ", "#  ", "#  ", "###"},
	'M': {"#   #", "## ##", "# # #", "#   #", "#   #"},
	'N': {"#  #", "## #", "# ##", "#  #", "#  #"},
	'O': {"###", "# #", "# #", "# #", "###"},
	'P': {"###", "# #", "###", "#  ", "#  "},
	'R': {"## ", "# #", "## ", "# #", "# #"},
	'S': {"###", "#  ", "###", "  #", "###"},
	'T': {"###", " # ", " # ", " # ", " # "},
}

// large is how wide text is in large letters, in dots of size 1.
func large(text string) (wide int) {
	for _, r := range text {
		wide += len(letters[r][0]) + 1
	}
	return max(0, wide-1)
}

// largeRows is how many rows of the screen large letters of a size take.
func largeRows(size int) int { return (5*size + 1) / 2 }

// largest is the largest size up to most in which text fits so many columns, at least 1.
func largest(text string, columns, most int) int {
	for most > 1 && large(text)*most > columns {
		most--
	}
	return most
}

// writeLarge writes text in dots of a size, from x, y; on is the ink of a dot,
// ground what is around.
func (c *canvas) writeLarge(x, y, size int, text string, on, ground ink) {
	var rows [5]strings.Builder
	for _, r := range text {
		for i, dots := range letters[r] {
			rows[i].WriteString(dots)
			rows[i].WriteByte(' ')
		}
	}
	dot := func(i, j int) ink {
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
