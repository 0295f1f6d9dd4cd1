package calibrate

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"

	"aplomb/analyze/stats"
)

// stepReading is the reading of the strip in one step.
type stepReading struct {
	down  bool
	onS   float64
	timeS []float64 // of the frames used, from settleS after onS
	mean  float64   // over these frames and the cells under the pad
	trace []float64 // mean over the cells in each of these frames
	cells []float64 // mean over these frames of each cell under the pad
}

// readSteps returns the reading of every step; top is the last step under the
// largest weight.
func (l *Loading) readSteps(top int) ([]stepReading, error) {
	under := l.Under
	if under == nil {
		for k := range l.Steps[0].Frames[0] {
			under = append(under, k)
		}
	}
	read := make([]stepReading, len(l.Steps))
	for i, s := range l.Steps {
		r := stepReading{down: i > top, onS: s.OnS, cells: make([]float64, len(under))}
		for j, frame := range s.Frames {
			if s.TimeS[j] < s.OnS+settleS {
				continue
			}
			sum := 0.0
			for c, k := range under {
				if int(frame[k]) >= l.FullCounts {
					return nil, fmt.Errorf("step %d: cell %d of the scan is saturated under %v %s: end below this load, or spread it over a larger pad", i+1, k+1, s.Weight, l.Unit)
				}
				y := netCounts(frame[k], l.Zero, k)
				if l.Gains != nil {
					y /= l.Gains[k]
				}
				r.cells[c] += y
				sum += y
			}
			r.timeS = append(r.timeS, s.TimeS[j])
			r.trace = append(r.trace, sum/float64(len(under)))
		}
		for c := range r.cells {
			r.cells[c] /= float64(len(r.trace))
		}
		r.mean = stat.Mean(r.trace, nil)
		read[i] = r
	}
	middle := median(read[top].cells)
	var dead []int
	for c, k := range under {
		if !(read[top].cells[c] > silentShare*middle) {
			dead = append(dead, k)
		}
	}
	switch {
	case !(middle > 0):
		return nil, fmt.Errorf("the cells under the pad do not respond to %v %s: is the cable in, is the pad on the strip?", l.Steps[top].Weight, l.Unit)
	case len(dead) > 0:
		return nil, fmt.Errorf("%s to %v %s: repair the strip, or leave them out of the cells under the pad", cellsText(dead, "never responds", "never respond"), l.Steps[top].Weight, l.Unit)
	}
	return read, nil
}

// cellSD returns the relative standard deviation of the cells about the mean of
// each step, with steps weighted by their reading, as in [Gains].
func cellSD(read []stepReading) float64 {
	var scatter, dof, sum, n float64
	for _, r := range read {
		if !(r.mean > 0) || len(r.cells) < 2 {
			continue
		}
		for _, y := range r.cells {
			scatter += (y - r.mean) * (y - r.mean) / r.mean
		}
		dof += float64(len(r.cells) - 1)
		sum, n = sum+r.mean, n+1
	}
	return math.Sqrt(scatter / dof / (sum / n)) // NaN with one cell
}

// meanLoadAge returns the geometric mean of the time since the weight changed
// over all frames used, s.
func meanLoadAge(read []stepReading) float64 {
	sum, n := 0.0, 0.0
	for _, r := range read {
		for _, t := range r.timeS {
			sum, n = sum+math.Log(t-r.onS), n+1
		}
	}
	return math.Exp(sum / n)
}

// minCreepS is the least time, s, that some weight has to stay on for creep to be
// estimated.
const minCreepS = 10 * settleS

