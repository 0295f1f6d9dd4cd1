package calibrate

import (
	"fmt"
	"math"

	"aplomb/analyze/stats"
)

// Gains say how much more a cell reads than the middle of the strip under the
// same pressure.
type Gains struct {
	Gain       []float64 // of each cell, mean 1 over those that respond; 1 for one that does not
	U          []float64 // standard uncertainty; +Inf for a cell that does not respond
	Silent     []int     // the cells that never respond
	SD         float64   // standard deviation of Gain over the cells that respond: what leaving them out would cost
	ResidualSD float64   // relative, of a cell about its gain, at the mean response
	DOF        float64   // of ResidualSD and U
	Warnings   []string
}

const (
	leastPresses   = 3    // of a uniform pressure
	leastPasses    = 2    // of a roller, each way
	minPeakShare   = 0.05 // of the largest peak of a pass: cells below it were not rolled over
	gainUWarn      = 0.02 // a gain less certain than this, relative, is worth a word
	gainFactorWarn = 2    // a gain beyond this factor from 1 is worth a word
)

// Uniform finds gains from presses of the whole strip by a pressure that is the
// same everywhere, as under a bladder or a vacuum sheet: presses[i][k] is the
// mean counts of cell k above its zero during press i. The pressures themselves
// need not be known, and should spread over the range in use. What is uneven in
// the pressure ends in the gains.
//
// It refuses fewer than three presses and presses that most cells do not feel.
func Uniform(presses [][]float64) (Gains, error) {
	if len(presses) < leastPresses {
		return Gains{}, fmt.Errorf("%d presses: take at least %d, at pressures spread over the range in use", len(presses), leastPresses)
	}
	for i, p := range presses {
		for k, y := range p {
			if math.IsNaN(y) || math.IsInf(y, 0) {
				return Gains{}, fmt.Errorf("press %d: no reading of cell %d of the scan: a uniform pressure reaches every cell", i+1, k+1)
			}
		}
	}
	return findGains(presses)
}

// Pass is one roll over the strip.
type Pass struct {
	Backward bool      // against the direction of the others
	Impulse  []float64 // of each cell, counts·s; NaN where the roller did not pass
}

// Roll returns the impulse of each cell under one pass of a roller: the integral
// over time (s) of its counts above its zero, NaN for a cell whose peak is below
// 5 % of the largest, which the roller did not pass over or which is dead.
// zero may be nil where it is taken off already. Frames begin before the roller
// touches the strip and end after it has left.
func Roll(timeS []float64, frames [][]uint16, zero []float64) ([]float64, error) {
	if len(frames) < 2 {
		return nil, fmt.Errorf("%d frames of a pass: take all from before the roller touches the strip until it has left", len(frames))
	}
	cells := len(frames[0])
	if err := sameLength(timeS, frames, cells); err != nil {
		return nil, err
	}
	if zero != nil && len(zero) != cells {
		return nil, fmt.Errorf("zeros of %d cells, frames of %d: is it another strip's zero?", len(zero), cells)
	}
	impulse, peak, largest := make([]float64, cells), make([]float64, cells), 0.0
	for k := range cells {
		for i := range frames {
			y := netCounts(frames[i][k], zero, k)
			peak[k] = max(peak[k], y)
			if i > 0 {
				impulse[k] += (timeS[i] - timeS[i-1]) * (y + netCounts(frames[i-1][k], zero, k)) / 2
			}
		}
		largest = max(largest, peak[k])
	}
	for k := range impulse {
		if peak[k] < minPeakShare*largest || largest == 0 {
			impulse[k] = math.NaN()
		}
	}
	return impulse, nil
}

// Rolled finds gains from a roller under a constant load, passed over the strip
// several times each way. At a steady speed every cell that one pass goes over
// must gather the same impulse, so cells are compared along each track, and
// tracks through the cells where they meet. Each way is taken by itself and the
// two are averaged: a speed that grows along the way adds to the far cells on
// one and takes from them on the other.
//
// It refuses fewer than two passes each way, and tracks that do not meet.
func Rolled(passes []Pass) (Gains, error) {
	var ways [2][][]float64
	for _, p := range passes {
		w := 0
		if p.Backward {
			w = 1
		}
		ways[w] = append(ways[w], p.Impulse)
	}
	if len(ways[0]) < leastPasses || len(ways[1]) < leastPasses {
		return Gains{}, fmt.Errorf("%d passes forward and %d backward: roll at least twice each way", len(ways[0]), len(ways[1]))
	}
	there, err := findGains(ways[0])
	if err != nil {
		return Gains{}, fmt.Errorf("rolling forward: %w", err)
	}
	back, err := findGains(ways[1])
	if err != nil {
		return Gains{}, fmt.Errorf("rolling backward: %w", err)
	}
	if len(there.Gain) != len(back.Gain) {
		return Gains{}, fmt.Errorf("passes over %d and over %d cells: they are of two strips", len(there.Gain), len(back.Gain))
	}
	return averageGains(there, back), nil
}

