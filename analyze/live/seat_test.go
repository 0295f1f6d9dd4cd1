package live_test

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze"
	"aplomb/analyze/live"
	"aplomb/analyze/seat"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/device/recording"
	"aplomb/device/sim"
)

// strokes makes the frames of a left strip, 100 a second.
type strokes struct {
	kPaPerCount float64
	frames      []device.Frame
}

func (s *strokes) ns() int64 { return began.UnixNano() + int64(len(s.frames))*10e6 }

// add adds n frames of a map, kPa, times a factor.
func (s *strokes) add(n int, kPa []float64, factor float64) {
	for range n {
		i := int64(len(s.frames))
		f := device.Frame{Seq: i, TimeUS: uint64(i) * 10_000, ArrivalNS: s.ns(), Counts: make([]uint16, 40)}
		for k := range f.Counts {
			f.Counts[k] = 40
			if kPa != nil {
				f.Counts[k] += uint16(math.Round(max(0, kPa[k]) * factor / s.kPaPerCount))
			}
		}
		s.frames = append(s.frames, f)
	}
}

// After a pad press the live view measures at the seat that the press shows: the centre
// of pressure agrees with the simulation's truth, and with the analysis, for a strip a
// millimetre or more from the profile's seat.
func TestLiveAtTheSeatThatAPressShows(t *testing.T) {
	far := 0
	for seed := uint64(1); seed <= 6; seed++ {
		setup := sim.Scenarios()[0].Setup(seed, 1, 2, 3)
		setup.Strip.Mount.SeatSDMM = 1.5
		setup.Sensor.RulerSDMM = 0
		mounting, err := sim.NewMounting(setup)
		require.NoError(t, err)
		strip := setup.Strip
		strip.Foot, strip.Calibration.KPaPerCount, strip.ADCBits, strip.SaturatesAt = device.Left, 0.5, 14, 16383

		s := &strokes{kPaPerCount: 0.5}
		s.add(150, nil, 0)
		press := live.Press{Foot: device.Left, FromNS: s.ns()}
		for _, m := range mounting.Press {
			s.add(10, m.KPa, 1)
		}
		press.ToNS = s.ns()
		s.add(100, nil, 0)
		closed := len(s.frames)
		for _, h := range mounting.Holds {
			for i := range 20 {
				s.add(1, h.KPa, float64(i)/20)
			}
			s.add(150, h.KPa, 1)
			s.add(100, nil, 0)
		}

		m := &device.Metadata{Started: began}
		m.Sides[device.Left] = &device.Side{Strip: strip, Shoe: setup.Shoe, Mounting: "m1", Clock: "strip"}
		path := filepath.Join(t.TempDir(), "a.mcap")
		w, err := recording.CreateDirect(path, *m)
		require.NoError(t, err)
		watch := live.New(m)
		watch.OpenPress(began.UnixNano())
		for i := range s.frames {
			require.NoError(t, w.Write(&s.frames[i]))
			_, err := watch.Add(&s.frames[i])
			require.NoError(t, err)
			if i != closed-1 {
				continue
			}
			watch.AddPress(press)
			found, ok := watch.FindSeat(press)
			require.True(t, ok)
			require.Equal(t, seat.FromPress, found.Evidence, "seed %d: %v", seed, found.Refused)
			watch.ClosePress()
			require.NoError(t, w.WriteEvent(device.Event{TimeNS: press.ToNS, Foot: device.Left, Kind: device.Press, LengthS: 3}))
		}
		require.NoError(t, w.Close())
		r, err := analyze.File(t.Context(), path, analyze.Options{})
		require.NoError(t, err)
		require.Len(t, watch.Releves(), 2)
		require.Len(t, r.Releves, 2)
		if math.Hypot(mounting.Seat.MedialMM, mounting.Seat.OverMM) > 1 {
			far++
		}
		for i, one := range watch.Releves() {
			h := one.Feet[device.Left]
			require.True(t, h.Settled)
			assert.InDelta(t, mounting.Holds[i].CoP[0], h.MedialMM, 0.3, "seed %d", seed)
			assert.InDelta(t, mounting.Holds[i].CoP[1], h.OverMM, 0.3, "seed %d", seed)
			assert.InDelta(t, r.Releves[i].MedialMM, h.MedialMM, 0.3, "seed %d", seed)
			assert.InDelta(t, r.Releves[i].OverMM, h.OverMM, 0.3, "seed %d", seed)
			if p := r.Releves[i].PInside; p > 0.98 || p < 0.02 {
				assert.Equal(t, r.Releves[i].Verdict, h.Verdict, "seed %d", seed)
			}
		}
		var state live.State
		watch.Snapshot(&state)
		assert.InDelta(t, mounting.Seat.OverMM, state.Feet[device.Left].Strip.Mount.OffsetMM[1], 0.4)
		assert.Zero(t, strip.Mount.OffsetMM, "the recording's profile stays as it is")
	}
	assert.GreaterOrEqual(t, far, 2)
}

