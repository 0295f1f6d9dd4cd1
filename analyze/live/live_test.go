package live_test

import (
	"context"
	"errors"
	"io"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/analyze"
	"aplomb/analyze/live"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/device/recording"
	"aplomb/device/sim"
)

var began = time.Date(2026, 3, 1, 10, 0, 0, 0, time.UTC)

func strip(f device.Foot, rows, cols int, pitch float64) *device.Strip {
	return &device.Strip{
		Name: f.String(), Foot: f, Rows: rows, Cols: cols, PitchMM: [2]float64{pitch, pitch}, CellMM: [2]float64{pitch, pitch},
		ADCBits: 12, SaturatesAt: 4095, FirstCell: "back-lateral", Scan: "rows",
		Mount:       device.Mount{SeatSDMM: device.DefaultSeatSDMM},
		Calibration: device.Calibration{KPaPerCount: 0.75, GainSD: device.DefaultGainSD},
	}
}

// session simulates a dancer with a few rises and returns the metadata of the recording.
func session(t require.TestingT, s sim.Setup) (*sim.Session, device.Metadata) {
	m := device.Metadata{Started: began, Software: "test"}
	shoe := &device.Shoe{Code: "A", PlatformMM: [2]float64{36, 22}, OutlineExponent: 2.5}
	for i, f := range s.Feet {
		if f != nil {
			f.Shoe = shoe
			m.Sides[i] = &device.Side{Strip: f.Strip, Shoe: shoe, Mounting: "m1", Clock: "strip"}
		}
	}
	s.Start = began
	one, err := sim.NewSession(s)
	require.NoError(t, err)
	return one, m
}

// both follows a session and analyzes its recording.
func both(t require.TestingT, dir string, s *sim.Session, m device.Metadata) (*live.Follower, *measure.Result) {
	path := filepath.Join(dir, "a.mcap")
	w, err := recording.CreateDirect(path, m)
	require.NoError(t, err)
	watch := live.New(&m)
	var f device.Frame
	for {
		err := s.Next(&f)
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err)
		require.NoError(t, w.Write(&f))
		_, err = watch.Add(&f)
		require.NoError(t, err)
	}
	require.NoError(t, w.Close())
	r, err := analyze.File(context.Background(), path, analyze.Options{AtProfile: true}) // as it is followed
	require.NoError(t, err)
	return watch, r
}

// setups generates random sessions.
var setups = rapid.Custom(func(t *rapid.T) sim.Setup {
	dancer := sim.DefaultDancer()
	dancer.Rises = rapid.IntRange(1, 3).Draw(t, "rises")
	if rapid.Bool().Draw(t, "aborts") {
		dancer.Aborted = []int{rapid.IntRange(1, dancer.Rises).Draw(t, "aborted")}
	}
	faults := sim.DefaultFaults()
	faults.Loss = rapid.SampledFrom([]float64{0, 0.01}).Draw(t, "loss")
	setup := sim.Setup{
		Seed: rapid.Uint64().Draw(t, "seed"), Dancer: dancer, Faults: faults,
		RateHz: rapid.SampledFrom([]float64{50, 100, 200}).Draw(t, "rate"),
	}
	feet := rapid.IntRange(1, 3).Draw(t, "feet")
	for _, f := range device.Feet {
		if feet&(1<<f) != 0 {
			stand := platform.Point{rapid.Float64Range(-3, 3).Draw(t, "medial"), rapid.Float64Range(-6, 4).Draw(t, "over")}
			setup.Feet[f] = &sim.Foot{Strip: strip(f, 5, 8, 5), Stand: sim.Stand{CoPMM: stand, ScatterSD: 0.3}}
		}
	}
	return setup
})

// A Follower finds the relevés of the analysis with nearly the same results. Both use
// package releve to find pulses, so the test covers zeros, clocks, pairing and the
// division of the trace. The number of examples is fixed, because each writes a
// recording.
func TestSeenAsAnalyzed(t *testing.T) {
	for i := range 24 {
		setup := setups.Example(i)
		s, m := session(t, setup)
		watch, r := both(t, t.TempDir(), s, m)

		type key struct {
			n    int
			foot device.Foot
		}
		offline := map[key]measure.Releve{}
		for _, one := range r.Releves {
			offline[key{one.N, one.Foot}] = one
		}
		seen := 0
		for _, one := range watch.Releves() {
			last := 0.0
			for f, h := range one.Feet {
				if h == nil {
					continue
				}
				seen++
				want, ok := offline[key{one.N, device.Foot(f)}]
				require.True(t, ok, "example %d, relevé %d, %s", i, one.N, device.Foot(f))
				last = max(last, want.EndS)
				require.Equal(t, want.Status == measure.Measured, h.Settled)
				if !h.Settled {
					continue
				}
				assert.InDelta(t, want.HoldS, h.HoldS, 0.03)
				assert.InDelta(t, want.LoadN, h.LoadN, 0.01*want.LoadN)
				assert.InDelta(t, want.OverMM, h.OverMM, 0.15)
				assert.InDelta(t, want.MedialMM, h.MedialMM, 0.15)
				// The analysis fits the mean map of all holds first, so that it may choose another model.
				assert.InDelta(t, want.ContactShare, h.ContactShare, 0.03+2*want.UContactShare)
				if want.PInside > 0.98 || want.PInside < 0.02 {
					assert.Equal(t, want.Verdict, h.Verdict)
				}
			}
			assert.InDelta(t, last, one.EndS, 0.02)
		}
		assert.Len(t, r.Releves, seen)
	}
}

