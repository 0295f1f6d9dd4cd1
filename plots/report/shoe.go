package report

import (
	"aplomb/device"
	"aplomb/plots/words"
)

// shortDescription returns the size of a shoe's platform, its box, crown and shank.
func shortDescription(s device.Shoe, inches bool) string {
	platform := ""
	if len(s.OutlineMM) == 0 {
		platform = platformSize(s, inches)
	}
	return joined(platform, aboveThePlatform(s, inches))
}

// aboveThePlatform returns a shoe's box, crown and shank.
func aboveThePlatform(s device.Shoe, inches bool) string {
	return joined(labelled("box", s.Box), dimension("crown", s.CrownMM, inches), labelled("shank", s.Shank))
}

// fullDescription returns all known properties of a shoe.
func fullDescription(s device.Shoe, inches bool) string {
	platform := say("outline points", len(s.OutlineMM))
	if len(s.OutlineMM) == 0 {
		platform = joined(platformSize(s, inches), say("lab exponent", s.OutlineExponent))
	}
	return joined(platform, aboveThePlatform(s, inches), labelled("shank length", s.ShankLength),
		dimension("vamp", s.VampMM, inches), dimension("wings", s.WingsMM, inches),
		labelled("lab padding", s.Padding), say("lab hours", s.HoursWorn))
}

func platformSize(s device.Shoe, inches bool) string {
	return say("platform", length(s.PlatformMM[0], inches), lengthWithUnit(s.PlatformMM[1], inches))
}

// dimension returns the text of a key with a dimension. It is empty if the
// dimension is 0, which means not measured.
func dimension(key string, mm float64, inches bool) string {
	if mm == 0 {
		return ""
	}
	return say(key, lengthWithUnit(mm, inches))
}

// length writes a dimension of a shoe to the nearest 0.1 mm or 0.01 inch.
func length(mm float64, inches bool) string {
	if inches {
		in, _ := device.InUnit(mm, "inch")
		return words.Number(in, 2)
	}
	return words.Trimmed(mm, 1)
}

func lengthWithUnit(mm float64, inches bool) string {
	if inches {
		return say("inch", length(mm, inches))
	}
	return say("mm", length(mm, inches))
}
