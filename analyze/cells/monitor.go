package cells

import (
	"math"
	"math/bits"

	"aplomb/analyze/field"
	"aplomb/device"
	"aplomb/device/platform"
)

// Frames are judged in windows, and loads, each an unbroken stay on pointe, in
// the windows that make them up.
const (
	windowS      = 0.1                  // s: short against any movement of a dancer that matters
	windowFrames = 5                    // and at least this many frames
	pauseS       = 1.0                  // s: frames farther apart belong to no window, and end a load
	quietN       = field.LoadFloorN / 2 // N: a window no farther from nothing is at rest
	loadedN      = 2 * field.LoadFloorN // N: a window from here on is under load
	leastLoadS   = 0.5                  // s under load from which a load counts: the shortest hold
)

// Watch watches the cells of one strip. It is not safe for concurrent use.
type Monitor struct {
	strip   *device.Strip
	outline platform.Polygon
	cells   []cellState
	at      []int // row·cols + col → place in the scan
	curve   *device.Curve
	area    float64 // of a cell, mm²
	rest    restState

	frames      int
	firstUS     uint64
	now         float64 // s since the first frame
	windowStart float64 // of the window
	n           int     // frames in the window

	load    load
	loads   int     // that counted
	loaded  int     // frames under load, in loads or not
	forceN  float64 // sums over the loads: their mean load, and their moments, N and N·mm
	moment  platform.Point
	logNet  []float64 // of the window, by row·cols + col, see liftAll
	scratch []float64
}

// cell is what is known of one cell. Lift is its reading above its zero, in
// counts; sums go over frames.
type cellState struct {
	Cell
	k      int            // its place in the scan
	centre platform.Point // mm
	inside float64        // the part of it inside the outline, 0..1

	// From frame to frame.
	last          uint16
	changed       int     // frame in which its count last changed
	since         float64 // s, when that was
	changedBits   uint16  // digits that have ever changed
	stepsByTopBit [17]uint32
	sum           uint64 // of the window: counts
	step          int32  // from the frame before
	secondDiffs   uint64 // squares of how much one step differs from the one before
	atFullScale   uint32 // frames at the end of the range

	// From window to window.
	mean, before      float64 // of this window and the one before, counts
	secondDiffsBefore float64 // bends of the one before
	zero              float64 // counts without load
	first, settled    float64 // the zero before the first load, and before the last one
	restSecondDiffs   float64

	// Under load: of this one, and of all.
	net, loadSecondDiffs               float64
	expected, got, lines, judgedFrames float64 // while it lay between loaded cells: bound, lift, lines, frames
	total                              float64 // sum over loads of the mean lift
	missing                            float64 // sum over its deaf loads of bound less lift
	saturated                          int     // frames
	saturatedSince                     float64

	judged, unanswered, unansweredRun, enclosed int // loads
	unansweredSince                             float64
	dead                                        bool
	stuck                                       bool
	stuckAt                                     uint16
	stuckSince                                  float64
	sameLoads                                   int // loads since its count last changed
	jumpLoads                                   int // loads
	jumpSince                                   float64
	largestJump                                 float64 // largest, counts
}

// load is the stay on pointe that is going on.
type load struct {
	on     bool
	from   float64 // s
	frame  int     // its first
	frames int
}

// New makes a Watch for a strip under a platform with this outline.
func New(strip *device.Strip, outline platform.Polygon) *Monitor {
	n := strip.Cells()
	w := &Monitor{
		strip: strip, outline: outline, cells: make([]cellState, n), at: make([]int, n), logNet: make([]float64, n), scratch: make([]float64, 0, n),
		curve: strip.Curve(), area: strip.CellArea(),
	}
	for k := range w.cells {
		row, col := strip.RowCol(k)
		w.at[row*strip.Cols+col] = k
		w.cells[k].Cell, w.cells[k].k = Cell{row, col}, k
		w.cells[k].centre = strip.Centre(row, col)
		w.cells[k].inside = outline.Clip(strip.CellOutline(row, col)).Area() / strip.CellArea()
	}
	return w
}

// Add takes a frame. Frames come in the order of the strip's clock; one that
// does not have a count for every cell is passed over.
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
		bend := int64(step - s.step)
		s.secondDiffs += uint64(bend * bend)
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

// endWindow forgets the frames of the window.
func (w *Monitor) clearWindow() {
	w.n = 0
	for k := range w.cells {
		s := &w.cells[k]
		s.sum, s.secondDiffs, s.atFullScale = 0, 0, 0
	}
}

// judge says whether the window that is full was at rest or under load, and
// takes from it what it tells.
func (w *Monitor) endOfWindow() {
	for k := range w.cells {
		s := &w.cells[k]
		s.before, s.mean = s.mean, float64(s.sum)/float64(w.n)
	}
	if !w.rest.known {
		w.setZero()
	}
	switch force := w.force(); {
	case force < -quietN: // the zero was one under load
		w.discardZero()
		w.setZero()
		w.atRest()
	case force <= quietN:
		w.endLoad()
		w.atRest()
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

// force is the load of the window, N. A cell that has not changed for a second
// where others cannot keep still says nothing of the load, and nor does the
// one farthest from its zero: a single cell may jump as it likes.
func (w *Monitor) force() float64 {
	sum, far := 0.0, 0.0
	for k := range w.cells {
		s := &w.cells[k]
		if w.frozen(s) {
			continue
		}
		force := w.newtons(s, s.mean-s.zero)
		sum += force
		if math.Abs(force) > math.Abs(far) {
			far = force
		}
	}
	if len(w.cells) > 2 {
		sum -= far
	}
	return sum
}

// newtons is the force on a cell that reads so many counts above its zero, N.
func (w *Monitor) newtons(s *cellState, counts float64) float64 {
	return w.curve.KPa(s.k, counts) * w.area / 1000
}

// perCount is what one count more makes of the force on a cell as the loads
// pressed it on the mean, N.
func (w *Monitor) perCount(s *cellState) float64 {
	return w.curve.PerCount(s.k, s.total/float64(max(1, w.loads))) * w.area / 1000
}

// What makes a cell frozen: so many frames, and so long, without a change.
const (
	frozenFrames = 100
	frozenS      = 1.0
)

func (w *Monitor) frozen(s *cellState) bool {
	return w.rest.changing && w.frames-s.changed >= frozenFrames && w.now-s.since >= frozenS
}
