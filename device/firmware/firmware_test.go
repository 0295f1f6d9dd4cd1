// Package firmware tests the firmware in src, which is C for an ATmega328P: it builds it, runs it
// on an emulated board, and records from that over a pseudo-terminal.
package firmware

import (
	"context"
	"errors"
	"io"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device"
	"aplomb/device/firmware/emulator"
	"aplomb/device/link"
	"aplomb/device/recording"
	"aplomb/device/wire"
)

const cells = 40

// counts returns the counts that a build must send in frame seq.
type counts func(seq int64) [cells]uint16

// pattern returns the counts of a build with PATTERN=1 that reads a number of lines.
func pattern(read int) counts {
	return func(seq int64) (sent [cells]uint16) {
		conversion := func(k int) int64 { return (7*seq + 13*int64(k)) % 200 }
		for k := range sent {
			rest := int64(1024)
			for on := k % read; on < cells; on += read {
				rest -= conversion(on)
			}
			sent[k] = uint16(min(4095, conversion(k)*(1<<22/max(1, rest))>>12))
		}
		return sent
	}
}

// The conductances computed from the counts of the pattern, put into the circuit
// (Kirchhoff's current law at the read line), give the conversions of the pattern, within
// the rounding of a count.
func TestCountsAreConductances(t *testing.T) {
	for _, read := range []int{8, 5} {
		for seq := range int64(400) {
			sent := pattern(read)(seq)
			for line := range read {
				total, saturated := 1024.0, false
				for k := line; k < cells; k += read {
					total += float64(sent[k])
					saturated = saturated || sent[k] == 4095
				}
				for k := line; k < cells && !saturated; k += read {
					conversion := 1024 * float64(sent[k]) / total
					require.InDelta(t, (7*seq+13*int64(k))%200, conversion, 1, "frame %d, cell %d", seq, k)
				}
			}
		}
	}
}

// nothing returns the counts of a build without a pattern: the emulated board has no
// converter and reads zeros.
func nothing(int64) (sent [cells]uint16) { return sent }

// Every frame of the emulated board, from the first one on, is in the recording without
// error.
func TestOnAnEmulatedBoard(t *testing.T) {
	for _, tool := range []string{"make", "avr-gcc", "qemu-system-avr"} {
		if _, err := exec.LookPath(tool); err != nil {
			t.Skipf("%s is missing: install make, gcc-avr, avr-libc and qemu-system-misc", tool)
		}
	}
	for _, c := range []struct {
		name   string
		make   []string
		foot   device.Foot
		scan   string
		rate   int
		frames int
		sent   counts
	}{
		{"pattern", []string{"PATTERN=1"}, device.Left, "rows", 200, 300, pattern(8)},
		{"turned", []string{"PATTERN=1", "TURNED=1", "STRIP=R-01", "FOOT=right"}, device.Right, "columns", 200, 100, pattern(5)},
		{"slow line", []string{"PATTERN=1", "BAUD=115200"}, device.Left, "rows", 119, 100, pattern(8)},
		// 16 MHz makes 125000 of 128000 (Atmel-8271, table 20-1: 16 MHz ÷ (16·(7+1))).
		{"line slower than asked for", []string{"PATTERN=1", "BAUD=128000"}, device.Left, "rows", 130, 100, pattern(8)},
		{"readings", nil, device.Left, "rows", 200, 100, nothing},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			strip := profile(t)
			strip.Foot, strip.Scan = c.foot, c.scan
			if c.foot == device.Right {
				strip.Name = "R-01"
			}
			board := emulator.Boot(t, build(t, c.make...))
			path := record(t, board, strip, c.frames)
			check(t, path, c.foot, c.rate, c.frames, c.sent)
		})
	}
}

