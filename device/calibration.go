package device

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math"
	"time"
)

// Calibration describes how counts convert to kPa and how accurate that is. All but
// the curve is optional. Slices over cells are in the order of the strip's scan.
//
// The reading of a cell is its counts minus its counts without load; see [Curve] for
// the conversion of a reading to pressure.
type Calibration struct {
	Curve         string    `toml:"curve,omitempty"`           // linear, power or points; "" is linear
	KPaPerCount   float64   `toml:"kpa_per_count,omitzero"`    // linear: kPa = KPaPerCount · counts
	KPaAtOneCount float64   `toml:"kpa_at_one_count,omitzero"` // power: kPa = KPaAtOneCount · counts^Exponent
	Exponent      float64   `toml:"exponent,omitzero"`
	Counts        []float64 `toml:"counts,omitempty"` // points: the knots, both rising from 0
	KPa           []float64 `toml:"kpa,omitempty"`

	// Gains are the responses of the cells relative to their mean: a cell of gain
	// 1.05 reads 5 % more counts than the curve gives. Their mean is 1. Empty
	// stands for 1 in every cell.
	Gains  []float64 `toml:"gains,omitempty"`
	GainSD float64   `toml:"gain_sd"` // relative standard deviation of the gains that remains from cell to cell; default DefaultGainSD

	Hysteresis     float64   `toml:"hysteresis,omitzero"`       // largest difference between loading and unloading ÷ RangeKPa[1]; the curve is the mean of both
	CreepPerDecade float64   `toml:"creep_per_decade,omitzero"` // relative change of the reading under constant load per factor of ten in time
	UCreep         float64   `toml:"creep_sd,omitzero"`         // standard uncertainty of CreepPerDecade; 0 where it is not known
	CurveAgeS      float64   `toml:"curve_age_s,omitzero"`      // time from loading to the readings of the curve, s; 0 where it is not known
	RangeKPa       []float64 `toml:"range_kpa,omitempty"`       // lowest and highest pressure of the calibration
	NoiseCounts    []float64 `toml:"noise_counts,omitempty"`    // standard deviation of each cell without load
	ZeroCounts     []float64 `toml:"zero_counts,omitempty"`     // counts of each cell without load

	Date      Date   `toml:"date,omitempty"`
	MadeFor   string `toml:"made_for,omitempty"`  // name of the strip it was made for
	ValidDays int    `toml:"valid_days,omitzero"` // 0 stands for DefaultValidDays
	Hash      string `toml:"hash,omitempty"`      // the Sum of the calibration when it was made
}

// DefaultGainSD is the relative standard deviation of the gains for a profile that does
// not state it. It is our own assumption, which every result that depends on it mentions.
const DefaultGainSD = 0.03

// DefaultValidDays is the number of days for which a calibration is valid unless it
// states another one. It is our own choice.
const DefaultValidDays = 180

// meanGain is the largest deviation of the mean of the gains from 1. They are rounded in
// the profile; a mean that differs from 1 changes every load by the same factor.
const meanGain = 0.005

// check reports the first impossible thing about the calibration of s.
func (c *Calibration) check(s *Strip) error {
	if err := c.checkCurve(); err != nil {
		return err
	}
	for _, l := range []struct {
		key    string
		v      []float64
		lo, hi float64
	}{
		{"gains", c.Gains, 0.1, 10},
		{"noise_counts", c.NoiseCounts, 0, float64(s.SaturatesAt)},
		{"zero_counts", c.ZeroCounts, 0, float64(s.SaturatesAt)},
	} {
		if len(l.v) != 0 && len(l.v) != s.Cells() {
			return invalid(l.key, "%d numbers: one for each of the %d cells, in the order of the scan", len(l.v), s.Cells())
		}
		for k, v := range l.v {
			if !(v >= l.lo && v <= l.hi) {
				return invalid(l.key, "%v for cell %d of the scan: %v to %v", v, k+1, l.lo, l.hi)
			}
		}
	}
	if n := float64(len(c.Gains)); n > 0 {
		sum := 0.0
		for _, g := range c.Gains {
			sum += g
		}
		if math.Abs(sum/n-1) > meanGain {
			return invalid("gains", "their mean is %.4f: divide each by it, so that it is 1", sum/n)
		}
	}
	switch r := c.RangeKPa; {
	case !finite(c.GainSD) || c.GainSD < 0 || c.GainSD >= 1:
		return invalid("gain_sd", "%v: a fraction, 0 to below 1", c.GainSD)
	case !(c.Hysteresis >= 0 && c.Hysteresis < 1):
		return invalid("hysteresis", "%v: a fraction, 0 to below 1", c.Hysteresis)
	case !(math.Abs(c.CreepPerDecade) < 1):
		return invalid("creep_per_decade", "%v: a fraction, below 1 either way", c.CreepPerDecade)
	case !(c.UCreep >= 0 && c.UCreep < 1):
		return invalid("creep_sd", "%v: a fraction, 0 to below 1", c.UCreep)
	case !finite(c.CurveAgeS) || c.CurveAgeS != 0 && c.CurveAgeS < minAgeS:
		return invalid("curve_age_s", "%v: %g s or more", c.CurveAgeS, minAgeS)
	case len(r) != 0 && (len(r) != 2 || !finite(r...) || r[0] < 0 || r[0] >= r[1]):
		return invalid("range_kpa", "%v: the least and the largest pressure calibrated, kPa", r)
	case c.MadeFor != "" && !isCode(c.MadeFor):
		return invalid("made_for", "a name has at most %d printable characters", maxCode)
	case c.ValidDays < 0:
		return invalid("valid_days", "%d days: 0 or more", c.ValidDays)
	}
	if full := c.function()(float64(s.SaturatesAt)); c.nonlinear() && !(full >= minFullKPa && full <= maxFullKPa) {
		return invalid("curve", "%.3g kPa at %d counts: no strip of such a range; is it another unit?", full, s.SaturatesAt)
	}
	return nil
}

