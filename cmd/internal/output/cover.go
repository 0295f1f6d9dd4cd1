package output

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"aplomb/analyze/plan"
	"aplomb/cmd/internal/text"
	"aplomb/device"
	"aplomb/plots/words"
)

// CoverEnough is the probability that a mounting covers a platform below which a
// strip counts as too small for it. It is our own choice.
const CoverEnough = 0.8

// TooSmall returns a warning for strips that are too small for a shoe: given the
// repeatability of their mountings, they would cover its platform in too few of them.
// Strips with equal results are combined in one warning.
func TooSmall(shoe *device.Shoe, strips ...*device.Strip) (warnings []string) {
	var said []string
	names := map[string][]string{}
	for _, s := range strips {
		margins := s.Margins(shoe.Outline())
		p := plan.CoverProbability(margins, s.Mount.SeatSDMM)
		if p >= CoverEnough {
			continue
		}
		one := reachOf(margins, shoe.Code) + "; " + mountingsCover(p, s.Mount) + ": load beyond the cells is not measured: take a larger strip"
		if p > 0 && s.Mount.SeatMountings == 0 {
			one += ", or see with aplomb strip seat how well mountings repeat"
		}
		if !slices.Contains(said, one) {
			said = append(said, one)
		}
		names[one] = append(names[one], s.Name)
	}
	for _, one := range said {
		kind := "strip "
		if len(names[one]) > 1 {
			kind = "strips "
		}
		warnings = append(warnings, kind+strings.Join(names[one], " and ")+": "+one)
	}
	return warnings
}

// sideNames are the sides of a strip, as device.Strip.Margins has them.
var sideNames = [2][2]string{{"little-toe side", "big-toe side"}, {"back", "front"}}

// reachOf returns in words how far the cells reach beyond the platform of a shoe on the
// narrowest side.
func reachOf(margins [2][2]float64, shoe string) string {
	least := min(margins[0][0], margins[0][1], margins[1][0], margins[1][1])
	var narrow []string
	for k, m := range margins {
		for end, mm := range m {
			if mm < least+0.05 { // the same in the decimals that are shown
				narrow = append(narrow, sideNames[k][end])
			}
		}
	}
	where := "on the narrowest side (" + narrow[0] + ")"
	switch {
	case len(narrow) == 4:
		where = "on every side"
	case len(narrow) > 1:
		where = "on the narrowest sides (" + strings.Join(narrow, " and ") + ")"
	}
	amount := words.Number(math.Abs(least), 1) + " mm"
	if least < 0 {
		return fmt.Sprintf("platform %s reaches %s beyond the cells %s", shoe, amount, where)
	}
	return fmt.Sprintf("the cells reach %s beyond platform %s %s", amount, shoe, where)
}

// mountingsCover returns in words in how many mountings a strip covers a platform, with
// the probability p in each.
func mountingsCover(p float64, m device.Mount) string {
	with := fmt.Sprintf("with mountings that repeat to %s mm ", text.Trimmed(m.SeatSDMM))
	if m.SeatMountings == 0 {
		with = fmt.Sprintf("with mountings taken to repeat to %s mm (not measured) ", text.Trimmed(m.SeatSDMM))
	}
	switch {
	case p == 0:
		return "no mounting would cover it"
	case p < 0.01:
		return with + "less than one mounting in a hundred would cover it"
	case p < 0.4:
		return with + "one mounting in " + numberWord(int(math.Round(1/p))) + " would cover it"
	}
	return with + numberWord(int(math.Round(10*p))) + " mountings in ten would cover it"
}

// numberWord writes a number from 0 to 10 as a word, others in digits.
func numberWord(n int) string {
	all := [...]string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"}
	if n < len(all) {
		return all[n]
	}
	return fmt.Sprint(n)
}
