package calibrate

import (
	"fmt"
	"math"
	"strconv"

	"aplomb/device"
)

// Into sets the zeros in a strip's calibration.
func (z Zero) Into(c *device.Calibration) {
	c.ZeroCounts, c.NoiseCounts = rounded(z.Level, 5), rounded(z.Noise, 3)
}

// Into sets the gains in a strip's calibration, 1 for a silent cell. Their
// rounding keeps the mean at 1 within the tolerance of a profile.
func (g Gains) Into(c *device.Calibration) {
	c.Gains, c.GainSD = rounded(g.Gain, 5), round(g.RemainingSD(), 3)
}

// Into sets curve and quality in a strip's calibration. The gain uncertainty
// already there stays where it is larger than that of the cells under the pad.
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
	case math.IsNaN(r.CellSD): // not defined with one cell
	case len(c.Gains) > 0:
		c.GainSD = max(c.GainSD, round(r.CellSD, 3))
	default:
		c.GainSD = round(r.CellSD, 3)
	}
}

// CurveOf returns the curve of a strip's calibration, without kind for a strip
// that was not calibrated.
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

// Into sets the mounting repeatability in a strip's mount. Where mountings did
// not differ by more than presses, it is the upper end of the interval, with one
// degree of freedom less than mountings. It returns an error for presses that
// were all equal, which are no measurement.
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

// round rounds to a number of significant digits, because profiles are read by
// people.
func round(x float64, digits int) float64 {
	short, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'g', digits, 64), 64)
	return short
}

// rounded rounds all values.
func rounded(x []float64, digits int) (short []float64) {
	for _, v := range x {
		short = append(short, round(v, digits))
	}
	return short
}
