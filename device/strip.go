package device

import (
	"fmt"
	"math"
	"strings"
	"unicode"
	"unicode/utf8"

	"aplomb/device/platform"
)

// MaxCells bounds rows × cols. A profile or a hello with more cells is refused.
const MaxCells = 4096

// Every length in a profile lies between minMM and maxMM. Nothing under a shoe is
// half a metre or a hundredth of a millimetre long; such a length is in another unit.
const (
	minMM = 0.01
	maxMM = 500
)

// Strip is the profile of one strip, a grid of pressure cells. Rows run from the
// back of the platform to the front, columns from the little-toe side to the
// big-toe side.
type Strip struct {
	Name        string      `toml:"strip"`
	Foot        Foot        `toml:"foot"`
	Rows        int         `toml:"rows"`
	Cols        int         `toml:"cols"`
	PitchMM     [2]float64  `toml:"pitch_mm"` // along medial, along over
	CellMM      [2]float64  `toml:"cell_mm"`  // active size of one cell, along medial, along over
	ADCBits     int         `toml:"adc_bits"`
	SaturatesAt int         `toml:"saturates_at"` // counts
	FirstCell   string      `toml:"first_cell"`   // back-lateral, back-medial, front-lateral, front-medial
	Scan        string      `toml:"scan"`         // rows, columns, serpentine
	Mount       Mount       `toml:"mount"`
	Calibration Calibration `toml:"calibration"`
	Crosstalk   Crosstalk   `toml:"ghosting,omitempty"`
}

// Crosstalk describes the lines of a resistive grid, through which current also
// flows by way of other cells; see package crosstalk. The mean maps of holds are
// corrected for it where it is given, which assumes that readings are proportional
// to the conductance of a cell. The zero Crosstalk means that there is none, or
// that none is known. Its key in a profile is ghosting.
type Crosstalk struct {
	// TieOhm is the resistance through which each idle line goes to ground, inf
	// where it floats.
	TieOhm float64 `toml:"tie_ohm"`
	// OneCountOhm is the resistance of a cell that reads one count above its zero.
	// It is not needed where lines float, because the result does not depend on it.
	OneCountOhm float64 `toml:"one_count_ohm,omitzero"`
}

// Tie returns TieOhm in units of 1 ÷ counts, as package crosstalk takes it beside
// conductances in counts; 0 where there is no crosstalk.
func (g Crosstalk) Tie() float64 {
	if g.TieOhm == 0 || math.IsInf(g.TieOhm, 1) {
		return g.TieOhm
	}
	return g.TieOhm / g.OneCountOhm
}

// Mount describes the seat of the strip under the platform and how well it is known.
type Mount struct {
	OffsetMM      [2]float64 `toml:"offset_mm"`           // strip centre from platform centroid, mm
	RotationDeg   float64    `toml:"rotation_deg"`        // from +medial towards +over
	SeatSDMM      float64    `toml:"seat_sd_mm"`          // standard deviation of one mounting, each axis, mm
	SeatMountings int        `toml:"seat_mountings"`      // number of mountings that SeatSDMM was measured in; 0 where it is assumed
	SeatFreedom   float64    `toml:"seat_dof,omitzero"`   // degrees of freedom of SeatSDMM; 0 stands for one less than SeatMountings
	TailSide      string     `toml:"tail_side,omitempty"` // one of TailSides; "" where it is not known
}

// TailSides are the sides at which the tail of a strip can leave: the flat lead from
// the cells to the electronics. They are sides of the strip itself, so RotationDeg
// turns the tail with the strip.
var TailSides = [...]string{"back", "front", "big toe", "little toe"}

// TailDirection returns the direction in which the tail leaves, of length 1 along
// the strip's own axes, [medial, over]; the zero Point where it is not known.
func (m Mount) TailDirection() platform.Point {
	return map[string]platform.Point{"back": {0, -1}, "front": {0, 1}, "big toe": {1, 0}, "little toe": {-1, 0}}[m.TailSide]
}

// DefaultSeatSDMM and DefaultSeatDOF hold for a profile that does not state the
// standard deviation of its mountings. They are our own assumption, and every
// result that depends on them says so.
const (
	DefaultSeatSDMM = 1.0 // mm
	DefaultSeatDOF  = 8   // degrees of freedom of DefaultSeatSDMM
)

// SeatDOF returns the degrees of freedom of SeatSDMM.
func (m Mount) SeatDOF() float64 {
	if m.SeatFreedom > 0 {
		return m.SeatFreedom
	}
	if m.SeatMountings >= 2 {
		return float64(m.SeatMountings - 1)
	}
	return DefaultSeatDOF
}

// Cells returns the number of cells.
func (s *Strip) Cells() int { return s.Rows * s.Cols }

