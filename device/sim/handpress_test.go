//go:build !race

package sim

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"

	"aplomb/device"
	"aplomb/device/platform"
)

// newtons returns the load in a frame of a strip without faults, N.
func newtons(f *device.Frame, strip *device.Strip) float64 {
	sum := 0.0
	for _, c := range f.Counts {
		sum += float64(c) * strip.Calibration.KPaPerCount * strip.CellMM[0] * strip.CellMM[1] / 1000
	}
	return sum
}

// Each foot in turn is pressed before the first rise and after the last. A strip that is
// not pressed carries no load then, and at least a second passes before and between
// presses.
func TestPressesComeOneAtATime(t *testing.T) {
	for _, physics := range []Physics{{}, {RoundFrontMM: 1.5, RoundBackMM: 1.5, SpreadMM: 1}} {
		setup := testSetup()
		setup.Faults, setup.Press, setup.SecondPress = Faults{}, DefaultPadPress(), DefaultPadPress()
		setup.Dancer.Rises, setup.Dancer.Aborted = 2, nil
		for k := range setup.Feet {
			setup.Feet[k].Physics = physics
			setup.Feet[k].Strip.Mount.SeatSDMM = 0
			setup.Feet[k].Strip.Rows, setup.Feet[k].Strip.Cols = 8, 12 // more than the platform, so that spread load counts
		}
		s := newTestSession(t, setup)
		presses := s.Presses()
		require.Len(t, presses, 4)
		end := 0.0
		for i, p := range presses {
			assert.Equal(t, device.Foot(i%2), p.Foot)
			assert.Equal(t, i/2+1, p.Press)
			assert.GreaterOrEqual(t, p.StartS, end+1)
			assert.InDelta(t, 3, p.EndS-p.StartS, 1e-9)
			end = p.EndS
		}
		var sum, n [4]float64
		last := 0.0
		drain(t, s, func(f *device.Frame) {
			at := float64(f.ArrivalNS-setup.Start.UnixNano())/1e9 - 0.002
			load := newtons(f, setup.Feet[f.Foot].Strip)
			inRise := at > presses[1].EndS && at < presses[2].StartS
			pressed := false
			for i, p := range presses {
				if f.Foot != p.Foot || at < p.StartS-0.01 || at > p.EndS+0.01 {
					continue
				}
				pressed = true
				assert.Less(t, load, 155.0)
				if at > p.StartS+pressRampS && at < p.EndS-pressRampS {
					assert.Greater(t, load, 55.0)
					sum[i], n[i] = sum[i]+load, n[i]+1
				}
			}
			if !inRise && !pressed {
				assert.Zero(t, load, "%v s, %s", at, f.Foot)
			}
			last = at
		})
		for i := range sum {
			assert.InDelta(t, 105, sum[i]/n[i], 35) // between the bounds of the load
		}
		truth := s.Truth()
		require.Len(t, truth, 4)
		assert.Greater(t, truth[0].OnsetS, presses[1].EndS+1)
		assert.Less(t, truth[3].EndS, presses[2].StartS-1)
		assert.InDelta(t, presses[3].EndS+leadOut, last, 0.02)
	}
}

// A press shifts the dancer's later movements in time and changes nothing else.
func TestPressLeavesTheRises(t *testing.T) {
	setup := testSetup()
	setup.Faults = Faults{}
	plain := newTestSession(t, setup)
	drain(t, plain, nil)
	setup.Press = DefaultPadPress()
	pressed := newTestSession(t, setup)
	drain(t, pressed, nil)
	a, b := plain.Truth(), pressed.Truth()
	require.Len(t, b, len(a))
	for i := range a {
		assert.Equal(t, a[i].Seat, b[i].Seat)
		assert.InDelta(t, a[i].EndS-a[i].OnsetS, b[i].EndS-b[i].OnsetS, 1e-9)
	}
}

// The events carry the end of each press on the host's clock and its length.
func TestPressEvents(t *testing.T) {
	setup := testSetup()
	setup.Press = DefaultPadPress()
	setup.Feet[device.Left] = nil
	s := newTestSession(t, setup)
	events := s.PressEvents()
	require.Len(t, events, 1)
	assert.Equal(t, device.Event{
		Kind: device.Press, Foot: device.Right, LengthS: events[0].LengthS,
		TimeNS: setup.Start.Add(5 * time.Second).UnixNano(), // DefaultLeadInS, then 3 s
	}, events[0])
	assert.InDelta(t, 3, events[0].LengthS, 1e-9)
}