// minAgeS is the smallest plausible time from loading to the readings of a curve, s.
const minAgeS = 0.1

// minFullKPa and maxFullKPa bound the pressure of a curve where the strip saturates,
// kPa. A sensor of less would respond to a breath, and more would crush any sensor.
const (
	minFullKPa = 1e-3
	maxFullKPa = 1e6
)

// maxKnots bounds the number of points of a curve, far above any practicable number of
// loads.
const maxKnots = 1000

// checkCurve reports the first impossible thing about the curve.
func (c *Calibration) checkCurve() error {
	var unasked string // a key of another curve
	for _, p := range []struct {
		curve, key string
		given      bool
	}{
		{"linear", "kpa_per_count", c.KPaPerCount != 0},
		{"power", "kpa_at_one_count", c.KPaAtOneCount != 0},
		{"power", "exponent", c.Exponent != 0},
		{"points", "counts", len(c.Counts) > 0},
		{"points", "kpa", len(c.KPa) > 0},
	} {
		if p.given && p.curve != c.curve() && unasked == "" {
			unasked = p.key
		}
	}
	switch {
	case !oneOf(c.curve(), "linear", "power", "points"):
		return invalid("curve", "%q: linear, power or points", c.Curve)
	case unasked != "":
		return invalid(unasked, "not a key of a curve that is %s: take it out, or write another curve", c.curve())
	case c.curve() == "linear" && !(finite(c.KPaPerCount) && c.KPaPerCount > 0):
		return invalid("kpa_per_count", "%v kPa: must be above 0", c.KPaPerCount)
	case c.curve() == "power" && !(finite(c.KPaAtOneCount) && c.KPaAtOneCount > 0):
		return invalid("kpa_at_one_count", "%v kPa: must be above 0", c.KPaAtOneCount)
	case c.curve() == "power" && !(c.Exponent >= 0.2 && c.Exponent <= 5):
		return invalid("exponent", "%v: 0.2 to 5", c.Exponent)
	case c.curve() != "points":
		return nil
	case len(c.Counts) < 2 || len(c.Counts) > maxKnots:
		return invalid("counts", "%d knots: 2 to %d", len(c.Counts), maxKnots)
	case len(c.KPa) != len(c.Counts):
		return invalid("kpa", "%d pressures for %d counts: one for each", len(c.KPa), len(c.Counts))
	case c.Counts[0] != 0 || c.KPa[0] != 0:
		return invalid("counts", "the first knot is [%v counts, %v kPa]: it must be [0, 0], an unloaded cell", c.Counts[0], c.KPa[0])
	}
	for i := 1; i < len(c.Counts); i++ {
		switch {
		case !(finite(c.Counts[i]) && c.Counts[i]-c.Counts[i-1] >= 1e-3):
			return invalid("counts", "%v after %v: knots must rise", c.Counts[i], c.Counts[i-1])
		case !(finite(c.KPa[i]) && c.KPa[i]-c.KPa[i-1] >= 1e-6):
			return invalid("kpa", "%v after %v: pressures must rise with the counts", c.KPa[i], c.KPa[i-1])
		}
	}
	return nil
}

// curve returns the kind of the curve: linear, power or points.
func (c *Calibration) curve() string {
	if c.Curve == "" {
		return "linear"
	}
	return c.Curve
}

// nonlinear reports whether the curve is no straight line.
func (c *Calibration) nonlinear() bool { return c.curve() != "linear" }

// Measured reports whether the calibration was measured, which it was where it has a
// date. Otherwise GainSD is an assumption.
func (c *Calibration) Measured() bool { return c.Date != Date{} }

// onlyScale reports whether the calibration states no more than kpa_per_count, gain_sd
// and the counts without load.
func (c *Calibration) onlyScale() bool {
	return !c.nonlinear() && len(c.Gains)+len(c.RangeKPa) == 0 &&
		c.Hysteresis == 0 && c.CreepPerDecade == 0 && c.UCreep == 0 && c.CurveAgeS == 0 && !c.Measured() && c.MadeFor == "" && c.Hash == ""
}