// MaxCount returns the largest count that the converter of the strip can give.
func (s *Strip) MaxCount() int { return 1<<s.ADCBits - 1 }

// RowCol returns the row (from the back) and column (from the little-toe side)
// of the k-th count of a frame.
func (s *Strip) RowCol(k int) (row, col int) {
	if s.Scan == "columns" {
		row, col = k%s.Rows, k/s.Rows
	} else {
		row, col = k/s.Cols, k%s.Cols
		if s.Scan == "serpentine" && row%2 == 1 {
			col = s.Cols - 1 - col
		}
	}
	if s.FirstCell == "front-lateral" || s.FirstCell == "front-medial" {
		row = s.Rows - 1 - row
	}
	if s.FirstCell == "back-medial" || s.FirstCell == "front-medial" {
		col = s.Cols - 1 - col
	}
	return row, col
}

// ToPlatform maps a point given from the strip's centre and along its axes, mm, to
// the platform's frame, mm.
func (s *Strip) ToPlatform(p platform.Point) platform.Point {
	sin, cos := math.Sincos(s.Mount.RotationDeg * math.Pi / 180)
	return platform.Point{
		s.Mount.OffsetMM[0] + cos*p[0] - sin*p[1],
		s.Mount.OffsetMM[1] + sin*p[0] + cos*p[1],
	}
}

// Centre returns the centre of the cell at row and col, in the platform's frame, mm.
func (s *Strip) Centre(row, col int) platform.Point {
	return s.ToPlatform(s.fromCentre(float64(row), float64(col)))
}

// CellOutline returns the corners of the pitch × pitch rectangle around the cell at
// row and col, counter-clockwise, in the platform's frame, mm.
func (s *Strip) CellOutline(row, col int) platform.Polygon {
	r, c := float64(row), float64(col)
	return platform.Polygon{
		s.ToPlatform(s.fromCentre(r-0.5, c-0.5)), s.ToPlatform(s.fromCentre(r-0.5, c+0.5)),
		s.ToPlatform(s.fromCentre(r+0.5, c+0.5)), s.ToPlatform(s.fromCentre(r+0.5, c-0.5)),
	}
}

// Outline returns the corners of the whole grid in the platform's frame, mm.
func (s *Strip) Outline() platform.Polygon {
	r, c := float64(s.Rows)-0.5, float64(s.Cols)-0.5
	return platform.Polygon{
		s.ToPlatform(s.fromCentre(-0.5, -0.5)), s.ToPlatform(s.fromCentre(-0.5, c)),
		s.ToPlatform(s.fromCentre(r, c)), s.ToPlatform(s.fromCentre(r, -0.5)),
	}
}

// fromCentre returns the centre of the cell at row and col from the strip's centre, mm.
func (s *Strip) fromCentre(row, col float64) platform.Point {
	return platform.Point{
		(col - float64(s.Cols-1)/2) * s.PitchMM[0],
		(row - float64(s.Rows-1)/2) * s.PitchMM[1],
	}
}

// CellArea returns the tributary area of one cell, pitch × pitch, mm².
func (s *Strip) CellArea() float64 { return s.PitchMM[0] * s.PitchMM[1] }

// Margins returns how far the grid reaches beyond an outline on each side, mm,
// negative where it ends inside the outline: [0] at the little-toe side and at the
// big-toe side, [1] at the back and at the front. Sides are those of the strip's own
// axes, with the strip where its profile says that it lies.
func (s *Strip) Margins(outline platform.Polygon) (m [2][2]float64) {
	own := make(platform.Polygon, len(outline))
	for i, p := range outline {
		own[i] = s.fromPlatform(p)
	}
	lo, hi := own.Bounds()
	for k, half := range [2]float64{float64(s.Cols) * s.PitchMM[0] / 2, float64(s.Rows) * s.PitchMM[1] / 2} {
		m[k] = [2]float64{lo[k] + half, half - hi[k]}
	}
	return m
}

// fromPlatform is the inverse of ToPlatform.
func (s *Strip) fromPlatform(p platform.Point) platform.Point {
	sin, cos := math.Sincos(s.Mount.RotationDeg * math.Pi / 180)
	x, y := p[0]-s.Mount.OffsetMM[0], p[1]-s.Mount.OffsetMM[1]
	return platform.Point{cos*x + sin*y, cos*y - sin*x}
}

// CoveredShare returns the share of the outline's area that lies under the grid, 0 to 1.
func (s *Strip) CoveredShare(outline platform.Polygon) float64 {
	return outline.Clip(s.Outline()).Area() / outline.Area()
}

