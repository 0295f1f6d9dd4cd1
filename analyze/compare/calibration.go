package compare

import (
	"aplomb/analyze/measure"
	"aplomb/device"
)

// addCalibrationWarnings adds the warnings that concern the calibration of the
// strips: those of the calibration itself, gains that were not measured, and a
// calibration that changed between recordings, whose effect would look like a
// difference between shoes.
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
