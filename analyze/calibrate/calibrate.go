package calibrate

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
)

// Loading is known weights put on a pad in steps up and down again.
type Loading struct {
	Unit       Unit       // of the weights
	AreaMM2    float64    // of the pad, all of it on the strip and evenly loaded, mm²
	Under      []int      // the cells wholly under the pad, from 0; nil for all
	Zero       []float64  // what each cell reads unloaded, counts; nil where that is 0
	Gains      []float64  // nil where all are 1
	FullCounts int        // at which a cell saturates
	Steps      []LoadStep // in the order in which they were taken
	RelLoadSD  float64    // relative standard uncertainty of weights and area together; 0 where they are taken as exact
	Before     Curve      // of the calibration in force; no kind where there is none
}

// Step is the time under one weight. The pad's own weight counts as part of it,
// unless the zero was taken under the pad.
type LoadStep struct {
	Weight float64    // in all, in the unit of the loading; 0 is allowed, as a return to nothing
	OnS    float64    // when the last weight was put on or taken off, s on the clock of TimeS
	TimeS  []float64  // of each frame, s
	Frames [][]uint16 // counts in scan order
}

// Result is a calibration with what is known of how good it is.
type CurveResult struct {
	Curve          Curve
	LeaveOneOutKPa map[CurveKind]float64 // root mean square leave-one-out error of each kind of curve, kPa; +Inf where it cannot be fitted
	RangeKPa       [2]float64            // least and largest pressure put on
	Steps          []StepResult

	// Hysteresis is the largest difference between the pressures that the curve
	// gives for one weight on the way up and on the way down, as a fraction of
	// the largest pressure put on, or of the span, which begins at 0: the
	// definition of process and transducer standards (IEC 61298-2; ISA-37.1;
	// both from memory). The curve lies in the middle, so either way it is off
	// by half of this.
	Hysteresis float64
	// CreepPerDecade is how much of a response is added in each tenfold of time
	// after one second, and UCreep its standard uncertainty; both are NaN where
	// no weight was left on for ten seconds.
	CreepPerDecade, UCreep float64
	LoadAgeS               float64 // how long weights had been on, in the middle, when read, s: what the curve stands for
	// CellSD is how the cells under the pad differ from each other once their
	// gains are taken out, relative; NaN with one cell.
	CellSD   float64
	AtMid    MidRange
	Warnings []string
}

// StepResult is what one step gave.
type StepResult struct {
	KPa      float64 // put on
	Down     bool    // on the way down
	Reading  float64 // mean over the cells under the pad, counts above zero ÷ gain
	Residual float64 // what the curve makes of Reading less what was put on, kPa
}

// MidRange is the uncertainty of a pressure in the middle of the range, as
// relative standard deviations. Cell to cell differences are not in it: they are
// CellSD, and average out over a platform where these do not.
type MidRange struct {
	KPa        float64
	Fit        float64 // leave-one-out error of the curve
	Hysteresis float64 // a load on its way up or down, no telling which: half the loop either way, rectangular (JCGM 100:2008, 4.3.7)
	Creep      float64 // a load that is ten times older or younger at one end of the range of ages: half a decade either way, rectangular
	Load       float64 // RelLoadSD
	All        float64 // the root of the sum of squares
}

const (
	settleS        = 1.0 // s after a change of weight before it is read
	leastLoads     = 3
	sameLoad       = 1e-3 // relative: weights nearer than this are one load
	hysteresisWarn = 0.10 // of the span: more hysteresis than this is worth a word
	creepWarn      = 0.05 // a decade
	zeroOffsetWarn = 0.02 // of the largest pressure: a zero that is off by more is worth a word
)

// Calibrate finds the curve from readings to kPa and how good it is.
//
// Each step is read as the mean of its frames from one second after the weight
// changed, over the cells under the pad, and one load is the mean of its
// readings on the way up and on the way down. Linear, power and monotone cubic
// curves through no load at no reading are tried; the simplest is taken whose
// leave-one-out error is within a tenth of the least.
//
// It refuses fewer than three loads, loads that do not go up and then down
// again, a pressure that no shoe makes (naming the unit that was likely meant),
// cells that never respond, saturated cells, and readings that do not rise with
// the load.
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
	single, both := 0, 0 // loads met one way only, and both ways
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

// order returns the last step under the largest weight, and refuses steps that
// do not go up and then down.
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

func same(a, b float64) bool { return math.Abs(a-b) <= sameLoad*max(a, b) }

// kPa returns the pressure of a step; 1 N/mm² is 1000 kPa.
func (l *Loading) kPa(step int) float64 {
	return l.Steps[step].Weight * l.Unit.Newtons() / l.AreaMM2 * 1000
}

// loads joins the readings of each load: x and p rise, up and down hold the mean
// of each way, NaN where there was none.
func (l *Loading) joinLoads(read []stepReading) (x, p, up, down []float64, err error) {
	order := make([]int, 0, len(read))
	for i, s := range l.Steps {
		if s.Weight > 0 {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return int(math.Copysign(1, l.Steps[a].Weight-l.Steps[b].Weight))
	})
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

// Plausible refuses weights that cannot become a calibration, before any of
// them has been put on: what Calibrate refuses of their number, order and unit.
func (l *Loading) Plausible() error {
	top, err := l.checkOrder()
	if err != nil {
		return err
	}
	return checkPressure(l.Steps[top].Weight, l.Unit, l.AreaMM2)
}
