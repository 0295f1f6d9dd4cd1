package sim

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"errors"
	"hash/crc32"
	"io"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"

	"aplomb/device"
	"aplomb/device/platform"
)

func testSetup() Setup {
	shoe := &device.Shoe{Code: "A", PlatformMM: [2]float64{36, 22}, OutlineExponent: 2.5}
	d := DefaultDancer()
	d.Rises, d.Aborted, d.LeftShare = 4, []int{3}, 0.45
	return Setup{
		Seed: 7, Start: time.Date(2024, 3, 1, 10, 0, 0, 0, time.UTC), RateHz: 200, Mounting: "1",
		Dancer: d, Faults: DefaultFaults(),
		Feet: [2]*Foot{
			{Strip: testStrip(device.Left), Shoe: shoe, Stand: Stand{platform.Point{-1, -6}, 0.4}},
			{Strip: testStrip(device.Right), Shoe: shoe, Stand: Stand{platform.Point{0.5, -0.5}, 0.4}},
		},
	}
}

// drain reads a session to its end and passes every frame to see, unless it is nil.
func drain(t testing.TB, s *Session, see func(*device.Frame)) {
	var f device.Frame
	for {
		err := s.Next(&f)
		if errors.Is(err, io.EOF) {
			return
		}
		require.NoError(t, err)
		if see != nil {
			see(&f)
		}
	}
}

func newTestSession(t testing.TB, setup Setup) *Session {
	s, err := NewSession(setup)
	require.NoError(t, err)
	return s
}

// fingerprint returns a checksum over all frames of a session.
func fingerprint(t testing.TB, setup Setup) uint32 {
	s := newTestSession(t, setup)
	h := crc32.NewIEEE()
	drain(t, s, func(f *device.Frame) {
		require.NoError(t, binary.Write(h, binary.LittleEndian, f.Counts))
		require.NoError(t, binary.Write(h, binary.LittleEndian, []int64{int64(f.Foot), f.Seq, int64(f.TimeUS), f.ArrivalNS}))
	})
	require.NoError(t, s.WriteTruth(h))
	return h.Sum32()
}

func TestSameSetupSameFrames(t *testing.T) {
	setup := testSetup()
	setup.Dancer.Rises = 1
	setup.Faults.Loss = 0.01
	want := fingerprint(t, setup)
	require.Equal(t, want, fingerprint(t, setup))
	setup.Seed++
	require.NotEqual(t, want, fingerprint(t, setup))
	setup.Seed--
	setup.Mounting = "2"
	require.NotEqual(t, want, fingerprint(t, setup))
}

func TestFramesKeepTheOrderOfASource(t *testing.T) {
	setup := testSetup()
	setup.Dancer.Rises = 2
	setup.Faults.Loss = 0.02
	s := newTestSession(t, setup)
	var last [2]device.Frame
	var frames, lost [2]float64
	arrived := setup.Start.UnixNano()
	drain(t, s, func(f *device.Frame) {
		require.Len(t, f.Counts, 40)
		require.GreaterOrEqual(t, f.ArrivalNS, arrived)
		arrived = f.ArrivalNS
		if before := last[f.Foot]; frames[f.Foot] > 0 {
			require.Greater(t, f.Seq, before.Seq)
			require.InDelta(t, 5000*float64(f.Seq-before.Seq), float64(f.TimeUS-before.TimeUS), 1)
			lost[f.Foot] += float64(f.Seq - before.Seq - 1)
		}
		frames[f.Foot]++
		last[f.Foot] = *f
	})
	for k := range frames {
		require.InDelta(t, 0.02, lost[k]/frames[k], 0.01)
		// The strip's clock is right to a few hundred parts per million.
		ran := float64(last[k].ArrivalNS-setup.Start.UnixNano()) / 1e9
		require.InDelta(t, ran, float64(last[k].Seq)/200, 0.01)
	}
	require.InDelta(t, frames[0], frames[1], 0.02*frames[0])
}

