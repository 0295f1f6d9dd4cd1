package analyze

import (
	"aplomb/analyze/releve"
	"aplomb/analyze/sway"
	"aplomb/analyze/trace"
)

func settings(version string) Settings {
	return Settings{
		Version:          version,
		LoadFloorN:       trace.LoadFloorN,
		OnsetShare:       releve.OnsetShare,
		EndShare:         releve.EndShare,
		HoldWithin:       releve.HoldWithin,
		HoldAtLeastS:     releve.HoldAtLeastS,
		DipShorterThanS:  releve.DipShorterThanS,
		SwayLowPassHz:    sway.LowPassHz,
		SwayResampledHz:  sway.ResampledHz,
		InsideFrom:       insideFrom,
		OutsideUpTo:      outsideUpTo,
		OffOutlineWarn:   offOutlineWarn,
		PlatformFlatWarn: flatShareWarn,
	}
}
