package check

import (
	"math"
	"slices"

	"aplomb/analyze/measure"
	"aplomb/analyze/seat"
	"aplomb/analyze/stats"
	"aplomb/device"
)

// The largest numbers of holds and of maps of pad presses from which the seat of a
// strip is found. More are thinned out evenly: they would take longer and tell no
// more.
const (
	maxSeatHolds   = 20
	maxSeatPresses = 30
)

// SeatReport says where the strip lies by the maps of pad presses and holds, relative
// to where its profile places it.
type SeatReport struct {
	// Medial and Over are the strip's offset less that of its profile, mm, and
	// Rotation its rotation less that of the profile, degrees.
	Medial   Estimate `json:"medial_mm"`
	Over     Estimate `json:"over_mm"`
	Rotation Estimate `json:"rotation_deg"`
	Evidence string   `json:"evidence"` // press or holds
	Holds    int      `json:"holds"`    // from so many holds
	Presses  int      `json:"presses"`  // and so many maps of pad presses
	// BeyondProfile says that the maps contradict the seat_sd_mm of the profile.
	BeyondProfile bool `json:"beyond_profile,omitempty"`
}

// Estimate is a value with its standard uncertainty and 95 % interval.
type Estimate struct {
	Value float64    `json:"value"`
	U     float64    `json:"u"`
	CI95  [2]float64 `json:"ci95"`
}

// seatOf finds the seat of the strip of one foot from its pad presses and from its
// measured relevés without saturated cells, nil where they do not show it. warnings
// are those of the recording, which name the cells that do not measure. Where there
// are presses and they were refused, refused says why.
func seatOf(side *device.Side, presses []measure.Press, measured []measure.Releve, warnings []measure.Warning) (report *SeatReport, refused seat.Reason) {
	measured = slices.DeleteFunc(slices.Clone(measured), func(r measure.Releve) bool {
		return slices.ContainsFunc(r.Warnings, func(w measure.Warning) bool { return w.Code == measure.SaturatedCells })
	})
	in := seat.Input{
		Strip: side.Strip, Outline: side.Shoe.Outline(), GainSD: side.Strip.Calibration.GainSD,
		Lost: lostCells(side.Strip, warnings),
	}
	for _, p := range presses {
		for _, kPa := range p.Maps {
			in.Maps = append(in.Maps, seat.Map{Kind: seat.Press, KPa: kPa, NoiseKPa: p.MapNoiseKPa})
		}
	}
	in.Maps = thinned(in.Maps, maxSeatPresses)
	pressed := len(in.Maps)
	holds := thinned(measured, maxSeatHolds)
	for _, one := range holds {
		in.Maps = append(in.Maps, seat.Map{Kind: seat.Hold, KPa: one.Hold.Map, NoiseKPa: one.Hold.MapNoiseKPa})
	}
	found := seat.Find(in)
	used := 0
	if found.UsedHolds {
		used = len(holds)
	}
	if found.Evidence != seat.FromPress {
		pressed = 0
		if len(presses) > 0 {
			refused = seat.FewMaps
		}
		for _, r := range found.Refused {
			if r.Evidence == seat.FromPress {
				refused = r.Reason
			}
		}
	}
	if found.Evidence == seat.Assumed {
		return nil, refused
	}
	mount := side.Strip.Mount
	estimate := func(value, variance float64) Estimate {
		u := math.Sqrt(variance)
		ci := stats.Interval95(value, u, math.Inf(1))
		return Estimate{value, u, [2]float64{ci.Lo, ci.Hi}}
	}
	return &SeatReport{
		Medial:        estimate(found.Offset[0]-mount.OffsetMM[0], found.Cov[0][0]),
		Over:          estimate(found.Offset[1]-mount.OffsetMM[1], found.Cov[1][1]),
		Rotation:      estimate(found.RotationDeg-mount.RotationDeg, found.Cov[2][2]),
		Evidence:      string(found.Evidence),
		Holds:         used,
		Presses:       pressed,
		BeyondProfile: found.PriorConflict,
	}, refused
}

// pressRefused says what a pad press that does not show the seat was like, and what
// to do about it.
func pressRefused(reason seat.Reason) (text, remedy string) {
	switch reason {
	case seat.FewMaps:
		return "it bears load for less than half a second", "press for ten seconds with 50 N or more"
	case seat.EdgesUnseen:
		return "it leaves edges of the platform without load", "press again and rock to all sides; the strip must reach beyond the platform"
	case seat.SeatFar:
		return "the strip would lie more than 6 mm from where its profile says", "look whether strip, foot and shoe are the ones named, and mount the strip again"
	case seat.OtherOutline:
		return "it fits another outline than the shoe's", "look whether the shoe is the one named, and measure its platform again"
	default:
		return "no place of the strip explains it", "press again on soft foam of 5 to 10 mm, the shoe off the foot, and let nothing slip"
	}
}

// addPressRefused adds the finding that the pad press of a foot does not show the
// seat, which report gives from the holds, nil where they do not either.
func (r *Report) addPressRefused(foot device.Foot, refused seat.Reason, report *SeatReport) {
	text, means := pressRefused(refused)
	if report != nil {
		means = "the seat above comes from the holds; to have it from a press, " + means
	}
	r.add(Finding{About: foot.String(), Kind: PressUnused, Text: "the pad press does not show where the strip lies: " + text, Means: means})
}

// thinned returns at most n of all, evenly chosen.
func thinned[T any](all []T, n int) []T {
	if len(all) <= n {
		return all
	}
	chosen := make([]T, n)
	for i := range chosen {
		chosen[i] = all[i*len(all)/n]
	}
	return chosen
}

// lostCells returns which cells of a strip do not measure, in scan order.
func lostCells(strip *device.Strip, warnings []measure.Warning) []bool {
	lost := make([]bool, strip.Cells())
	for _, w := range warnings {
		if w.Code != measure.CellsLost || w.Foot != strip.Foot.String() {
			continue
		}
		for k := range lost {
			row, col := strip.RowCol(k)
			lost[k] = lost[k] || slices.ContainsFunc(w.Values.Cells, func(c measure.FaultyCell) bool { return c.Row == row+1 && c.Column == col+1 })
		}
	}
	return lost
}
