package compare

import (
	"aplomb/analyze"
	"aplomb/device"
)

// calibrations gathers what the calibrations of the strips take from the
// comparison: their own warnings, gains that nobody measured, and a calibration
// that changed between recordings, whose difference would pass for the shoes'.
func (c *Comparison) calibrations(results []*analyze.Result) {
	sums := map[string]string{} // by name of the strip
	for _, r := range results {
		for _, f := range device.Feet {
			side := r.Meta.Sides[f]
			if side == nil || r.Platforms.Of(f) == nil {
				continue
			}
			s := side.Strip
			for _, w := range s.CalibrationWarnings(r.Meta.Started) {
				c.warn("%s", w)
			}
			if !s.Calibration.Measured() {
				c.warn("strip %s: that its cells differ by %.2g %% is our assumption, not measured", s.Name, 100*s.Calibration.GainSD)
			}
			sum := s.Calibration.Sum(s)
			if before, met := sums[s.Name]; met && before != sum {
				c.warn("strip %s: its calibration is not the same in all recordings: a difference in load or contact may be the strip's", s.Name)
			}
			sums[s.Name] = sum
		}
	}
}
