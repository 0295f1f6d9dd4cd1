package cells

import (
	"math"
	"math/bits"

	"aplomb/analyze/field"
	"aplomb/device"
	"aplomb/device/platform"
)

// Frames are judged in windows. A load is one stay on pointe, a sequence of windows
// under load.
const (
	windowS      = 0.1                  // s: least length of a window, short against movements of a dancer
	windowFrames = 5                    // least number of frames of a window
	pauseS       = 1.0                  // s: a longer interval between frames ends window and load
	quietN       = field.LoadFloorN / 2 // N: a window with no more force than this is at rest
	loadedN      = 2 * field.LoadFloorN // N: a window with at least this force is under load
	leastLoadS   = 0.5                  // s: a shorter load is not judged; the shortest hold
)

// Monitor finds faults of the cells of one strip. It is not safe for concurrent
// use.
type Monitor struct {
	strip   *device.Strip
	outline platform.Polygon
	lo, hi  platform.Point // bounds of the outline, mm
	cells   []cellState
	at      []int // row·cols + col → index in the scan
	curve   *device.Curve
	area    float64 // of a cell, mm²
	rest    restState

	frames      int
	firstUS     uint64
	now         float64 // s since the first frame
	windowStart float64 // s since the first frame
	n           int     // frames in the window

	load    load
	loads   int     // number of loads judged
	loaded  int     // frames in windows under load
	forceN  float64 // sum over loads of the mean force, N; moment: of its first moments, N·mm
	moment  platform.Point
	logNet  []float64 // see logNetCounts
	scratch []float64
}

// cellState is the state of one cell. Net counts are counts above the cell's
// zero.
type cellState struct {
	Cell
	k      int            // index in the scan
	centre platform.Point // mm
	inside float64        // fraction inside the outline, 0 to 1

	// Updated by every frame.
	last          uint16
	changed       int        // frame in which its count last changed
	since         float64    // its time, s
	changedBits   uint16     // mask of the digits that have ever changed
	stepsByTopBit [17]uint32 // changes by the number of their highest changed digit, from 1
	sum           uint64     // of the counts in the window
	step          int32      // change of the counts in the last frame
	secondDiffs   uint64     // sum of squares of second differences in the window
	atFullScale   uint32     // frames of the window at full scale

	// Updated by every window.
	mean, before      float64 // of this window and the one before, counts
	secondDiffsBefore float64 // secondDiffs of the window before
	zero              float64 // reading without load, counts
	first, settled    float64 // zero before the first load and before the last one
	restSecondDiffs   float64

	// Sums over the frames of the current load.
	net, loadSecondDiffs               float64
	expected, got, lines, judgedFrames float64 // over frames between loaded cells: bound, net counts, lines, frames

	// Over all loads.
	total          float64 // sum of mean net counts
	missing        float64 // sum over unanswered loads of bound less net counts
	saturated      int     // frames at full scale
	saturatedSince float64

	judged, unanswered, unansweredRun, enclosed int // loads
	unansweredSince                             float64
	dead                                        bool
	stuck                                       bool
	stuckAt                                     uint16
	stuckSince                                  float64
	sameLoads                                   int // loads since its count last changed
	jumpLoads                                   int // loads
	jumpSince                                   float64
	largestJump                                 float64 // counts
}

// load is the load that is going on.
type load struct {
	on     bool
	from   float64 // beginning, s
	frame  int     // index of its first frame
	frames int
}

// New returns a Monitor for a strip under a platform with this outline.
func New(strip *device.Strip, outline platform.Polygon) *Monitor {
	n := strip.Cells()
	w := &Monitor{
		strip: strip, outline: outline, cells: make([]cellState, n), at: make([]int, n), logNet: make([]float64, n), scratch: make([]float64, 0, n),
		curve: strip.Curve(), area: strip.CellArea(),
	}
	w.lo, w.hi = outline.Bounds()
	for k := range w.cells {
		row, col := strip.RowCol(k)
		w.at[row*strip.Cols+col] = k
		w.cells[k].Cell, w.cells[k].k = Cell{row, col}, k
		w.cells[k].centre = strip.Centre(row, col)
		w.cells[k].inside = outline.Clip(strip.CellOutline(row, col)).Area() / strip.CellArea()
	}
	return w
}