// The truth agrees with the Setup of the dancer, and with the readings of a perfect strip.
func TestTruth(t *testing.T) {
	setup := testSetup()
	setup.Faults = Faults{}
	for k := range setup.Feet {
		setup.Feet[k].Strip.Mount.SeatSDMM = 0
	}
	s := newTestSession(t, setup)
	type sums struct{ load, medial, over, frames float64 }
	var seen [2][]sums
	read := make([]device.Frame, 0)
	drain(t, s, func(f *device.Frame) {
		g := *f
		g.Counts = append([]uint16(nil), f.Counts...)
		read = append(read, g)
	})
	truth := s.Truth()
	require.Len(t, truth, 8)
	for _, h := range truth {
		require.Equal(t, h.N == 3, h.Aborted)
		require.Equal(t, h.Aborted, h.Hold == nil)
		require.Less(t, h.OnsetS, h.EndS)
		if h.Hold == nil {
			continue
		}
		strip := setup.Feet[h.Foot].Strip
		var sum sums
		for _, f := range read {
			if at := float64(f.ArrivalNS-setup.Start.UnixNano()) / 1e9; f.Foot != h.Foot || at < h.HoldStartS || at > h.HoldEndS {
				continue
			}
			sum.frames++
			for k, c := range f.Counts {
				r := strip.Centre(strip.RowCol(k))
				n := float64(c) * 0.75 * 25 / 1000
				sum.load, sum.medial, sum.over = sum.load+n, sum.medial+n*r[0], sum.over+n*r[1]
			}
		}
		stand := setup.Feet[h.Foot].Stand.CoPMM
		share := 0.45
		if h.Foot == device.Right {
			share = 0.55
		}
		require.InDelta(t, share*55*device.StandardGravity, h.LoadN, 35)
		require.InDelta(t, stand[0], h.MedialMM, 2)
		require.InDelta(t, stand[1], h.OverMM, 2)
		require.InEpsilon(t, h.LoadN, sum.load/sum.frames, 0.01)
		// The sum over cell centres is a coarse estimate.
		require.InDelta(t, h.MedialMM, sum.medial/sum.load, 0.6)
		require.InDelta(t, h.OverMM, sum.over/sum.load, 0.8)
		if h.Foot == device.Left {
			require.Less(t, h.ContactShare, 0.95)
		} else {
			require.Greater(t, h.ContactShare, 0.999)
		}
		seen[h.Foot] = append(seen[h.Foot], sum)
	}
	require.Len(t, seen[0], 3)
	require.Len(t, seen[1], 3)

	var b bytes.Buffer
	require.NoError(t, s.WriteTruth(&b))
	lines := bytes.Split(bytes.TrimSpace(b.Bytes()), []byte("\n"))
	require.Len(t, lines, 8)
	var keys map[string]any
	require.NoError(t, json.Unmarshal(lines[0], &keys))
	require.Len(t, keys, 12)
	require.Equal(t, "left", keys["foot"])
	keys = nil
	require.NoError(t, json.Unmarshal(lines[4], &keys))
	require.Equal(t, true, keys["aborted"])
	require.NotContains(t, keys, "load_n")
}

// The seats of strips have the standard deviation of the profile. They differ between
// mountings and are constant within one.
func TestSeat(t *testing.T) {
	setup := testSetup()
	var seats []float64
	for m := range 1000 {
		setup.Mounting = string(rune('a' + m))
		for k := range setup.Feet {
			seat := setup.drawSeat(device.Foot(k))
			seats = append(seats, seat.MedialMM, seat.OverMM)
		}
	}
	mean, sd := stat.MeanStdDev(seats, nil)
	require.InDelta(t, 0, mean, 0.08)
	require.InDelta(t, 1, sd, 0.05)
	a, b := newTestSession(t, setup), newTestSession(t, setup)
	require.Equal(t, a.Seat(device.Left), b.Seat(device.Left))
	require.NotEqual(t, a.Seat(device.Left), a.Seat(device.Right))
}