// creep returns the relative creep c a decade of time and its standard uncertainty.
// With increasing weights the response is taken as the sum of the responses to each
// weight added (Boltzmann's superposition), each growing with the logarithm of
// its own age. Logarithmic growth is our assumption; analyze/VALIDATION.md lists
// it as unchecked:
//
//	y(t) = Σ Δⱼ·(1 + c·log₁₀(t − tⱼ)), t in s, over the weights on so far
//
// with one Δ a step. c is the common slope of y against Σ Δⱼ·log₁₀(t − tⱼ)
// within the steps, and its values without each step in turn give its
// uncertainty (the jackknife: Tukey, Annals of Mathematical Statistics 29 (1958)
// 614), which sees drift and variation between steps that the frames alone do not show.
func creep(read []stepReading) (c, u float64) {
	var up []stepReading
	longest := 0.0
	for _, r := range read {
		if !r.down {
			up = append(up, r)
			longest = max(longest, r.timeS[len(r.timeS)-1]-r.onS)
		}
	}
	if longest < minCreepS {
		return math.NaN(), math.NaN()
	}
	deltas := make([]float64, len(up))
	sxy, sxx := make([]float64, len(up)), make([]float64, len(up))
	for range 20 { // the steps depend on c and c on the steps; the error falls by a factor of about c in each iteration
		for i, r := range up {
			deltas[i] = 0
			ages := make([]float64, len(r.timeS)) // Σ Δ·log(age) over the weights before this one
			before, own := 0.0, 0.0
			for j, t := range r.timeS {
				for e := range i {
					ages[j] += deltas[e] * math.Log10(t-up[e].onS)
				}
				before += ages[j] / float64(len(r.timeS))
				own += math.Log10(t-r.onS) / float64(len(r.timeS))
			}
			total := 0.0
			for e := range i {
				total += deltas[e]
			}
			// mean = total + Δ + c·(before + Δ·own)
			deltas[i] = (r.mean - total - c*before) / (1 + c*own)
			mean := before + deltas[i]*own
			sxy[i], sxx[i] = 0, 0
			for j, t := range r.timeS {
				x := ages[j] + deltas[i]*math.Log10(t-r.onS) - mean
				sxy[i] += x * (r.trace[j] - r.mean)
				sxx[i] += x * x
			}
		}
		next := sum(sxy) / sum(sxx)
		done := math.Abs(next-c) < 1e-12
		c = next
		if done {
			break
		}
	}
	part := make([]float64, 0, len(up))
	for i := range up {
		if rest := sum(sxx) - sxx[i]; rest > 0 {
			part = append(part, (sum(sxy)-sxy[i])/rest)
		}
	}
	n := float64(len(part))
	if n < 2 {
		return c, math.NaN()
	}
	return c, stat.StdDev(part, nil) * (n - 1) / math.Sqrt(n)
}

// sum returns the sum of x.
func sum(x []float64) (s float64) {
	for _, v := range x {
		s += v
	}
	return s
}

// warn adds the warnings; single is the number of loads read in one direction
// only.
func (r *CurveResult) warn(l Loading, x, p []float64, single int) {
	warn := func(format string, args ...any) { r.Warnings = append(r.Warnings, fmt.Sprintf(format, args...)) }
	if single > 1 { // the largest load is read once
		warn("%d loads below the largest were read one way only: there the curve is not in the middle of the loop", single-1)
	}
	if r.Hysteresis > hysteresisWarn {
		warn("hysteresis is %.0f %% of the range: does the pad stick, does the strip bend?", 100*r.Hysteresis)
	}
	switch {
	case math.IsNaN(r.CreepPerDecade):
		warn("no weight stayed on for %.0f s: creep is not known; leave one on for longer", minCreepS)
	case math.Abs(r.CreepPerDecade) > creepWarn:
		warn("readings creep by %.1f %% in each tenfold of time: leave weights on for about as long as a hold", 100*r.CreepPerDecade)
	}
	if offset, better := zeroOffset(x, p, r.LeaveOneOutKPa[r.Curve.Kind]); better && math.Abs(offset) > zeroOffsetWarn*p[len(p)-1] {
		warn("a line that misses 0 by %.1f kPa predicts the loads better than any curve through 0: was the zero taken under the same pad? take it again", offset)
	}
	if words := unitMixupText(r.Curve, l.Before, x[len(x)/2]); words != "" {
		warn("%s", words)
	}
}

// zeroOffset fits a line that need not pass through 0. It returns its pressure at
// reading 0, kPa, and whether its leave-one-out error is below missed, kPa, that
// of the chosen curve. This indicates a wrong zero; a non-linear curve makes the
// error of any line larger.
func zeroOffset(x, p []float64, missed float64) (offset float64, better bool) {
	square, n := 0.0, len(x)-1
	for out := range n {
		y, _ := stats.FitLine(leaveOut(x, out), leaveOut(p, out)).At(x[out])
		square += (y - p[out]) * (y - p[out])
	}
	return stats.FitLine(x, p).Intercept, math.Sqrt(square/float64(n)) < missed
}
