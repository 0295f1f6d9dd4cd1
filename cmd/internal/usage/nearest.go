package usage

import "strings"

// Nearest returns the name most similar to typed, "" where none is similar.
func Nearest(typed string, names []string) string {
	best, least := "", 3
	for _, name := range names {
		d := edits(typed, name)
		if d >= 3 && strings.HasPrefix(name, typed) {
			d = 2 // typed is the beginning of name
		}
		if d < least && d <= (len(name)+1)/3 {
			best, least = name, d
		}
	}
	return best
}

// edits is the number of letters to change, add or leave out between a and b.
func edits(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(a); i++ {
		diagonal := row[0]
		row[0] = i
		for j := 1; j <= len(b); j++ {
			change := diagonal
			if a[i-1] != b[j-1] {
				change++
			}
			diagonal = row[j]
			row[j] = min(change, row[j]+1, row[j-1]+1)
		}
	}
	return row[len(b)]
}
