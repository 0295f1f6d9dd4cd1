package cells

import "math"

// lines are the directions in which cells stand evenly apart.
var lines = [4][2]int{{0, 1}, {1, 0}, {1, 1}, {1, -1}}

// within is how far along a line loaded cells are looked for: beyond three
// cells a platform is over.
const lineReach = 3

// unloaded is the logarithm of no lift at all.
var noLoad = math.Inf(-1)

// liftAll puts down by its place in the grid, rows first, the logarithm of how
// many counts every cell stands above its zero in the window at hand, if it is
// loaded: from floor counts on.
func (w *Monitor) logNetCounts(floor float64) {
	for i, k := range w.at {
		w.logNet[i] = noLoad
		if v := w.cells[k].mean - w.cells[k].zero; v >= floor && v > 0 {
			w.logNet[i] = math.Log(v)
		}
	}
}

// bound returns what a cell must read at least, by the nearest loaded cells on
// both sides of it (see liftAll), in counts, the least of all lines that have
// such; and how many have.
//
// Between a at d steps and b at e steps on the other side a log-concave reading
// is at least a^(e/(d+e)) · b^(d/(d+e)).
func (w *Monitor) bound(c Cell) (least float64, lined int) {
	log := math.Inf(1)
	for _, line := range lines {
		a, d := w.loadedAlong(c, line[0], line[1])
		if d == 0 {
			continue
		}
		b, e := w.loadedAlong(c, -line[0], -line[1])
		if e == 0 {
			continue
		}
		log = min(log, (float64(e)*a+float64(d)*b)/float64(d+e))
		lined++
	}
	if lined == 0 {
		return 0, 0
	}
	return math.Exp(log), lined
}

// loadedAlong returns the logarithm of the lift of the first loaded cell in a
// direction, and how many steps away it is; 0 where there is none.
func (w *Monitor) loadedAlong(c Cell, down, right int) (log float64, steps int) {
	row, col := c.Row, c.Col
	for d := 1; d <= lineReach; d++ {
		row, col = row+down, col+right
		if uint(row) >= uint(w.strip.Rows) || uint(col) >= uint(w.strip.Cols) {
			break
		}
		if lift := w.logNet[row*w.strip.Cols+col]; lift > noLoad {
			return lift, d
		}
	}
	return 0, 0
}
