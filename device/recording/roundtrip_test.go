package recording_test

import (
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/device"
	"aplomb/device/recording"
)

var someEvents = []device.Event{
	{TimeNS: start + 1_000_000_000, Foot: device.Left, Kind: device.Gap, Cause: "seq", LengthS: 0.25},
	{TimeNS: start + 2_000_000_001, Foot: device.NoFoot, Kind: device.Note, Text: "left ribbon came undone"},
}

func TestRoundTrip(t *testing.T) {
	for name, create := range map[string]func(string, device.Metadata) (*recording.Writer, error){
		"live": recording.Create, "direct": recording.CreateDirect,
	} {
		t.Run(name, func(t *testing.T) {
			path, m, frames := tempFile(t), meta(5, 8), releves(12_000, 40)
			w, err := create(path, m)
			require.NoError(t, err)
			write(t, w, frames, someEvents...)
			require.NoFileExists(t, path)
			require.NoError(t, w.Close())
			entries, err := os.ReadDir(filepath.Dir(path))
			require.NoError(t, err)
			require.Len(t, entries, 1, "nothing but the recording is left")

			r := open(t, path)
			assert.Equal(t, m, r.Meta())
			assert.True(t, r.Whole())
			assert.Equal(t, 6_000, r.Count(device.Left))
			assert.Equal(t, 6_000, r.Count(device.Right))
			assert.Zero(t, r.Count(device.NoFoot))
			got, err := readAll(r)
			require.NoError(t, err)
			same(t, frames, got)
			assert.Equal(t, someEvents, r.Events())
			assert.Empty(t, r.Missing())
			assert.ErrorContains(t, r.Next(new(device.Frame)), "EOF")
		})
	}
}

func TestOneFootAndAnOutlineByPoints(t *testing.T) {
	path, m := tempFile(t), meta(1, 1)
	m.Sides[device.Left] = nil
	m.MassKG, m.Dancer, m.Support, m.Started = 0, "", "", time.Time{}
	m.Sides[device.Right].Shoe = &device.Shoe{Code: "B \"wide\"", OutlineMM: [][2]float64{{-18, -11}, {18, -11}, {0.1, 11}}}
	w, err := recording.CreateDirect(path, m)
	require.NoError(t, err)
	f := device.Frame{Foot: device.Right, Seq: device.NoSeq, Counts: []uint16{65535}}
	require.NoError(t, w.Write(&f))
	f.Foot = device.Left
	require.ErrorContains(t, w.Write(&f), "a frame of the left foot, for which there is no strip")
	require.NoError(t, w.Close())
	r := open(t, path)
	assert.Equal(t, m, r.Meta())
	got, err := readAll(r)
	require.NoError(t, err)
	f.Foot = device.Right
	assert.Equal(t, []device.Frame{f}, got)
}

// A recording holds the whole calibration of its strips, with the hash.
func TestCalibrationInARecording(t *testing.T) {
	path, m := tempFile(t), meta(2, 2)
	s := m.Sides[device.Left].Strip
	s.Calibration = device.Calibration{
		Curve: "points", Counts: []float64{0, 1e3, 2.5e4}, KPa: []float64{0, 120.5, 4000}, Gains: []float64{0.9, 1.1, 1.25, 0.75}, GainSD: 0.011,
		Hysteresis: 0.03, CreepPerDecade: 0.015, RangeKPa: []float64{50, 4000}, NoiseCounts: []float64{1, 2, 3, 4.5}, ZeroCounts: []float64{20, 0, 21.25, 9},
		Date: device.Date{Year: 2023, Month: 11, Day: 2}, MadeFor: s.Name, ValidDays: 30,
	}
	s.Calibration.Hash = s.Calibration.Sum(s)
	m.Sides[device.Right].Strip.Calibration = device.Calibration{Curve: "power", KPaAtOneCount: 0.013, Exponent: 1.21, GainSD: 0.02}
	w, err := recording.CreateDirect(path, m)
	require.NoError(t, err)
	require.NoError(t, w.Close())
	back := open(t, path).Meta()
	assert.Equal(t, m, back)
	assert.Empty(t, back.Sides[device.Left].Strip.CalibrationDoubts(m.Started))
}

