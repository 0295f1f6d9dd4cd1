package seat

import (
	"fmt"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device/sim"
)

// mountings are mountings of one shoe of a scenario; the i-th shows gs[i].
func mountings(t require.TestingT, scenario string, seed uint64, gs ...given) ([]Input, []*sim.Mounting) {
	s, err := sim.ScenarioNamed(scenario)
	require.NoError(t, err)
	var in []Input
	var truth []*sim.Mounting
	for i, g := range gs {
		setup := s.Setup(seed, i, 6, 10)
		setup.GridMM = gridMM
		m, err := sim.NewMounting(setup)
		require.NoError(t, err)
		in, truth = append(in, input(setup, m, g)), append(truth, m)
	}
	return in, truth
}

// printTogether prints how accurately the seat of a mounting without a press is estimated
// together with another mounting of its shoe that has one, from n shoes a row.
func printTogether(t *testing.T, n int) {
	fmt.Printf("%d shoes a row: holds, the bearing outline from the press of another mounting\n%-28s over: RMS error  held  half-width   medial: RMS error  held  half-width\n", n, "")
	for _, r := range rows() {
		if r.truly != 1 {
			continue // the outline belongs to the shoe and does not depend on the seats
		}
		all := make([]outcome, n)
		for i := range all {
			seed := reported + uint64(i)
			in, m := mountings(t, r.Name, seed, given{press: true}, given{holds: true})
			s := FindTogether(in)[1]
			all[i] = outcome{seat: s, off: [3]float64{s.Offset[0] - m[1].Seat.MedialMM, s.Offset[1] - m[1].Seat.OverMM, s.RotationDeg - m[1].Seat.RotationDeg}}
		}
		f := sum(all)
		fmt.Printf("%-28s %15.3f %4.0f %% %11.2f %19.3f %4.0f %% %11.2f\n", r.name, f.rms[1], f.held[1], f.half[1], f.rms[0], f.held[0], f.half[0])
	}
}

// A mounting without a press uses the bearing outline from the press of another mounting
// of its shoe. Over several shoes its error shrinks, and its interval narrows and still
// contains the true value.
//
//	APLOMB_LONG=1 go test ./analyze/seat -run TestOutlineOfAnotherMounting -v -timeout 0
//
// prints a table of 1,000 shoes a row; a number above 1 instead sets the number of shoes.
func TestOutlineOfAnotherMounting(t *testing.T) {
	if n, err := strconv.Atoi(os.Getenv("APLOMB_LONG")); err == nil {
		if n == 1 {
			n = 1000
		}
		printTogether(t, n)
	}
	var alone, together float64
	for seed := uint64(1); seed <= 6; seed++ {
		in, m := mountings(t, "all together", seed, given{press: true}, given{holds: true})
		wide, seats := Find(in[1]), FindTogether(in)
		assert.Equal(t, FromHolds, seats[1].Evidence)
		assert.Equal(t, []int{0}, seats[1].OutlineFrom)
		assert.Empty(t, seats[0].OutlineFrom)
		assert.Equal(t, Find(in[0]), seats[0], "the holds of another mounting tell a press nothing")
		assert.Less(t, seats[1].Cov[1][1], 0.6*wide.Cov[1][1])
		truth := m[1].Seat.OverMM
		assert.InDelta(t, truth, seats[1].Offset[1], 2.6*math.Sqrt(seats[1].Cov[1][1]))
		alone += (wide.Offset[1] - truth) * (wide.Offset[1] - truth)
		together += (seats[1].Offset[1] - truth) * (seats[1].Offset[1] - truth)
	}
	t.Logf("over: RMS error %.2f mm alone, %.2f mm together", math.Sqrt(alone/6), math.Sqrt(together/6))
	assert.Less(t, together, alone/2)
}

