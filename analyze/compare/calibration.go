package compare

import (
	"aplomb/analyze/measure"
	"aplomb/analyze/scale"
	"aplomb/device"
)

// addCalibrationWarnings adds the warnings about the calibration of the strips: those of
// the calibration itself, gains that were not measured, and a calibration that changed
// between recordings and whose effect would look like a difference between shoes.
func (c *Comparison) addCalibrationWarnings(results []*measure.Result) {
	sums := map[string]string{} // checksum of the calibration, by name of the strip
	for _, r := range results {
		for _, f := range device.Feet {
			side := r.Meta.Sides[f]
			if side == nil || r.Platforms.Of(f) == nil {
				continue
			}
			s := side.Strip
			for _, w := range measure.CalibrationWarnings(s.CalibrationDoubts(r.Meta.Started)) {
				c.add(w)
			}
			if !s.Calibration.Measured() {
				c.warn(measure.GainAssumed, measure.Values{Strip: s.Name, Percent: 100 * s.Calibration.GainSD})
			}
			sum := s.Calibration.Sum(s)
			if before, met := sums[s.Name]; met && before != sum {
				c.warn(measure.CalibrationChanged, measure.Values{Strip: s.Name})
			}
			sums[s.Name] = sum
		}
	}
}

// addScaleWarnings warns of strips whose scale changed, by their checks with known
// weights, during the days on which the results were recorded.
func (c *Comparison) addScaleWarnings(results []*measure.Result, checks []scale.Check) {
	for _, f := range device.Feet {
		for _, w := range scale.Compared(usesOf(results, f), checks) {
			c.add(w)
		}
	}
}

// scalesMoved reports, by foot, whether the scale of a strip changed during the days on
// which the results were recorded.
func scalesMoved(results []*measure.Result, checks []scale.Check) (moved [2]bool) {
	for _, f := range device.Feet {
		moved[f] = len(scale.Compared(usesOf(results, f), checks)) > 0
	}
	return moved
}

// usesOf returns the recordings of a foot with their strips.
func usesOf(results []*measure.Result, f device.Foot) (uses []scale.Use) {
	for _, r := range results {
		if side := r.Meta.Sides[f]; side != nil && r.Platforms.Of(f) != nil {
			uses = append(uses, scale.Use{Foot: f, Strip: side.Strip, Day: scale.DayOf(r.Meta.Started.Local())})
		}
	}
	return uses
}
