package device

import (
	"fmt"
	"math"
)

// Doubt is an improbable value of a profile that was probably mistyped.
type Doubt struct {
	Text    string // one line: what it is, and a question
	Swapped bool   // the width and the depth, or the rows and the columns, may be swapped
}

// Bounds of probable values. They are our own choice, far from any platform that a foot
// fits in and from any strip that fits a platform.
const (
	leastPlatformMM, mostPlatformMM = 10, 100
	leastUpperMM, mostUpperMM       = 10, 200 // of vamp and wings
	leastCrownMM, mostCrownMM       = 10, 100
)

// bound is the largest value that a key of a profile can have, in either direction where
// either sign is possible.
type bound struct {
	key         string
	value, most float64
	unit        string
}

// checkBounds reports the first value beyond its bound as a FieldError. The bounds are our
// own choice, far above any value in use. They hold for values that are typed or read from
// a profile's file; Check accepts larger ones, because recordings may have been made with
// them.
func checkBounds(all ...bound) error {
	for _, b := range all {
		if math.Abs(b.value) > b.most {
			return invalid(b.key, "%.6g %s: at most %.6g", b.value, b.unit, b.most)
		}
	}
	return nil
}

// CheckTyped reports the first absurd value of a shoe that was typed or read from a file,
// as a FieldError. It is called after Check.
func (s *Shoe) CheckTyped() error {
	return checkBounds(
		bound{"hours_worn", s.HoursWorn, 1000, "h"},
		bound{"crown_mm", s.CrownMM, maxMM, "mm"},
	)
}

// CheckTyped reports the first absurd value of a profile that was typed or read from a
// file, as a FieldError. It is called after Check.
func (s *Strip) CheckTyped() error {
	m, c := &s.Mount, &s.Calibration
	var most float64 // the largest pressure calibrated
	for _, kPa := range c.RangeKPa {
		most = max(most, kPa)
	}
	return checkBounds(
		bound{"rotation_deg", m.RotationDeg, 360, "degrees"},
		bound{"seat_sd_mm", m.SeatSDMM, 50, "mm"},
		bound{"seat_mountings", float64(m.SeatMountings), 10_000, "mountings"},
		bound{"kpa_per_count", c.KPaPerCount, maxFullKPa / float64(s.SaturatesAt), "kPa"},
		bound{"range_kpa", most, maxFullKPa, "kPa"},
		bound{"curve_age_s", c.CurveAgeS, 86_400, "s"},
		bound{"valid_days", float64(c.ValidDays), 999_999, "days"},
	)
}

// CheckCrown returns an error for an impossible crown, the height of a shoe's profile,
// mm. It is for typed values: [Shoe.Check] accepts such a crown, because shoes may have
// been stored with one.
func CheckCrown(mm float64) error {
	if mm == 0 || probable(mm, leastCrownMM, mostCrownMM) {
		return nil
	}
	return fmt.Errorf("a crown of %.4g mm: a shoe has one from %d to %d mm%s", mm, leastCrownMM, mostCrownMM, inCM(leastCrownMM, mostCrownMM, mm))
}

// Doubts returns the improbable values of a shoe. Dimensions of 0 are not known yet.
func (s *Shoe) Doubts() (all []Doubt) {
	size := s.Size()
	width, depth := size[0], size[1]
	switch {
	case probable(width, leastPlatformMM, mostPlatformMM) && probable(depth, leastPlatformMM, mostPlatformMM):
	case width > 0 && depth > 0:
		all = append(all, Doubt{Text: fmt.Sprintf("a platform %.4g mm wide and %.4g mm deep: is the unit right%s?", width, depth, inCM(leastPlatformMM, mostPlatformMM, width, depth))})
	default:
		all = append(all, Doubt{Text: fmt.Sprintf("a platform of %.4g mm: is the unit right%s?", max(width, depth), inCM(leastPlatformMM, mostPlatformMM, max(width, depth)))})
	}
	switch {
	case width == 0 || depth <= width:
	case len(s.OutlineMM) > 0:
		all = append(all, Doubt{Text: fmt.Sprintf("a platform %.4g mm wide and %.4g mm deep: is the drawing turned? Its front is up", width, depth)})
	default:
		all = append(all, Doubt{Text: fmt.Sprintf("a platform %.4g mm wide and %.4g mm deep: are width and depth swapped? The width goes from the little toe to the big toe", width, depth), Swapped: true})
	}
	for _, c := range []struct {
		what string
		mm   float64
	}{{"vamp", s.VampMM}, {"wings", s.WingsMM}} {
		if !probable(c.mm, leastUpperMM, mostUpperMM) {
			all = append(all, Doubt{Text: fmt.Sprintf("%s of %.4g mm: is the unit right%s?", c.what, c.mm, inCM(leastUpperMM, mostUpperMM, c.mm))})
		}
	}
	if err := CheckCrown(s.CrownMM); err != nil {
		all = append(all, Doubt{Text: err.Error()})
	}
	return all
}

// Doubts returns the improbable values of the grid of a strip. A pitch, or a number of
// rows or columns, of 0 is not known yet.
func (s *Strip) Doubts() (all []Doubt) {
	width, depth := float64(s.Cols)*s.PitchMM[0], float64(s.Rows)*s.PitchMM[1]
	turned := s.Rows > s.Cols && s.Cols > 0
	switch {
	case turned && (width == 0 || depth == 0 || depth > width):
		all = append(all, Doubt{Text: fmt.Sprintf("%d rows and %d columns: are they swapped? Columns are counted from the little toe to the big toe, where a platform is longer", s.Rows, s.Cols), Swapped: true})
	case width > 0 && depth > width:
		all = append(all, Doubt{Text: fmt.Sprintf("cells on %.4g mm from little toe to big toe and %.4g mm from back to front: are the two pitches swapped?", width, depth)})
	}
	if !probable(width, leastPlatformMM, mostPlatformMM) || !probable(depth, leastPlatformMM, mostPlatformMM) {
		known := []float64{width, depth}
		size := fmt.Sprintf("%.4g × %.4g", width, depth)
		if depth == 0 {
			known, size = known[:1], fmt.Sprintf("%.4g", width)
		}
		all = append(all, Doubt{Text: fmt.Sprintf("cells on %s mm: is the unit of the pitch right%s?", size, inCM(leastPlatformMM, mostPlatformMM, known...))})
	}
	return all
}

// probable reports whether a length is not known yet or lies between two bounds, mm.
func probable(mm float64, least, most float64) bool { return mm == 0 || least <= mm && mm <= most }

// inCM returns the lengths in mm if they were typed in cm, as a text; "" where that would
// not bring all of them between the bounds.
func inCM(least, most float64, mm ...float64) string {
	text := ""
	for i, v := range mm {
		v = math.Round(1e4*v) / 1e3
		if !(least <= v && v <= most) {
			return ""
		}
		if i > 0 {
			text += " × "
		}
		text += fmt.Sprintf("%.4g", v)
	}
	return " (in cm it would be " + text + " mm)"
}
