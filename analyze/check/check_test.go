package check_test

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"errors"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/check"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/crosstalk"
	"aplomb/device/platform"
	"aplomb/device/recording"
	"aplomb/device/sim"
)

func strip(foot device.Foot) *device.Strip {
	return &device.Strip{
		Name: "S-" + foot.String(), Foot: foot, Rows: 5, Cols: 8,
		PitchMM: [2]float64{5, 5}, CellMM: [2]float64{5, 5},
		ADCBits: 12, SaturatesAt: 4095, FirstCell: "back-lateral", Scan: "rows",
		Mount:       device.Mount{SeatSDMM: 0.2},
		Calibration: device.Calibration{KPaPerCount: 0.75, GainSD: device.DefaultGainSD},
	}
}

// session is a simulated dancer on two strips, with the changes made to the
// frames before they are recorded.
type session struct {
	sim.Setup
	meta   device.Metadata
	frames func([]device.Frame) []device.Frame
	events []device.Event
	// unmarked leaves out the marks of the pad presses that the simulator makes.
	unmarked bool
	after    func(t *testing.T, path string)
}

func ordinary() *session {
	d := sim.DefaultDancer()
	d.Rises = 3
	s := &session{
		Setup: sim.Setup{Seed: 3, Start: time.Date(2026, 3, 1, 10, 0, 0, 0, time.UTC), RateHz: 60, Mounting: "1", Dancer: d, Faults: sim.DefaultFaults()},
		meta:  device.Metadata{Dancer: "D7", Started: time.Date(2026, 3, 1, 10, 0, 0, 0, time.UTC), Software: "test"},
	}
	for _, f := range device.Feet {
		shoe := &device.Shoe{Code: "A", PlatformMM: [2]float64{36, 22}, OutlineExponent: 2.5}
		s.Feet[f] = &sim.Foot{Strip: strip(f), Shoe: shoe, Stand: sim.Stand{CoPMM: platform.Point{-0.5, -1.5}, ScatterSD: 0.3}}
		s.meta.Sides[f] = &device.Side{Strip: strip(f), Shoe: shoe, Clock: "strip", Format: "binary", Mounting: "m"}
	}
	return s
}

// checked records the session and checks the recording.
func (s *session) checked(t *testing.T) *check.Report {
	run, err := sim.NewSession(s.Setup)
	require.NoError(t, err)
	var frames []device.Frame
	for {
		var f device.Frame
		err := run.Next(&f)
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err)
		frames = append(frames, f)
	}
	if s.frames != nil {
		frames = s.frames(frames)
	}
	path := filepath.Join(t.TempDir(), "made.mcap")
	w, err := recording.CreateDirect(path, s.meta)
	require.NoError(t, err)
	for i := range frames {
		require.NoError(t, w.Write(&frames[i]))
	}
	events := s.events
	if !s.unmarked {
		events = append(run.PressEvents(), events...)
	}
	for _, e := range events {
		require.NoError(t, w.WriteEvent(e))
	}
	require.NoError(t, w.Close())
	if s.after != nil {
		s.after(t, path)
	}
	r, err := check.File(context.Background(), path, measure.Software{Version: "test"})
	require.NoError(t, err)
	return r
}

// at returns the arrival time of a frame, s since the session's start.
func (s *session) at(f *device.Frame) float64 { return float64(f.ArrivalNS-s.Start.UnixNano()) / 1e9 }

// without leaves out the frames of the left foot between two times, s.
func (s *session) without(from, to float64) {
	s.frames = func(all []device.Frame) []device.Frame {
		return slices.DeleteFunc(all, func(f device.Frame) bool {
			return f.Foot == device.Left && s.at(&f) >= from && s.at(&f) < to
		})
	}
}

// each changes every frame.
func (s *session) each(change func(*device.Frame)) {
	s.frames = func(all []device.Frame) []device.Frame {
		for i := range all {
			change(&all[i])
		}
		return all
	}
}

// said is a finding without its texts.
type said struct {
	about string
	kind  check.Kind
	grave bool
}