// Sum returns a checksum of the calibration together with the strip: the first 16
// hex digits of the SHA-256 over all fields but Hash, and over the name, the cells
// and the converter of the strip, but not its mount. It detects accidental changes
// and is no signature.
func (c *Calibration) Sum(s *Strip) string {
	// The values are hashed by position, so that fields can be renamed.
	content := []any{
		"calibration 1", s.Name, s.Rows, s.Cols, s.PitchMM, s.CellMM, s.ADCBits, s.SaturatesAt,
		c.curve(), c.KPaPerCount, c.KPaAtOneCount, c.Exponent, nonNil(c.Counts), nonNil(c.KPa), nonNil(c.Gains), c.GainSD,
		c.Hysteresis, c.CreepPerDecade, nonNil(c.RangeKPa), nonNil(c.NoiseCounts), nonNil(c.ZeroCounts),
		c.Date.String(), c.MadeFor, c.ValidDays,
	}
	if c.UCreep != 0 || c.CurveAgeS != 0 { // a calibration without these newer fields keeps its sum
		content = append(content, c.UCreep, c.CurveAgeS)
	}
	written, err := json.Marshal(content)
	if err != nil {
		panic(err) // a number that Check refuses
	}
	sum := sha256.Sum256(written)
	return hex.EncodeToString(sum[:8])
}

// Intact returns an error for a calibration that was made for another strip than s,
// or changed since it was made. A calibration without MadeFor and Hash passes.
func (c *Calibration) Intact(s *Strip) error {
	switch {
	case c.MadeFor != "" && c.MadeFor != s.Name:
		return fmt.Errorf("the calibration of strip %s was made for strip %s", s.Name, c.MadeFor)
	case c.Hash != "" && c.Hash != c.Sum(s):
		return fmt.Errorf("the calibration of strip %s is not as it was made, or was made for another strip", s.Name)
	}
	return nil
}

// SetHash sets MadeFor and Hash for the calibration as it is now, for strip s.
func (c *Calibration) SetHash(s *Strip) {
	c.MadeFor = s.Name
	c.Hash = c.Sum(s)
}

// nonNil returns a copy of v that is never nil, so that an empty and a missing list
// have the same sum.
func nonNil(v []float64) []float64 { return append([]float64{}, v...) }

// validDays returns the number of days for which the calibration is valid.
func (c *Calibration) validDays() int {
	if c.ValidDays == 0 {
		return DefaultValidDays
	}
	return c.ValidDays
}

// ValidUntil returns the last day on which the calibration is valid, the zero Date
// where it has no date.
func (c *Calibration) ValidUntil() Date {
	if !c.Measured() {
		return Date{}
	}
	return DateOf(c.Date.time().AddDate(0, 0, c.validDays()))
}

// CalibrationFault is a fault of a strip's calibration.
type CalibrationFault string

const (
	MadeForOther  CalibrationFault = "other"   // it was made for another strip
	NoHash        CalibrationFault = "no_hash" // changes since it was made cannot be detected
	NotAsMade     CalibrationFault = "edited"  // it was changed, or made for another strip
	NoDate        CalibrationFault = "no_date" // its age is not known
	LaterThanUsed CalibrationFault = "later"   // it was made after the recording
	OutOfDate     CalibrationFault = "old"     // it was too old for the recording
)

// CalibrationDoubt is a doubt about a strip's calibration that a reader of its
// measurements needs to know.
type CalibrationDoubt struct {
	Fault     CalibrationFault
	Strip     string
	MadeFor   string // the strip that it was made for, where Fault is MadeForOther
	Date      Date   // when it was made, where Fault is LaterThanUsed or OutOfDate
	ValidDays int    // number of days for which it is valid, where Fault is OutOfDate
}

// CalibrationDoubts lists the faults of the calibration of s for a recording made at a
// time, zero where unknown: the calibration is out of date, another strip's, or changed
// since it was made. A profile with only kpa_per_count and gain_sd claims no calibration
// and causes no doubt.
func (s *Strip) CalibrationDoubts(at time.Time) (doubts []CalibrationDoubt) {
	c := &s.Calibration
	if c.onlyScale() {
		return nil
	}
	doubt := func(d CalibrationDoubt) {
		d.Strip = s.Name
		doubts = append(doubts, d)
	}
	switch {
	case c.MadeFor != "" && c.MadeFor != s.Name:
		doubt(CalibrationDoubt{Fault: MadeForOther, MadeFor: c.MadeFor})
	case c.Hash == "":
		doubt(CalibrationDoubt{Fault: NoHash})
	case c.Hash != c.Sum(s):
		doubt(CalibrationDoubt{Fault: NotAsMade})
	}
	days := c.validDays()
	switch made := c.Date.time(); {
	case !c.Measured():
		doubt(CalibrationDoubt{Fault: NoDate})
	case at.IsZero():
	case at.Before(made.AddDate(0, 0, -1)): // one day earlier is allowed for another time zone
		doubt(CalibrationDoubt{Fault: LaterThanUsed, Date: c.Date})
	case at.After(made.AddDate(0, 0, days+1)):
		doubt(CalibrationDoubt{Fault: OutOfDate, Date: c.Date, ValidDays: days})
	}
	return doubts
}
