package agreement

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"aplomb/analyze/measure"
)

// Limits of plausibility. They are our own choice.
const (
	unlike       = 0.5  // correlation of the loads below which they are taken for different loads
	alike        = 0.8  // correlation above which two signals are taken for the same load
	factorWithin = 0.15 // relative distance of a ratio from a factor between units
	farMM        = 300  // a position further from the platform's centroid than this is not on the platform
	scaledBy     = 3    // a ratio of positions further from 1 than this is a ratio of units
	leastSDMM    = 0.5  // the axes cannot be checked with positions that vary less
	constantMM   = 1e-3 // a reference whose position varies by less measures none
)

// plausible returns an error where the reference cannot have measured the same load as
// the strip: no common time, another foot, other units, exchanged or turned axes.
func plausible(r *measure.Result, at reader, c *Clock, all []frame, whole [2][]float64, o Options) error {
	ref := at.ref.Samples
	if len(whole[0]) == 0 {
		samples := r.Traces[o.Foot]
		return fmt.Errorf("%w: "+whyNoOverlap, ErrOther, c.Reference(samples[0].T), c.Reference(samples[len(samples)-1].T), ref[0].T, ref[len(ref)-1].T)
	}
	like := stat.Correlation(whole[0], whole[1], nil)
	if math.IsNaN(like) { // a constant
		like = 0
	}
	switch {
	case like < -unlike:
		return fmt.Errorf("%w: "+whyLoadDown, ErrOther)
	case like < unlike && alikeOther(r, at, c, o):
		return fmt.Errorf("%w: "+whyOtherFoot, ErrOther, o.Foot.Other(), o.Foot.Other())
	case like < unlike:
		return fmt.Errorf("%w: "+whyUnlike, ErrOther, like)
	}
	if err := loadUnit(ratio(whole)); err != nil {
		return err
	}
	if len(all) < leastFrames {
		return fmt.Errorf("%w: "+whyFewFrames, ErrOther, len(all), leastFrames)
	}
	if !at.ref.Place {
		return nil
	}
	return place(all, o)
}

// alikeOther reports whether the reference fits the other foot.
func alikeOther(r *measure.Result, at reader, c *Clock, o Options) bool {
	var a, b []float64
	again := at.begin(c)
	for _, s := range r.Traces[o.Foot.Other()] {
		if v := again.at(s.T); !math.IsNaN(v[load]) {
			a, b = append(a, float64(s.LoadN)), append(b, v[load])
		}
	}
	return len(a) > 0 && stat.Correlation(a, b, nil) > alike
}

// ratio returns the slope of the reference's load against the strip's; an offset of
// either does not matter.
func ratio(whole [2][]float64) float64 {
	_, slope := stat.LinearRegression(whole[0], whole[1], nil, false)
	return slope
}

// loadUnit returns an error where the ratio of the loads is a factor between units.
func loadUnit(ratio float64) error {
	for _, u := range []struct {
		factor float64
		column string
	}{
		{1 / gravity, "fz_kgf"}, {1 / pound, "fz_lbf"}, {1e-3, "fz_kn"},
		{gravity, "fz_n"}, {pound, "fz_n"}, {1000, "fz_n"},
	} {
		if math.Abs(ratio/u.factor-1) < factorWithin {
			return fmt.Errorf("%w: "+whyLoadUnit, ErrOther, ratio, u.column)
		}
	}
	return nil
}

// Newton in a kilogram-force and in a pound-force (ISO 80000-4).
const (
	gravity = 9.80665
	pound   = 4.4482216152605
)