// The analysis excludes the relevé that Discard excludes.
func TestDiscardsAsAnalyzed(t *testing.T) {
	dancer := sim.DefaultDancer()
	dancer.Rises = 3
	s, m := session(t, sim.Setup{Seed: 7, RateHz: 100, Dancer: dancer, Feet: [2]*sim.Foot{{Strip: strip(device.Left, 5, 8, 5)}, nil}})
	path := filepath.Join(t.TempDir(), "a.mcap")
	w, err := recording.Create(path, m)
	require.NoError(t, err)
	watch := live.New(&m)
	press := func(ns int64, back bool) (n int) {
		e := device.Event{TimeNS: ns, Foot: device.NoFoot, Kind: device.Discard}
		if back {
			e.Cause = device.TakenBack
			n = watch.TakeBack(ns)
		} else {
			n = watch.Discard(ns)
		}
		if n > 0 {
			require.NoError(t, w.WriteEvent(e))
		}
		return n
	}
	var f device.Frame
	count := 0
	for s.Next(&f) == nil {
		require.NoError(t, w.Write(&f))
		news, err := watch.Add(&f)
		require.NoError(t, err)
		if len(news) > 0 {
			assert.Equal(t, live.Ended{N: count + 1, Foot: device.Left, Hold: *watch.Releves()[count].Feet[device.Left]}, news[0])
			count++
			switch count {
			case 1:
				assert.Equal(t, 1, press(f.ArrivalNS, false))
				assert.Equal(t, 0, press(f.ArrivalNS, false), "there is no other")
				assert.Equal(t, 1, press(f.ArrivalNS, true))
				assert.Equal(t, 0, press(f.ArrivalNS, true))
			case 2:
				assert.Equal(t, 2, press(f.ArrivalNS, false))
			}
		}
	}
	require.Equal(t, 3, count)
	require.NoError(t, w.Close())
	r, err := analyze.File(context.Background(), path, analyze.Options{AtProfile: true}) // as it is followed
	require.NoError(t, err)
	require.Len(t, r.Releves, 3)
	for i, one := range watch.Releves() {
		assert.Equal(t, i == 1, one.Discarded)
		assert.Equal(t, one.Discarded, r.Releves[i].Discarded)
	}
}

// A cell at full scale is reported for some seconds.
func TestSaturatedCells(t *testing.T) {
	m := device.Metadata{}
	m.Sides[device.Left] = &device.Side{Strip: strip(device.Left, 5, 8, 5), Shoe: &device.Shoe{Code: "A", PlatformMM: [2]float64{36, 22}, OutlineExponent: 2.5}}
	watch := live.New(&m)
	var s live.State
	add := func(seq int, full ...int) live.FootState {
		f := device.Frame{Seq: int64(seq), TimeUS: uint64(seq) * 10_000, ArrivalNS: began.UnixNano() + int64(seq)*10e6, Counts: make([]uint16, 40)}
		for _, k := range full {
			f.Counts[k] = 4095
		}
		_, err := watch.Add(&f)
		require.NoError(t, err)
		watch.Snapshot(&s)
		return *s.Feet[device.Left]
	}
	for i := range 20 {
		assert.Empty(t, add(i).Doubts)
	}
	got := add(20, 3, 17)
	assert.Equal(t, []string{"2 cells at the end of their range: load and pressure are more than shown"}, got.Doubts)
	assert.True(t, got.Suspect[3] && got.Suspect[17] && !got.Suspect[4])
	assert.InDelta(t, 4095*0.75, got.KPa[17], 1e-9)
	assert.InDelta(t, 2*4095*0.75*25/1000, got.LoadN, 1e-4, "25 mm² a cell")
	assert.Len(t, add(21).Doubts, 1)
	for i := 22; i < 300; i++ {
		got = add(i)
	}
	assert.Empty(t, got.Doubts)
	assert.Nil(t, s.Feet[device.Right])
}

