package capture_test

import (
	"bytes"
	"context"
	"errors"
	"io"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/cmd/internal/capture"
	"aplomb/device"
	"aplomb/device/link"
	"aplomb/device/recording"
	"aplomb/plots/screen"
)

// script is a source of frames that a test has written down: in each both feet
// carry the same counts in all cells, ten milliseconds apart.
type script struct {
	ctx      context.Context
	counts   [][2]uint16 // by frame and foot
	then     error       // after the last frame; nil: it waits until ctx is done
	warnings []link.Notice
	n        int
	stats    [2]link.Stats
}

func (s *script) Next(f *device.Frame) error {
	k := s.n / 2
	if s.ctx.Err() != nil {
		return io.EOF
	}
	if k >= len(s.counts) {
		if s.then != nil {
			return s.then
		}
		<-s.ctx.Done()
		return io.EOF
	}
	foot := device.Foot(s.n % 2)
	*f = device.Frame{Foot: foot, Seq: int64(k), TimeUS: uint64(k) * 10_000, ArrivalNS: began.Add(time.Duration(k) * 10 * time.Millisecond).UnixNano(), Counts: make([]uint16, 40)}
	for i := range f.Counts {
		f.Counts[i] = s.counts[k][foot]
	}
	s.stats[foot].Frames++
	s.stats[foot].HasSeq, s.stats[foot].Clock = true, "strip"
	s.n++
	return nil
}

func (s *script) Stats() [2]link.Stats    { return s.stats }
func (s *script) Events() []device.Event  { return nil }
func (s *script) Warnings() []link.Notice { return s.warnings }
func (s *script) Close() error            { return nil }

var began = time.Date(2026, 3, 14, 10, 0, 0, 0, time.UTC)

func metadata() device.Metadata {
	m := device.Metadata{Dancer: "D7", Started: began}
	for f := range m.Sides {
		m.Sides[f] = &device.Side{
			Strip: &device.Strip{
				Name: []string{"L-01", "R-01"}[f], Foot: device.Foot(f), Rows: 5, Cols: 8, PitchMM: [2]float64{5, 5}, CellMM: [2]float64{5, 5},
				ADCBits: 12, SaturatesAt: 4095, FirstCell: "back-lateral", Scan: "rows",
				Mount: device.Mount{SeatSDMM: 1}, Calibration: device.Calibration{KPaPerCount: 0.75, GainSD: 0.03},
			},
			Shoe: &device.Shoe{Code: "A", PlatformMM: [2]float64{36, 22}, OutlineExponent: 2.5}, Mounting: "1", Clock: "strip",
		}
	}
	return m
}

// frames returns so many frames in which the feet carry these counts.
func frames(n int, left, right uint16) (all [][2]uint16) {
	for range n {
		all = append(all, [2]uint16{left, right})
	}
	return all
}

func recorder(t *testing.T, s *script) *capture.Recorder {
	r := &capture.Recorder{Meta: metadata(), Path: filepath.Join(t.TempDir(), "a.mcap")}
	r.Open = func(ctx context.Context, _ func(device.Foot, link.Notice)) (capture.Source, error) {
		s.ctx = ctx
		return s, nil
	}
	return r
}

// read returns how many frames and which events a recording holds.
func read(t *testing.T, path string) (frames int, events []device.Event) {
	r, err := recording.Open(t.Context(), path)
	require.NoError(t, err)
	defer r.Close()
	for {
		var f device.Frame
		err := r.Next(&f)
		if errors.Is(err, io.EOF) {
			return frames, r.Events()
		}
		require.NoError(t, err)
		frames++
	}
}

func TestEveryFrameIsRecorded(t *testing.T) {
	s := &script{counts: frames(100, 3, 4), then: io.EOF, warnings: []link.Notice{{Code: link.HostClock, Port: "ttyUSB0", Strip: "L-01"}}}
	r := recorder(t, s)
	seen := 0
	var news []string
	r.Recorded = func(n *capture.Tally, f *device.Frame) {
		seen++
		news = append(news, n.News()...)
	}
	n, err := r.Run(t.Context())
	require.NoError(t, err)
	assert.True(t, n.Kept)
	assert.Equal(t, 200, seen)
	assert.Equal(t, "1.0 s; left 100 frames; right 100 frames", n.String())
	assert.Equal(t, []string{s.warnings[0].String()}, news, "each once")
	assert.Equal(t, news, n.Warnings())
	held, _ := read(t, r.Path)
	assert.Equal(t, 200, held)
}

