package live_test

import (
	"context"
	"math"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/analyze"
	"aplomb/analyze/field"
	"aplomb/analyze/live"
	"aplomb/analyze/seat"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/device/recording"
	"aplomb/device/sim"
)

// metadata returns the metadata of a recording with the given feet.
func metadata(calibrated bool, feet ...device.Foot) *device.Metadata {
	m := &device.Metadata{Started: began}
	for _, f := range feet {
		s := strip(f, 5, 8, 5)
		if calibrated {
			s.Calibration.Date = device.Date{Year: 2026, Month: 2, Day: 1}
		}
		m.Sides[f] = &device.Side{Strip: s, Shoe: &device.Shoe{Code: "A", PlatformMM: [2]float64{36, 22}, OutlineExponent: 2.5}, Mounting: "m1", Clock: "strip"}
	}
	return m
}

// hand presses platforms on a pad, 100 frames a second.
type hand struct {
	step *live.PadPress
	ms   int64
	made []live.Press
}

func (h *hand) ns() int64 { return began.UnixNano() + h.ms*1e6 }

// lasts makes both feet carry loads, N, for a time, ms. Each load acts at a fraction of
// the way to the outline, in a direction that turns from one angle to another, degrees.
func (h *hand) lasts(ms int64, loads [2]float64, reach, from, to float64) live.PressState {
	for end := h.ms + ms; h.ms < end; h.ms += 10 {
		angle := (to + (from-to)*float64(end-h.ms)/float64(ms)) * math.Pi / 180
		var feet [2]live.PressReading
		for f, load := range loads {
			at := platform.Point{18 * reach * math.Cos(angle), 11 * reach * math.Sin(angle)}
			if load < live.LoadFloorN {
				at = platform.Point{math.NaN(), math.NaN()}
			}
			feet[f] = live.PressReading{LoadN: load, At: at, NS: h.ns()}
		}
		h.made = append(h.made, h.step.Update(h.ns(), feet)...)
	}
	return h.step.State()
}

func (h *hand) rests(ms int64) live.PressState { return h.lasts(ms, [2]float64{}, 0, 0, 0) }

func (h *hand) rocks(f device.Foot, ms int64, from, to float64) live.PressState {
	var loads [2]float64
	loads[f] = 90
	return h.lasts(ms, loads, 0.6, from, to)
}

func newHand(m *device.Metadata) *hand { return &hand{step: live.NewPadPress(m)} }

func TestPadPress(t *testing.T) {
	h := newHand(metadata(true, device.Left, device.Right))
	assert.Equal(t, live.PressState{Foot: device.Left}, h.step.State())
	assert.Equal(t, live.PressRest, h.rests(900).Phase)
	assert.Equal(t, live.PressAsked, h.rests(200).Phase)
	assert.Equal(t, live.PressAsked, h.rocks(device.Left, 90, 0, 10).Phase, "a knock")
	assert.Equal(t, live.PressAsked, h.rests(500).Phase)
	from := h.ns()
	s := h.rocks(device.Left, 1000, -90, 0)
	assert.Equal(t, live.PressRocked, s.Phase)
	assert.Equal(t, live.Edges{live.Back: true, live.BigToe: true}, s.Edges)
	assert.Equal(t, []live.Edge{live.Front, live.LittleToe}, s.Edges.Missing())
	s = h.rests(3000)
	assert.Equal(t, live.PressRocked, s.Phase, "the hand takes a rest")
	assert.Empty(t, h.made)
	s = h.rocks(device.Left, 2000, 0, 190)
	assert.Equal(t, live.PressLetGo, s.Phase)
	assert.Equal(t, device.Left, s.Foot)
	to := h.ns() - 10e6
	s = h.rests(300)
	assert.Equal(t, live.PressState{Phase: live.PressAsked, Foot: device.Right}, s)
	assert.Equal(t, []live.Press{{Foot: device.Left, FromNS: from, ToNS: to, Edges: live.Edges{true, true, true, true}}}, h.made)
	h.rocks(device.Right, 3000, 0, 360)
	assert.Equal(t, live.PressOpen, h.step.State().Outcome)
	h.rests(300)
	assert.Equal(t, live.PressDone, h.step.State().Outcome)
	require.Len(t, h.made, 2)
	assert.Equal(t, device.Right, h.made[1].Foot)
	h.lasts(5000, [2]float64{300, 300}, 0.1, 0, 0)
	assert.Len(t, h.made, 2, "it is over")
}

