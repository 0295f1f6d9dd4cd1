package calibrate

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
)

// Loading is a calibration session: known weights on a pad, increased in steps
// and decreased again.
type Loading struct {
	Unit       Unit       // unit of the weights
	AreaMM2    float64    // area of the pad, mm², all of it on the strip and evenly loaded
	Under      []int      // indices in the scan of the cells wholly under the pad; nil for all cells
	Zero       []float64  // reading of each cell without load, counts; nil for zeros of 0
	Gains      []float64  // gain of each cell; nil for gains of 1
	FullCounts int        // counts at which a cell saturates
	Steps      []LoadStep // in order of time
	RelLoadSD  float64    // relative standard uncertainty of weight ÷ area; 0 for exact values
	Before     Curve      // curve of the calibration in use; without kind where there is none
}

// LoadStep is the time under one weight. The pad's own weight is part of it
// unless the zero was taken under the pad.
type LoadStep struct {
	Weight float64    // total, in the unit of the session; may be 0
	OnS    float64    // when the weight was last changed, s on the clock of TimeS
	TimeS  []float64  // time of each frame, s
	Frames [][]uint16 // counts in scan order
}

// CurveResult is a calibration curve with its quality.
type CurveResult struct {
	Curve          Curve
	LeaveOneOutKPa map[CurveKind]float64 // root mean square leave-one-out error of each kind of curve, kPa; +Inf for a kind that cannot be fitted
	RangeKPa       [2]float64            // least and largest pressure applied, kPa
	Steps          []StepResult

	// Hysteresis is the largest difference between the pressures of the curve for one
	// weight with increasing and with decreasing weights, as a fraction of the largest
	// pressure applied, which is the span, since it begins at 0. It is the definition of
	// ANSI/ISA-S37.1: the largest difference in output at any value approached first from
	// below and then from above. The curve is in the middle, so its error is half of this
	// in either direction.
	Hysteresis float64
	// CreepPerDecade is the relative increase of a response in each decade of time after
	// one second, and UCreep its standard uncertainty; both are NaN where no weight
	// stayed on for ten seconds.
	CreepPerDecade, UCreep float64
	LoadAgeS               float64 // geometric mean of the time since the weight changed, s, for which the curve is valid
	// CellSD is the relative standard deviation between the cells under the pad after
	// correction for their gains; NaN with one cell.
	CellSD   float64
	AtMid    MidRange
	Warnings []string
}

// StepResult is the result of one step.
type StepResult struct {
	KPa      float64 // pressure applied, kPa
	Down     bool    // the weights were being decreased
	Reading  float64 // mean over the cells under the pad, net counts ÷ gain
	Residual float64 // pressure of the curve − pressure applied, kPa
}

// MidRange is the relative standard uncertainty of a pressure in the middle of the
// range. It does not include the differences between cells, CellSD, which average out
// over a platform, whereas these components do not.
type MidRange struct {
	KPa        float64 // the pressure
	Fit        float64 // leave-one-out error of the curve
	Hysteresis float64 // for increasing or decreasing load: rectangular, ± half of Hysteresis (JCGM 100:2008, 4.3.7)
	Creep      float64 // for a load age within half a decade of LoadAgeS either way: rectangular
	Load       float64 // RelLoadSD
	All        float64 // root of the sum of squares
}

const (
	settleS        = 1.0 // time after a change of weight from which frames are used, s
	leastLoads     = 3
	sameLoad       = 1e-3 // relative difference of weights that count as one load
	hysteresisWarn = 0.10 // hysteresis, share of the span, that gives a warning
	creepWarn      = 0.05 // creep a decade that gives a warning
	zeroOffsetWarn = 0.02 // offset, share of the largest pressure, that gives a warning
)

