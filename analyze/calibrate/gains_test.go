package calibrate

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

var nan = math.NaN()

// press returns mean net counts under presses of the given pressures, kPa.
func (b *bench) press(scatter float64, kPa ...float64) (presses [][]float64) {
	for _, p := range kPa {
		row := make([]float64, len(b.gains))
		for k, g := range b.gains {
			row[k] = g * b.counts(p) * (1 + scatter*b.rng.NormFloat64())
		}
		presses = append(presses, row)
	}
	return presses
}

// roll returns the impulses of one pass over a strip of rows × cols cells, at a speed that
// changes along the way by the fraction drift.
func (b *bench) roll(cols int, backward bool, drift, scatter float64, on func(row, col int) bool) Pass {
	p := Pass{Backward: backward, Impulse: make([]float64, len(b.gains))}
	rows := len(b.gains) / cols
	for k, g := range b.gains {
		way := float64(k/cols) / float64(rows-1)
		if backward {
			way = 1 - way
		}
		p.Impulse[k] = 300 * g * (1 + drift*(way-0.5)) * (1 + scatter*b.rng.NormFloat64())
		if on != nil && !on(k/cols, k%cols) {
			p.Impulse[k] = nan
		}
	}
	return p
}

// Known gains are recovered within their uncertainty for any curve.
func TestUniformFindsKnownGains(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := newBench(rapid.Uint64().Draw(t, "seed"), rapid.IntRange(6, 60).Draw(t, "cells")).uneven(rapid.Float64Range(0, 0.1).Draw(t, "spread"))
		exponent := rapid.Float64Range(0.6, 1.6).Draw(t, "exponent")
		b.counts = func(p float64) float64 { return 3000 * math.Pow(p/1500, exponent) }
		scatter := rapid.Float64Range(0, 0.02).Draw(t, "scatter")
		g, err := Uniform(b.press(scatter, 200, 500, 900, 1400, 900))
		require.NoError(t, err)
		chi2, n := 0.0, float64(len(b.gains))
		for k, u := range g.U {
			require.InDelta(t, b.gains[k], g.Gain[k], 7*scatter+1e-9) // ten standard deviations of the mean of 1.5 presses
			chi2 += (g.Gain[k] - b.gains[k]) * (g.Gain[k] - b.gains[k]) / (u*u + 1e-18)
		}
		// With the variance that the estimate assumes, chi2 over its n - 1 degrees of
		// freedom would have an F distribution. Here the scatter is relative, so U is
		// right to within a factor.
		if scatter > 1e-3 {
			const factor, oneIn = 1.75, 1e8
			assert.Less(t, chi2/(n-1), factor*distuv.F{D1: n - 1, D2: g.DOF}.Quantile(1-1/oneIn))
			if n >= 20 { // fewer are not conclusive
				assert.InEpsilon(t, scatter, g.ResidualSD, 0.6)
			}
		}
		assert.Empty(t, g.Silent)
	})
}

// With the variance that the estimate assumes, the 95 % interval contains the gain in 95
// of 100 simulations, and the residual is the simulated one.
func TestUniformUncertaintyCovers(t *testing.T) {
	const runs, cells, dispersion = 100, 40, 0.2
	inside, square := 0, 0.0
	for run := range runs {
		b := newBench(uint64(run), cells).uneven(0.05)
		presses := b.press(0, 200, 400, 800, 1200)
		for _, row := range presses {
			for k := range row {
				row[k] += math.Sqrt(dispersion*row[k]) * b.rng.NormFloat64()
			}
		}
		g, err := Uniform(presses)
		require.NoError(t, err)
		for k := range g.Gain {
			if math.Abs(g.Gain[k]-b.gains[k]) < 1.98*g.U[k] { // t(0.975) with 117 degrees of freedom
				inside++
			}
		}
		square += g.ResidualSD * g.ResidualSD / runs
	}
	assert.InDelta(t, 0.95, float64(inside)/(runs*cells), 0.02) // levels are uncertain as well, by 1/40
	mean := (200. + 400 + 800 + 1200) / 4 / 0.75
	assert.InEpsilon(t, dispersion/mean, square, 0.1)
}

func TestSilentCellsAreNamedAndLeftOut(t *testing.T) {
	b := newBench(3, 40).uneven(0.03)
	presses := b.press(0.005, 200, 600, 1200)
	for _, row := range presses {
		row[4], row[17] = 0.3, -0.2
	}
	g, err := Uniform(presses)
	require.NoError(t, err)
	assert.Equal(t, []int{4, 17}, g.Silent)
	assert.True(t, math.IsInf(g.U[4], 1))
	assert.Equal(t, 1.0, g.Gain[4])
	require.NotEmpty(t, g.Warnings)
	assert.Contains(t, g.Warnings[0], "cells 5 and 18 of the scan never respond")
	total := 0.0
	for _, v := range g.Gain {
		total += v
	}
	assert.InDelta(t, 40, total, 1e-9)
}