// build builds the firmware and returns the file to run.
func build(t *testing.T, settings ...string) (elf string) {
	t.Helper()
	dir := t.TempDir()
	elf = filepath.Join(dir, "strip.elf")
	out, err := exec.Command("make", append(settings, "BUILD="+dir)...).CombinedOutput()
	require.NoError(t, err, "%s", out)
	return elf
}

// record records a number of frames, as the command does, and returns the file.
func record(t *testing.T, b emulator.Board, strip *device.Strip, frames int) (path string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	o := link.Options{Silence: 20 * time.Second} // both cores may be busy with other tests
	o.Ports[strip.Foot], o.Strips[strip.Foot] = b.Port, strip
	line, err := link.Open(ctx, o)
	require.NoError(t, err)
	defer line.Close()
	// The emulator checks once a second whether its line is open. Until it is, it does
	// not wait for a reader.
	time.Sleep(1100 * time.Millisecond)
	b.Start()

	meta := device.Metadata{Dancer: "D-01", Started: time.Now(), Software: "firmware test"}
	meta.Sides[strip.Foot] = &device.Side{
		Strip:    strip,
		Shoe:     &device.Shoe{Code: "A", PlatformMM: [2]float64{36, 22}, OutlineExponent: 2.5},
		Mounting: "m-1", Clock: "strip", Format: wire.Binary.String(),
	}
	path = filepath.Join(t.TempDir(), "board.mcap")
	w, err := recording.Create(path, meta)
	require.NoError(t, err)
	var f device.Frame
	for range frames {
		require.NoError(t, line.Next(&f))
		require.NoError(t, w.Write(&f))
	}
	require.NoError(t, w.Close())

	s := line.Stats()[strip.Foot]
	assert.True(t, s.Hello)
	assert.Equal(t, "strip", s.Clock)
	assert.Equal(t, wire.Binary, s.Line.Format)
	assert.Zero(t, s.Lost+s.Refused+s.Line.Dropped)
	assert.Equal(t, wire.Stats{}.Bad, s.Line.Bad)
	assert.Empty(t, line.Warnings())
	// The emulator's clock also runs while the machine does something else, which may
	// look like a pause. No number may be missing.
	for _, e := range line.Events() {
		assert.Equal(t, link.StripPaused, e.Cause)
	}
	return path
}

// check compares every frame of a recording with the one that the board must have sent.
func check(t *testing.T, path string, foot device.Foot, rate, frames int, sent counts) {
	t.Helper()
	r, err := recording.Open(t.Context(), path)
	require.NoError(t, err)
	defer r.Close()

	// A scan lies between two ticks of the board's clock, so the time gives the number of
	// the tick. An emulator that is short of time may skip ticks.
	period := uint64(1_000_000 / rate)
	var f device.Frame
	var ticks uint64
	var first device.Frame
	after := map[uint64]int{} // number of frames by the number of periods since the frame before
	for seq := int64(0); ; seq++ {
		err := r.Next(&f)
		if errors.Is(err, io.EOF) {
			require.EqualValues(t, frames, seq)
			break
		}
		require.NoError(t, err)
		require.Equal(t, foot, f.Foot)
		require.Equal(t, seq, f.Seq)
		require.Equal(t, sent(seq), [cells]uint16(f.Counts), "frame %d", seq)
		tick := f.TimeUS / period
		require.Greater(t, tick, ticks, "frame %d at %d µs", seq, f.TimeUS)
		after[tick-ticks]++
		ticks = tick
		if seq == 0 {
			first = f
		}
	}
	// A busy machine delays many frames, but one period is the most common interval.
	for periods, n := range after {
		if periods != 1 {
			assert.Greater(t, after[1], n, "frames %d periods after the one before", periods)
		}
	}
	t.Logf("%d frames received, none wrong; a second %.1f by the board's clock, %.1f by the host's", frames,
		float64(frames-1)/float64(f.TimeUS-first.TimeUS)*1e6, float64(frames-1)/float64(f.ArrivalNS-first.ArrivalNS)*1e9)
}
