package sim

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"

	"aplomb/device"
	"aplomb/device/platform"
)

func testDance(seed uint64, rises int, aborted ...int) *dance {
	d := DefaultDancer()
	d.Rises, d.Aborted = rises, aborted
	return &dance{begin: DefaultLeadInS, loadFactor: [2]float64{1, 1}, dancer: d, rng: stream(seed, "test")}
}

// samples returns the load of a rise every millisecond, as a fraction of its level.
func samples(p *footRise) (times, load []float64) {
	for t := p.start; t < p.end(); t += 0.001 {
		times, load = append(times, t), append(load, p.load(t))
	}
	return times, load
}

// steady returns the longest time within 15 % of the median of the loaded part, s.
func steady(times, load []float64) (from, to float64) {
	var up []float64
	for _, f := range load {
		if f > 0.07 {
			up = append(up, f)
		}
	}
	slices.Sort(up)
	median := stat.Quantile(0.5, stat.Empirical, up, nil)
	began := math.NaN()
	for i, f := range load {
		if math.Abs(f/median-1) > 0.15 {
			began = math.NaN()
			continue
		}
		if math.IsNaN(began) {
			began = times[i]
		}
		if times[i]-began > to-from {
			from, to = began, times[i]
		}
	}
	return from, to
}

func TestHeldRises(t *testing.T) {
	d := testDance(3, 20)
	end := 0.0
	for i := range 20 {
		r, ok := d.rise(i)
		require.True(t, ok)
		first := min(r.feet[0].start, r.feet[1].start)
		require.Greater(t, first-end, 1.4, "a pause before it")
		end = r.end
		for k := range r.feet {
			p := &r.feet[k]
			times, load := samples(p)
			from, to := steady(times, load)
			require.InDelta(t, p.heldFrom, from, 0.01)
			require.InDelta(t, p.heldTo, to, 0.01)
			require.Greater(t, to-from, 2.4)
			require.Less(t, to-from, 4.5)
			require.InDelta(t, 0.10, p.load(p.onset()), 1e-9)
			require.InDelta(t, 0.07, p.load(p.over()), 1e-9)
			require.InDelta(t, 1+p.overshoot, slices.Max(load), 1e-4)
			for j := 1; j < len(load); j++ {
				require.InDelta(t, load[j-1], load[j], 0.01, "the load does not jump")
			}
		}
		require.InDelta(t, 55*device.StandardGravity, r.feet[0].level+r.feet[1].level, 30)
		require.InDelta(t, r.feet[0].start, r.feet[1].start, 0.12)
	}
	_, ok := d.rise(20)
	require.False(t, ok)
}

// The load of an aborted rise is never steady for half a second.
func TestAbortedRises(t *testing.T) {
	for seed := range uint64(40) {
		d := testDance(seed, 3, 1, 3)
		for i := range 3 {
			r, _ := d.rise(i)
			require.Equal(t, i != 1, r.aborted)
			from, to := steady(samples(&r.feet[0]))
			require.Equal(t, r.aborted, to-from < 0.45, "%.2f s", to-from)
		}
	}
}

func TestKeepOff(t *testing.T) {
	e := newSafeRegion(platform.Rectangle(36, 22))
	for _, q := range []platform.Point{{}, {3, -9.8}, {-16, 2}} {
		require.Equal(t, q, e.clamp(q))
	}
	q := e.clamp(platform.Point{0, -30})
	require.InDelta(t, 0, q[0], 1e-9)
	require.InDelta(t, -0.9*11, q[1], 1e-9)
	require.InDelta(t, 0.9*18, e.clamp(platform.Point{40, 0})[0], 1e-9)
}