// The strip moves between the first press, the rises and the second press as the
// scenario's physics states, and slips halfway through a press by the stated distance.
func TestStripMovesInASession(t *testing.T) {
	var first, second []float64
	for m := range 300 {
		setup := testSetup()
		setup.Mounting = string(rune('a' + m))
		setup.Press, setup.SecondPress = DefaultPadPress(), DefaultPadPress()
		setup.Feet[1].Physics = Physics{MoveSDMM: 0.3, MoveSDDeg: 0.5}
		s := newTestSession(t, setup)
		for _, p := range s.Presses() {
			if p.Foot == device.Left {
				assert.Equal(t, s.Seat(device.Left), p.Seat)
				continue
			}
			off := []float64{s.Seat(p.Foot).MedialMM - p.Seat.MedialMM, s.Seat(p.Foot).OverMM - p.Seat.OverMM}
			if p.Press == 1 {
				first = append(first, off...)
			} else {
				second = append(second, off...)
			}
		}
	}
	// The standard error of a standard deviation from 600 values is 3 %.
	assert.InEpsilon(t, 0.3, stat.StdDev(first, nil), 0.1)
	assert.InEpsilon(t, 0.3, stat.StdDev(second, nil), 0.1)

	setup := testSetup()
	setup.Press, setup.SecondPress = DefaultPadPress(), DefaultPadPress()
	setup.Press.SlipMM = 1.2
	presses := newTestSession(t, setup).Presses()
	assert.InDelta(t, 1.2, math.Hypot(presses[0].Seat.MedialMM-presses[2].Seat.MedialMM, presses[0].Seat.OverMM-presses[2].Seat.OverMM), 1e-9)
}

// Recordings differ in the ruler's outline, rotation, place, load and sway, as Scatter
// states.
func TestScatter(t *testing.T) {
	var rotation, medial, load, width []float64
	for m := range 400 {
		setup := testSetup()
		setup.Seed, setup.Mounting = uint64(m), string(rune('a'+m))
		setup.Scatter = Scatter{RulerSDMM: 0.8, RotationSDDeg: 1, RecordingSDMM: 0.4, RecordingLoadSD: 0.1, RecordingSwaySD: 0.3}
		s := newTestSession(t, setup)
		for k, a := range s.feet {
			rotation = append(rotation, s.Seat(device.Foot(k)).RotationDeg)
			medial = append(medial, s.dance.stands[k].CoPMM[0]-setup.Feet[k].Stand.CoPMM[0])
			load = append(load, s.dance.loadFactor[k])
			lo, hi := a.under.outline().Bounds()
			width = append(width, hi[0]-lo[0])
		}
	}
	assert.InEpsilon(t, 1, stat.StdDev(rotation, nil), 0.12)
	assert.InEpsilon(t, 0.4, stat.StdDev(medial, nil), 0.12)
	assert.InEpsilon(t, 0.1, stat.StdDev(load, nil), 0.12)
	assert.InDelta(t, 1, stat.Mean(load, nil), 0.02)
	assert.InEpsilon(t, 0.8, stat.StdDev(width, nil), 0.15) // both feet wear the same shoe: 400 values
	assert.InDelta(t, 36, stat.Mean(width, nil), 0.15)
}

// On the grid of a session a flat platform with sharp edges loads the cells as the exact
// solution does, within the noise of a cell in one frame (DefaultFaults: 1.1 kPa).
func TestSessionGrid(t *testing.T) {
	setup := testSetup()
	foot := setup.Feet[device.Right]
	shape := drawShape(1, foot.Shoe, Physics{}, 0, sessionGridMM)
	exact := newSoleUnderside(&setup, foot, shape)
	grid, err := newGridUnderside(&setup, foot, shape)
	require.NoError(t, err)
	seat := Seat{0.7, -0.4, 2}
	want, got := make([]float64, foot.Strip.Cells()), make([]float64, foot.Strip.Cells())
	for _, c := range []struct {
		on   ground
		load float64
		cop  platform.Point
	}{
		{onFloor, 260, platform.Point{0.3, -0.4}}, {onFloor, 260, platform.Point{-1, -5}}, {onFloor, 300, platform.Point{2, -7}},
		{onPad, 100, platform.Point{8, 3}}, {onPad, 100, platform.Point{-9, 6}}, {onPad, 60, platform.Point{0, -8.5}},
	} {
		for _, u := range []underside{exact, grid} {
			u.lay(seat, c.on)
			require.NoError(t, u.press(c.on, c.load, c.cop))
		}
		exact.read(want)
		grid.read(got)
		worst, square := 0.0, 0.0
		for k := range want {
			worst = max(worst, math.Abs(got[k]-want[k]))
			square += (got[k] - want[k]) * (got[k] - want[k]) / float64(len(want))
		}
		a, b := exact.contact(), grid.contact()
		t.Logf("%v: cells %.2f kPa root mean square, at most %.2f; share %.4f and %.4f", c, math.Sqrt(square), worst, a.Share, b.Share)
		assert.Less(t, math.Sqrt(square), 0.5)
		assert.Less(t, worst, 1.5)
		assert.InDelta(t, a.LoadN, b.LoadN, 1e-6)
		assert.InDelta(t, a.CoP[0], b.CoP[0], 0.01)
		assert.InDelta(t, a.CoP[1], b.CoP[1], 0.01)
		if c.on == onFloor { // the bearing area of a pad press is not the platform's
			assert.InDelta(t, a.Share, b.Share, 0.006)
		}
	}
}

