package report

import (
	"fmt"
	"strings"

	"aplomb/device"
	"aplomb/plots"
)

// calibration says in words how a strip's counts became kPa.
func calibration(c *device.Calibration) string {
	parts := []string{curve(c)}
	percent := func(v float64) string { return plots.Number(100*v, 1) + " %" }
	if len(c.RangeKPa) == 2 {
		parts[0] += fmt.Sprintf(", calibrated from %g to %g kPa", c.RangeKPa[0], c.RangeKPa[1])
	}
	switch {
	case !c.Measured():
		parts = append(parts, "gains of the cells taken to spread by "+percent(c.GainSD)+", our assumption")
	case len(c.Gains) > 0:
		parts = append(parts, "each cell by its own gain, of which "+percent(c.GainSD)+" of spread remains")
	default:
		parts = append(parts, "gains of the cells spread by "+percent(c.GainSD))
	}
	if c.Hysteresis != 0 {
		parts = append(parts, "hysteresis up to "+percent(c.Hysteresis))
	}
	if c.CreepPerDecade != 0 {
		parts = append(parts, "creep of "+percent(c.CreepPerDecade)+" for every tenfold of time")
	}
	words := "Calibration"
	if c.Measured() {
		words += " of " + c.Date.String()
	}
	return words + ": " + strings.Join(parts, "; ") + "."
}

func curve(c *device.Calibration) string {
	switch c.Curve {
	case "power":
		return fmt.Sprintf("kPa = %g · counts^%g", c.KPaAtOneCount, c.Exponent)
	case "points":
		return fmt.Sprintf("a monotone cubic through %d points", len(c.Counts))
	}
	return fmt.Sprintf("%g kPa a count", c.KPaPerCount)
}
