package output

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"aplomb/analyze/calibrate"
	"aplomb/analyze/scale"
	"aplomb/cmd/internal/text"
	"aplomb/device"
	"aplomb/plots/words"
)

// StripFacts returns names and values of a strip's profile, for text.Facts.
func StripFacts(s *device.Strip) []string {
	c := &s.Calibration
	seat := SeatSD(s.Mount)
	if s.Mount.SeatMountings > 0 {
		seat += fmt.Sprintf(", measured in %s, %s degrees of freedom", words.Count(s.Mount.SeatMountings, "mounting", "mountings"), text.Trimmed(s.Mount.SeatDOF()))
	} else {
		seat += ", not measured: aplomb strip seat does"
	}
	return []string{
		"foot", s.Foot.String(),
		"grid", Grid(s) + ", pitch " + Pitch(s) + ", cells of " + text.Unit("mm").Size(s.CellMM),
		"order", s.Scan + ", from " + s.FirstCell,
		"converter", fmt.Sprintf("%d bits, saturated at %d counts", s.ADCBits, s.SaturatesAt),
		"lies", liesAt(s.Mount),
		"tail", tailOf(s.Mount),
		"seat sd", seat,
		"calibrated", Calibrated(c),
		"curve", curveOf(c),
		"range", between(c.RangeKPa, "kPa"),
		"cells", cellsOf(c),
		"hysteresis", shareOf(c.Hysteresis, " of the largest pressure, between up and down"),
		"creep", shareOf(c.CreepPerDecade, " in each tenfold of time"),
		"zero", between(c.ZeroCounts, "counts"),
		"noise", between(c.NoiseCounts, "counts"),
		"crosstalk", crosstalkOf(s.Crosstalk),
	}
}

// Grid returns rows × columns.
func Grid(s *device.Strip) string { return fmt.Sprintf("%d × %d", s.Rows, s.Cols) }

// Pitch returns the pitch along the rows × across, mm.
func Pitch(s *device.Strip) string { return text.Unit("mm").Size(s.PitchMM) }

// SeatSD returns the standard deviation of the seat between mountings.
func SeatSD(m device.Mount) string { return text.Trimmed(m.SeatSDMM) + " mm" }

func liesAt(m device.Mount) string {
	if m.OffsetMM == [2]float64{} && m.RotationDeg == 0 {
		return "centred under the platform"
	}
	return fmt.Sprintf("its centre at %s mm from the platform's, turned by %s°", Place(m.OffsetMM), text.Trimmed(m.RotationDeg))
}

// tailOf returns the side at which the tail leaves, "" where the profile does not specify
// it.
func tailOf(m device.Mount) string {
	if m.TailSide == "" {
		return ""
	}
	return "leaves at the " + map[string]string{"back": "back", "front": "front", "big toe": "big-toe side", "little toe": "little-toe side"}[m.TailSide]
}

// Calibrated returns in words when a strip was calibrated and until when the calibration
// is valid.
func Calibrated(c *device.Calibration) string {
	if c.Measured() {
		return fmt.Sprintf("%s, valid until %s", c.Date, c.ValidUntil())
	}
	return "no"
}

func curveOf(c *device.Calibration) string {
	switch {
	case c.Measured():
		return Curve(calibrate.CurveOf(c))
	case c.KPaPerCount > 0:
		return words.Digits(c.KPaPerCount, 4) + " kPa a count"
	}
	return c.Curve
}

// cellsOf describes the differences between the cells.
func cellsOf(c *device.Calibration) string {
	differ := "differ by " + text.Percent(c.GainSD, 1)
	if len(c.Gains) > 0 {
		return fmt.Sprintf("gains of %.2f to %.2f, beyond which they %s", slices.Min(c.Gains), slices.Max(c.Gains), differ)
	}
	if !c.Measured() {
		return differ + ", assumed"
	}
	return differ
}

// between returns the range of numbers, "" for none.
func between(v []float64, unit string) string {
	if len(v) == 0 {
		return ""
	}
	lo, hi := text.Trimmed(slices.Min(v)), text.Trimmed(slices.Max(v))
	if lo == hi {
		return lo + " " + unit
	}
	return lo + " to " + hi + " " + unit
}

// shareOf writes a fraction, "" for 0.
func shareOf(fraction float64, of string) string {
	if fraction == 0 {
		return ""
	}
	return text.Percent(fraction, 1) + of
}

func crosstalkOf(g device.Crosstalk) string {
	var said []string
	if g.TieOhm != 0 {
		said = append(said, "idle lines tied through "+words.Digits(g.TieOhm, 4)+" Ω")
	}
	if g.OneCountOhm != 0 {
		said = append(said, "a cell of one count has "+words.Digits(g.OneCountOhm, 4)+" Ω")
	}
	return strings.Join(said, ", ")
}

// checksShown is the number of checks of a strip that are listed.
const checksShown = 5

// StripChecks prints the last checks of a strip, given by day, the newest last.
func StripChecks(w io.Writer, all []scale.Check) {
	if len(all) == 0 {
		return
	}
	var rows [][]string
	for _, c := range all[max(0, len(all)-checksShown):] {
		passed, cop := "passed", "–"
		if !c.Pass {
			passed = "not passed"
		}
		if !math.IsNaN(c.RMSCoPMM) {
			cop = fmt.Sprintf("%.2f mm", c.RMSCoPMM)
		}
		rows = append(rows, []string{
			c.Day.Format(time.DateOnly), strconv.Itoa(c.Version), passed, strconv.Itoa(c.Presses),
			words.Signed(100*c.Bias, 1) + " %", text.Percent(c.RMSLoad, 1), cop, fmt.Sprintf("%s, %g mm", text.Percent(c.LimitLoad, 1), c.LimitCoPMM),
		})
	}
	fmt.Fprintln(w)
	text.Table(w, []string{"checked", "version", "", "presses", "load off, mean", "load off, rms", "place off, rms", "limits"}, rows)
	if n := len(all) - len(rows); n > 0 {
		fmt.Fprintf(w, "and %s before\n", words.Count(n, "check", "checks"))
	}
}