// Check reports the first impossible thing about the profile as a FieldError.
func (s *Strip) Check() error {
	switch {
	case s.Name == "":
		return invalid("strip", "give the strip a name")
	case !isCode(s.Name):
		return invalid("strip", "a name has at most %d printable characters", maxCode)
	case s.Foot != Left && s.Foot != Right:
		return invalid("foot", "write left or right")
	case s.Rows < 1:
		return invalid("rows", "%d rows: at least 1", s.Rows)
	case s.Cols < 1:
		return invalid("cols", "%d columns: at least 1", s.Cols)
	case s.Rows > MaxCells || s.Cols > MaxCells || s.Cells() > MaxCells:
		return invalid("rows", "%d × %d cells: at most %d", s.Rows, s.Cols, MaxCells)
	case !validLengths(s.PitchMM):
		return invalid("pitch_mm", "pitch %v mm: both from %v to %v", s.PitchMM, minMM, maxMM)
	case !validLengths(s.CellMM):
		return invalid("cell_mm", "cell %v mm: both from %v to %v", s.CellMM, minMM, maxMM)
	case s.CellMM[0] > s.PitchMM[0] || s.CellMM[1] > s.PitchMM[1]:
		return invalid("cell_mm", "cell %v mm is larger than the pitch %v mm", s.CellMM, s.PitchMM)
	case s.ADCBits < 1 || s.ADCBits > 16:
		return invalid("adc_bits", "%d bits: 1 to 16", s.ADCBits)
	case s.SaturatesAt < 1 || s.SaturatesAt > 1<<s.ADCBits-1:
		return invalid("saturates_at", "%d counts: 1 to %d for %d bits", s.SaturatesAt, 1<<s.ADCBits-1, s.ADCBits)
	case !oneOf(s.FirstCell, "back-lateral", "back-medial", "front-lateral", "front-medial"):
		return invalid("first_cell", "%q: back-lateral, back-medial, front-lateral or front-medial", s.FirstCell)
	case !oneOf(s.Scan, "rows", "columns", "serpentine"):
		return invalid("scan", "%q: rows, columns or serpentine", s.Scan)
	case !(max(math.Abs(s.Mount.OffsetMM[0]), math.Abs(s.Mount.OffsetMM[1])) <= maxMM):
		return invalid("offset_mm", "offset %v mm: at most %v either way", s.Mount.OffsetMM, maxMM)
	case !finite(s.Mount.RotationDeg):
		return invalid("rotation_deg", "%v: write a number of degrees", s.Mount.RotationDeg)
	case !finite(s.Mount.SeatSDMM) || s.Mount.SeatSDMM < 0:
		return invalid("seat_sd_mm", "%v mm: 0 or more", s.Mount.SeatSDMM)
	case s.Mount.SeatMountings < 0 || s.Mount.SeatMountings == 1:
		return invalid("seat_mountings", "%d mountings: a standard deviation takes at least 2", s.Mount.SeatMountings)
	case s.Mount.SeatFreedom != 0 && !(s.Mount.SeatFreedom >= 1 && s.Mount.SeatFreedom <= 2*float64(s.Mount.SeatMountings)):
		return invalid("seat_dof", "%v degrees of freedom in %d mountings: from 1 to two for each", s.Mount.SeatFreedom, s.Mount.SeatMountings)
	case s.Mount.TailSide != "" && !oneOf(s.Mount.TailSide, TailSides[:]...):
		return invalid("tail_side", "%q: back, front, big toe or little toe", s.Mount.TailSide)
	}
	switch g := s.Crosstalk; {
	case !(g.TieOhm >= 0):
		return invalid("tie_ohm", "%v ohm: 0 or more, inf for lines that float", g.TieOhm)
	case !(g.OneCountOhm >= 0) || math.IsInf(g.OneCountOhm, 1):
		return invalid("one_count_ohm", "%v ohm: above 0", g.OneCountOhm)
	case g.TieOhm > 0 && !math.IsInf(g.TieOhm, 1) && g.OneCountOhm == 0:
		return invalid("one_count_ohm", "give the resistance of a cell that reads one count, beside tie_ohm")
	}
	return s.Calibration.check(s)
}

// maxCode bounds the length of names and codes, characters: they are shown in tables
// and pictures.
const maxCode = 60

func isCode(s string) bool {
	return utf8.RuneCountInString(s) <= maxCode && strings.TrimSpace(s) != "" &&
		!strings.ContainsFunc(s, func(r rune) bool { return !unicode.IsPrint(r) })
}

func invalid(key, format string, args ...any) error {
	return &FieldError{Key: key, Reason: fmt.Sprintf(format, args...)}
}

func validLengths(mm [2]float64) bool {
	return minMM <= mm[0] && mm[0] <= maxMM && minMM <= mm[1] && mm[1] <= maxMM
}

func finite(v ...float64) bool {
	for _, x := range v {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return false
		}
	}
	return true
}

func oneOf(s string, options ...string) bool {
	for _, o := range options {
		if s == o {
			return true
		}
	}
	return false
}
