package live_test

import (
	"math"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze"
	"aplomb/analyze/live"
	"aplomb/analyze/seat"
	"aplomb/device"
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

// After a pad press the live view measures at the seat that it shows: the centre of
// pressure agrees with the simulation's truth, and with the analysis, where the strip
// lies a millimetre and more from where its profile says.
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