// If the other platform is loaded, the step reports it and asks again.
func TestPadPressAsksAgain(t *testing.T) {
	h := newHand(metadata(true, device.Left, device.Right))
	h.rests(1200)
	from := h.ns()
	s := h.rocks(device.Right, 2000, 0, 240)
	assert.Equal(t, live.PressOther, s.Phase)
	assert.Equal(t, device.Left, s.Foot)
	to := h.ns() - 10e6
	s = h.rests(300)
	assert.Equal(t, live.PressState{Phase: live.PressAsked, Foot: device.Left, Wrong: true}, s)
	assert.Equal(t, []live.Press{{Foot: device.NoFoot, FromNS: from, ToNS: to}}, h.made, "it says nothing of a seat")
	assert.Equal(t, live.PressLetGo, h.rocks(device.Left, 2000, 0, 360).Phase)
	s = h.rests(300)
	assert.Equal(t, live.PressState{Phase: live.PressAsked, Foot: device.Right}, s)
	assert.Equal(t, live.PressOther, h.rocks(device.Left, 1000, 0, 90).Phase)
	s = h.rests(300)
	assert.True(t, s.Wrong)
	h.rocks(device.Right, 2000, 0, 360)
	h.rests(300)
	assert.Equal(t, live.PressDone, h.step.State().Outcome)
}

// A load on both platforms counts for neither, and soon for a standing dancer.
func TestPadPressOfBoth(t *testing.T) {
	h := newHand(metadata(true, device.Left, device.Right))
	h.rests(1200)
	s := h.lasts(700, [2]float64{80, 60}, 0.6, 0, 180)
	assert.Equal(t, live.PressBoth, s.Phase)
	assert.Equal(t, live.Edges{}, s.Edges)
	h.lasts(400, [2]float64{80, 60}, 0.6, 0, 180)
	assert.Equal(t, live.PressStoodOn, h.step.State().Outcome)
	assert.Empty(t, h.made)

	h = newHand(metadata(true, device.Left, device.Right))
	h.rests(1200)
	assert.Equal(t, live.PressLetGo, h.lasts(2500, [2]float64{120, 20}, 0.6, 0, 360).Phase, "the table shakes")
}

// Only the load of the press counts if the dancer rises after half of it.
func TestPadPressEndsWithARise(t *testing.T) {
	stands := [2]float64{240, 260}
	for name, c := range map[string]struct {
		turn float64
		want int
	}{"half pressed": {200, 1}, "one edge": {30, 0}} {
		h := newHand(metadata(true, device.Left, device.Right))
		h.rests(1200)
		from := h.ns()
		h.rocks(device.Left, 1500, 0, c.turn)
		to := h.ns() - 10e6
		h.rests(2000)
		h.lasts(1500, stands, 0.3, -90, -90)
		assert.Equal(t, live.PressStoodOn, h.step.State().Outcome, name)
		require.Len(t, h.made, c.want, name)
		for _, p := range h.made {
			assert.Equal(t, [2]int64{from, to}, [2]int64{p.FromNS, p.ToNS})
			assert.False(t, p.Edges.All())
		}
		assert.Equal(t, []device.Foot{device.Left, device.Right}, h.step.Remaining())
	}
}

