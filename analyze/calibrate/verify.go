package calibrate

import (
	"fmt"
	"math"

	"aplomb/device"
	"aplomb/device/platform"
)

// Press is a known weight at a known point with the measurement of the strip.
type Press struct {
	LoadN      float64        // weight, N
	At         platform.Point // point, [medial, over] in mm
	MeasuredN  float64        // measured load, N
	MeasuredAt platform.Point // measured centre of pressure, mm; NaN where it is not defined
}

// Limits are the acceptance limits of a verification, for every press.
type Limits struct {
	Load  float64 // relative error of the load
	CoPMM float64 // distance of the centre of pressure from the point of the weight, mm
	Basis string  // source of the limits, for output
}

// DefaultLimits returns the default limits.
//
// The tested quantities, absolute load and centre of pressure under known weights, are
// those of the technical assessment of plantar pressure devices (Giacomozzi,
// Ann. Ist. Super. Sanità 46 (2010) 158-167; consensus 48 (2012) 259-271). The
// summary of the same author's comparison of devices (Gait & Posture 32 (2010)
// 141-144) calls a root mean square error of pressure below 5 % quite good and
// one below 0.5 % very high accuracy, and that 5 % is the limit of load here,
// for every single press. We had no access to the figures that the consensus
// itself recommends, so none is quoted. The limit of the centre of pressure is our own
// choice: 1 mm is the assumed standard deviation of a mounting, and less than a third
// of the distance from the centre to the edge of the kern of a platform of 36 by 22 mm.
func DefaultLimits() Limits {
	return Limits{
		Load:  0.05,
		CoPMM: 1.0,
		Basis: "load within 5 % after what a published comparison of devices calls quite good " +
			"(Giacomozzi, Gait & Posture 32 (2010) 141-144, its summary), here for every press; " +
			"centre of pressure within 1 mm is our own choice",
	}
}

// DefaultLoadU is the relative standard uncertainty of weights for which none is stated.
// It is our assumption.
const DefaultLoadU = 0.01

// Verification is the result of a verification, press by press and in total.
type Verification struct {
	Pass     bool
	Presses  []PressVerdict
	Bias     float64        // mean relative error of the load
	RMSLoad  float64        // root mean square of the relative error
	Shift    platform.Point // mean error of the centre of pressure, mm
	RMSCoPMM float64        // root mean square distance, mm
	Limits   Limits
	Warnings []string
}

// PressVerdict is the error of one press.
type PressVerdict struct {
	Press
	LoadError float64        // relative error of the load
	Off       platform.Point // measured − true point, mm; NaN where the centre of pressure is not defined
	OffMM     float64        // length of Off, mm
	Pass      bool
	Why       string // reason of a failure as text; "" for a pass
}

// leastPlaces is the least number of different points, at least a millimetre
// apart, for a verification of the whole strip.
const leastPlaces = 5

// Verify compares a strip's measurements of known presses with the limits. The
// strip passes where every press passes. A press without a centre of pressure
// fails. It returns an error without presses, and for weights, points or limits
// that are not valid.
func Verify(presses []Press, limits Limits) (Verification, error) {
	if len(presses) == 0 {
		return Verification{}, fmt.Errorf("no presses: put known weights on at least %d known places", leastPlaces)
	}
	if !(limits.Load > 0) || !(limits.CoPMM > 0) {
		return Verification{}, fmt.Errorf("limits of %v of the load and %v mm: both must be above 0", limits.Load, limits.CoPMM)
	}
	v := Verification{Pass: true, Limits: limits}
	found, n := 0.0, float64(len(presses))
	for i, p := range presses {
		if !(p.LoadN > 0) || math.IsInf(p.LoadN, 0) || math.IsNaN(p.At[0]+p.At[1]) || math.IsInf(p.At[0]+p.At[1], 0) {
			return Verification{}, fmt.Errorf("press %d: %v N at %v mm: give a weight above 0 and the place it was put on", i+1, p.LoadN, p.At)
		}
		w := limits.judge(p)
		v.Presses = append(v.Presses, w)
		v.Pass = v.Pass && w.Pass
		v.Bias += w.LoadError / n
		v.RMSLoad += w.LoadError * w.LoadError / n
		if !math.IsNaN(w.OffMM) {
			found++
			v.Shift[0], v.Shift[1] = v.Shift[0]+w.Off[0], v.Shift[1]+w.Off[1]
			v.RMSCoPMM += w.OffMM * w.OffMM
		}
	}
	v.RMSLoad = math.Sqrt(v.RMSLoad)
	v.Shift[0], v.Shift[1], v.RMSCoPMM = v.Shift[0]/found, v.Shift[1]/found, math.Sqrt(v.RMSCoPMM/found)
	v.warn()
	return v, nil
}

