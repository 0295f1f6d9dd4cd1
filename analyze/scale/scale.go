// Package scale determines whether the scale of a strip, the load that it reads for a
// known one, may have changed between visits, from its calibrations and its checks with
// known weights. Its input are rows, without a database.
package scale

import (
	"math"
	"slices"
	"time"

	"aplomb/analyze/calibrate"
	"aplomb/analyze/stats"
	"aplomb/device"
)

// MaxAgeDays is the number of days after which a check is old: our own choice, half of
// the days for which a calibration that does not state it is valid.
const MaxAgeDays = device.DefaultValidDays / 2

// Check is a stored verification of a strip with known weights.
type Check struct {
	Strip    string
	Version  int       // version of the strip's profile in the logbook
	Day      time.Time // day of the check, at midnight UTC
	Pass     bool
	Presses  int     // number of presses, 1 or more
	Bias     float64 // mean relative error of the load
	RMSLoad  float64 // root mean square of the relative error of the load
	RMSCoPMM float64 // root mean square distance of the centre of pressure, mm; NaN where no press had one
	LoadU    float64 // relative standard uncertainty of the weights
	// Limits for every press: relative error of the load, and distance of the centre of
	// pressure in mm.
	LimitLoad, LimitCoPMM float64
}

// CheckOf returns a verification as a check of the day of t, in the location of t, with
// weights whose relative standard uncertainty is loadU. The version stays 0.
func CheckOf(strip string, v *calibrate.Verification, loadU float64, t time.Time) Check {
	return Check{
		Strip: strip, Day: DayOf(t), Pass: v.Pass, Presses: len(v.Presses), Bias: v.Bias, RMSLoad: v.RMSLoad, RMSCoPMM: v.RMSCoPMM,
		LoadU: loadU, LimitLoad: v.Limits.Load, LimitCoPMM: v.Limits.CoPMM,
	}
}

// DayOf returns the day of t in the location of t, at midnight UTC.
func DayOf(t time.Time) time.Time {
	y, m, d := t.Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}

// BiasU returns the components of the standard uncertainty of the bias of a check: the
// scatter of its presses and the weights.
//
// The scatter is the standard deviation of the presses' errors divided by √n, with n − 1
// degrees of freedom (JCGM 100:2008, 4.2.3). A single press, or presses with equal
// errors, have no scatter; their bias is then assumed to lie anywhere within the limit of
// the load (rectangular, limit ÷ √3; 4.3.7). The weights of different checks are treated
// as independent, because they are not known to be the same.
func BiasU(c Check) []stats.Component {
	n := float64(c.Presses)
	// Σ(eᵢ − ē)² = n·(RMS² − ē²)
	sd := math.Sqrt(max(0, c.RMSLoad*c.RMSLoad-c.Bias*c.Bias) * n / (n - 1))
	scatter := stats.Component{U: sd / math.Sqrt(n), DOF: n - 1}
	if !(n > 1) || sd < 1e-6 {
		scatter = stats.Component{U: c.LimitLoad / math.Sqrt(3), DOF: math.Inf(1)}
	}
	return []stats.Component{scatter, {U: c.LoadU * math.Abs(1+c.Bias), DOF: math.Inf(1)}}
}

// Change is a relative change of a scale: 0.03 where the same load reads 3 % more.
type Change struct {
	Value float64
	Parts []stats.Component // of its standard uncertainty, from both checks
}

// Between returns the change of a strip's scale from one check to a later one,
// (1 + later bias) ÷ (1 + earlier bias) − 1, with the uncertainties of both biases
// multiplied by their sensitivities (JCGM 100:2008, 5.1.2).
func Between(from, to Check) Change {
	ratio := (1 + to.Bias) / (1 + from.Bias)
	return Change{ratio - 1, slices.Concat(
		times(ratio/(1+from.Bias), BiasU(from)),
		times(1/(1+from.Bias), BiasU(to)),
	)}
}

// times multiplies components by the size of a sensitivity.
func times(sensitivity float64, parts []stats.Component) (all []stats.Component) {
	for _, p := range parts {
		all = append(all, stats.Component{U: p.U * math.Abs(sensitivity), DOF: p.DOF})
	}
	return all
}

// Interval95 returns the 95 % interval of the change, from Student's t with the
// effective degrees of freedom.
func (c Change) Interval95() stats.Interval { return interval95(c.Value, c.Parts) }

func interval95(value float64, parts []stats.Component) stats.Interval {
	return stats.Interval95(value, stats.Combined(parts...), stats.EffectiveDOF(parts...))
}

// Moved reports whether 0 is outside the 95 % interval of the change.
func (c Change) Moved() bool { return !c.Interval95().Contains(0) }

// ShareShift returns the error of the load share, left ÷ both, for a true share p when
// the left strip reads 1 + left and the right strip 1 + right times the load. With loads
// L and R and p = L ÷ (L + R) the share reads
//
//	(1+left)·L ÷ ((1+left)·L + (1+right)·R) = (1+left)·p ÷ (1 + p·left + (1−p)·right),
//
// which is p + p·(1−p)·(left − right) ÷ (1 + p·left + (1−p)·right). The last divisor is
// the common change of both strips, which affects the error only in second order; it is
// replaced by 1 here. The error is therefore p·(1−p) times the difference of the scales:
// at most a quarter of it, and 0 where both change alike.
func ShareShift(p, left, right float64) float64 { return p * (1 - p) * (left - right) }

// shareShiftInterval95 returns the 95 % interval of ShareShift of two changes. The
// weights under both strips are treated as independent, which widens it where they were
// the same.
func shareShiftInterval95(p float64, left, right Change) stats.Interval {
	return interval95(ShareShift(p, left.Value, right.Value), times(p*(1-p), slices.Concat(left.Parts, right.Parts)))
}

// CalibrationRatio returns the load according to the calibration of strip to, divided by
// that of strip from, for the readings under a uniform pressure. The pressure is half of
// the highest at which from was calibrated, or at which it saturates. It is 1 where only
// zeros, noise or dates differ, and NaN for different grids.
func CalibrationRatio(from, to *device.Strip) float64 {
	if from.Cells() != to.Cells() {
		return math.NaN()
	}
	before, after := from.Curve(), to.Curve()
	kPa := before.MaxKPa() / 2
	if math.IsInf(kPa, 0) {
		kPa = before.KPa(0, float64(from.SaturatesAt)) / 2
	}
	ratio := 0.0
	for k := range from.Cells() {
		ratio += after.KPa(k, before.Counts(k, kPa)) / kPa / float64(from.Cells())
	}
	return ratio
}
