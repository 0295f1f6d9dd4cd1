package calibrate

import (
	"errors"
	"fmt"
	"math"

	"aplomb/analyze/stats"
	"aplomb/device/platform"
)

// Seat is how well a mounting repeats: the standard deviation that taking the
// strip off and fixing it again adds to a place measured, on each axis.
type SeatRepeatability struct {
	SDMM      float64        // of both axes together, mm; 0 where mountings do not differ by more than presses do
	DOF       float64        // effective, of SDMM; 0 where SDMM is 0
	Range     stats.Interval // 95 % interval of SDMM, mm
	AxisMM    [2]float64     // SDMM of medial and over by themselves, mm
	PressMM   float64        // standard deviation of one press about its mounting, each axis, mm
	Mountings int
	Warnings  []string
}

const (
	goodMountings = 6 // with fewer the interval is wider than a factor of two or so either way
	axesRatioWarn = 6 // ratio of mean squares of the axes that is worth a word
)

// Mountings measures the seat from repeated mountings: at[m] holds the places
// (mm) measured by presses, or by relevés of a jig, at one known place in
// mounting m. Presses differ within a mounting and mountings between each other
// at random (one-way random effects, analysis of variance estimator), and both
// axes are pooled, because a profile holds one figure. Places may be given from
// the known place, so that it need not be the same one in all mountings.
//
// It refuses fewer than two mountings, and fewer than two presses in every one of them.
func SeatFromMountings(at [][]platform.Point) (SeatRepeatability, error) {
	if len(at) < 2 {
		return SeatRepeatability{}, errors.New("one mounting does not tell how mountings differ: take the strip off and fix it again, at least once and better five times")
	}
	var axes [2]stats.OneWay
	for k := range axes {
		groups := make([][]float64, len(at))
		for m, presses := range at {
			if len(presses) < 2 {
				return SeatRepeatability{}, fmt.Errorf("mounting %d has %d presses: at least 2, or the scatter of presses cannot be told from that of mountings", m+1, len(presses))
			}
			for i, p := range presses {
				if math.IsNaN(p[k]) || math.IsInf(p[k], 0) {
					return SeatRepeatability{}, fmt.Errorf("mounting %d, press %d: no centre of pressure: press harder", m+1, i+1)
				}
				groups[m] = append(groups[m], p[k])
			}
		}
		axes[k] = stats.SplitOneWay(groups)
	}
	both := axes[0].Pool(axes[1])
	s := SeatRepeatability{
		SDMM:      math.Sqrt(max(0, both.Between())),
		DOF:       both.BetweenDOF(),
		Range:     both.BetweenSD95(),
		PressMM:   math.Sqrt(both.MSWithin),
		Mountings: len(at),
	}
	for k := range axes {
		s.AxisMM[k] = math.Sqrt(max(0, axes[k].Between()))
	}
	warn := func(format string, args ...any) { s.Warnings = append(s.Warnings, fmt.Sprintf(format, args...)) }
	if s.SDMM == 0 {
		warn("mountings differ by no more than presses do: the seat is below what this can tell, up to %.2f mm; take more presses a mounting", s.Range.Hi)
	}
	if len(at) < goodMountings {
		warn("%d mountings: the seat lies anywhere from %.2f to %.2f mm; take %d or more", len(at), s.Range.Lo, s.Range.Hi, goodMountings)
	}
	if a, b := axes[0].MSBetween, axes[1].MSBetween; max(a, b) > axesRatioWarn*min(a, b) && min(a, b) > 0 {
		warn("the axes differ, medial %.2f mm and over %.2f mm: one figure for both is too small for one of them", s.AxisMM[0], s.AxisMM[1])
	}
	return s, nil
}