// Everything that can be written is read back unchanged.
func TestRoundTripProperty(t *testing.T) {
	dir := t.TempDir()
	rapid.Check(t, func(t *rapid.T) {
		path := dir + "/r.mcap"
		os.Remove(path)
		m := meta(1, rapid.IntRange(1, 12).Draw(t, "cells"))
		m.Dancer, m.Floor = rapid.String().Draw(t, "dancer"), rapid.String().Draw(t, "floor")
		m.MassKG = rapid.Float64Range(0, 200).Draw(t, "mass")
		m.Sides[0].Strip.Mount.OffsetMM[0] = rapid.Float64Range(-20, 20).Draw(t, "offset")
		w, err := recording.CreateDirect(path, m)
		require.NoError(t, err)
		var frames []device.Frame
		for range rapid.IntRange(0, 50).Draw(t, "n") {
			f := device.Frame{
				Foot: device.Foot(rapid.IntRange(0, 1).Draw(t, "foot")), Seq: rapid.Int64Min(-1).Draw(t, "seq"),
				TimeUS: rapid.Uint64().Draw(t, "t"), ArrivalNS: start + int64(len(frames)),
				Counts: rapid.SliceOfN(rapid.Uint16(), m.Sides[0].Strip.Cells(), m.Sides[0].Strip.Cells()).Draw(t, "counts"),
			}
			frames = append(frames, f)
			require.NoError(t, w.Write(&f))
		}
		require.NoError(t, w.Close())
		r, err := recording.Open(t.Context(), path)
		require.NoError(t, err)
		defer r.Close()
		require.Equal(t, m, r.Meta())
		got, err := readAll(r)
		require.NoError(t, err)
		require.Equal(t, frames, got)
	})
}

// Two goroutines read two ports, so frames of the two feet reach the writer in any order.
// The finished file does not depend on it.
func TestTheFileDependsOnTheFramesAlone(t *testing.T) {
	m, frames := meta(5, 8), releves(6000, 40)
	bytes := func(create func(string, device.Metadata) (*recording.Writer, error), fill func(w *recording.Writer)) []byte {
		path := tempFile(t)
		w, err := create(path, m)
		require.NoError(t, err)
		fill(w)
		require.NoError(t, w.Close())
		b, err := os.ReadFile(path)
		require.NoError(t, err)
		return b
	}
	inOrder := func(w *recording.Writer) { write(t, w, frames) }
	want := bytes(recording.Create, inOrder)

	assert.Equal(t, want, bytes(recording.Create, func(w *recording.Writer) {
		var feet sync.WaitGroup
		for _, foot := range device.Feet {
			feet.Go(func() {
				for i := range frames {
					if frames[i].Foot == foot {
						assert.NoError(t, w.Write(&frames[i]))
					}
				}
			})
		}
		feet.Wait()
	}), "two threads")
	assert.Equal(t, want, bytes(recording.CreateDirect, inOrder), "written directly")
	before := runtime.GOMAXPROCS(1)
	defer runtime.GOMAXPROCS(before)
	assert.Equal(t, want, bytes(recording.Create, inOrder), "one core")
}

// With equal log times the left foot comes first, then the right, then events.
func TestTies(t *testing.T) {
	path := tempFile(t)
	w, err := recording.Create(path, meta(1, 1))
	require.NoError(t, err)
	for _, foot := range []device.Foot{device.Right, device.Left} {
		require.NoError(t, w.Write(&device.Frame{Foot: foot, ArrivalNS: start, Counts: []uint16{1}}))
	}
	require.NoError(t, w.Close())
	frames, err := readAll(open(t, path))
	require.NoError(t, err)
	assert.Equal(t, []device.Foot{device.Left, device.Right}, []device.Foot{frames[0].Foot, frames[1].Foot})
}

func TestReadingAllocatesNothing(t *testing.T) {
	path := tempFile(t)
	w, err := recording.CreateDirect(path, meta(5, 8))
	require.NoError(t, err)
	frames := releves(60_000, 40)
	write(t, w, frames)
	require.NoError(t, w.Close())
	r := open(t, path)
	var f device.Frame
	for range 40_000 { // until all buffers have been used once
		require.NoError(t, r.Next(&f))
	}
	assert.Zero(t, testing.AllocsPerRun(15_000, func() {
		if r.Next(&f) != nil {
			panic("the end already")
		}
	}))
}

// Written frames are synced to disk even if no more frames come.
func TestSyncedWhileTheStripIsSilent(t *testing.T) {
	path, frames := tempFile(t), releves(10, 40)
	w, err := recording.Create(path, meta(5, 8))
	require.NoError(t, err)
	defer w.Discard()
	write(t, w, frames)
	waitForPart(t, path, len(frames))
}
