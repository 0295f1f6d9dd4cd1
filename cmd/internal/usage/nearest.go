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

// edits is the number of letters to change, add, leave out or swap with the next one
// between a and b: the optimal string alignment distance.
func edits(a, b string) int {
	d := make([][]int, len(a)+1)
	for i := range d {
		d[i] = make([]int, len(b)+1)
		d[i][0] = i
	}
	for j := range d[0] {
		d[0][j] = j
	}
	for i := 1; i <= len(a); i++ {
		for j := 1; j <= len(b); j++ {
			change := d[i-1][j-1]
			if a[i-1] != b[j-1] {
				change++
			}
			d[i][j] = min(change, d[i-1][j]+1, d[i][j-1]+1)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				d[i][j] = min(d[i][j], d[i-2][j-2]+1)
			}
		}
	}
	return d[len(a)][len(b)]
}