// average joins what rolling one way and the other gave.
func averageGains(a, b Gains) Gains {
	g := Gains{Gain: make([]float64, len(a.Gain)), U: make([]float64, len(a.Gain)), DOF: a.DOF + b.DOF}
	g.ResidualSD = math.Sqrt((a.ResidualSD*a.ResidualSD*a.DOF + b.ResidualSD*b.ResidualSD*b.DOF) / g.DOF)
	apart, n := 0.0, 0.0
	for k := range g.Gain {
		g.Gain[k] = (a.Gain[k] + b.Gain[k]) / 2
		g.U[k] = math.Hypot(a.U[k], b.U[k]) / 2
		if math.IsInf(g.U[k], 1) {
			g.Gain[k] = 1
			g.Silent = append(g.Silent, k)
			continue
		}
		d := a.Gain[k] - b.Gain[k]
		apart, n = apart+d*d, n+1
	}
	g.finish()
	expect := 0.0
	for _, u := range g.U {
		if !math.IsInf(u, 1) {
			expect += 4 * u * u
		}
	}
	if apart > 4*expect && math.Sqrt(apart/n) > gainUWarn {
		g.Warnings = append(g.Warnings, fmt.Sprintf(
			"the two ways differ by %.1f %%: the roller did not keep its speed or load; their average stands, but roll more evenly", 100*math.Sqrt(apart/n)))
	}
	return g
}

// findGains fits y[i][k] = level[i]·gain[k] to rows (presses or passes) of cells,
// NaN where a row did not reach a cell, and leaves out the cells that do not
// respond.
//
// The scatter of a response is taken to have a variance in proportion to the
// response, between that of the converter (constant) and that of cells which
// differ in the shape of their curve (relative). Its quasi-likelihood estimate
// makes the sums over rows and over cells those of the model: a cell's gain is
// what it gathered over all rows against what they gave (McCullagh & Nelder,
// Generalized Linear Models (1989), ch. 9, from memory).
func findGains(rows [][]float64) (Gains, error) {
	cells := len(rows[0])
	for i, r := range rows {
		if len(r) != cells {
			return Gains{}, fmt.Errorf("press or pass %d has %d cells, the first %d: they are of two strips", i+1, len(r), cells)
		}
	}
	g := Gains{Gain: make([]float64, cells), U: make([]float64, cells)}
	use := make([]bool, cells)
	for k := range use {
		use[k] = true
	}
	findResponding(rows, use)
	if countTrue(use) < 2 || 2*countTrue(use) < cells {
		return Gains{}, fmt.Errorf("only %d of %d cells respond: is the cable in, is the load on the whole strip?", countTrue(use), cells)
	}
	if !connected(rows, use) {
		return Gains{}, fmt.Errorf("the tracks do not meet, so nothing compares their cells: roll across as well as along, or with a roller as wide as the strip")
	}
	gain, level, err := fitGains(rows, use)
	if err != nil {
		return Gains{}, err
	}

	var scatter, observed, sum float64
	gathered := make([]float64, cells) // what the rows that reached a cell gave
	for i, r := range rows {
		for k, y := range r {
			if use[k] && !math.IsNaN(y) {
				fit := level[i] * gain[k]
				scatter += (y - fit) * (y - fit) / fit
				observed++
				sum += y
				gathered[k] += level[i]
			}
		}
	}
	g.DOF = observed - float64(len(rows)) - float64(countTrue(use)) + 1
	if g.DOF < 1 {
		return Gains{}, fmt.Errorf("every reading is needed to find the gains and none is left to tell how good they are: take more")
	}
	dispersion := scatter / g.DOF
	g.ResidualSD = math.Sqrt(dispersion / (sum / observed))
	for k := range cells {
		if !use[k] {
			g.Gain[k], g.U[k] = 1, math.Inf(1)
			g.Silent = append(g.Silent, k)
			continue
		}
		g.Gain[k], g.U[k] = gain[k], math.Sqrt(dispersion*gain[k]/gathered[k])
	}
	g.finish()
	return g, nil
}