// A signal ends the context: the file is finished with what came.
func TestRecordingEndsWithTheContext(t *testing.T) {
	r := recorder(t, &script{counts: frames(50, 3, 4)})
	ctx, stop := context.WithCancel(t.Context())
	r.Recorded = func(n *capture.Tally, f *device.Frame) {
		if left, _ := n.Counted(device.Left); left == 50 {
			stop()
		}
	}
	n, err := r.Run(ctx)
	require.NoError(t, err)
	assert.True(t, n.Kept)
	held, _ := read(t, r.Path)
	assert.GreaterOrEqual(t, held, 99)
}

func TestRecordingEndsAtItsLength(t *testing.T) {
	t.Parallel()
	r := recorder(t, &script{counts: frames(1000, 3, 4)})
	r.Length = 300 * time.Millisecond // by the arrival of frames, which here takes no time
	n, err := r.Run(t.Context())
	require.NoError(t, err)
	assert.InDelta(t, 0.3, n.Length().Seconds(), 0.011)

	r = recorder(t, &script{counts: frames(10, 3, 4)}) // and then no frame comes any more
	r.Length = time.Second
	n, err = r.Run(t.Context())
	require.NoError(t, err)
	assert.True(t, n.Kept)
}

func TestNothingIsRecordedUntilBothFeetAreHeard(t *testing.T) {
	s := &script{counts: frames(5, 3, 4), then: io.EOF}
	r := recorder(t, s)
	r.Open = func(ctx context.Context, _ func(device.Foot, link.Notice)) (capture.Source, error) {
		s.ctx = ctx
		return &oneFoot{script: s, foot: device.Left}, nil
	}
	n, err := r.Run(t.Context())
	assert.EqualError(t, err, "stopped before a frame of the right foot had come; nothing was recorded, the 5 frames of the other foot were not kept")
	assert.False(t, n.Kept)
	assert.NoFileExists(t, r.Path)

	failed := errors.New("no such port")
	r.Open = func(context.Context, func(device.Foot, link.Notice)) (capture.Source, error) { return nil, failed }
	n, err = r.Run(t.Context())
	assert.ErrorIs(t, err, failed)
	assert.Nil(t, n)
}

// oneFoot is the frames of one foot of a script.
type oneFoot struct {
	*script
	foot device.Foot
}

func (o *oneFoot) Next(f *device.Frame) error {
	for {
		if err := o.script.Next(f); err != nil || f.Foot == o.foot {
			return err
		}
	}
}

// After an error of the source what came before is kept, and the error is said.
func TestWhatCameBeforeAnErrorIsKept(t *testing.T) {
	gone := errors.New("the port has gone")
	r := recorder(t, &script{counts: frames(20, 3, 4), then: gone})
	n, err := r.Run(t.Context())
	assert.ErrorIs(t, err, gone)
	assert.True(t, n.Kept)
	held, _ := read(t, r.Path)
	assert.Equal(t, 40, held)
}

// The press opens the recording; what came before it is not in it. Afterwards
// notes, discards and their taking back are kept as events.
func TestMonitor(t *testing.T) {
	s := &script{then: io.EOF}
	for _, part := range [][][2]uint16{
		frames(60, 3, 3), frames(60, 100, 3), frames(60, 3, 3), // the press
		frames(100, 3, 3), frames(150, 300, 300), frames(100, 3, 3), // a relevé
	} {
		s.counts = append(s.counts, part...)
	}
	r := recorder(t, s)
	m := capture.NewMonitor(&r.Meta, "a.mcap, shoe A", true)
	var state screen.State
	m.State(&state)
	assert.Equal(t, screen.Pressing, state.Stage)
	r.Ready = func(f *device.Frame) (bool, error) { return m.Ready(f, false) }
	r.Recorded = m.Frame
	marks := []capture.Mark{{Action: capture.TakeNote, Note: "tape moved"}, {Action: capture.DropLast}, {Action: capture.DropLast}, {Action: capture.TakeBack}, {Action: capture.TakeBack}}
	r.Marks = func() (events []device.Event) {
		if s.n < 2*len(s.counts)-1 || len(marks) == 0 {
			return nil
		}
		for i, mark := range marks {
			mark.At = began.Add(10*time.Second + time.Duration(i))
			if e, keep := m.Do(mark); keep {
				events = append(events, e)
			}
		}
		marks = nil
		return events
	}
	n, err := r.Run(t.Context())
	require.NoError(t, err)
	held, events := read(t, r.Path)
	assert.Less(t, held, 2*(len(s.counts)-120), "the press is not recorded")
	left, lost := n.Counted(device.Left)
	right, _ := n.Counted(device.Right)
	assert.EqualValues(t, held, left+right)
	assert.Zero(t, lost)
	var kinds []device.EventKind
	for _, e := range events {
		kinds = append(kinds, e.Kind)
	}
	assert.Equal(t, []device.EventKind{device.Note, device.Discard, device.Discard}, kinds)
	assert.Equal(t, "relevé 1", events[2].Text)
	m.State(&state)
	assert.Equal(t, screen.Recording, state.Stage)
	assert.Equal(t, []string{
		"that was the left platform: recording", "note kept: tape moved", "relevé 1 discarded: u takes that back", "there is no relevé to discard",
		"relevé 1 counts again", "there is nothing to take back",
	}, state.Says)
	assert.Equal(t, left, state.Feet[device.Left].Frames)
}