// judge compares one press with the limits.
func (l Limits) judge(p Press) PressVerdict {
	w := PressVerdict{Press: p, LoadError: p.MeasuredN/p.LoadN - 1, Pass: true}
	w.Off = platform.Point{p.MeasuredAt[0] - p.At[0], p.MeasuredAt[1] - p.At[1]}
	w.OffMM = math.Hypot(w.Off[0], w.Off[1])
	fail := func(format string, args ...any) {
		if !w.Pass {
			w.Why += "; "
		}
		w.Pass, w.Why = false, w.Why+fmt.Sprintf(format, args...)
	}
	if !(math.Abs(w.LoadError) <= l.Load) {
		fail("load is off by %+.1f %%, limit %.1f", 100*w.LoadError, 100*l.Load)
	}
	switch {
	case math.IsNaN(w.OffMM):
		fail("no centre of pressure")
	case w.OffMM > l.CoPMM:
		fail("centre of pressure is off by %.2f mm, limit %.2f", w.OffMM, l.CoPMM)
	}
	return w
}

// warn adds warnings about too few points, and about errors with one probable
// cause.
func (v *Verification) warn() {
	var places []platform.Point
	for _, p := range v.Presses {
		near := false
		for _, q := range places {
			near = near || math.Hypot(p.At[0]-q[0], p.At[1]-q[1]) < 1
		}
		if !near {
			places = append(places, p.At)
		}
	}
	if len(places) < leastPlaces {
		v.Warnings = append(v.Warnings, fmt.Sprintf("%d different places: put weights on at least %d, spread over the strip, for the verdict to hold all over it", len(places), leastPlaces))
	}
	if v.Pass {
		return
	}
	for _, c := range []struct {
		ratio float64
		words string
	}{
		{1 / device.StandardGravity, "weights in kg were taken for N when it was calibrated, or weights in N for kg now"},
		{device.StandardGravity, "weights in N were taken for kg when it was calibrated, or weights in kg for N now"},
	} {
		if math.Abs((1+v.Bias)/c.ratio-1) < 0.1 {
			v.Warnings = append(v.Warnings, fmt.Sprintf("the strip reads %.2g times the load: perhaps %s", 1+v.Bias, c.words))
		}
	}
	for _, c := range []struct {
		turn  platform.Point
		words string
	}{
		{platform.Point{-1, 1}, "with the sides exchanged: is it the other foot's strip, or is first_cell on the other side?"},
		{platform.Point{1, -1}, "with front and back exchanged: is first_cell at the other end?"},
		{platform.Point{-1, -1}, "turned half round: is the strip, or first_cell, the wrong way about?"},
	} {
		if rms := v.turnedRMS(c.turn); rms <= v.Limits.CoPMM && v.RMSCoPMM > 2*v.Limits.CoPMM {
			v.Warnings = append(v.Warnings, "the places would be right "+c.words)
			break
		}
	}
	if shift := math.Hypot(v.Shift[0], v.Shift[1]); shift > v.Limits.CoPMM {
		left := math.Sqrt(max(0, v.RMSCoPMM*v.RMSCoPMM-shift*shift))
		if left <= v.Limits.CoPMM {
			v.Warnings = append(v.Warnings, fmt.Sprintf("all places are off alike, by [%.1f, %.1f] mm: check offset_mm and where the weights were put", v.Shift[0], v.Shift[1]))
		}
	}
}

// turnedRMS returns the root mean square distance of the measured points,
// multiplied by the signs of turn, from the true ones, mm.
func (v *Verification) turnedRMS(turn platform.Point) float64 {
	square, n := 0.0, 0.0
	for _, p := range v.Presses {
		if !math.IsNaN(p.OffMM) {
			a, b := turn[0]*p.MeasuredAt[0]-p.At[0], turn[1]*p.MeasuredAt[1]-p.At[1]
			square, n = square+a*a+b*b, n+1
		}
	}
	return math.Sqrt(square / n)
}