// finish fills in what follows from gains and uncertainties.
func (g *Gains) finish() {
	var sum, squares, n float64
	var rough, unlike []int
	for k, gain := range g.Gain {
		if math.IsInf(g.U[k], 1) {
			continue
		}
		sum, n = sum+gain, n+1
		if g.U[k] > gainUWarn*gain {
			rough = append(rough, k)
		}
		if gain > gainFactorWarn || gain < 1./gainFactorWarn {
			unlike = append(unlike, k)
		}
	}
	mean := sum / n
	for k, gain := range g.Gain {
		if math.IsInf(g.U[k], 1) {
			continue
		}
		g.Gain[k], g.U[k] = gain/mean, g.U[k]/mean
		squares += (gain/mean - 1) * (gain/mean - 1)
	}
	g.SD = math.Sqrt(squares / (n - 1))
	g.Warnings = nil
	warn := func(format string, args ...any) { g.Warnings = append(g.Warnings, fmt.Sprintf(format, args...)) }
	if len(g.Silent) > 0 {
		warn("%s: left out; mend the strip, or know that load there is not seen", cellsText(g.Silent, "never responds", "never respond"))
	}
	if len(unlike) > 0 {
		warn("the gain of %s is beyond a factor of %d: was the pressure even, is the strip sound there?", cellNames(unlike), gainFactorWarn)
	}
	if len(rough) > 0 {
		warn("the gain of %s is not known to %.0f %%: take more readings, and at higher pressure", cellNames(rough), 100*gainUWarn)
	}
}

// responds clears use for the cells that no row reaches, or that respond with
// less than a tenth of what their rows give to the middle cell.
func findResponding(rows [][]float64, use []bool) {
	middle := make([]float64, len(rows))
	var reached []float64
	for i, r := range rows {
		reached = reached[:0]
		for _, y := range r {
			if !math.IsNaN(y) {
				reached = append(reached, y)
			}
		}
		middle[i] = median(reached)
	}
	for k := range use {
		got, given := 0.0, 0.0
		for i, r := range rows {
			if !math.IsNaN(r[k]) && middle[i] > 0 {
				got, given = got+r[k], given+middle[i]
			}
		}
		use[k] = given > 0 && got > silentShare*given
	}
}

// multiply alternates between levels and gains until they settle.
func fitGains(rows [][]float64, use []bool) (gain, level []float64, err error) {
	gain, level = make([]float64, len(use)), make([]float64, len(rows))
	for k := range gain {
		gain[k] = 1
	}
	const rounds = 10_000
	for range rounds {
		for i, r := range rows {
			var y, g float64
			for k := range r {
				if use[k] && !math.IsNaN(r[k]) {
					y, g = y+r[k], g+gain[k]
				}
			}
			if level[i] = y / g; !(level[i] > 0) {
				return nil, nil, fmt.Errorf("press or pass %d carries no load: leave it out", i+1)
			}
		}
		moved, sum := 0.0, 0.0
		for k := range gain {
			if !use[k] {
				continue
			}
			var y, l float64
			for i, r := range rows {
				if !math.IsNaN(r[k]) {
					y, l = y+r[k], l+level[i]
				}
			}
			moved = max(moved, math.Abs(y/l-gain[k]))
			gain[k] = y / l
			sum += gain[k]
		}
		if moved < 1e-12 {
			break
		}
		for k := range gain {
			gain[k] *= float64(countTrue(use)) / sum
		}
	}
	return gain, level, nil
}

// connected says whether every cell in use can be compared with every other
// through rows that share cells.
func connected(rows [][]float64, use []bool) bool {
	reached, seen := make([]bool, len(use)), make([]bool, len(rows))
	for k, u := range use {
		if u {
			reached[k] = true
			break
		}
	}
	for grew := true; grew; {
		grew = false
		for i, r := range rows {
			if seen[i] {
				continue
			}
			for k := range r {
				if reached[k] && !math.IsNaN(r[k]) {
					seen[i], grew = true, true
					break
				}
			}
			for k := range r {
				if seen[i] && use[k] && !math.IsNaN(r[k]) {
					reached[k] = true
				}
			}
		}
	}
	return countTrue(reached) == countTrue(use)
}

func countTrue(set []bool) (n int) {
	for _, in := range set {
		if in {
			n++
		}
	}
	return n
}

// Remaining returns the relative standard deviation to expect of a cell under a
// pressure not used here: its scatter about its gain, and the gain's own.
func (g Gains) RemainingSD() float64 {
	square, n := 0.0, 0.0
	for k, u := range g.U {
		if !math.IsInf(u, 1) {
			square, n = square+u*u/(g.Gain[k]*g.Gain[k]), n+1
		}
	}
	return stats.Combined(stats.Component{U: g.ResidualSD}, stats.Component{U: math.Sqrt(square / n)})
}