func TestRefusesForeignFrames(t *testing.T) {
	m := device.Metadata{}
	m.Sides[device.Left] = &device.Side{Strip: strip(device.Left, 5, 8, 5), Shoe: &device.Shoe{Code: "A", PlatformMM: [2]float64{36, 22}, OutlineExponent: 2.5}}
	watch := live.New(&m)
	_, err := watch.Add(&device.Frame{Foot: device.Right, Counts: make([]uint16, 40)})
	assert.ErrorContains(t, err, "no strip profile")
	_, err = watch.Add(&device.Frame{Foot: device.Left, Counts: make([]uint16, 39)})
	assert.ErrorContains(t, err, "39 cells")
}

// A foot that stays loaded does not fill the memory, and frames allocate next to
// nothing.
func TestMemory(t *testing.T) {
	m := device.Metadata{}
	m.Sides[device.Left] = &device.Side{Strip: strip(device.Left, 5, 8, 5), Shoe: &device.Shoe{Code: "A", PlatformMM: [2]float64{36, 22}, OutlineExponent: 2.5}}
	watch := live.New(&m)
	frame := device.Frame{Counts: make([]uint16, 40)}
	seq := 0
	next := func() {
		frame.Seq, frame.TimeUS, frame.ArrivalNS = int64(seq), uint64(seq)*5000, began.UnixNano()+int64(seq)*5e6
		_, err := watch.Add(&frame)
		require.NoError(t, err)
		seq++
	}
	for range 2000 {
		next()
	}
	assert.Less(t, testing.AllocsPerRun(10_000, next), 0.01, "unloaded")
	for k := range frame.Counts {
		frame.Counts[k] = 500
	}
	for range 200 * 300 {
		next()
	}
	assert.Less(t, testing.AllocsPerRun(20_000, next), 0.01, "loaded for minutes")
	assert.LessOrEqual(t, watch.Kept(), 130*200)
}

// BenchmarkAdd measures frames of two strips of 16 × 16 cells, relevés included.
func BenchmarkAdd(b *testing.B) {
	dancer := sim.DefaultDancer()
	dancer.Rises = 2
	var setup = sim.Setup{Seed: 3, RateHz: 200, Dancer: dancer}
	for _, f := range device.Feet {
		setup.Feet[f] = &sim.Foot{Strip: strip(f, 16, 16, 2.4)}
	}
	s, m := session(b, setup)
	var frames []device.Frame
	for {
		var f device.Frame
		if s.Next(&f) != nil {
			break
		}
		frames = append(frames, f)
	}
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		if n == 0 {
			b.StopTimer()
			watch = live.New(&m)
			b.StartTimer()
		}
		_, err := watch.Add(&frames[n])
		require.NoError(b, err)
		n = (n + 1) % len(frames)
	}
}

var watch *live.Follower

// A cell that fails during a recording is reported and marked.
func TestBrokenCells(t *testing.T) {
	shoe := &device.Shoe{Code: "A", PlatformMM: [2]float64{36, 22}, OutlineExponent: 2.5}
	setup := sim.Setup{Seed: 3, Start: began, RateHz: 100, Mounting: "1", Dancer: sim.DefaultDancer(), Faults: sim.DefaultFaults()}
	setup.Dancer.Rises = 5
	setup.Feet[device.Left] = &sim.Foot{Strip: strip(device.Left, 5, 8, 5), Shoe: shoe, Broken: []sim.Broken{
		{Row: 2, Col: 3, How: sim.Dead}, {Row: 1, Col: 5, How: sim.Stuck, Value: 300, FromS: 6},
	}}
	session, err := sim.NewSession(setup)
	require.NoError(t, err)
	m := device.Metadata{}
	m.Sides[device.Left] = &device.Side{Strip: setup.Feet[device.Left].Strip, Shoe: shoe}
	watch := live.New(&m)
	var s live.State
	for {
		var f device.Frame
		if err := session.Next(&f); err != nil {
			require.ErrorIs(t, err, io.EOF)
			break
		}
		_, err := watch.Add(&f)
		require.NoError(t, err)
	}
	watch.Snapshot(&s)
	got := s.Feet[device.Left]
	require.Len(t, got.Doubts, 2)
	assert.Contains(t, got.Doubts[0], "dead cell: row 3, column 4, no answer in ")
	assert.Contains(t, got.Doubts[1], "stuck cell: row 2, column 6, reads 300, loaded or not")
	for k, is := range got.Suspect {
		row, col := setup.Feet[device.Left].Strip.RowCol(k)
		assert.Equal(t, row == 2 && col == 3 || row == 1 && col == 5, is)
	}
}
