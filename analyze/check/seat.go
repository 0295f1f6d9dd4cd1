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

// SeatReport is where the maps of the holds place the strip against where its profile
// does.
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
// are those of the recording, which name the cells that do not measure.
func seatOf(side *device.Side, presses []measure.Press, measured []measure.Releve, warnings []measure.Warning) *SeatReport {
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
	n := min(len(measured), maxSeatHolds)
	for i := range n {
		h := measured[i*len(measured)/n].Hold
		in.Maps = append(in.Maps, seat.Map{Kind: seat.Hold, KPa: h.Map, NoiseKPa: h.MapNoiseKPa})
	}
	found := seat.Find(in)
	if found.Evidence == seat.Assumed {
		return nil
	}
	if found.Evidence != seat.FromPress {
		pressed = 0
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
		Holds:         n,
		Presses:       pressed,
		BeyondProfile: found.PriorConflict,
	}
}

// thinned returns at most n of maps, evenly chosen.
func thinned(maps []seat.Map, n int) []seat.Map {
	if len(maps) <= n {
		return maps
	}
	chosen := make([]seat.Map, n)
	for i := range chosen {
		chosen[i] = maps[i*len(maps)/n]
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