// The contact above a threshold is that of the grid.
func TestThresholdOfContact(t *testing.T) {
	setup := testSetup()
	setup.ThresholdKPa = 40
	foot := setup.Feet[device.Right]
	shape := drawShape(1, foot.Shoe, Physics{}, 0, 0.1)
	exact := newSoleUnderside(&setup, foot, shape)
	grid, err := newGridUnderside(&setup, foot, shape)
	require.NoError(t, err)
	for _, u := range []underside{exact, grid} {
		u.lay(Seat{}, onFloor)
		require.NoError(t, u.press(onFloor, 260, platform.Point{-1, -5}))
	}
	assert.InDelta(t, grid.imprint.AreaMM2(40), exact.contact().AreaMM2, 1)
	setup.ThresholdKPa = 0
	all := newSoleUnderside(&setup, foot, shape)
	all.lay(Seat{}, onFloor)
	require.NoError(t, all.press(onFloor, 260, platform.Point{-1, -5}))
	assert.Greater(t, all.contact().Share, exact.contact().Share+0.02)
}

// In every physics the cells of a large strip without faults carry the load of the truth,
// where the truth has one; a taut tail adds its pressure on the back row.
func TestSessionInEveryPhysics(t *testing.T) {
	for _, scenario := range Scenarios() {
		setup := testSetup()
		setup.RateHz, setup.Faults, setup.Dancer.Rises, setup.Dancer.Aborted = 30, Faults{}, 1, nil
		setup.Press, setup.Scatter, setup.ThresholdKPa = scenario.PadPress(3), Scatter{RulerSDMM: 0.8, RotationSDDeg: 1}, 10
		setup.Feet[device.Left] = nil
		foot := setup.Feet[device.Right]
		foot.Physics, foot.Shoe = scenario.Physics, scenario.Shoe()
		strip := foot.Strip
		strip.Rows, strip.Cols, strip.PitchMM, strip.CellMM = 40, 56, [2]float64{1, 1}, [2]float64{1, 1}
		strip.ADCBits, strip.SaturatesAt, strip.Calibration.KPaPerCount = 16, 65535, 0.05
		s := newTestSession(t, setup)
		var frames []device.Frame
		drain(t, s, func(f *device.Frame) {
			g := *f
			g.Counts = append([]uint16(nil), f.Counts...)
			frames = append(frames, g)
		})
		truth := s.Truth()
		require.Len(t, truth, 1, scenario.Name)
		h := truth[0].Hold
		require.NotNil(t, h, scenario.Name)
		seated := *strip
		seated.Mount = device.Mount{OffsetMM: [2]float64{truth[0].Seat.MedialMM, truth[0].Seat.OverMM}, RotationDeg: truth[0].Seat.RotationDeg}
		var load, medial, over, n float64
		for _, f := range frames {
			if at := float64(f.ArrivalNS-setup.Start.UnixNano())/1e9 - 0.0016; at < h.HoldStartS || at > h.HoldEndS {
				continue
			}
			n++
			for k, c := range f.Counts {
				kPa := float64(c) * 0.05
				if row, _ := strip.RowCol(k); row == 0 {
					kPa -= scenario.Physics.TailKPa
				}
				at := seated.Centre(seated.RowCol(k))
				load, medial, over = load+kPa/1000, medial+kPa/1000*at[0], over+kPa/1000*at[1]
			}
		}
		require.InEpsilon(t, h.LoadN, load/n, 0.005, scenario.Name)
		require.InDelta(t, h.MedialMM, medial/load, 0.03, scenario.Name)
		require.InDelta(t, h.OverMM, over/load, 0.03, scenario.Name)
		require.True(t, h.ContactShare > 0.3 && h.ContactShare <= 1, "%s: %v", scenario.Name, h.ContactShare)
	}
}