// The outline used for a mounting is the mean over the two others, and the order of
// mountings does not matter.
func TestOrderOfMountings(t *testing.T) {
	in, _ := mountings(t, "rounded 2 mm", 4, given{press: true}, given{press: true, holds: true}, given{holds: true})
	seats := FindTogether(in)
	assert.Equal(t, []int{0, 1}, seats[2].OutlineFrom)
	assert.Equal(t, []int{1}, seats[0].OutlineFrom)
	for _, order := range [][3]int{{2, 1, 0}, {1, 2, 0}} {
		var shuffled []Input
		for _, i := range order {
			shuffled = append(shuffled, in[i])
		}
		for k, again := range FindTogether(shuffled) {
			want := seats[order[k]]
			assert.InDelta(t, want.Offset[0], again.Offset[0], 1e-6)
			assert.InDelta(t, want.Offset[1], again.Offset[1], 1e-6)
			assert.InDelta(t, want.Cov[1][1], again.Cov[1][1], 1e-6)
			assert.InDelta(t, want.Outline.BackRadius.Value, again.Outline.BackRadius.Value, 1e-5)
			assert.Len(t, again.OutlineFrom, len(want.OutlineFrom))
		}
	}
}

// Mountings without presses have the same seats together as alone.
func TestAloneTogether(t *testing.T) {
	in, _ := mountings(t, "all together", 2, given{press: true, holds: true}, given{holds: true}, given{holds: true})
	assert.Empty(t, FindTogether(nil))
	assert.Equal(t, []Seat{Find(in[0])}, FindTogether(in[:1]))
	assert.Equal(t, []Seat{Find(in[1]), Find(in[2])}, FindTogether(in[1:]))
	in[1].Known = &Outline{HalfWidth: Value{0.2, 0.1}, HalfDepth: Value{0, 0.1}, DomeMedial: Value{0, 0.1}, DomeOver: Value{0, 0.1},
		FrontRadius: Value{1, 0.5}, BackRadius: Value{1, 0.5}}
	assert.Equal(t, []Seat{Find(in[1])}, FindTogether(in[1:2]))
}

// A press with another shoe's outline is detected: neither mounting is fitted with the
// outline of the other.
func TestOtherShoeAmongMountings(t *testing.T) {
	in, _ := mountings(t, "kind", 3, given{press: true})
	// The same maps give another growth relative to another ruler's outline.
	in = append(in, in[0])
	in[1].Outline = sim.Stretch(in[0].Outline, 1.06, 0.92)
	seats := FindTogether(in)
	for i, seat := range seats {
		assert.True(t, seat.OutlineConflict)
		assert.Empty(t, seat.OutlineFrom)
		assert.Equal(t, Find(in[i]).Offset, seat.Offset)
	}
	same := FindTogether([]Input{in[0], in[0]})
	assert.False(t, same[0].OutlineConflict)
	assert.Equal(t, []int{1}, same[0].OutlineFrom)
}

// Fits that contain only the prior combine to the prior, which counts once.
func TestCombineOutlines(t *testing.T) {
	fit := func(v, sd float64) *found {
		f := &found{scale: 1}
		for i := range f.v {
			f.v[i], f.cov[i][i] = priorMean[i], priorSD[i]*priorSD[i]
		}
		f.v[backRadius], f.cov[backRadius][backRadius] = v, sd*sd
		return f
	}
	o := combineOutlines([]*found{fit(1, 0.5), fit(1, 0.5), fit(1, 0.5)}, nil)
	assert.InDelta(t, 0, o.HalfWidth.Value, 1e-12)
	assert.InDelta(t, math.Hypot(priorSD[width], pressError.outline[0]), o.HalfWidth.SD, 1e-12)
	// Each fit contains data with the precision 1/0.5² - 1/2²; three of them and the
	// prior once.
	p := 3*(1/0.25-1/4.) + 1/4.
	assert.InDelta(t, 3/0.25/p, o.BackRadius.Value, 1e-12)
	assert.InDelta(t, math.Sqrt(1/p), o.BackRadius.SD, 1e-12)
	scattered := combineOutlines([]*found{fit(0.2, 0.1), fit(1.8, 0.1)}, nil)
	assert.InDelta(t, 1, scattered.BackRadius.Value, 0.2)
	assert.InDelta(t, 0.8, scattered.BackRadius.SD, 0.1, "the mountings scatter by more than they say")
	known := combineOutlines([]*found{fit(1, 0.5)}, &Outline{HalfWidth: Value{0, 1}, HalfDepth: Value{0, 1}, DomeMedial: Value{0, 1}, DomeOver: Value{0, 1},
		FrontRadius: Value{0, 1}, BackRadius: Value{3, 0.01}})
	assert.InDelta(t, 3, known.BackRadius.Value, 0.01)
}