// place returns an error where the positions of the reference are in another unit,
// exchanged, turned round, or beside the platform.
func place(all []frame, o Options) error {
	strip, ref := places(all)
	if len(strip[over]) < leastFrames {
		return nil
	}
	var own, cross, slope, varies [2]float64
	for k := range strip {
		varies[k] = stat.StdDev(strip[k], nil)
		own[k], cross[k] = stat.Correlation(strip[k], ref[k], nil), stat.Correlation(strip[k], ref[1-k], nil)
		_, slope[k] = stat.LinearRegression(strip[k], ref[k], nil, false)
	}
	for k := range strip {
		if varies[k] >= leastSDMM && slices.Max(ref[k])-slices.Min(ref[k]) < constantMM {
			return fmt.Errorf("%w: "+whyConstant, ErrOther, names[k], ref[k][0], varies[k])
		}
	}
	for k := range strip {
		if varies[k] < leastSDMM || math.Abs(own[k]) < alike {
			continue
		}
		for _, u := range []struct {
			factor float64
			column string
		}{{1e-3, "_m"}, {1e-1, "_cm"}, {10, "_mm"}, {1000, "_mm"}} {
			if by := math.Abs(slope[k]) / u.factor; by > 1/math.Sqrt(scaledBy) && by < math.Sqrt(scaledBy) {
				return fmt.Errorf("%w: "+whyPlaceUnit, ErrOther, names[k], math.Abs(slope[k]), names[k]+u.column)
			}
		}
		if own[k] < 0 {
			return fmt.Errorf("%w: "+whyTurned, ErrOther, names[k], names[k])
		}
	}
	if varies[over] >= leastSDMM && varies[medial] >= leastSDMM &&
		min(math.Abs(cross[over]), math.Abs(cross[medial])) > alike && max(math.Abs(own[over]), math.Abs(own[medial])) < unlike {
		return fmt.Errorf("%w: "+whyExchanged, ErrOther)
	}
	if !o.Apart {
		for k := range ref {
			if m := stat.Mean(ref[k], nil); math.Abs(m) > farMM {
				return fmt.Errorf("%w: "+whyFar, ErrOther, names[k], m)
			}
		}
	}
	return nil
}

// names are the names of the two coordinates, by over and medial.
var names = [2]string{over: "over", medial: "medial"}

// places returns the positions of the strip and of the reference, mm, in the frames in which
// both have one, by over and medial.
func places(all []frame) (strip, ref [2][]float64) {
	for i := range all {
		f := &all[i]
		if math.IsNaN(f.ref[over]) || math.IsNaN(f.strip[over]) || f.ref[load] < minPlaceN {
			continue
		}
		for k := range strip {
			strip[k], ref[k] = append(strip[k], f.strip[k]), append(ref[k], f.ref[k])
		}
	}
	return strip, ref
}

// warnUnlike adds a warning for each coordinate that does not correlate with the reference's.
func (rep *Report) warnUnlike(all []frame) {
	strip, ref := places(all)
	for k := range strip {
		if len(strip[k]) < leastFrames || stat.StdDev(strip[k], nil) < leastSDMM {
			continue
		}
		if like := stat.Correlation(strip[k], ref[k], nil); like < unlike {
			rep.Warnings = append(rep.Warnings, fmt.Sprintf(warnUnlike, names[k], like))
		}
	}
}

// minPlaceN is the smallest load, N, for which a position of the reference is used; at
// small loads it is noise.
const minPlaceN = 2 * 25

// warn adds the warnings.
func (rep *Report) warn(seat *measure.Seat) {
	add := func(format string, args ...any) { rep.Warnings = append(rep.Warnings, fmt.Sprintf(format, args...)) }
	if place := rep.Measures[over].Holds != nil || rep.Measures[medial].Holds != nil; place {
		half := func(e measure.Estimate) float64 { return (e.CI95[1] - e.CI95[0]) / 2 }
		add(warnSeat, half(seat.Over), half(seat.Medial), rep.Evidence)
	}
	if rep.Clock.RateAssumed {
		add(warnRate)
	}
	if rep.Frames.Missing > 0 {
		add(warnMissing, rep.Frames.Missing, rep.Frames.Missing+rep.Frames.Compared)
	}
	if rep.Frames.Beside > 0 {
		add(warnBeside, rep.Frames.Beside)
	}
	if rep.Reference.LeftOut > 0 {
		add(warnLeftOut, rep.Reference.LeftOut)
	}
}