// Calibrate finds the curve from readings to kPa and its quality.
//
// A step is read as the mean of its frames from one second after the weight
// changed, over the cells under the pad. The reading of a load is the mean of its
// readings with increasing and with decreasing weights. Linear, power and
// monotone cubic curves through 0 are fitted; the simplest whose leave-one-out
// error is within a tenth of the least is chosen.
//
// It returns an error for fewer than three loads, loads that do not increase and
// then decrease, a pressure that no shoe produces (with the unit that was
// probably meant), cells that never respond, saturated cells, and readings that
// do not increase with the load.
func Calibrate(l Loading) (CurveResult, error) {
	if err := l.check(); err != nil {
		return CurveResult{}, err
	}
	top, err := l.checkOrder()
	if err != nil {
		return CurveResult{}, err
	}
	if err := checkPressure(l.Steps[top].Weight, l.Unit, l.AreaMM2); err != nil {
		return CurveResult{}, err
	}
	read, err := l.readSteps(top)
	if err != nil {
		return CurveResult{}, err
	}
	x, p, up, down, err := l.joinLoads(read)
	if err != nil {
		return CurveResult{}, err
	}

	var r CurveResult
	r.Curve, r.LeaveOneOutKPa = chooseCurve(x, p)
	r.RangeKPa = [2]float64{p[0], p[len(p)-1]}
	for i, s := range read {
		kPa := l.kPa(i)
		r.Steps = append(r.Steps, StepResult{KPa: kPa, Down: s.down, Reading: s.mean, Residual: r.Curve.At(s.mean) - kPa})
	}
	single, both := 0, 0 // loads read in one direction only, and in both
	for i := range x {
		if math.IsNaN(up[i]) || math.IsNaN(down[i]) {
			single++
			continue
		}
		both++
		r.Hysteresis = max(r.Hysteresis, math.Abs(r.Curve.At(up[i])-r.Curve.At(down[i]))/r.RangeKPa[1])
	}
	if both == 0 {
		return CurveResult{}, fmt.Errorf("no weight was read both on the way up and on the way down: go down by the same weights, or hysteresis cannot be told")
	}
	r.CreepPerDecade, r.UCreep = creep(read)
	r.LoadAgeS = meanLoadAge(read)
	r.CellSD = cellSD(read)
	r.AtMid = r.midRange(l.RelLoadSD)
	r.warn(l, x, p, single)
	return r, nil
}

// check returns an error for a session with missing or inconsistent values.
func (l *Loading) check() error {
	if l.Unit.Newtons() == 0 {
		return fmt.Errorf("weights in %q: give N, kg or g", l.Unit)
	}
	if !(l.AreaMM2 > 0) || math.IsInf(l.AreaMM2, 0) {
		return fmt.Errorf("a pad of %v mm²: give the area that the weights are spread over, mm²", l.AreaMM2)
	}
	if l.FullCounts < 1 {
		return fmt.Errorf("full scale of %d counts: give the count at which a cell saturates", l.FullCounts)
	}
	if !(l.RelLoadSD >= 0 && l.RelLoadSD < 1) {
		return fmt.Errorf("weights known to %v: give a fraction, 0 to below 1", l.RelLoadSD)
	}
	if len(l.Steps) == 0 {
		return fmt.Errorf("no steps: put at least %d different weights on, one after the other, and take them off again", leastLoads)
	}
	if len(l.Steps[0].Frames) == 0 {
		return fmt.Errorf("step 1 has no frames: read the strip under every weight")
	}
	cells := len(l.Steps[0].Frames[0])
	if l.Zero != nil && len(l.Zero) != cells || l.Gains != nil && len(l.Gains) != cells {
		return fmt.Errorf("zeros of %d and gains of %d cells for frames of %d: are they another strip's?", len(l.Zero), len(l.Gains), cells)
	}
	for k, g := range l.Gains {
		if !(g > 0) || math.IsInf(g, 0) {
			return fmt.Errorf("gain %v of cell %d of the scan: find the gains again", g, k+1)
		}
	}
	if l.Under != nil && len(l.Under) == 0 {
		return fmt.Errorf("no cell is under the pad: name those that are")
	}
	for _, k := range l.Under {
		if k < 0 || k >= cells {
			return fmt.Errorf("cell %d of the scan is under the pad, but the strip has %d", k+1, cells)
		}
	}
	for i, s := range l.Steps {
		if !(s.Weight >= 0) || math.IsInf(s.Weight, 0) {
			return fmt.Errorf("step %d: a weight of %v %s: 0 or more", i+1, s.Weight, l.Unit)
		}
		if err := sameLength(s.TimeS, s.Frames, cells); err != nil {
			return fmt.Errorf("step %d: %w", i+1, err)
		}
		if len(s.TimeS) == 0 || s.TimeS[len(s.TimeS)-1] < s.OnS+settleS || math.IsNaN(s.OnS) {
			return fmt.Errorf("step %d has no frame later than %v s after its weight changed: leave it on for longer", i+1, settleS)
		}
		if i > 0 && s.OnS <= l.Steps[i-1].OnS {
			return fmt.Errorf("step %d begins at %v s, before or with the one before it: give steps in the order in which they were taken", i+1, s.OnS)
		}
	}
	return nil
}

