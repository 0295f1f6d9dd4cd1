package calibrate

import (
	"fmt"
	"math"
	"strings"

	"aplomb/device"
)

// Unit is the unit of weights.
type Unit string

const (
	Newton   Unit = "N"
	Kilogram Unit = "kg"
	Gram     Unit = "g"
)

// Newtons returns the force of one unit, N; 0 for an unknown unit.
func (u Unit) Newtons() float64 {
	switch u {
	case Newton:
		return 1
	case Kilogram:
		return device.StandardGravity
	case Gram:
		return device.StandardGravity / 1000
	}
	return 0
}

// Plausible largest pressures, kPa. A dancer of 30 to 100 kg on a platform of 800 mm²
// has a mean pressure of 0.2 to 1.2 MPa, and up to a few MPa where only a part carries
// load. A pressure outside leastKPa to mostKPa is an error; another unit that gives one
// inside likelyLow to likelyHigh is suggested. Our own choice.
const (
	leastKPa, mostKPa     = 10, 10_000
	likelyLow, likelyHigh = 50, 4_000
)

// checkPressure returns an error for a largest pressure that does not occur under
// a shoe, with the unit of weight or area that was probably meant.
func checkPressure(weight float64, unit Unit, areaMM2 float64) error {
	kPa := weight * unit.Newtons() / areaMM2 * 1000
	if kPa >= leastKPa && kPa <= mostKPa {
		return nil
	}
	var likely []string
	for _, other := range []Unit{Newton, Kilogram, Gram} {
		p := weight * other.Newtons() / areaMM2 * 1000
		if other != unit && p >= likelyLow && p <= likelyHigh {
			likely = append(likely, fmt.Sprintf("%v %s (%.0f kPa)", weight, other, p))
		}
	}
	if p := kPa / 100; p >= likelyLow && p <= likelyHigh {
		likely = append(likely, fmt.Sprintf("an area of %v cm² (%.0f kPa)", areaMM2, p))
	}
	what := "check the weights and the area of the pad"
	if len(likely) > 0 {
		what = "did you mean " + strings.Join(likely, ", or ") + "?"
	}
	return fmt.Errorf("%v %s on %v mm² is %.3g kPa, not a pressure under a shoe: %s", weight, unit, areaMM2, kPa, what)
}

// unitMixupText returns a text where a curve differs from the previous one by the
// ratio of two units, "" otherwise. reading is where the two are compared.
func unitMixupText(now, before Curve, reading float64) string {
	if before.Kind == "" {
		return ""
	}
	ratio := now.At(reading) / before.At(reading)
	for _, c := range []struct {
		ratio float64
		words string
	}{
		{1 / device.StandardGravity, "were the weights in kg and taken for N"},
		{device.StandardGravity, "were the weights in N and taken for kg"},
		{1e-3, "were the weights in kg and taken for g"},
		{1e3, "were the weights in g and taken for kg"},
	} {
		if math.Abs(ratio/c.ratio-1) < 0.1 {
			return fmt.Sprintf("the new curve gives %.4g times the pressure of the one before: %s, or is it another strip?", ratio, c.words)
		}
	}
	return ""
}
