package words

import (
	"fmt"
	"slices"
	"strings"

	"aplomb/analyze/measure"
)

// Assumed returns one sentence with everything that was assumed and not measured, without
// a full stop; "" where there is nothing. It ignores warnings of other classes.
func Assumed(all []measure.Warning) string {
	var phrases []string
	of := map[string][]string{} // what each is assumed of
	for _, w := range measure.OfClass(all, measure.Assumed) {
		phrase, about := assumption(w)
		if !slices.Contains(phrases, phrase) {
			phrases = append(phrases, phrase)
		}
		if about != "" && !slices.Contains(of[phrase], about) {
			of[phrase] = append(of[phrase], about)
		}
	}
	if phrases == nil {
		return ""
	}
	for i, phrase := range phrases {
		if about := of[phrase]; about != nil {
			phrases[i] += " (" + strings.Join(about, ", ") + ")"
		}
	}
	return "Assumed, not measured: " + strings.Join(phrases, "; ")
}

// assumption returns what a warning states as assumed, and for which strip or foot.
func assumption(w measure.Warning) (phrase, about string) {
	v := w.Values
	about = v.Strip
	if about == "" {
		about = w.Foot
	}
	switch w.Code {
	case measure.OfReleves:
		phrase, _ = assumption(*v.Because)
		return phrase, strings.TrimSpace(v.Shoe + " " + w.Foot)
	case measure.ZeroCalibrated:
		phrase = "the zero is that of the calibration"
	case measure.ZeroUnknown:
		phrase = "the zero is 0 counts"
	case measure.CalibrationNoHash:
		phrase = "the calibration is as it was made"
	case measure.CalibrationNoDate:
		phrase = "the calibration, without a date, holds"
	case measure.CalibrationLater:
		phrase = "the calibration, made later, holds"
	case measure.CalibrationOld:
		phrase = "the calibration, out of date, holds"
	case measure.DancerAssumed:
		phrase = "a recording without a dancer is of " + v.Dancer
	case measure.SeatAssumed:
		phrase = fmt.Sprintf("mountings repeat to %.1f mm", v.MM)
	case measure.SeatFromHolds:
		phrase = "the seat is as the relevés alone show it"
	case measure.GainAssumed:
		phrase = fmt.Sprintf("cells differ by %s %%", Digits(v.Percent, 2))
	case measure.CheckOld:
		phrase = "the load is still right"
	default:
		phrase = Warning(w)
	}
	return phrase, about
}
