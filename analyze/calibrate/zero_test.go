package calibrate

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestUnloadedFindsLevelAndNoise(t *testing.T) {
	b := newBench(1, 40)
	b.noise = 2.5
	z, err := Unloaded(b.unloaded(2000), 4095)
	require.NoError(t, err)
	assert.Empty(t, z.Warnings)
	for k := range z.Level {
		assert.InDelta(t, b.zero, z.Level[k], 5*2.5/math.Sqrt(2000))
		assert.InEpsilon(t, math.Hypot(2.5, 1/math.Sqrt(12)), z.Noise[k], 0.1) // rounding adds its variance
		assert.InDelta(t, 2.5/math.Sqrt(2000), z.ULevel[k], 0.06)
	}
}

// Without noise the standard deviation is that of rounding.
func TestUnloadedNoiseIsAtLeastRounding(t *testing.T) {
	b := newBench(1, 4)
	b.noise = 0
	z, err := Unloaded(b.unloaded(200), 4095)
	require.NoError(t, err)
	assert.Equal(t, 1/math.Sqrt(12), z.Noise[2])
}

func TestUnloadedRefuses(t *testing.T) {
	change := func(f func(frames [][]uint16)) [][]uint16 {
		frames := newBench(1, 40).unloaded(300)
		f(frames)
		return frames
	}
	add := func(cell int, counts func(i int) float64) [][]uint16 {
		return change(func(frames [][]uint16) {
			for i := range frames {
				frames[i][cell] += uint16(counts(i))
			}
		})
	}
	for _, c := range []struct {
		frames [][]uint16
		full   int
		says   string
	}{
		{nil, 4095, "0 frames of the unloaded strip: take at least 100"},
		{newBench(1, 4).unloaded(99), 4095, "99 frames"},
		{newBench(1, 4).unloaded(100), 0, "count at which a cell saturates"},
		{add(12, func(int) float64 { return 300 }), 4095, "cell 13 of the scan reads far more than the other cells: take off what lies there"},
		{add(12, func(i int) float64 { return float64(i) / 20 }), 4095, "cell 13 of the scan wanders while nothing should change"},
		{add(12, func(int) float64 { return 4060 }), 4095, "cell 13 of the scan is saturated"},
		{change(func(f [][]uint16) {
			for i := range f {
				for k := range f[i] {
					f[i][k] += 400
				}
			}
		}), 4095, "something lies on it; take it off"},
		{change(func(f [][]uint16) { f[7] = f[7][:39] }), 4095, "frame 8 has 39 cells"},
	} {
		_, err := Unloaded(c.frames, c.full)
		assert.ErrorContains(t, err, c.says)
	}
	z, err := Unloaded(add(12, func(int) float64 { return 120 }), 4095)
	require.NoError(t, err)
	require.Len(t, z.Warnings, 1)
	assert.Contains(t, z.Warnings[0], "cell 13 of the scan is more than 2 %")
}

// Unloaded accepts a sound strip for any noise, zero and scale.
func TestUnloadedTakesASoundStrip(t *testing.T) {
	// The seeds are fixed, because Unloaded refuses noise of one in some 100,000 cells.
	for seed := range uint64(3000) {
		g := rand.New(rand.NewPCG(seed, 1))
		b := newBench(seed, 12)
		b.zero, b.noise = 200*g.Float64(), 8*g.Float64()
		_, err := Unloaded(b.unloaded(100+g.IntN(301)), 4095)
		require.NoError(t, err, "seed %d", seed)
	}
}