// Loads that never show all edges are classified as relevés in the end, for any path.
func TestPadPressOfManyLoads(t *testing.T) {
	for name, c := range map[string]struct {
		calibrated bool
		turn       float64
		loads      int
	}{"one edge": {false, 20, 3}, "one edge, calibrated": {true, 20, 8}, "two edges": {false, 100, 8}} {
		h := newHand(metadata(c.calibrated, device.Left))
		h.rests(1200)
		n := 0
		for h.step.State().Outcome == live.PressOpen {
			h.rocks(device.Left, 1500, 0, c.turn)
			h.rests(500)
			n++
		}
		assert.Equal(t, live.PressStoodOn, h.step.State().Outcome, name)
		assert.Equal(t, c.loads, n, name)
		assert.Empty(t, h.made, name)
	}
}

func TestPadPressSkipped(t *testing.T) {
	h := newHand(metadata(true, device.Left, device.Right))
	h.rests(1200)
	assert.Empty(t, h.step.Skip())
	assert.Equal(t, live.PressSkipped, h.step.State().Outcome)
	assert.Empty(t, h.step.Skip())
	assert.Empty(t, h.step.Stop())

	h = newHand(metadata(true, device.Right))
	h.rests(1200)
	from := h.ns()
	h.rocks(device.Right, 1500, 0, 180)
	assert.Equal(t, []live.Press{{Foot: device.Right, FromNS: from, ToNS: h.ns() - 10e6, Edges: live.Edges{true, false, true, true}}}, h.step.Skip(),
		"what was pressed is kept")

	h = newHand(metadata(true, device.Left))
	h.rests(1200)
	h.rocks(device.Left, 500, 0, 20)
	made := h.step.Skip()
	require.Len(t, made, 1)
	assert.Equal(t, device.NoFoot, made[0].Foot, "a press, but of no use")

	h = newHand(metadata(true, device.Left))
	h.rests(1200)
	h.rocks(device.Left, 1500, 0, 180)
	require.Len(t, h.step.Stop(), 1, "the recording ends during the press")
	assert.Equal(t, live.PressSkipped, h.step.State().Outcome)
}

func TestPadPressTimesOut(t *testing.T) {
	h := newHand(metadata(true, device.Left))
	h.rests(live.PressLimitS*1000 - 500)
	assert.Equal(t, live.PressOpen, h.step.State().Outcome)
	h.rests(1000)
	assert.Equal(t, live.PressTimedOut, h.step.State().Outcome)
	assert.Empty(t, h.made)
}

// Nothing is concluded from the last load of the pressed foot while it has no frames.
func TestPadPressWithoutFrames(t *testing.T) {
	h := newHand(metadata(true, device.Left, device.Right))
	h.rests(1200)
	from := h.ns()
	h.rocks(device.Left, 1500, 0, 180)
	last := live.PressReading{LoadN: 90, At: platform.Point{-10, 0}, NS: h.ns()}
	for range 1000 {
		h.ms += 10
		h.made = append(h.made, h.step.Update(h.ns(), [2]live.PressReading{last, {NS: h.ns()}})...)
	}
	s := h.step.State()
	assert.Equal(t, live.PressOpen, s.Outcome)
	assert.Equal(t, live.PressRocked, s.Phase)
	assert.Empty(t, h.made)
	assert.Equal(t, live.PressLetGo, h.rocks(device.Left, 1500, 180, 360).Phase)
	h.rests(300)
	require.Len(t, h.made, 1)
	assert.Equal(t, from, h.made[0].FromNS)
}

