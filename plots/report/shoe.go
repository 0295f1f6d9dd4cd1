package report

import (
	"strings"

	"aplomb/device"
	"aplomb/plots"
)

// inShort says of a shoe what tells it from another at a glance.
func inShort(s device.Shoe, inches bool) string {
	platform := ""
	if len(s.OutlineMM) == 0 {
		platform = platformSize(s, inches)
	}
	return joined(platform, above(s, inches))
}

// above says what the shoe is like above its platform.
func above(s device.Shoe, inches bool) string {
	return joined(labelled("box", s.Box), dimension("crown", s.CrownMM, inches), labelled("shank", s.Shank))
}

// inFull says all that was entered of a shoe.
func inFull(s device.Shoe, inches bool) string {
	platform := say("outline points", len(s.OutlineMM))
	if len(s.OutlineMM) == 0 {
		platform = joined(platformSize(s, inches), say("lab exponent", s.OutlineExponent))
	}
	return joined(platform, above(s, inches), labelled("shank length", s.ShankLength),
		dimension("vamp", s.VampMM, inches), dimension("wings", s.WingsMM, inches),
		labelled("lab padding", s.Padding), say("lab hours", s.HoursWorn))
}

func platformSize(s device.Shoe, inches bool) string {
	return say("platform", length(s.PlatformMM[0], inches), withUnit(s.PlatformMM[1], inches))
}

// dimension says a dimension by the text of that key, and nothing of one that nobody measured.
func dimension(key string, mm float64, inches bool) string {
	if mm == 0 {
		return ""
	}
	return say(key, withUnit(mm, inches))
}

// mmPerInch is exact (the international yard and pound agreement of 1959, from memory).
const mmPerInch = 25.4

// length writes a dimension of a shoe to the nearest 0.1 mm or 0.01 inch.
func length(mm float64, inches bool) string {
	if inches {
		return plots.Number(mm/mmPerInch, 2)
	}
	return strings.TrimSuffix(plots.Number(mm, 1), ".0")
}

func withUnit(mm float64, inches bool) string {
	if inches {
		return say("inch", length(mm, inches))
	}
	return say("mm", length(mm, inches))
}