// checkOrder returns the last step under the largest weight, and an error for
// steps that do not increase and then decrease.
func (l *Loading) checkOrder() (top int, err error) {
	var different []float64
	for i, s := range l.Steps {
		if s.Weight >= l.Steps[top].Weight {
			top = i
		}
		if s.Weight > 0 && !slices.ContainsFunc(different, func(w float64) bool { return same(w, s.Weight) }) {
			different = append(different, s.Weight)
		}
	}
	if len(different) < leastLoads {
		return 0, fmt.Errorf("%d different weights: put on at least %d, spread over the range in use", len(different), leastLoads)
	}
	rising := true
	for i := 1; i < len(l.Steps); i++ {
		a, b := l.Steps[i-1].Weight, l.Steps[i].Weight
		switch {
		case same(a, b):
		case b < a:
			rising = false
		case !rising:
			return 0, fmt.Errorf("step %d goes up from %v to %v %s after the way down had begun: go up to the largest weight in steps, then down", i+1, a, b, l.Unit)
		}
	}
	last := l.Steps[len(l.Steps)-1].Weight
	if same(last, l.Steps[top].Weight) {
		return 0, fmt.Errorf("the steps end with the largest weight: take the weights off in steps as well, or hysteresis cannot be told")
	}
	return top, nil
}

// same reports whether two weights count as one load.
func same(a, b float64) bool { return math.Abs(a-b) <= sameLoad*max(a, b) }

// kPa returns the pressure of a step, kPa; 1 N/mm² is 1000 kPa.
func (l *Loading) kPa(step int) float64 {
	return l.Steps[step].Weight * l.Unit.Newtons() / l.AreaMM2 * 1000
}

// joinLoads combines the readings of each load: readings x and pressures p in
// rising order, up and down the mean reading with increasing and with decreasing
// weights, NaN where there is none.
func (l *Loading) joinLoads(read []stepReading) (x, p, up, down []float64, err error) {
	order := make([]int, 0, len(read))
	for i, s := range l.Steps {
		if s.Weight > 0 {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(l.Steps[a].Weight, l.Steps[b].Weight) })
	for len(order) > 0 {
		n := 1
		for n < len(order) && same(l.Steps[order[0]].Weight, l.Steps[order[n]].Weight) {
			n++
		}
		var pressure float64
		var ways [2][]float64
		for _, i := range order[:n] {
			pressure += l.kPa(i) / float64(n)
			w := 0
			if read[i].down {
				w = 1
			}
			ways[w] = append(ways[w], read[i].mean)
		}
		order = order[n:]
		u, d := stat.Mean(ways[0], nil), stat.Mean(ways[1], nil)
		mean := u
		switch {
		case len(ways[0]) == 0:
			mean = d
		case len(ways[1]) > 0:
			mean = (u + d) / 2
		}
		x, p, up, down = append(x, mean), append(p, pressure), append(up, u), append(down, d)
	}
	before, at := 0.0, 0.0
	for i := range x {
		if !(x[i] > before) {
			return nil, nil, nil, nil, fmt.Errorf(
				"%.4g kPa reads %.1f counts and %.4g kPa %.1f: the curve is not monotone; check these weights and that the pad sits evenly, or end below this load",
				at, before, p[i], x[i])
		}
		before, at = x[i], p[i]
	}
	return x, p, up, down, nil
}

// midRange returns the uncertainty in the middle of the range; load is RelLoadSD.
func (r *CurveResult) midRange(load float64) MidRange {
	m := MidRange{KPa: (r.RangeKPa[0] + r.RangeKPa[1]) / 2, Load: load}
	m.Fit = r.LeaveOneOutKPa[r.Curve.Kind] / m.KPa
	m.Hysteresis = r.Hysteresis / 2 / math.Sqrt(3) * r.RangeKPa[1] / m.KPa
	if !math.IsNaN(r.CreepPerDecade) {
		m.Creep = math.Abs(r.CreepPerDecade) / 2 / math.Sqrt(3)
	}
	m.All = math.Hypot(math.Hypot(m.Fit, m.Hysteresis), math.Hypot(m.Creep, m.Load))
	return m
}

// Plausible returns an error for weights that cannot give a calibration, before
// any of them has been put on: the errors of Calibrate that concern number, order
// and unit.
func (l *Loading) Plausible() error {
	top, err := l.checkOrder()
	if err != nil {
		return err
	}
	return checkPressure(l.Steps[top].Weight, l.Unit, l.AreaMM2)
}
