package report

import (
	"strings"

	"aplomb/device"
	"aplomb/plots/words"
)

// calibrationText describes a strip's calibration: the curve from counts to kPa, the
// gains of the cells, hysteresis and creep.
func calibrationText(c *device.Calibration) string {
	parts := []string{calibrationCurve(c)}
	percent := func(v float64) string { return say("percent", words.Number(100*v, 1)) }
	if len(c.RangeKPa) == 2 {
		parts[0] = say("cal range", parts[0], words.Digits(c.RangeKPa[0], 4), words.Digits(c.RangeKPa[1], 4))
	}
	switch gainSD := percent(c.GainSD); {
	case !c.Measured():
		parts = append(parts, say("cal gains ours", gainSD))
	case len(c.Gains) > 0:
		parts = append(parts, say("cal gains own", gainSD))
	default:
		parts = append(parts, say("cal gains", gainSD))
	}
	if c.Hysteresis != 0 {
		parts = append(parts, say("cal hysteresis", percent(c.Hysteresis)))
	}
	if c.CreepPerDecade != 0 {
		parts = append(parts, say("cal creep", percent(c.CreepPerDecade)))
	}
	if c.Measured() {
		return say("cal of", c.Date, strings.Join(parts, "; "))
	}
	return say("cal", strings.Join(parts, "; "))
}

func calibrationCurve(c *device.Calibration) string {
	switch c.Curve {
	case "power":
		return say("cal power", words.Digits(c.KPaAtOneCount, 4), words.Digits(c.Exponent, 4))
	case "points":
		return say("cal points", len(c.Counts))
	}
	return say("cal linear", words.Digits(c.KPaPerCount, 4))
}
