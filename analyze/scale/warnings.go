package scale

import (
	"cmp"
	"math"
	"slices"
	"time"

	"aplomb/analyze/measure"
	"aplomb/device"
)

// Use is a recording of one foot, with its strip.
type Use struct {
	Foot  device.Foot
	Strip *device.Strip // with the calibration used for the recording
	Day   time.Time     // of the recording, at midnight UTC
}

// Affects reports whether a measure depends on the scale of a strip. Coordinates of the
// load, such as over, do not: a common factor of all pressures cancels in them.
func Affects(m measure.Measure) bool {
	switch m {
	case measure.Load, measure.LoadShare, measure.ContactShare, measure.PeakPressure, measure.PressureTime:
		return true
	}
	return false
}

// Read reports whether a measure is proportional to the scale of a strip, so that it
// differs between strips as much as their scales do.
func Read(m measure.Measure) bool { return m == measure.Load || m == measure.LoadShare }

// Judged reports whether a difference in a measure can be judged between recordings of
// strips with these contents (sensor.Content), one list for each recording or group of
// them. The agreement between the scales of two strips, or of two calibrations, is not
// known. Declared measures that are not proportional to the scale hardly depend on it.
func Judged(m measure.Measure, contents ...[]string) bool {
	if !Read(m) {
		return true
	}
	for _, c := range contents {
		if len(c) != 1 || c[0] != contents[0][0] {
			return false
		}
	}
	return true
}

// Followed returns the warnings about the strips of recordings over visits, given in any
// order: the last check is old or did not pass, the scale changed between two checks, or
// the calibration changed. A strip that was never checked causes no warning about checks.
// The last check of a day replaces earlier ones on that day.
func Followed(uses []Use, checks []Check) (all []measure.Warning) {
	for _, s := range strips(uses, checks) {
		all = append(all, s.lastCheck()...)
		all = append(all, s.moves()...)
		all = append(all, s.calibrations()...)
	}
	return all
}

// Compared returns the warnings about strips whose scale changed between two checks
// during the days of recordings that are compared.
func Compared(uses []Use, checks []Check) (all []measure.Warning) {
	for _, s := range strips(uses, checks) {
		all = append(all, s.moves()...)
	}
	return all
}

// Share returns the warning about the effect of changed scales on the load share, left ÷
// both, with the value p. There is none unless a strip changed between checks, and none
// for a foot with several strips. A strip without two checks is assumed to be unchanged,
// which the warning states.
func Share(uses []Use, checks []Check, p float64) []measure.Warning {
	var feet [2]*history
	for _, s := range strips(uses, checks) {
		f := s.uses[0].Foot
		if feet[f] != nil {
			return nil
		}
		feet[f] = s
	}
	if feet[device.Left] == nil || feet[device.Right] == nil || len(feet[device.Left].moves())+len(feet[device.Right].moves()) == 0 {
		return nil
	}
	checked := 0
	for _, s := range feet {
		if len(s.around()) > 1 {
			checked++
		}
	}
	left, right := feet[device.Left].overall(), feet[device.Right].overall()
	ci := shareShiftInterval95(p, left, right)
	return []measure.Warning{measure.Warn(measure.ShareShifted, measure.Values{
		Strip: feet[device.Left].name(), OtherStrip: feet[device.Right].name(), N: checked, Measure: measure.LoadShare,
		Difference: ShareShift(p, left.Value, right.Value), Interval: &[2]float64{ci.Lo, ci.Hi},
	})}
}

// history is the recordings of one strip on one foot, and its checks, both by time.
type history struct {
	uses   []Use
	checks []Check
}

// strips returns the history of every strip, by foot and name.
func strips(uses []Use, checks []Check) (all []*history) {
	uses = slices.Clone(uses)
	slices.SortStableFunc(uses, func(a, b Use) int {
		return cmp.Or(cmp.Compare(a.Foot, b.Foot), cmp.Compare(a.Strip.Name, b.Strip.Name), a.Day.Compare(b.Day))
	})
	for _, u := range uses {
		if n := len(all); n == 0 || all[n-1].name() != u.Strip.Name || all[n-1].uses[0].Foot != u.Foot {
			all = append(all, &history{})
		}
		s := all[len(all)-1]
		s.uses = append(s.uses, u)
	}
	for _, s := range all {
		for _, c := range checks {
			if c.Strip == s.name() {
				s.checks = append(s.checks, c)
			}
		}
		slices.SortStableFunc(s.checks, func(a, b Check) int { return a.Day.Compare(b.Day) })
		for i := len(s.checks) - 1; i > 0; i-- {
			if s.checks[i].Day.Equal(s.checks[i-1].Day) {
				s.checks = slices.Delete(s.checks, i-1, i)
			}
		}
	}
	return all
}