// Add takes a frame. Frames come in the order of the strip's clock. A frame with
// another number of cells is ignored.
func (w *Monitor) Add(f *device.Frame) {
	if len(f.Counts) != len(w.cells) {
		return
	}
	if w.frames == 0 {
		w.firstUS = f.TimeUS
		for k, c := range f.Counts {
			w.cells[k].last = c
		}
	}
	t := float64(int64(f.TimeUS-w.firstUS)) / 1e6
	if math.Abs(t-w.now) > pauseS {
		w.clearWindow()
		w.endLoad()
	}
	w.now = t
	if w.n == 0 {
		w.windowStart = t
	}
	w.frames++
	w.n++
	top := uint16(w.strip.SaturatesAt)
	for k, c := range f.Counts {
		s := &w.cells[k]
		s.sum += uint64(c)
		if c >= top {
			s.atFullScale++
		}
		x := c ^ s.last
		step := int32(c) - int32(s.last)
		secondDiff := int64(step - s.step)
		s.secondDiffs += uint64(secondDiff * secondDiff)
		s.step = step
		if x != 0 {
			s.stepsByTopBit[bits.Len16(x)]++
			s.changedBits |= x
			s.last, s.changed, s.since, s.sameLoads = c, w.frames, t, 0
		}
	}
	if w.n >= windowFrames && t-w.windowStart >= windowS {
		w.endOfWindow()
		w.clearWindow()
	}
}

// clearWindow starts a new window.
func (w *Monitor) clearWindow() {
	w.n = 0
	for k := range w.cells {
		s := &w.cells[k]
		s.sum, s.secondDiffs, s.atFullScale = 0, 0, 0
	}
}

// endOfWindow classifies a complete window as at rest, under load or between the
// two, and updates the cells.
func (w *Monitor) endOfWindow() {
	for k := range w.cells {
		s := &w.cells[k]
		s.before, s.mean = s.mean, float64(s.sum)/float64(w.n)
	}
	if !w.rest.known {
		w.setZero()
	}
	switch force := w.force(); {
	case force < -quietN: // the zeros were taken under load
		w.discardZero()
		w.setZero()
		w.updateZeros()
	case force <= quietN:
		w.endLoad()
		w.updateZeros()
	case force >= loadedN:
		w.rest.windows = 0
		w.underLoad()
	default:
		w.rest.windows = 0
		if force < field.LoadFloorN {
			w.endLoad()
		}
	}
	for k := range w.cells {
		w.cells[k].secondDiffsBefore = float64(w.cells[k].secondDiffs)
	}
}

// force returns the force of the window, N. Frozen cells are left out, and so is
// the cell with the largest force, so that a single faulty cell has no effect.
func (w *Monitor) force() float64 {
	sum, largest := 0.0, 0.0
	for k := range w.cells {
		s := &w.cells[k]
		if w.frozen(s) {
			continue
		}
		force := w.newtons(s, s.mean-s.zero)
		sum += force
		if math.Abs(force) > math.Abs(largest) {
			largest = force
		}
	}
	if len(w.cells) > 2 {
		sum -= largest
	}
	return sum
}

// newtons returns the force, N, on a cell that reads this many counts above its
// zero.
func (w *Monitor) newtons(s *cellState, counts float64) float64 {
	return w.curve.KPa(s.k, counts) * w.area / 1000
}

// perCount returns the force of one count, N, at the mean reading of a cell under
// load.
func (w *Monitor) perCount(s *cellState) float64 {
	return w.curve.PerCount(s.k, s.total/float64(max(1, w.loads))) * w.area / 1000
}

// A cell is frozen after this many frames and this time without a change.
const (
	frozenFrames = 100
	frozenS      = 1.0
)

// frozen reports whether a cell has not changed for a while although most cells
// change from frame to frame.
func (w *Monitor) frozen(s *cellState) bool {
	return w.rest.changing && w.frames-s.changed >= frozenFrames && w.now-s.since >= frozenS
}
