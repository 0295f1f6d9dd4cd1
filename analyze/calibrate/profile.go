package calibrate

import (
	"fmt"
	"math"
	"strconv"

	"aplomb/device"
)

// Into writes the zero into a strip's calibration.
func (z Zero) Into(c *device.Calibration) {
	c.ZeroCounts, c.NoiseCounts = rounded(z.Level, 5), rounded(z.Noise, 3)
}

// Into writes the gains into a strip's calibration, a silent cell as 1. Rounded
// as they are their mean stays 1 to within what a profile allows.
func (g Gains) Into(c *device.Calibration) {
	c.Gains, c.GainSD = rounded(g.Gain, 5), round(g.RemainingSD(), 3)
}

// Into writes curve and quality into a strip's calibration. What its gains were
// found to leave from cell to cell stays where it is more than the cells under
// the pad showed.
func (r CurveResult) Into(c *device.Calibration) {
	c.Curve = string(r.Curve.Kind)
	c.KPaPerCount, c.KPaAtOneCount, c.Exponent = round(r.Curve.KPaPerCount, 7), round(r.Curve.KPaAtOneCount, 7), round(r.Curve.Exponent, 7)
	c.Counts, c.KPa = rounded(r.Curve.Counts, 7), rounded(r.Curve.KPa, 7)
	c.RangeKPa = rounded(r.RangeKPa[:], 5)
	c.Hysteresis, c.CreepPerDecade, c.UCreep, c.CurveAgeS = round(r.Hysteresis, 3), 0, 0, round(r.LoadAgeS, 3)
	if !math.IsNaN(r.CreepPerDecade) {
		c.CreepPerDecade = round(r.CreepPerDecade, 3)
	}
	if !math.IsNaN(r.UCreep) {
		c.UCreep = round(r.UCreep, 3)
	}
	switch {
	case math.IsNaN(r.CellSD): // one cell says nothing of the others
	case len(c.Gains) > 0:
		c.GainSD = max(c.GainSD, round(r.CellSD, 3))
	default:
		c.GainSD = round(r.CellSD, 3)
	}
}

// Of returns the curve of a strip's calibration, of no kind where nobody
// calibrated the strip.
func CurveOf(c *device.Calibration) Curve {
	if !c.Measured() {
		return Curve{}
	}
	kind := CurveKind(c.Curve)
	if kind == "" {
		kind = LinearCurve
	}
	return Curve{Kind: kind, KPaPerCount: c.KPaPerCount, KPaAtOneCount: c.KPaAtOneCount, Exponent: c.Exponent, Counts: c.Counts, KPa: c.KPa}
}

// Into writes the seat into how a strip is mounted: where mountings did not
// differ by more than presses do, the upper end of its interval, with one degree
// of freedom less than mountings. It refuses presses that were all alike, which
// are no measurement.
func (s SeatRepeatability) Into(m *device.Mount) error {
	sd, dof := s.SDMM, s.DOF
	if !(dof >= 1) {
		sd, dof = s.Range.Hi, float64(s.Mountings-1)
	}
	if !(sd > 0) || math.IsInf(sd, 0) {
		return fmt.Errorf("all presses are in one place, to the last digit: these are no mountings; take the strip off and fix it again between them")
	}
	m.SeatSDMM, m.SeatMountings, m.SeatFreedom = round(sd, 3), s.Mountings, round(dof, 3)
	return nil
}

// round keeps so many significant digits: a profile is read by people.
func round(x float64, digits int) float64 {
	short, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'g', digits, 64), 64)
	return short
}

func rounded(x []float64, digits int) (short []float64) {
	for _, v := range x {
		short = append(short, round(v, digits))
	}
	return short
}