// A strip whose seat is further forward reads the load further back.
func TestSeatMovesTheReading(t *testing.T) {
	shift := func(mounting string) (over, seat float64) {
		setup := testSetup()
		setup.Mounting, setup.Faults, setup.Dancer.Rises = mounting, Faults{}, 1
		setup.Feet[0], setup.Dancer.Aborted = nil, nil
		s := newTestSession(t, setup)
		strip := setup.Feet[1].Strip
		var load, sum float64
		drain(t, s, func(f *device.Frame) {
			for k, c := range f.Counts {
				load += float64(c)
				sum += float64(c) * strip.Centre(strip.RowCol(k))[1]
			}
		})
		require.Len(t, s.Truth(), 1)
		return sum/load - s.Truth()[0].OverMM, s.Seat(device.Right).OverMM
	}
	over, seat := make([]float64, 8), make([]float64, 8)
	for m := range over {
		over[m], seat[m] = shift(string(rune('a' + m)))
	}
	_, slope := stat.LinearRegression(seat, over, nil, false)
	require.InDelta(t, -1, slope, 0.2)
}

func TestOneFootAndNoEnd(t *testing.T) {
	setup := testSetup()
	setup.Feet[0], setup.Dancer.Rises = nil, 0
	s := newTestSession(t, setup)
	var f device.Frame
	for range 8000 {
		require.NoError(t, s.Next(&f))
		require.Equal(t, device.Right, f.Foot)
	}
	require.Greater(t, len(s.Truth()), 4)
}

func TestSetupThatCannotBe(t *testing.T) {
	for _, c := range []struct {
		spoil func(*Setup)
		says  string
	}{
		{func(s *Setup) { s.Feet = [2]*Foot{} }, "no foot"},
		{func(s *Setup) { s.RateHz = 0 }, "frames a second"},
		{func(s *Setup) { s.RateHz = math.NaN() }, "frames a second"},
		{func(s *Setup) { s.Dancer.MassKG = -1 }, "kg"},
		{func(s *Setup) { s.Dancer.LeftShare = 1.2 }, "left foot"},
		{func(s *Setup) { s.Dancer.Rises = -1 }, "rises"},
		{func(s *Setup) { s.Faults.Loss = 1 }, "probability"},
		{func(s *Setup) { s.Feet[0].Shoe = nil }, "left foot: give it a strip and a shoe"},
		{func(s *Setup) { s.Feet[0].Strip = s.Feet[1].Strip }, "for the right foot, not the left"},
		{func(s *Setup) { s.Feet[1].Stand.CoPMM[1] = -12 }, "right foot: cannot stand at [0.5, -12.0] mm"},
		{func(s *Setup) { s.Feet[1].Physics.DomeMM = -1 }, "dome"},
	} {
		setup := testSetup()
		c.spoil(&setup)
		_, err := NewSession(setup)
		require.ErrorContains(t, err, c.says)
	}
}

// BenchmarkSession simulates frames of 40 cells of both feet with all faults. Frames without
// load take less time, so loaded_frames/s counts only those with load.
func BenchmarkSession(b *testing.B) {
	for _, c := range []struct {
		name    string
		physics Physics
	}{
		{"flat", Physics{}},
		{"domed", Physics{DomeMM: 0.2}},
		{"rounded", Physics{RoundFrontMM: 2, RoundBackMM: 2}},
		{"all", Physics{RoundFrontMM: 1.5, RoundBackMM: 1.5, PleatsMM: 0.25, SpreadMM: 1, DomeMM: 0.1}},
	} {
		b.Run(c.name, func(b *testing.B) {
			setup := testSetup()
			setup.Dancer.Rises, setup.Dancer.Aborted = 0, nil
			for k := range setup.Feet {
				setup.Feet[k].Physics = c.physics
			}
			s := newTestSession(b, setup)
			var f device.Frame
			require.NoError(b, s.Next(&f))
			b.ReportAllocs()
			var loaded time.Duration
			n := 0
			for b.Loop() {
				began := time.Now()
				if err := s.Next(&f); err != nil {
					b.Fatal(err)
				}
				a := s.feet[f.Foot]
				if took := time.Since(began); a.kPa[20] > 0 {
					loaded += took
					n++
				}
			}
			b.ReportMetric(float64(n)/loaded.Seconds(), "loaded_frames/s")
		})
	}
}