func (s *history) name() string { return s.uses[0].Strip.Name }

// first and last return the days of the first and of the last recording.
func (s *history) first() time.Time { return s.uses[0].Day }
func (s *history) last() time.Time  { return s.uses[len(s.uses)-1].Day }

// lastCheck returns the warnings about the last check: it did not pass, or is old on
// the day of the last recording while no calibration is newer.
func (s *history) lastCheck() (all []measure.Warning) {
	if len(s.checks) == 0 {
		return nil
	}
	c := s.checks[len(s.checks)-1]
	if !c.Pass {
		all = append(all, measure.Warn(measure.CheckFailed, measure.Values{Strip: s.name(), Date: date(c.Day), Percent: 100 * c.Bias}))
	}
	days := daysBetween(c.Day, s.last())
	calibrated := s.uses[len(s.uses)-1].Strip.Calibration.Date
	made := time.Date(calibrated.Year, calibrated.Month, calibrated.Day, 0, 0, 0, 0, time.UTC)
	if days > MaxAgeDays && (calibrated == device.Date{} || daysBetween(made, s.last()) > MaxAgeDays) {
		all = append(all, measure.Warn(measure.CheckOld, measure.Values{Strip: s.name(), Date: date(c.Day), Days: days}))
	}
	return all
}

// around returns the checks that are relevant for the days of the recordings: those on
// these days, the last before the first of them and the first after the last.
func (s *history) around() []Check {
	from, to := 0, len(s.checks)
	for i, c := range s.checks {
		if !c.Day.After(s.first()) {
			from = i
		}
		if !c.Day.Before(s.last()) {
			to = i + 1
			break
		}
	}
	return s.checks[from:to]
}

// moves returns a warning for every check whose difference from the one before exceeds
// the uncertainty of both. Where all recordings are on one day there are no warnings.
func (s *history) moves() (all []measure.Warning) {
	if s.first().Equal(s.last()) {
		return nil
	}
	checks := s.around()
	for i := 1; i < len(checks); i++ {
		change := Between(checks[i-1], checks[i])
		if ci := change.Interval95(); change.Moved() {
			all = append(all, measure.Warn(measure.CheckMoved, measure.Values{
				Strip: s.name(), Since: date(checks[i-1].Day), Date: date(checks[i].Day),
				Percent: 100 * change.Value, Interval: &[2]float64{100 * ci.Lo, 100 * ci.Hi},
			}))
		}
	}
	return all
}

// overall returns the change from the first to the last check around the recordings, 0
// without two checks.
func (s *history) overall() Change {
	checks := s.around()
	if len(checks) < 2 {
		return Change{}
	}
	return Between(checks[0], checks[len(checks)-1])
}

// calibrations returns a warning about the largest change of load, for the same readings,
// between the calibration of a recording and that of the first one.
func (s *history) calibrations() []measure.Warning {
	first := s.uses[0].Strip
	largest, seen := 0.0, map[string]bool{first.Calibration.Sum(first): true}
	for _, u := range s.uses {
		sum := u.Strip.Calibration.Sum(u.Strip)
		if seen[sum] {
			continue
		}
		seen[sum] = true
		// Strips with the same name and different grids are different strips; another
		// warning reports that.
		if change := 100 * (CalibrationRatio(first, u.Strip) - 1); math.Abs(change) > math.Abs(largest) {
			largest = change
		}
	}
	if math.Abs(largest) < leastPercent {
		return nil
	}
	return []measure.Warning{measure.Warn(measure.CalibrationChanged, measure.Values{Strip: s.name(), Percent: largest})}
}

// leastPercent is the smallest change of a calibration that is reported: numbers in a
// profile are rounded.
const leastPercent = 0.05

func date(day time.Time) string { return day.Format(time.DateOnly) }

// daysBetween returns the number of days from one day to another.
func daysBetween(from, to time.Time) int { return int(math.Round(to.Sub(from).Hours() / 24)) }