func TestMonitorOfSwappedStrips(t *testing.T) {
	s := &script{counts: append(frames(60, 3, 3), frames(60, 3, 100)...), then: io.EOF}
	r := recorder(t, s)
	m := capture.NewMonitor(&r.Meta, "a.mcap", true)
	r.Ready = func(f *device.Frame) (bool, error) { return m.Ready(f, false) }
	_, err := r.Run(t.Context())
	assert.ErrorContains(t, err, "strip R-01 of the right foot answered: swap the strips or their cables")
	assert.NoFileExists(t, r.Path)

	s = &script{counts: frames(60, 3, 3), then: io.EOF}
	r = recorder(t, s)
	m = capture.NewMonitor(&r.Meta, "a.mcap", true)
	r.Ready = func(f *device.Frame) (bool, error) { return m.Ready(f, false) }
	_, err = r.Run(t.Context())
	assert.ErrorIs(t, err, capture.ErrNoPress)

	s = &script{counts: frames(60, 3, 3), then: io.EOF}
	r = recorder(t, s)
	m = capture.NewMonitor(&r.Meta, "a.mcap", true)
	r.Ready = func(f *device.Frame) (bool, error) { return m.Ready(f, true) }
	_, err = r.Run(t.Context())
	require.NoError(t, err, "skipped")
}

func TestMonitorNotices(t *testing.T) {
	meta := metadata()
	m := capture.NewMonitor(&meta, "a.mcap", false)
	gone := link.Notice{Code: link.PortGone, Port: "ttyUSB0", Cause: "end of file"}
	m.Notice(device.Left, gone)
	m.Notice(device.Left, gone)
	var s screen.State
	m.State(&s)
	assert.Equal(t, gone.String(), s.Feet[device.Left].Away)
	assert.WithinDuration(t, time.Now(), s.Feet[device.Left].Since, time.Minute)
	m.Notice(device.Left, link.Notice{Code: link.Flowing})
	m.State(&s)
	assert.Empty(t, s.Feet[device.Left].Away)
	assert.Equal(t, []string{"left: no frames (" + gone.String() + ")", "left: frames come again"}, s.Says)
	for range 20 {
		m.Say("again")
	}
	m.State(&s)
	assert.Len(t, s.Says, 8)
}

func TestRunInLines(t *testing.T) {
	s := &script{then: io.EOF, warnings: []link.Notice{{Code: link.HostClock, Port: "ttyUSB0", Strip: "L-01"}}}
	for _, part := range [][][2]uint16{frames(100, 3, 3), frames(150, 300, 300), frames(150, 3, 3)} {
		s.counts = append(s.counts, part...)
	}
	var out bytes.Buffer
	r := recorder(t, s)
	n, err := capture.RunInLines(t.Context(), r, &out, time.Now, "to ttyUSB0 (left)")
	require.NoError(t, err)
	assert.True(t, n.Kept)
	lines := strings.Split(out.String(), "\n")
	require.Len(t, lines, 5, out.String())
	assert.Equal(t, "listening to ttyUSB0 (left); Ctrl-C ends it", lines[0])
	assert.Equal(t, "warning: "+s.warnings[0].String(), lines[1])
	assert.Regexp(t, `^relevé 1, left: hold 1\.\d s, over [−\d.]+ mm, contact \d+ %, .*\(provisional\)$`, lines[2])
	assert.Regexp(t, `^relevé 1, right: `, lines[3])

	out.Reset()
	r.Notify(device.Left, link.Notice{Code: link.PortGone, Port: "ttyUSB0", Cause: "end of file"})
	r.Notify(device.Left, link.Notice{Code: link.Flowing})
	assert.Equal(t, "left: no frames (port ttyUSB0 has gone (end of file)); the recording waits for them\nleft: frames come again\n", out.String())
}