// For any loads, presses lie within the time of the step, in order and not overlapping on
// each foot, and show at least two edges or belong to no foot.
func TestPadPressProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var feet []device.Foot
		for _, f := range device.Feet {
			if rapid.IntRange(0, 3).Draw(t, "recorded") > 0 {
				feet = append(feet, f)
			}
		}
		h := newHand(metadata(rapid.Bool().Draw(t, "calibrated"), feet...))
		over := false
		for range rapid.IntRange(0, 30).Draw(t, "parts") {
			load := rapid.SampledFrom([]float64{0, 0, 10, 60, 90, 140, 200, 300, math.NaN()})
			s := h.lasts(rapid.Int64Range(1, 200).Draw(t, "cs")*10, [2]float64{load.Draw(t, "left"), load.Draw(t, "right")},
				rapid.Float64Range(0, 1).Draw(t, "reach"), rapid.Float64Range(0, 360).Draw(t, "from"), rapid.Float64Range(0, 720).Draw(t, "to"))
			require.False(t, over && s.Outcome == live.PressOpen, "it opens again")
			over = s.Outcome != live.PressOpen
			if rapid.IntRange(0, 20).Draw(t, "skip") == 0 {
				h.made = append(h.made, h.step.Skip()...)
			}
		}
		h.made = append(h.made, h.step.Stop()...)
		if len(feet) > 0 {
			require.NotEqual(t, live.PressOpen, h.step.State().Outcome)
		}
		var last [3]int64
		for _, p := range h.made {
			require.Less(t, p.FromNS, p.ToNS)
			require.GreaterOrEqual(t, p.FromNS, began.UnixNano())
			require.LessOrEqual(t, p.ToNS, h.ns())
			require.Equal(t, p.Foot != device.NoFoot, p.Edges.Count() >= 2)
			if p.Foot != device.NoFoot {
				require.Contains(t, feet, p.Foot)
				require.Greater(t, p.FromNS, last[p.Foot])
				last[p.Foot] = p.ToNS
			}
		}
		if h.step.State().Outcome == live.PressDone {
			require.Empty(t, h.step.Remaining())
		}
	})
}

// pressMounting feeds the pad press of a simulated mounting of a left strip to a step
// and returns its state at the end of the last map. Each map stands for 0.1 s.
func pressMounting(setup sim.MountingSetup, m *sim.Mounting) *hand {
	meta := &device.Metadata{}
	meta.Sides[device.Left] = &device.Side{Strip: setup.Strip, Shoe: setup.Shoe}
	h := newHand(meta)
	h.rests(1200)
	weights := field.New(setup.Strip, setup.Shoe.Outline()).Weights()
	for _, one := range m.Press {
		r := live.PressReading{}
		for k, kPa := range one.KPa {
			r.LoadN += kPa * weights[k].LoadN
			r.At[0] += kPa * weights[k].MedialNMM
			r.At[1] += kPa * weights[k].OverNMM
		}
		r.At[0] /= r.LoadN
		r.At[1] /= r.LoadN
		for range 10 {
			r.NS = h.ns()
			h.made = append(h.made, h.step.Update(h.ns(), [2]live.PressReading{r})...)
			h.ms += 10
		}
	}
	return h
}

// A pad press of one round is complete, in all physics of the simulator and with the
// strip some millimetres from the profile's seat; a press of less than a third of a round
// never is. The estimate of the seat accepts every complete press.
func TestPressShowsTheSeat(t *testing.T) {
	for _, sc := range sim.Scenarios() {
		t.Run(sc.Name, func(t *testing.T) {
			t.Parallel()
			for seed := uint64(1); seed <= 2; seed++ {
				for _, c := range []struct{ turns, seatSD float64 }{{0.3, 1}, {0.7, 1}, {1, 1.5}} {
					setup := sc.Setup(seed, int(seed), 0, 3)
					setup.GridMM = 0.5 // that of a session
					if setup.Press == (sim.PadPress{}) {
						setup.Press = sim.DefaultPadPress()
					}
					setup.Press.Turns = c.turns
					setup.Strip.Mount.SeatSDMM = c.seatSD
					m, err := sim.NewMounting(setup)
					require.NoError(t, err)
					h := pressMounting(setup, m)
					require.Equal(t, live.PressOpen, h.step.State().Outcome, "seed %d, %v", seed, c)
					done := h.step.State().Phase == live.PressLetGo
					h.rests(300)
					switch {
					case c.turns >= 1:
						require.True(t, done, "seed %d, %v: edges %v", seed, c, h.step.State().Edges)
						require.Equal(t, live.PressDone, h.step.State().Outcome)
					case c.turns <= 0.3:
						require.False(t, done, "seed %d, %v", seed, c)
					}
					if !done {
						continue
					}
					in := seat.Input{Strip: setup.Strip, Outline: setup.Shoe.Outline(), GainSD: setup.Strip.Calibration.GainSD}
					for _, one := range m.Press {
						in.Maps = append(in.Maps, seat.Map{Kind: seat.Press, KPa: one.KPa, NoiseKPa: 0.5})
					}
					for _, r := range seat.Find(in).Refused {
						require.NotEqual(t, seat.EdgesUnseen, r.Reason, "seed %d, %v", seed, c)
						require.NotEqual(t, seat.FewMaps, r.Reason, "seed %d, %v", seed, c)
					}
				}
			}
		})
	}
}

