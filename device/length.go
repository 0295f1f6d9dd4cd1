package device

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Units lists the units in which lengths may be typed.
var Units = [...]string{"mm", "inch"}

// mmPerInch is exact: the international inch (NIST SP 811 (2008), appendix B.8).
const mmPerInch = 25.4

// ParseLength reads a length as it is read off a ruler and returns it in mm: 36,
// 36.5 or 36,5, and in inches also 7/16 and 1 7/16. unit is one of Units; a unit
// written behind the length (mm, cm, in, inch or ") takes precedence.
func ParseLength(text, unit string) (mm float64, err error) {
	number, scale := splitUnit(text)
	if scale == 0 {
		if scale = scaleOf(unit); scale == 0 {
			return 0, fmt.Errorf("unit %.20q: mm or inch", unit)
		}
	}
	n, err := mixedNumber(number)
	if err != nil {
		return 0, fmt.Errorf("%.40q is no length: write it as 36, 36.5 or, in inches, 1 7/16", text)
	}
	return math.Round(n*scale*1e6) / 1e6, nil // so that 1 7/16 in is 36.5125 mm, and is written like that
}

// ParseSize reads width and depth, such as 36x22, 36 × 22 mm or 1 7/16 x 7/8, and
// returns them in mm. A unit behind the depth holds for both.
func ParseSize(text, unit string) (mm [2]float64, err error) {
	width, depth, found := strings.Cut(strings.ReplaceAll(text, "×", "x"), "x")
	if !found {
		return mm, fmt.Errorf("%.40q is no width and depth: write them as 36x22", text)
	}
	if _, own := splitUnit(width); own == 0 {
		number, _ := splitUnit(depth)
		width += strings.TrimPrefix(strings.TrimSpace(depth), number)
	}
	for i, side := range []string{width, depth} {
		if mm[i], err = ParseLength(side, unit); err != nil {
			return mm, err
		}
	}
	return mm, nil
}

// InUnit converts a length to one of Units, and to mm for any other text. short is
// the abbreviation of the unit.
func InUnit(mm float64, unit string) (length float64, short string) {
	if unit == "inch" {
		return mm / mmPerInch, "in"
	}
	return mm, "mm"
}

// splitUnit cuts the unit off a length. scale is the unit in mm, 0 where there is none.
func splitUnit(text string) (number string, scale float64) {
	text = strings.TrimSpace(text)
	for _, unit := range []string{"mm", "cm", "inch", "in", `"`} {
		if number, found := strings.CutSuffix(text, unit); found {
			return strings.TrimSpace(number), scaleOf(unit)
		}
	}
	return text, 0
}

// scaleOf returns the length of a unit in mm, 0 for any other text.
func scaleOf(unit string) float64 {
	switch unit {
	case "mm":
		return 1
	case "cm":
		return 10
	case "inch", "in", `"`:
		return mmPerInch
	}
	return 0
}

// mixedNumber reads a decimal number, a fraction, or a whole number and a fraction.
func mixedNumber(text string) (float64, error) {
	words := strings.Fields(text)
	switch len(words) {
	case 1:
		if top, bottom, found := strings.Cut(words[0], "/"); found {
			return fraction(top, bottom)
		}
		return decimal(strings.Replace(words[0], ",", ".", 1))
	case 2:
		whole, err := strconv.ParseUint(words[0], 10, 16)
		if err != nil {
			return 0, err
		}
		top, bottom, found := strings.Cut(words[1], "/")
		if !found {
			return 0, strconv.ErrSyntax
		}
		part, err := fraction(top, bottom)
		return float64(whole) + part, err
	}
	return 0, strconv.ErrSyntax
}

func fraction(top, bottom string) (float64, error) {
	a, err := strconv.ParseUint(top, 10, 16)
	if err != nil {
		return 0, err
	}
	b, err := strconv.ParseUint(bottom, 10, 16)
	if err != nil || b == 0 {
		return 0, strconv.ErrSyntax
	}
	return float64(a) / float64(b), nil
}

// decimal reads digits with at most one point; unlike strconv.ParseFloat it accepts
// no exponent, no sign and no name.
func decimal(text string) (float64, error) {
	if strings.Trim(text, "0123456789.") != "" || len(text) > 20 {
		return 0, strconv.ErrSyntax
	}
	return strconv.ParseFloat(text, 64)
}
