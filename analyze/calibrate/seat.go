package calibrate

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"

	"aplomb/analyze/stats"
	"aplomb/device/platform"
)

// SeatRepeatability is the repeatability of mounting: the standard deviation of
// the seat along each axis when the strip is taken off and mounted again.
type SeatRepeatability struct {
	SDMM      float64        // both axes pooled, mm; 0 where mountings do not differ by more than presses
	DOF       float64        // effective degrees of freedom of SDMM; 0 where SDMM is 0
	Range     stats.Interval // 95 % interval of SDMM, mm
	AxisMM    [2]float64     // standard deviation along medial and along over, mm
	PressMM   float64        // standard deviation of one press within a mounting, along each axis, mm; of seats that were found, the root mean square of their standard uncertainties
	Mountings int            // number of mountings
	Warnings  []string
}

const (
	goodMountings = 6 // with fewer the interval is wider than about a factor of two either way
	axesRatioWarn = 6 // ratio of the mean squares of the axes that gives a warning
)

// SeatFromMountings returns the mounting repeatability from repeated mountings.
// at[m] holds the measured centres of pressure, mm, of presses at one known point
// in mounting m. The model has random effects of mounting and of press (one-way
// analysis of variance, see stats.OneWay), and both axes are pooled, because a
// profile holds one value. Points may be given relative to the known point, which
// may then differ between mountings. It returns an error for fewer than two
// mountings, and for a mounting with fewer than two presses.
func SeatFromMountings(at [][]platform.Point) (SeatRepeatability, error) {
	if len(at) < 2 {
		return SeatRepeatability{}, errOneMounting
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
	return repeatability(axes, len(at)), nil
}

var errOneMounting = errors.New("one mounting does not tell how mountings differ: take the strip off and fix it again, at least once and better five times")

// SeatFromFound returns the mounting repeatability from seats that were found, one a
// mounting: at holds their medial and over, mm, and u the standard uncertainties of
// these. The variance of mountings is that of the seats less the mean square of their
// uncertainties, which is taken as known exactly. It returns an error for fewer than two
// mountings.
func SeatFromFound(at, u []platform.Point) (SeatRepeatability, error) {
	if len(at) < 2 {
		return SeatRepeatability{}, errOneMounting
	}
	const knownExactly = 1e6 // degrees of freedom
	var axes [2]stats.OneWay
	for k := range axes {
		x, square := make([]float64, len(at)), 0.0
		for i := range at {
			x[i] = at[i][k]
			square += u[i][k] * u[i][k] / float64(len(u))
		}
		axes[k] = stats.OneWay{
			Groups: len(at), PerGroup: 1, MSBetween: stat.Variance(x, nil), DOFBetween: float64(len(at) - 1),
			MSWithin: square, DOFWithin: knownExactly,
		}
	}
	return repeatability(axes, len(at)), nil
}

// repeatability returns the result of the analyses of both axes for a number of
// mountings.
func repeatability(axes [2]stats.OneWay, mountings int) SeatRepeatability {
	both := axes[0].Pool(axes[1])
	s := SeatRepeatability{
		SDMM:      math.Sqrt(max(0, both.Between())),
		DOF:       both.BetweenDOF(),
		Range:     both.BetweenSD95(),
		PressMM:   math.Sqrt(both.MSWithin),
		Mountings: mountings,
	}
	for k := range axes {
		s.AxisMM[k] = math.Sqrt(max(0, axes[k].Between()))
	}
	warn := func(format string, args ...any) { s.Warnings = append(s.Warnings, fmt.Sprintf(format, args...)) }
	if s.SDMM == 0 {
		warn("mountings differ by no more than presses do: the seat is below what this can tell, up to %.2f mm; take more presses a mounting", s.Range.Hi)
	}
	if mountings < goodMountings {
		warn("%d mountings: the seat lies anywhere from %.2f to %.2f mm; take %d or more", mountings, s.Range.Lo, s.Range.Hi, goodMountings)
	}
	if a, b := axes[0].MSBetween, axes[1].MSBetween; max(a, b) > axesRatioWarn*min(a, b) && min(a, b) > 0 {
		warn("the axes differ, medial %.2f mm and over %.2f mm: one figure for both is too small for one of them", s.AxisMM[0], s.AxisMM[1])
	}
	return s
}