// In sessions with slow pad presses at both ends, in every physics of the simulator, the
// step ends with each press, finds the seat of the strip, and keeps all relevés.
func TestSessionsWithPresses(t *testing.T) {
	scenarios := sim.Scenarios()
	for i := range scenarios {
		sc := scenarios[i]
		rock := sim.DefaultPadPress()
		if sc.Press != (sim.PadPress{}) {
			rock = sc.Press
		}
		rock.Maps = 80 // 8 s
		setup := sim.Setup{
			Seed: uint64(i), RateHz: 50, Start: began, Mounting: "m1", Faults: sim.DefaultFaults(),
			Dancer: sim.Dancer{MassKG: 55, LeftShare: 0.5, Rises: 2, SwaySD: 0.5, LoadSD: 0.02}, Press: rock, SecondPress: rock,
		}
		m := &device.Metadata{Started: began}
		feet := device.Feet[:1+i%2]
		for _, f := range feet {
			side := &device.Side{Strip: strip(f, 5, 8, 5), Shoe: sc.Shoe(), Mounting: "m1", Clock: "strip"}
			side.Strip.Calibration.KPaPerCount, side.Strip.ADCBits, side.Strip.SaturatesAt = 0.75, 14, 16383
			m.Sides[f] = side
			setup.Feet[f] = &sim.Foot{Strip: side.Strip, Shoe: side.Shoe, Physics: sc.Physics, Stand: sim.Stand{CoPMM: platform.Point{0, -2}, ScatterSD: 0.3}}
		}
		s, err := sim.NewSession(setup)
		require.NoError(t, err)
		truth := s.Presses()
		require.Len(t, truth, 2*len(feet))

		watch, step := live.New(m), live.NewPadPress(m)
		watch.OpenPress(began.UnixNano())
		var made []live.Press
		second := began.UnixNano() + int64(1e9*(truth[len(feet)].StartS-1.5))
		var f device.Frame
		found := 0
		for s.Next(&f) == nil {
			_, err := watch.Add(&f)
			require.NoError(t, err)
			if step == nil && f.ArrivalNS > second && len(made) == len(feet) {
				assert.Equal(t, 2, watch.Count(), "%s, %d", sc.Name, i)
				watch.OpenPress(f.ArrivalNS)
				step = live.NewPadPress(m)
			}
			if step == nil {
				continue
			}
			now := step.Update(f.ArrivalNS, watch.Readings())
			made = append(made, now...)
			for _, p := range now {
				watch.AddPress(p)
				require.NotEqual(t, device.NoFoot, p.Foot, "%s, %d", sc.Name, i)
				if at, ok := watch.FindSeat(p); ok && at.Evidence == seat.FromPress && len(made) <= len(feet) {
					found++
					want := truth[len(made)-1].Seat
					assert.InDelta(t, want.OverMM, at.Offset[1], 0.5, "%s, %d", sc.Name, i)
					assert.InDelta(t, want.MedialMM, at.Offset[0], 0.5, "%s, %d", sc.Name, i)
				}
			}
			if o := step.State().Outcome; o != live.PressOpen {
				require.Equal(t, live.PressDone, o, "%s, %d, after %.1f s", sc.Name, i, float64(f.ArrivalNS-began.UnixNano())/1e9)
				watch.ClosePress()
				step = nil
			}
		}
		require.Len(t, made, len(truth), "%s, %d", sc.Name, i)
		for k, p := range made {
			assert.Equal(t, truth[k].Foot, p.Foot)
			assert.InDelta(t, truth[k].StartS, float64(p.FromNS-began.UnixNano())/1e9, 0.3, "%s, %d", sc.Name, i)
			assert.InDelta(t, truth[k].EndS, float64(p.ToNS-began.UnixNano())/1e9, 0.3, "%s, %d", sc.Name, i)
		}
		assert.Equal(t, len(feet), found, "%s, %d", sc.Name, i)
		assert.Equal(t, 2, watch.Count(), "%s, %d", sc.Name, i)
	}
}

// Presses of simulated platforms are compared with the ruler's outline of the pressed
// shoe and of another one. The test logs how often the other outline is doubted if it is
// the named one, and how often the right one is. The limits were chosen with these seeds,
// so this does not check them.
func TestDistinguishingPlatforms(t *testing.T) {
	if os.Getenv("APLOMB_LONG") == "" {
		t.Skip("takes half a minute of processor time: APLOMB_LONG=1")
	}
	const mountings = 20
	differ := [][2]float64{{1, 0}, {-1, 0}, {1, 1}, {-1, -1}, {2, 0}, {-2, 0}, {0, 2}, {0, -2}, {3, 0}, {-3, 0}, {0, 3}, {0, -3}} // width, depth, mm
	found, wrongly := make([]int, len(differ)), make([]int, len(differ))
	for seed := uint64(1); seed <= mountings; seed++ {
		setup := sim.Scenarios()[0].Setup(seed, 1, 0, 3)
		setup.Press = sim.DefaultPadPress()
		mounting, err := sim.NewMounting(setup)
		require.NoError(t, err)
		strip := *setup.Strip
		strip.Mount.SeatSDMM = 1
		off := func(shoe device.Shoe) float64 {
			in := seat.Input{Strip: &strip, Outline: shoe.Outline(), GainSD: strip.Calibration.GainSD}
			for _, p := range mounting.Press {
				in.Maps = append(in.Maps, seat.Map{Kind: seat.Press, KPa: p.KPa, NoiseKPa: 1})
			}
			if s := seat.Find(in); s.Evidence == seat.FromPress {
				return live.OutlineOff(s)
			}
			return math.Inf(1)
		}
		pressed := off(*setup.Shoe)
		for i, d := range differ {
			other := *setup.Shoe
			other.PlatformMM[0] += d[0]
			other.PlatformMM[1] += d[1]
			switch by := off(other) - pressed; {
			case by > live.DoubtMM:
				found[i]++
			case by < -live.DoubtMM:
				wrongly[i]++
			}
		}
	}
	for i, d := range differ {
		t.Logf("%+.0f mm wide, %+.0f mm deep: %d of %d told, %d doubted wrongly", d[0], d[1], found[i], mountings, wrongly[i])
	}
}
