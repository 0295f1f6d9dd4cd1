package cells

import "math"

// lines are the directions in which cells stand evenly apart.
var lines = [4][2]int{{0, 1}, {1, 0}, {1, 1}, {1, -1}}

// within is how far along a line loaded cells are looked for: beyond three
// cells a platform is over.
const within = 3

// neighbour returns the cell that many steps along a line, and false where the
// grid has ended.
func (w *Watch) neighbour(c Cell, line [2]int, steps int) (*cell, bool) {
	row, col := c.Row+steps*line[0], c.Col+steps*line[1]
	if row < 0 || row >= w.strip.Rows || col < 0 || col >= w.strip.Cols {
		return nil, false
	}
	return &w.cells[w.at[row*w.strip.Cols+col]], true
}

// bound returns what a cell must read at least, by the nearest loaded cells on
// both sides of it, in counts, the least of all lines that have such; and how
// many have. A cell is loaded from floor counts on.
//
// Between a at d steps and b at e steps on the other side a log-concave reading
// is at least a^(e/(d+e)) · b^(d/(d+e)).
func (w *Watch) bound(c Cell, floor float64) (least float64, lined int) {
	for _, line := range lines {
		a, d := w.loadedAlong(c, line, 1, floor)
		b, e := w.loadedAlong(c, line, -1, floor)
		if d == 0 || e == 0 {
			continue
		}
		f := float64(e) / float64(d+e)
		v := math.Pow(a, f) * math.Pow(b, 1-f)
		if lined == 0 || v < least {
			least = v
		}
		lined++
	}
	return least, lined
}

// loadedAlong returns the first lift of at least floor on one side of a cell,
// and how many steps away it is; 0 where there is none.
func (w *Watch) loadedAlong(c Cell, line [2]int, side int, floor float64) (lift float64, steps int) {
	for d := 1; d <= within; d++ {
		s, ok := w.neighbour(c, line, side*d)
		if !ok {
			break
		}
		if v := s.mean - s.zero; v >= floor && v > 0 {
			return v, d
		}
	}
	return 0, 0
}
