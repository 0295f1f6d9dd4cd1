package cells

import "math"

// lines are the four directions in which cells are evenly spaced, as steps of row
// and column.
var lines = [4][2]int{{0, 1}, {1, 0}, {1, 1}, {1, -1}}

// lineReach is the largest distance along a line, in cells, of the loaded cells
// that a cell is compared with. A platform rarely extends further.
const lineReach = 3

// noLoad is the logarithm of a reading of 0.
var noLoad = math.Inf(-1)

// logNetCounts sets logNet for the current window: by position in the grid, rows
// first, the logarithm of each cell's counts above its zero, noLoad where they
// are below floor.
func (w *Monitor) logNetCounts(floor float64) {
	for i, k := range w.at {
		w.logNet[i] = noLoad
		if v := w.cells[k].mean - w.cells[k].zero; v >= floor && v > 0 {
			w.logNet[i] = math.Log(v)
		}
	}
}

// bound returns the least reading, in counts above zero, that the nearest loaded
// cells on both sides of a cell imply, and the number of lines that have loaded
// cells on both sides; the smallest of the bounds of these lines counts.
//
// Between a reading a at d steps on one side and b at e steps on the other a
// log-concave reading is at least a^(e/(d+e)) · b^(d/(d+e)).
func (w *Monitor) bound(c Cell) (least float64, n int) {
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
		n++
	}
	if n == 0 {
		return 0, 0
	}
	return math.Exp(log), n
}

// loadedAlong returns the logarithm of the net counts of the first loaded cell in
// a direction and its distance in steps; 0 steps where there is none.
func (w *Monitor) loadedAlong(c Cell, down, right int) (log float64, steps int) {
	row, col := c.Row, c.Col
	for d := 1; d <= lineReach; d++ {
		row, col = row+down, col+right
		if uint(row) >= uint(w.strip.Rows) || uint(col) >= uint(w.strip.Cols) {
			break
		}
		if log := w.logNet[row*w.strip.Cols+col]; log > noLoad {
			return log, d
		}
	}
	return 0, 0
}