func TestUniformRefuses(t *testing.T) {
	b := newBench(3, 10)
	_, err := Uniform(b.press(0, 200, 300))
	assert.ErrorContains(t, err, "2 presses: take at least 3")
	_, err = Uniform([][]float64{{1, 2}, {1, nan}, {1, 2}})
	assert.ErrorContains(t, err, "press 2: no reading of cell 2 of the scan")
	_, err = Uniform([][]float64{{0, 0}, {0, 0}, {0, 0}})
	assert.ErrorContains(t, err, "only 0 of 2 cells respond")
	_, err = Uniform([][]float64{{100, 90}, {100, 90}, {100}})
	assert.ErrorContains(t, err, "press or pass 3 has 1 cells")
	_, err = Uniform([][]float64{{100, 90}, {-1, -2}, {100, 90}})
	assert.ErrorContains(t, err, "press or pass 2 carries no load")
}

// A speed that increases along the way cancels between the directions, although each by
// itself is off by several percent, and a warning says that they differ.
func TestRolledCancelsTheSpeed(t *testing.T) {
	b := newBench(5, 40).uneven(0.04)
	var passes []Pass
	for i := range 6 {
		passes = append(passes, b.roll(8, i%2 == 1, 0.2, 0.002, nil))
	}
	g, err := Rolled(passes)
	require.NoError(t, err)
	assert.InDeltaSlice(t, b.gains, g.Gain, 0.01)
	require.NotEmpty(t, g.Warnings)
	assert.Contains(t, g.Warnings[len(g.Warnings)-1], "roll more evenly")

	passes = passes[:0]
	for i := range 6 {
		passes = append(passes, b.roll(8, i%2 == 1, 0, 0.002, nil))
	}
	g, err = Rolled(passes)
	require.NoError(t, err)
	assert.Empty(t, g.Warnings)
	for k := range g.Gain {
		assert.InDelta(t, b.gains[k], g.Gain[k], 5*g.U[k])
	}
}

// A narrow roller passes over one row or column at a time; passes share cells only where
// both directions are used.
func TestRolledAlongTracks(t *testing.T) {
	b := newBench(6, 40).uneven(0.05)
	var columns, both []Pass
	for _, backward := range []bool{false, true} {
		for track := range 8 {
			columns = append(columns, b.roll(8, backward, 0, 0.001, func(_, col int) bool { return col == track }))
		}
		for track := range 5 {
			both = append(both, b.roll(8, backward, 0, 0.001, func(row, _ int) bool { return row == track }))
		}
	}
	_, err := Rolled(columns)
	assert.ErrorContains(t, err, "rolling forward: the tracks do not meet")
	g, err := Rolled(append(both, columns...))
	require.NoError(t, err)
	for k := range g.Gain {
		assert.InDelta(t, b.gains[k], g.Gain[k], 6*g.U[k])
	}
	_, err = Rolled(columns[:8])
	assert.ErrorContains(t, err, "8 passes forward and 0 backward: roll at least twice each way")
}

// The impulse of a pulse is its area above the zero, and a cell off the track has none.
func TestRollIntegrates(t *testing.T) {
	const rate = 500.
	var timeS []float64
	var frames [][]uint16
	for i := range 1000 {
		at := float64(i) / rate
		bump := 900 * math.Exp(-(at-1)*(at-1)/(2*0.1*0.1))
		timeS, frames = append(timeS, at), append(frames, []uint16{uint16(math.Round(50 + bump)), 31})
	}
	impulse, err := Roll(timeS, frames, []float64{50, 30})
	require.NoError(t, err)
	assert.InEpsilon(t, 900*0.1*math.Sqrt(2*math.Pi), impulse[0], 1e-3)
	assert.True(t, math.IsNaN(impulse[1]))

	_, err = Roll(timeS, frames, []float64{50})
	assert.ErrorContains(t, err, "another strip's zero")
	_, err = Roll(timeS[:999], frames, nil)
	assert.ErrorContains(t, err, "999 times for 1000 frames")
	timeS[3] = 0
	_, err = Roll(timeS, frames, nil)
	assert.ErrorContains(t, err, "frame 4 at 0 s: times must rise")
}
