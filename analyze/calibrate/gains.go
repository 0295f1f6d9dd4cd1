package calibrate

import (
	"fmt"
	"math"

	"aplomb/analyze/stats"
)

// Gains are the responses of the cells to the same pressure, relative to their
// mean.
type Gains struct {
	Gain       []float64 // of each cell, with mean 1 over those that respond; 1 for one that does not
	U          []float64 // standard uncertainty of each gain; +Inf for a cell that does not respond
	Silent     []int     // cells that do not respond
	SD         float64   // standard deviation of Gain over the cells that respond
	ResidualSD float64   // relative standard deviation of a response about its gain, at the mean response
	DOF        float64   // degrees of freedom of ResidualSD and U
	Warnings   []string
}

const (
	leastPresses   = 3    // least number of presses by a uniform pressure
	leastPasses    = 2    // least number of passes of a roller in each direction
	minPeakShare   = 0.05 // share of the largest peak of a pass below which a cell was not passed over
	gainUWarn      = 0.02 // relative standard uncertainty of a gain that gives a warning
	gainFactorWarn = 2    // ratio of a gain to 1, either way, that gives a warning
)

// Uniform finds gains from presses of the whole strip by a uniform pressure, as
// under a bladder or a vacuum sheet. presses[i][k] is the mean net counts of cell
// k during press i. The pressures need not be known and should cover the range in
// use. Non-uniformity of the pressure becomes part of the gains. It returns an
// error for fewer than three presses and where most cells do not respond.
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

// Pass is one pass of a roller over the strip.
type Pass struct {
	Backward bool      // opposite to the direction of the other passes
	Impulse  []float64 // of each cell, counts·s; NaN where the roller did not pass over it
}

// Roll returns the impulse of each cell under one pass of a roller, counts·s: the
// integral over time of its net counts. It is NaN for a cell whose peak is below
// 5 % of the largest peak, which the roller did not pass over or which is dead.
// zero is nil where it is subtracted already. Frames begin before the roller
// touches the strip and end after it has left. It returns an error for
// inconsistent frames.
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

// Rolled determines gains from passes of a roller with constant load over the strip,
// several in each direction. At constant speed all cells in one pass receive the same
// impulse, so cells are compared within each pass, and passes through the cells that they
// have in common. Each direction is evaluated by itself and the two are averaged, which
// cancels a speed that changes along the way. It returns an error for fewer than two
// passes in a direction, and for passes without common cells.
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
	forward, err := findGains(ways[0])
	if err != nil {
		return Gains{}, fmt.Errorf("rolling forward: %w", err)
	}
	backward, err := findGains(ways[1])
	if err != nil {
		return Gains{}, fmt.Errorf("rolling backward: %w", err)
	}
	if len(forward.Gain) != len(backward.Gain) {
		return Gains{}, fmt.Errorf("passes over %d and over %d cells: they are of two strips", len(forward.Gain), len(backward.Gain))
	}
	return averageGains(forward, backward), nil
}

// averageGains averages the gains of the two directions.
func averageGains(a, b Gains) Gains {
	g := Gains{Gain: make([]float64, len(a.Gain)), U: make([]float64, len(a.Gain)), DOF: a.DOF + b.DOF}
	g.ResidualSD = math.Sqrt((a.ResidualSD*a.ResidualSD*a.DOF + b.ResidualSD*b.ResidualSD*b.DOF) / g.DOF)
	squares, n := 0.0, 0.0
	for k := range g.Gain {
		g.Gain[k] = (a.Gain[k] + b.Gain[k]) / 2
		g.U[k] = math.Hypot(a.U[k], b.U[k]) / 2
		if math.IsInf(g.U[k], 1) {
			g.Gain[k] = 1
			g.Silent = append(g.Silent, k)
			continue
		}
		d := a.Gain[k] - b.Gain[k]
		squares, n = squares+d*d, n+1
	}
	g.finish()
	expect := 0.0
	for _, u := range g.U {
		if !math.IsInf(u, 1) {
			expect += 4 * u * u
		}
	}
	if squares > 4*expect && math.Sqrt(squares/n) > gainUWarn {
		g.Warnings = append(g.Warnings, fmt.Sprintf(
			"the two ways differ by %.1f %%: the roller did not keep its speed or load; their average stands, but roll more evenly", 100*math.Sqrt(squares/n)))
	}
	return g
}

// findGains fits the model y[i][k] = level[i]·gain[k] to rows (presses or passes) of
// cells, NaN where a row did not reach a cell. It leaves out the cells that do not
// respond.
//
// The variance of a response is assumed to be proportional to the response, between that
// of the converter (constant) and that of cells with different curves (proportional to
// its square). The quasi-likelihood estimate then equates the sums over rows and over
// cells with those of the model: a cell's gain is the sum of its responses over all rows
// divided by the sum of the levels of these rows (Wedderburn, Biometrika 61 (1974)
// 439-447).
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
	gathered := make([]float64, cells) // by cell, sum of the levels of the rows that reached it
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

// finish normalises the gains to mean 1 and derives SD and warnings.
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
		warn("%s: left out; repair the strip, or know that load there is not seen", cellsText(g.Silent, "never responds", "never respond"))
	}
	if len(unlike) > 0 {
		warn("the gain of %s is beyond a factor of %d: was the pressure even, is the strip sound there?", cellNames(unlike), gainFactorWarn)
	}
	if len(rough) > 0 {
		warn("the gain of %s is not known to %.0f %%: take more readings, and at higher pressure", cellNames(rough), 100*gainUWarn)
	}
}

// findResponding clears use for cells that no row reaches, and for those with
// less than a tenth of the median response of their rows.
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
		sum, expected := 0.0, 0.0
		for i, r := range rows {
			if !math.IsNaN(r[k]) && middle[i] > 0 {
				sum, expected = sum+r[k], expected+middle[i]
			}
		}
		use[k] = expected > 0 && sum > silentShare*expected
	}
}

// fitGains alternates between levels and gains until they converge.
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

// connected reports whether all cells in use can be compared through rows that
// share cells.
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

// countTrue returns the number of true elements.
func countTrue(set []bool) (n int) {
	for _, in := range set {
		if in {
			n++
		}
	}
	return n
}

// RemainingSD returns the relative standard uncertainty of a cell after
// correction for its gain, under a pressure that was not used here: ResidualSD
// combined with the root mean square of U.
func (g Gains) RemainingSD() float64 {
	square, n := 0.0, 0.0
	for k, u := range g.U {
		if !math.IsInf(u, 1) {
			square, n = square+u*u/(g.Gain[k]*g.Gain[k]), n+1
		}
	}
	return stats.Combined(stats.Component{U: g.ResidualSD}, stats.Component{U: math.Sqrt(square / n)})
}
