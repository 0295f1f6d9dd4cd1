// Package output prints results and the contents of the logbook as plain text.
package output

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"aplomb/analyze/calibrate"
	"aplomb/cmd/internal/bench"
	"aplomb/cmd/internal/text"
	"aplomb/device"
	"aplomb/plots/words"
)

// Calibration prints the steps of a calibration and their result.
func Calibration(w io.Writer, s *device.Strip, l *calibrate.Loading, r *calibrate.CurveResult) {
	cells := s.Cells()
	if l.Under != nil {
		cells = len(l.Under)
	}
	fmt.Fprintf(w, "strip %s, %s under %s mm²\n", s.Name, words.Count(cells, "cell", "cells"), words.Digits(l.AreaMM2, 4))
	t := text.Columns(w)
	fmt.Fprintf(t, "step\tload %s\tkPa\treading\tcurve kPa\tresidual kPa\t\n", l.Unit)
	for i, one := range r.Steps {
		way := "  up"
		if one.Down {
			way = "  down"
		}
		fmt.Fprintf(t, "%d\t%g\t%.1f\t%.1f\t%.1f\t%s\t%s\n", i+1, l.Steps[i].Weight, one.KPa, one.Reading, one.KPa+one.Residual, words.Number(one.Residual, 1), way)
	}
	t.Flush()
	fmt.Fprintf(w, "curve: %s\n", Curve(r.Curve))
	var missed []string
	for _, k := range []calibrate.CurveKind{calibrate.LinearCurve, calibrate.PowerCurve, calibrate.PointsCurve} {
		if m := r.LeaveOneOutKPa[k]; math.IsInf(m, 0) {
			missed = append(missed, fmt.Sprintf("%s does not fit", k))
		} else {
			missed = append(missed, fmt.Sprintf("%s %s kPa", k, words.Digits(m, 2)))
		}
	}
	fmt.Fprintf(w, "why: each load predicted from the others, %s; the simplest that does it best\n", strings.Join(missed, ", "))
	fmt.Fprintf(w, "hysteresis: %s of the largest pressure, between up and down\n", text.Percent(r.Hysteresis, 1))
	if math.IsNaN(r.CreepPerDecade) {
		fmt.Fprintf(w, "creep: not known\n")
	} else {
		fmt.Fprintf(w, "creep: %s ± %s in each tenfold of time; loads were %.1f s old\n", text.Percent(r.CreepPerDecade, 2), text.Percent(r.UCreep, 2), r.LoadAgeS)
	}
	if !math.IsNaN(r.CellSD) {
		fmt.Fprintf(w, "cells: differ by %s beyond their gains\n", text.Percent(r.CellSD, 2))
	}
	m := r.AtMid
	fmt.Fprintf(w, "uncertainty: %s at %.0f kPa (curve %s, hysteresis %s, creep %s, weights and area %s)\n",
		text.Percent(m.All, 1), m.KPa, text.Percent(m.Fit, 2), text.Percent(m.Hysteresis, 2), text.Percent(m.Creep, 2), text.Percent(m.Load, 2))
	fmt.Fprintf(w, "range: %.0f to %.0f kPa\n", r.RangeKPa[0], r.RangeKPa[1])
	text.Warnings(w, r.Warnings)
}

// Curve describes a curve from counts to kPa.
func Curve(c calibrate.Curve) string {
	switch c.Kind {
	case calibrate.LinearCurve:
		return fmt.Sprintf("linear, kPa = %s · reading", words.Digits(c.KPaPerCount, 4))
	case calibrate.PowerCurve:
		return fmt.Sprintf("power, kPa = %s · reading^%s", words.Digits(c.KPaAtOneCount, 4), words.Digits(c.Exponent, 4))
	}
	return fmt.Sprintf("points, a monotone cubic through %d loads and no load, up to %s kPa", len(c.KPa)-1, words.Digits(slices.Max(c.KPa), 4))
}

// Gains prints the gains of the cells of a strip.
func Gains(w io.Writer, s *device.Strip, g calibrate.Gains) {
	fmt.Fprintf(w, "strip %s, gain of each cell, front at the top, big toe on the right\n", s.Name)
	printCells(w, s, g.Gain, 3)
	fmt.Fprintf(w, "cells differ by %s (standard deviation); once their gains are taken out, %s remains\n",
		text.Percent(g.SD, 1), text.Percent(g.RemainingSD(), 2))
	text.Warnings(w, g.Warnings)
}

