package report

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/device"
)

func TestCalibrationInWords(t *testing.T) {
	date := device.Date{Year: 2026, Month: 3, Day: 14}
	for want, c := range map[string]device.Calibration{
		"Calibration: 0.75 kPa a count; gains of the cells taken to spread by 3.0 %, our assumption.":   {KPaPerCount: 0.75, GainSD: 0.03},
		"Calibration of 2026-03-14: kPa = 0.02 · counts^1.4; gains of the cells spread by 2.0 %.":       {Curve: "power", KPaAtOneCount: 0.02, Exponent: 1.4, GainSD: 0.02, Date: date},
		"Calibration of 2026-03-14: kPa = 0.00002346 · counts^1.4; gains of the cells spread by 2.0 %.": {Curve: "power", KPaAtOneCount: 2.3456e-5, Exponent: 1.4, GainSD: 0.02, Date: date},
		"Calibration of 2026-03-14: a monotone cubic through 3 points, calibrated from 50 to 2500 kPa; each cell by its own gain, of which 1.2 % of spread remains; " +
			"hysteresis up to 4.0 %; creep of −1.5 % for every tenfold of time.": {
			Curve: "points", Counts: []float64{0, 1, 2}, KPa: []float64{0, 1, 2}, RangeKPa: []float64{50, 2500}, Gains: []float64{1},
			GainSD: 0.012, Hysteresis: 0.04, CreepPerDecade: -0.015, Date: date,
		},
	} {
		assert.Equal(t, want, calibrationText(&c))
	}
}