// Relevés of simulated dancers end the step, with calibrated and uncalibrated strips,
// with one foot recorded or both, and none of them is classified as a press.
func TestPressIsDistinguishedFromReleves(t *testing.T) {
	for i := range 40 {
		setup := setups.Example(i)
		setup.Dancer.Rises, setup.Dancer.Aborted = 4, nil
		s, m := session(t, setup)
		for _, side := range m.Sides {
			if side != nil && i%2 == 0 {
				side.Strip.Calibration.Date = device.Date{Year: 2026, Month: 2, Day: 1}
			}
		}
		watch, step := live.New(&m), live.NewPadPress(&m)
		watch.OpenPress(began.UnixNano())
		var f device.Frame
		for s.Next(&f) == nil {
			_, err := watch.Add(&f)
			require.NoError(t, err)
			require.Empty(t, step.Update(f.ArrivalNS, watch.Readings()), "example %d", i)
		}
		require.Equal(t, live.PressStoodOn, step.State().Outcome, "example %d", i)
		assert.Empty(t, watch.Releves(), "until the step is closed")
		watch.ClosePress()
		assert.Len(t, watch.Releves(), 4, "example %d", i)
	}
}

// The live view and the analysis exclude the same presses: those of a foot and those that
// belong to no foot. A press marked for the other foot is a relevé of this foot live; the
// analysis finds that it was no press.
func TestPressesAsAnalyzed(t *testing.T) {
	setup := sim.Scenarios()[0].Setup(1, 1, 1, 3)
	mounting, err := sim.NewMounting(setup)
	require.NoError(t, err)
	s := &strokes{kPaPerCount: 0.75}
	s.add(150, nil, 0)
	from := s.ns()
	for _, one := range mounting.Press {
		s.add(10, one.KPa, 1)
	}
	to := s.ns()
	s.add(150, nil, 0)
	s.add(150, mounting.Holds[0].KPa, 1)
	s.add(150, nil, 0)
	for name, c := range map[string]struct {
		foot              device.Foot
		live, found, kept int
	}{
		"of the foot":  {device.Left, 1, 1, 1},
		"of no foot":   {device.NoFoot, 1, 1, 0},
		"of the other": {device.Right, 2, 1, 1},
	} {
		t.Run(name, func(t *testing.T) {
			m := metadata(false, device.Left)
			path := filepath.Join(t.TempDir(), "a.mcap")
			w, err := recording.CreateDirect(path, *m)
			require.NoError(t, err)
			watch := live.New(m)
			for i := range s.frames {
				require.NoError(t, w.Write(&s.frames[i]))
				_, err := watch.Add(&s.frames[i])
				require.NoError(t, err)
			}
			watch.AddPress(live.Press{Foot: c.foot, FromNS: from, ToNS: to})
			require.NoError(t, w.WriteEvent(device.Event{TimeNS: to, Foot: c.foot, Kind: device.Press, LengthS: float64(to-from) / 1e9}))
			require.NoError(t, w.Close())
			r, err := analyze.File(context.Background(), path, analyze.Options{})
			require.NoError(t, err)
			assert.Equal(t, c.live, len(watch.Releves()))
			assert.Equal(t, c.found, len(r.Releves))
			assert.Equal(t, c.kept, len(r.Presses[device.Left]))
		})
	}
}