// Every kind of finding occurs in its situation, and is grave if a measure is affected.
// The first relevé begins some 2 s after the start.
func TestFindings(t *testing.T) {
	for _, c := range []struct {
		name  string
		do    func(*session)
		whole bool
		want  []said
	}{
		{"nothing", func(*session) {}, true, nil},
		{"lost at rest", func(s *session) { s.without(0.5, 0.55) }, false, []said{{"left", check.FramesMissing, false}}},
		{"lost in a relevé", func(s *session) { s.without(4, 4.05) }, false, []said{{"left", check.FramesMissing, true}}},
		{"cable out", func(s *session) { s.without(0.5, 1.2) }, false, []said{{"left", check.FramesMissing, true}}},
		{"a gap noted", func(s *session) {
			s.events = []device.Event{{TimeNS: s.Start.UnixNano() + 1e9, Foot: device.Right, Kind: device.Gap, Cause: "board reset", LengthS: 0.1}}
		}, false, []said{{"right", check.FramesMissing, false}}},
		{"no frame", func(s *session) {
			s.frames = func(all []device.Frame) []device.Frame {
				return slices.DeleteFunc(all, func(f device.Frame) bool { return f.Foot == device.Right })
			}
		}, false, []said{{"right", check.NothingReceived, true}}},
		{"not numbered", func(s *session) { s.each(func(f *device.Frame) { f.Seq = device.NoSeq }) }, true,
			[]said{{"left", check.Unnumbered, false}, {"right", check.Unnumbered, false}}},
		{"no clock", func(s *session) { s.meta.Sides[1].Clock = "host" }, true, []said{{"right", check.NoClock, false}}},
		{"fast clock", func(s *session) {
			s.each(func(f *device.Frame) {
				if f.Foot == device.Left {
					f.TimeUS += f.TimeUS / 20
				}
			})
		}, true, []said{{"left", check.ClockWrong, true}}},
		{"jitter", func(s *session) {
			s.each(func(f *device.Frame) {
				if f.Seq%2 == 0 {
					f.TimeUS += 3000
				}
			})
		}, true, []said{{"left", check.UnevenFrames, false}, {"right", check.UnevenFrames, false}}},
		{"slow", func(s *session) { s.RateHz = 19 }, true, []said{{"left", check.RateTooLow, false}, {"right", check.RateTooLow, false}}},
		{"never closed", func(s *session) {
			s.after = func(t *testing.T, path string) {
				info, err := os.Stat(path)
				require.NoError(t, err)
				require.NoError(t, os.Truncate(path, info.Size()-20))
			}
		}, false, []said{{"file", check.CutShort, true}}},
		{"damaged", func(s *session) {
			s.after = func(t *testing.T, path string) {
				b, err := os.ReadFile(path)
				require.NoError(t, err)
				b[bytes.LastIndex(b[:len(b)/2], []byte("zstd"))+60] ^= 0xff // a chunk
				require.NoError(t, os.WriteFile(path, b, 0o666))
			}
		}, false, []said{{"file", check.Damaged, true}, {"left", check.FramesMissing, true}, {"right", check.FramesMissing, true}}},
		{"damaged where no frame is", func(s *session) {
			s.after = func(t *testing.T, path string) {
				b, err := os.ReadFile(path)
				require.NoError(t, err)
				const footer = 8 + 8 + 4 + 8                               // summary, its offsets, checksum, magic
				b[binary.LittleEndian.Uint64(b[len(b)-footer:])-1] ^= 0xff // the checksum of the whole file
				require.NoError(t, os.WriteFile(path, b, 0o666))
			}
		}, false, []said{{"file", check.Damaged, false}}},
		{"narrow strip", func(s *session) {
			for _, strip := range []*device.Strip{s.Feet[0].Strip, s.meta.Sides[0].Strip} {
				strip.PitchMM[0], strip.CellMM[0] = 3.5, 3.5
			}
		}, true, []said{{"left", check.PartlyCovered, true}}},
		{"misplaced strip", func(s *session) { s.meta.Sides[0].Strip.Mount.OffsetMM[1] = 8 }, true,
			[]said{{"left", check.SeatUnfound, false}, {"left", check.PartlyCovered, true}, {"left", check.OffOutline, true}}},
		{"swapped", func(s *session) {
			// The left platform is long and narrow, the right one is not; the profiles are exchanged.
			wide, deep := &device.Shoe{Code: "A", PlatformMM: [2]float64{40, 14}, OutlineExponent: 8}, &device.Shoe{Code: "B", PlatformMM: [2]float64{24, 25}, OutlineExponent: 8}
			s.Feet[0].Shoe, s.Feet[1].Shoe = wide, deep
			s.meta.Sides[0].Shoe, s.meta.Sides[1].Shoe = deep, wide
		}, true, []said{{"both", check.StripsSwapped, true}, {"left", check.SeatUnfound, false}, {"left", check.OffOutline, true}, {"left", "ghosting", true}, {"right", check.SeatUnfound, false}, {"right", check.OffOutline, true}, {"right", "ghosting", true}}},
		{"heavier than the dancer", func(s *session) { s.meta.MassKG = 40 }, true, []said{{"both", check.LoadTooHigh, true}}},
		{"as heavy as the dancer", func(s *session) { s.meta.MassKG = s.Dancer.MassKG }, true, nil},
		{"dead cell", func(s *session) { s.Feet[0].Broken = []sim.Broken{{Row: 2, Col: 3}} }, true, []said{{"left", "dead", true}}},
		{"stuck cell beside the platform", func(s *session) {
			s.Feet[1].Broken = []sim.Broken{{Row: 0, Col: 0, How: sim.Stuck, Value: 900}}
		}, true, []said{{"right", "stuck", false}}},
		{"a digit that hardly matters", func(s *session) {
			s.Feet[1].Broken = []sim.Broken{{Row: 2, Col: 3, How: sim.StuckBit, Value: 2}}
		}, true, []said{{"right", "stuck_bit", false}}},
		{"saturated", func(s *session) { s.Feet[0].Strip.SaturatesAt, s.meta.Sides[0].Strip.SaturatesAt = 500, 500 }, true, []said{{"left", "saturated", true}}},
		{"beyond the converter", func(s *session) {
			s.each(func(f *device.Frame) {
				if f.Foot == device.Left && f.Seq == 100 {
					f.Counts[0] = 5000
				}
			})
		}, true, []said{{"left", check.BeyondConverter, true}, {"left", "noisy", true}}},
		{"crosstalk", func(s *session) { s.Faults.Tie = crosstalk.Floating }, true,
			[]said{{"left", "ghosting", true}, {"right", "ghosting", true}}},
		// The zeros add up to 150 N and to 450 N; analyze distinguishes the former from a load.
		{"large zeros", func(s *session) { s.Faults.Zero = 200 }, true, nil},
		{"never at rest", func(s *session) { s.Faults.Zero = 600 }, true, []said{{"left", "off_outline", true}, {"left", "never_at_rest", true}, {"right", "off_outline", true}, {"right", "never_at_rest", true}}},
		{"never loaded", func(s *session) { s.Dancer.MassKG = 0.5 }, true, []said{{"left", "never_loaded", false}, {"right", "never_loaded", false}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			s := ordinary()
			c.do(s)
			r := s.checked(t)
			var found []said
			trusted := true
			for _, f := range r.Findings {
				found = append(found, said{f.About, f.Kind, f.Grave})
				assert.NotEmpty(t, f.Text)
				assert.NotEmpty(t, f.Means)
				trusted = trusted && !f.Grave
			}
			assert.Equal(t, c.want, found)
			assert.Equal(t, c.whole, r.Whole)
			assert.Equal(t, trusted, r.Trusted)
		})
	}
}