// Zero prints the readings of a strip's unloaded cells.
func Zero(w io.Writer, s *device.Strip, z calibrate.Zero) {
	fmt.Fprintf(w, "strip %s unloaded, counts of each cell, front at the top, big toe on the right\n", s.Name)
	printCells(w, s, z.Level, 1)
	fmt.Fprintf(w, "zero of %.1f to %.1f counts, each known to %.2f; noise of %.1f to %.1f counts\n",
		slices.Min(z.Level), slices.Max(z.Level), slices.Max(z.ULevel), slices.Min(z.Noise), slices.Max(z.Noise))
	text.Warnings(w, z.Warnings)
}

// Verification prints the known weights and points, the measurement of each, and the
// verdict.
func Verification(w io.Writer, s *device.Strip, v *calibrate.Verification) {
	passed := 0
	t := text.Columns(w)
	fmt.Fprintln(t, "press\tload N\tread N\toff %\tat mm\tread mm\toff mm\t")
	for i, p := range v.Presses {
		read, off, verdict := "none", "", "  pass"
		if !math.IsNaN(p.OffMM) {
			read, off = Place(p.MeasuredAt), fmt.Sprintf("%.2f", p.OffMM)
		}
		if p.Pass {
			passed++
		} else {
			verdict = "  fail: " + p.Why
		}
		fmt.Fprintf(t, "%d\t%.1f\t%.1f\t%s\t%s\t%s\t%s\t%s\n", i+1, p.LoadN, p.MeasuredN, words.Number(100*p.LoadError, 1), Place(p.At), read, off, verdict)
	}
	t.Flush()
	word := "passes"
	if !v.Pass {
		word = "does not pass"
	}
	fmt.Fprintf(w, "strip %s %s: %d of %s; load off by %s on average, %s root mean square; centre of pressure by %.2f mm root mean square\n",
		s.Name, word, passed, words.Count(len(v.Presses), "press", "presses"), text.Percent(v.Bias, 1), text.Percent(v.RMSLoad, 1), v.RMSCoPMM)
	fmt.Fprintf(w, "limits: %s\n", v.Limits.Basis)
	text.Warnings(w, v.Warnings)
}

// Place writes a point as [medial, over].
func Place(p [2]float64) string {
	return "[" + words.Number(p[0], 1) + ", " + words.Number(p[1], 1) + "]"
}

// Seat prints the measured position of each mounting, and the repeatability of mounting.
func Seat(w io.Writer, s *device.Strip, mountings []bench.Mounting, seat calibrate.SeatRepeatability) {
	fmt.Fprintf(w, "strip %s, %s\n", s.Name, words.Count(seat.Mountings, "mounting", "mountings"))
	t := text.Columns(w)
	fmt.Fprintln(t, "mounting\tpresses\tmedial mm\tover mm\t")
	within := "presses within a mounting differ by"
	for i, m := range mountings {
		mean, presses := m.Mean(), len(m.Presses)
		if len(m.Seats) > 0 {
			presses, within = len(m.Seats), "each is found by its pad press to"
		}
		fmt.Fprintf(t, "%d\t%d\t%s\t%s\t  %s\n", i+1, presses, words.Number(mean[0], 2), words.Number(mean[1], 2), m.Name)
	}
	t.Flush()
	hi := "more than can be told"
	if !math.IsInf(seat.Range.Hi, 0) {
		hi = fmt.Sprintf("%.2f", seat.Range.Hi)
	}
	fmt.Fprintf(w, "seat: %.2f mm, standard deviation of a mounting on each axis; 95 %% interval %.2f to %s mm, %.1f degrees of freedom\n", seat.SDMM, seat.Range.Lo, hi, seat.DOF)
	fmt.Fprintf(w, "medial %.2f mm, over %.2f mm; %s %.2f mm\n", seat.AxisMM[0], seat.AxisMM[1], within, seat.PressMM)
	text.Warnings(w, seat.Warnings)
}

// printCells prints a number for each cell where the cell lies, the front at the
// top, and row and column as check counts them.
func printCells(w io.Writer, s *device.Strip, values []float64, decimals int) {
	at := make([][]float64, s.Rows)
	for row := range at {
		at[row] = make([]float64, s.Cols)
	}
	for k, v := range values {
		row, col := s.RowCol(k)
		at[row][col] = v
	}
	t := text.Columns(w)
	for row := s.Rows - 1; row >= 0; row-- {
		fmt.Fprintf(t, "row %d\t", row+1)
		for _, v := range at[row] {
			fmt.Fprintf(t, "%.*f\t", decimals, v)
		}
		fmt.Fprintln(t)
	}
	fmt.Fprint(t, "column\t")
	for col := range s.Cols {
		fmt.Fprintf(t, "%d\t", col+1)
	}
	fmt.Fprintln(t)
	t.Flush()
}
