package analyze

import (
	"aplomb/analyze/field"
	"aplomb/analyze/hold"
	"aplomb/analyze/measure"
	"aplomb/analyze/releve"
	"aplomb/analyze/seat"
	"aplomb/analyze/sway"
	"aplomb/analyze/verdict"
)

// Settings returns the constants of the analysis that a result lists. version is that of
// the program.
func Settings(version string) measure.Settings {
	return measure.Settings{
		Version:          version,
		LoadFloorN:       field.LoadFloorN,
		OnsetShare:       releve.OnsetShare,
		EndShare:         releve.EndShare,
		HoldWithin:       releve.HoldWithin,
		HoldAtLeastS:     releve.HoldAtLeastS,
		DipShorterThanS:  releve.DipShorterThanS,
		SwayLowPassHz:    sway.LowPassHz,
		SwayResampledHz:  sway.ResampledHz,
		SwayWindowS:      sway.WindowS,
		InsideFrom:       verdict.InsideFrom,
		OutsideUpTo:      verdict.OutsideUpTo,
		OffOutlineWarn:   hold.OffOutlineWarn,
		PlatformFlatWarn: hold.FlatShareWarn,
		ContactKPa:       seat.ContactKPa,
	}
}