func TestNoRecording(t *testing.T) {
	_, err := check.File(context.Background(), filepath.Join(t.TempDir(), "none.mcap"), measure.Software{})
	require.Error(t, err)
}

func fields(t *testing.T, object any) []string {
	require.IsType(t, map[string]any{}, object)
	return slices.Sorted(maps.Keys(object.(map[string]any)))
}

// The names in JSON are an interface for other programs.
func TestJSON(t *testing.T) {
	s := ordinary()
	s.without(4, 4.05)
	s.Feet[1].Broken = []sim.Broken{{Row: 2, Col: 3}}
	s.events = []device.Event{{TimeNS: s.Start.UnixNano() + 4e9, Foot: device.Left, Kind: device.Gap, Cause: "lost frames", LengthS: 0.05}}
	data, err := json.Marshal(s.checked(t))
	require.NoError(t, err)
	assert.NotContains(t, string(data), "null", "what is undefined is absent")
	var all map[string]any
	require.NoError(t, json.Unmarshal(data, &all))
	assert.Equal(t, []string{"feet", "file", "findings", "provenance", "trusted", "whole"}, fields(t, all))
	assert.Equal(t, "made.mcap", all["file"])
	foot := all["feet"].(map[string]any)["left"].(map[string]any)
	assert.Equal(t, []string{"arrival_sd_ms", "covered", "felt", "frames", "gaps", "interval_sd_ms", "longest_wait_ms", "lost",
		"measured", "rate_hz", "seat", "shoe", "span_s", "strip", "zero"}, fields(t, foot))
	assert.Equal(t, []string{"cells", "of"}, fields(t, foot["felt"]))
	assert.Equal(t, []string{"counts", "load_n", "shift_mm", "step_mm", "step_n"}, fields(t, foot["zero"]))
	assert.Equal(t, []any{map[string]any{"at_s": foot["gaps"].([]any)[0].(map[string]any)["at_s"], "length_s": 0.05, "cause": "lost frames"}}, foot["gaps"])
	findings := all["findings"].([]any)
	require.Len(t, findings, 2)
	assert.Equal(t, []string{"about", "grave", "kind", "means", "text"}, fields(t, findings[0]))
	assert.Equal(t, []string{"about", "cells", "grave", "kind", "means", "share", "since_s", "text"}, fields(t, findings[1]))
	assert.Equal(t, []any{[]any{3.0, 4.0}}, findings[1].(map[string]any)["cells"], "row and column from 1")
	assert.Equal(t, "dead", findings[1].(map[string]any)["kind"])

	// What is not known is absent.
	s = ordinary()
	s.Dancer.MassKG = 0.5
	s.frames = func(all []device.Frame) []device.Frame {
		all = slices.DeleteFunc(all, func(f device.Frame) bool { return f.Foot == device.Right })[:1]
		all[0].Seq = device.NoSeq
		return all
	}
	data, err = json.Marshal(s.checked(t))
	require.NoError(t, err)
	assert.NotContains(t, string(data), "null")
	require.NoError(t, json.Unmarshal(data, &all))
	feet := all["feet"].(map[string]any)
	assert.Equal(t, []string{"covered", "frames", "measured", "shoe", "span_s", "strip"}, fields(t, feet["left"]))
	assert.Equal(t, []string{"covered", "frames", "shoe", "span_s", "strip"}, fields(t, feet["right"]))
}
