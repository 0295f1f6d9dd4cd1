package calibrate

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/device/platform"
)

// mountings draws mountings with standard deviation seat and presses with standard
// deviation press about them, mm.
func mountings(rng *rand.Rand, n, each int, seat, press float64) (at [][]platform.Point) {
	for range n {
		c := platform.Point{2 + seat*rng.NormFloat64(), -1 + seat*rng.NormFloat64()}
		var m []platform.Point
		for range each {
			m = append(m, platform.Point{c[0] + press*rng.NormFloat64(), c[1] + press*rng.NormFloat64()})
		}
		at = append(at, m)
	}
	return at
}

// The interval contains the true standard deviation in 95 of 100 simulations, whether
// presses scatter less or more than mountings, and the estimate has no bias.
func TestSeatIntervalCovers(t *testing.T) {
	const runs = 1000
	for _, c := range []struct {
		n, each     int
		seat, press float64
	}{{2, 3, 1, 0.2}, {5, 4, 1, 0.3}, {8, 3, 0.5, 0.6}, {4, 5, 0.3, 1}} {
		rng := rand.New(rand.NewPCG(9, uint64(c.n)))
		inside, square := 0, 0.0
		for range runs {
			s, err := SeatFromMountings(mountings(rng, c.n, c.each, c.seat, c.press))
			require.NoError(t, err)
			if s.Range.Contains(c.seat) {
				inside++
			}
			square += s.SDMM * s.SDMM / runs
		}
		rate := float64(inside) / runs
		t.Logf("%+v: %.1f %% of intervals hold the seat", c, 100*rate)
		assert.GreaterOrEqual(t, rate, 0.93, "%+v", c)
		assert.LessOrEqual(t, rate, 0.98, "%+v", c)
		if c.press < c.seat { // otherwise the limit at 0 raises the mean
			assert.InEpsilon(t, c.seat*c.seat, square, 0.12, "%+v", c)
		}
	}
}

// The interval from seats that were found contains the true standard deviation in 95 of
// 100 simulations, and the estimate has no bias, whether they were found well or badly.
func TestFoundSeatsCover(t *testing.T) {
	const runs = 2000
	for _, c := range []struct {
		n       int
		seat, u float64
	}{{2, 1, 0.1}, {6, 1, 0.2}, {8, 0.5, 0.4}, {12, 2, 0.2}} {
		rng := rand.New(rand.NewPCG(11, uint64(c.n)))
		inside, square := 0, 0.0
		for range runs {
			var at, u []platform.Point
			for _, m := range mountings(rng, c.n, 1, c.seat, c.u) {
				at, u = append(at, m[0]), append(u, platform.Point{c.u, c.u})
			}
			s, err := SeatFromFound(at, u)
			require.NoError(t, err)
			if s.Range.Contains(c.seat) {
				inside++
			}
			square += s.SDMM * s.SDMM / runs
			assert.InDelta(t, c.u, s.PressMM, 1e-9)
		}
		rate := float64(inside) / runs
		t.Logf("%+v: %.1f %% of intervals hold the seat", c, 100*rate)
		assert.InDelta(t, 0.95, rate, 0.02, "%+v", c)
		assert.InEpsilon(t, c.seat*c.seat, square, 0.1, "%+v", c)
	}
	_, err := SeatFromFound(make([]platform.Point, 1), make([]platform.Point, 1))
	assert.ErrorIs(t, err, errOneMounting)
}

// A common shift changes nothing; a scale factor scales the result.
func TestSeatMovesAndScales(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		at := mountings(rng, rapid.IntRange(2, 8).Draw(t, "mountings"), rapid.IntRange(2, 6).Draw(t, "presses"), 1, 0.3)
		s, err := SeatFromMountings(at)
		require.NoError(t, err)
		k := rapid.Float64Range(0.1, 10).Draw(t, "k")
		for _, m := range at {
			for i := range m {
				m[i] = platform.Point{k*m[i][0] + 7, k*m[i][1] - 30}
			}
		}
		moved, err := SeatFromMountings(at)
		require.NoError(t, err)
		assert.InDelta(t, k*s.SDMM, moved.SDMM, 1e-6*k)
		assert.InDelta(t, k*s.Range.Hi, moved.Range.Hi, 1e-6*k)
		assert.InDelta(t, s.DOF, moved.DOF, 1e-6*(1+s.DOF))
		assert.True(t, s.Range.Contains(s.SDMM))
	})
}

// Equal mountings give 0 with a warning and an upper limit.
func TestSeatBelowTheScatterOfPresses(t *testing.T) {
	m := []platform.Point{{0, 0}, {1, 1}, {-1, -1}}
	s, err := SeatFromMountings([][]platform.Point{m, m, m})
	require.NoError(t, err)
	assert.Equal(t, 0.0, s.SDMM)
	assert.Equal(t, 0.0, s.DOF)
	assert.Equal(t, 0.0, s.Range.Lo)
	assert.InDelta(t, 1, s.PressMM, 1e-12)
	require.Len(t, s.Warnings, 2)
	assert.Contains(t, s.Warnings[0], "mountings differ by no more than presses do")
	assert.Contains(t, s.Warnings[1], "3 mountings: the seat lies anywhere")
}

func TestSeatSaysWhereTheAxesDiffer(t *testing.T) {
	at := mountings(rand.New(rand.NewPCG(3, 3)), 8, 4, 1, 0.1)
	for _, m := range at {
		for i := range m {
			m[i][1] *= 10
		}
	}
	s, err := SeatFromMountings(at)
	require.NoError(t, err)
	require.Len(t, s.Warnings, 1)
	assert.Contains(t, s.Warnings[0], "the axes differ")
	assert.InEpsilon(t, math.Sqrt((s.AxisMM[0]*s.AxisMM[0]+s.AxisMM[1]*s.AxisMM[1])/2), s.SDMM, 1e-9)
}

func TestSeatRefuses(t *testing.T) {
	_, err := SeatFromMountings([][]platform.Point{{{0, 0}, {1, 1}}})
	assert.ErrorContains(t, err, "one mounting does not tell how mountings differ: take the strip off and fix it again")
	_, err = SeatFromMountings([][]platform.Point{{{0, 0}, {1, 1}}, {{0, 0}}})
	assert.ErrorContains(t, err, "mounting 2 has 1 presses")
	_, err = SeatFromMountings([][]platform.Point{{{0, 0}, {1, 1}}, {{0, 0}, {0, nan}}})
	assert.ErrorContains(t, err, "mounting 2, press 2: no centre of pressure")
}
