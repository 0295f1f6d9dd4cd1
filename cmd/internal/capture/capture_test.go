package capture_test

import (
	"bytes"
	"context"
	"errors"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/analyze"
	"aplomb/cmd/internal/capture"
	"aplomb/device"
	"aplomb/device/link"
	"aplomb/device/recording"
	"aplomb/device/sim"
	"aplomb/plots/screen"
	"aplomb/plots/words"
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
	at       func(n int) // called before frame n; may be nil
}

func (s *script) Next(f *device.Frame) error {
	k := s.n / 2
	if s.at != nil {
		s.at(s.n)
	}
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

// frames returns the given number of frames, with the given counts of the feet.
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

// read returns the number of frames and the events of a recording.
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

// A signal ends the context: the file is finished with the frames so far.
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
		return &oneFoot{s, device.Left}, nil
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

// oneFoot is the frames of one foot of a source.
type oneFoot struct {
	capture.Source
	foot device.Foot
}

func (o *oneFoot) Next(f *device.Frame) error {
	for {
		if err := o.Source.Next(f); err != nil || f.Foot == o.foot {
			return err
		}
	}
}

// After an error of the source the frames before it are kept, and the error is reported.
func TestFramesBeforeAnErrorAreKept(t *testing.T) {
	gone := errors.New("the port has gone")
	r := recorder(t, &script{counts: frames(20, 3, 4), then: gone})
	n, err := r.Run(t.Context())
	assert.ErrorIs(t, err, gone)
	assert.True(t, n.Kept)
	held, _ := read(t, r.Path)
	assert.Equal(t, 40, held)
}

// A relevé during the pad press at the beginning ends it; p asks for another one. Notes,
// discards and their undoing are recorded as events.
func TestMonitor(t *testing.T) {
	s := &script{then: io.EOF}
	for _, part := range [][][2]uint16{
		frames(200, 3, 3), frames(150, 300, 300), frames(100, 3, 3), // a relevé
	} {
		s.counts = append(s.counts, part...)
	}
	r := recorder(t, s)
	m := capture.NewMonitor(&r.Meta, "a.mcap, shoe A", capture.PressOptions{Ask: true, Watched: [2]bool{true, false}})
	var state screen.State
	m.State(&state)
	assert.Equal(t, screen.Pressing, state.Stage)
	assert.Equal(t, [2]bool{true, false}, state.Watched)
	r.Recorded = m.Frame
	marks := []capture.Mark{
		{Action: capture.TakeNote, Note: "tape\u202e moved"}, {Action: capture.TakeNote, Note: "tape moved"}, {Action: capture.DropLast}, {Action: capture.DropLast}, {Action: capture.TakeBack}, {Action: capture.TakeBack},
		{Action: capture.PressPad}, {Action: capture.PressPad}, {Action: capture.SkipPress}, {Action: capture.SkipPress},
	}
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
		return append(events, m.Events()...)
	}
	r.End = m.End
	n, err := r.Run(t.Context())
	require.NoError(t, err)
	held, events := read(t, r.Path)
	assert.Equal(t, 2*len(s.counts), held)
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
		"after the last relevé, p asks for a second pad press: did the strip move?",
		"note not kept: write it without control characters", "note kept: tape moved", "relevé 1 discarded: u takes that back", "there is no relevé to discard",
		"relevé 1 counts again", "there is nothing to take back", "left and right: pad press skipped; p asks for it again",
	}, state.Says)
	assert.Equal(t, left, state.Feet[device.Left].Frames)
	assert.Len(t, state.Live.Releves, 1)
}

// A guided recording runs with the three keys: next skips the press twice, the shoes are
// put on, relevés are counted against the plan, one is undone and danced again, and next
// ends the recording. Each has its signal.
func TestGuidedMonitor(t *testing.T) {
	s := &script{then: io.EOF}
	add := func(part ...[][2]uint16) (at int) {
		for _, one := range part {
			s.counts = append(s.counts, one...)
		}
		return 2 * len(s.counts)
	}
	releve := [][][2]uint16{frames(150, 300, 300), frames(100, 3, 3)}
	pressed, worn := add(frames(200, 3, 3)), add(frames(20, 3, 3))
	first := add(releve...)
	second := add(releve...)
	third := add(releve...)
	last := add(frames(100, 3, 3))

	r := recorder(t, s)
	m := capture.NewMonitor(&r.Meta, "step 1", capture.PressOptions{Ask: true, Guided: true, Releves: 2})
	var rung []capture.Signal
	ended := false
	m.Bell, m.Finish = func(s capture.Signal) { rung = append(rung, s) }, func() { ended = true }
	var notes []string
	does := func(a capture.Action) {
		if e, keep := m.Do(capture.Mark{Action: a, At: began.Add(time.Duration(s.n/2) * 10 * time.Millisecond)}); keep {
			notes = append(notes, e.Text)
		}
	}
	var now screen.State
	state := func() *screen.State { m.State(&now); return &now }
	steps := map[int]func(){
		pressed: func() {
			does(capture.GoOn)
			assert.Equal(t, screen.Pressing, state().Stage)
			assert.Equal(t, "the platforms are to be pressed first; space once more skips that", now.Says[len(now.Says)-1])
			does(capture.GoOn)
			assert.Equal(t, screen.PuttingOn, state().Stage)
		},
		worn: func() {
			does(capture.GoOn)
			assert.Equal(t, screen.Recording, state().Stage)
			assert.Equal(t, 2, now.Planned)
			assert.True(t, now.Guided)
		},
		first: func() {
			assert.Equal(t, [2]int{1, 1}, state().Counted)
			assert.Equal(t, []capture.Signal{capture.Pressed, capture.Counted}, rung)
		},
		second: func() {
			assert.True(t, state().Enough)
			does(capture.DropLast)
			assert.False(t, state().Enough)
			assert.Equal(t, [2]int{1, 1}, now.Counted)
			does(capture.GoOn)
			assert.Equal(t, "left 1 of 2, right 1 of 2: space once more ends it with fewer than planned", state().Says[len(now.Says)-1])
			assert.False(t, ended)
		},
		third: func() { assert.Equal(t, [2]int{2, 2}, state().Counted) },
		last: func() {
			assert.False(t, ended)
			does(capture.GoOn)
			assert.True(t, ended)
		},
	}
	frame := 0
	r.Recorded = func(n *capture.Tally, f *device.Frame) {
		m.Frame(n, f)
		if frame++; steps[frame] != nil {
			steps[frame]()
			delete(steps, frame)
		}
	}
	_, err := r.Run(t.Context())
	require.NoError(t, err)
	assert.Empty(t, steps, "all came")
	assert.Equal(t, []string{"shoes on, strips tugged at, slack looked at", "relevé 2"}, notes)
	const counted, enough = capture.Counted, capture.Enough // the left foot counts first
	assert.Equal(t, []capture.Signal{capture.Pressed, counted, counted, enough, counted, enough}, rung)
}

// Without confirmation that the shoes are on, relevés count nevertheless, and next ends
// the recording once they are enough.
func TestGuidedMonitorWithoutShoesOn(t *testing.T) {
	s := &script{then: io.EOF}
	for _, part := range [][][2]uint16{frames(200, 3, 3), frames(150, 300, 300), frames(100, 3, 3)} {
		s.counts = append(s.counts, part...)
	}
	r := recorder(t, s)
	m := capture.NewMonitor(&r.Meta, "step 1", capture.PressOptions{Ask: true, Guided: true, Releves: 1})
	ended := false
	m.Finish = func() { ended = true }
	m.Do(capture.Mark{Action: capture.SkipPress})
	r.Recorded = m.Frame
	_, err := r.Run(t.Context())
	require.NoError(t, err)
	var state screen.State
	m.State(&state)
	assert.Equal(t, screen.Recording, state.Stage)
	assert.True(t, state.Enough)
	_, keep := m.Do(capture.Mark{Action: capture.GoOn})
	assert.False(t, keep)
	assert.True(t, ended)
}

// mapped is a source of frames whose counts are given for each foot.
type mapped struct {
	script
	maps [][2][]uint16 // by frame and foot
}

func (m *mapped) Next(f *device.Frame) error {
	k := m.n / 2
	if m.counts = nil; k < len(m.maps) {
		m.counts = make([][2]uint16, len(m.maps))
	}
	if err := m.script.Next(f); err != nil {
		return err
	}
	copy(f.Counts, m.maps[k][f.Foot])
	return nil
}

// rests adds n frames without load.
func (m *mapped) rests(n int) {
	for range n {
		m.maps = append(m.maps, [2][]uint16{full(3), full(3)})
	}
}

// full returns a map with the same counts in all cells.
func full(counts uint16) []uint16 { return slices.Repeat([]uint16{counts}, 40) }

// rocks adds 300 frames in which the platform of a foot is pressed, as how describes,
// with the maps, loads and reach given.
func (m *mapped) rocks(t *testing.T, foot device.Foot, how sim.PadPress) {
	setup := sim.Scenarios()[0].Setup(1, 1, 0, 3)
	setup.GridMM = 0.5 // that of a session
	setup.Press = sim.DefaultPadPress()
	setup.Press.Turns, setup.Press.BareHand = how.Turns, how.BareHand
	one, err := sim.NewMounting(setup)
	require.NoError(t, err)
	for _, press := range one.Press {
		maps := [2][]uint16{full(3), full(3)}
		for k, kPa := range press.KPa {
			maps[foot][k] += uint16(max(0, kPa) / 0.75)
		}
		for range 10 {
			m.maps = append(m.maps, maps)
		}
	}
}

var once = sim.PadPress{Turns: 1}

// stands adds a relevé of both feet.
func (m *mapped) stands() {
	for range 150 {
		m.maps = append(m.maps, [2][]uint16{full(300), full(300)})
	}
	m.rests(100)
}

// shown is an event of a recording, in tenths of a second since its beginning.
type shown struct {
	kind     device.EventKind
	foot     device.Foot
	from, to int
}

func presses(events []device.Event) (all []shown) {
	for _, e := range events {
		to := float64(e.TimeNS-began.UnixNano()) / 1e9
		all = append(all, shown{e.Kind, e.Foot, int(math.Round(10 * (to - e.LengthS))), int(math.Round(10 * to))})
	}
	return all
}

// A recording with a press at its beginning, two relevés and a press at its end is made
// on the screen and in lines: every frame and each press is kept, and no press counts as
// a relevé, neither live nor in the analysis.
func TestPressesAreRecorded(t *testing.T) {
	for name, c := range map[string]struct {
		record func(*mapped) (said []string, releves int, path string)
	}{
		"screen": {func(s *mapped) ([]string, int, string) {
			r := recorder(t, &s.script)
			r.Open = func(ctx context.Context, _ func(device.Foot, link.Notice)) (capture.Source, error) {
				s.ctx = ctx
				return s, nil
			}
			m := capture.NewMonitor(&r.Meta, "a.mcap", capture.PressOptions{Ask: true})
			r.Recorded, r.End = m.Frame, m.End
			again := false
			r.Marks = func() []device.Event {
				if s.n/2 == 1450 && !again {
					again = true
					m.Do(capture.Mark{Action: capture.PressPad})
				}
				return m.Events()
			}
			_, err := r.Run(t.Context())
			require.NoError(t, err)
			var state screen.State
			m.State(&state)
			return state.Says, len(state.Live.Releves), r.Path
		}},
		"lines": {func(s *mapped) ([]string, int, string) {
			r := recorder(t, &s.script)
			r.Open = func(ctx context.Context, _ func(device.Foot, link.Notice)) (capture.Source, error) {
				s.ctx = ctx
				return s, nil
			}
			var out bytes.Buffer
			typed := make(chan string, 2)
			s.at = func(n int) {
				if n == 2*1450 {
					typed <- "x"
					typed <- "p"
				}
			}
			_, err := capture.RunInLines(t.Context(), r, capture.Lines{Out: &out, Now: time.Now, What: "to a test", Press: capture.PressOptions{Ask: true, Releves: 2}, Typed: typed})
			require.NoError(t, err)
			said := strings.Split(strings.TrimSpace(out.String()), "\n")
			return said, strings.Count(out.String(), "(provisional)") / 2, r.Path
		}},
	} {
		t.Run(name, func(t *testing.T) {
			s := &mapped{script: script{then: io.EOF}}
			s.rests(120)
			s.rocks(t, device.Left, once) // 1.2 to 4.2 s
			s.rests(100)
			s.rocks(t, device.Right, once) // 5.2 to 8.2 s
			s.rests(100)
			s.stands() // 9.2 to 10.7 s
			s.stands()
			s.rests(150)                                       // p at 14.5 s
			s.rocks(t, device.Left, once)                      // 15.7 to 18.7 s
			s.rests(50)                                        //
			s.rocks(t, device.Right, sim.PadPress{Turns: 0.6}) // 19.2 to 22.2 s, and the recording ends
			said, releves, path := c.record(s)
			held, events := read(t, path)
			assert.Equal(t, 2*len(s.maps), held)
			assert.Equal(t, []shown{
				{device.Press, device.Left, 12, 42}, {device.Press, device.Right, 52, 82},
				{device.Press, device.Left, 157, 187}, {device.Press, device.Right, 192, 222},
			}, presses(events), said)
			assert.Equal(t, 2, releves)
			result, err := analyze.File(t.Context(), path, analyze.Options{})
			require.NoError(t, err)
			assert.Equal(t, 4, len(result.Releves), "two, of both feet")
			for _, f := range device.Feet {
				assert.Equal(t, 2, len(result.Presses[f]))
			}
			for _, line := range []string{"left: pad press kept, all edges loaded; it shows where the strip lies", "right: pad press kept, all edges loaded; it shows where the strip lies"} {
				assert.Contains(t, said, line)
			}
			if name == "lines" {
				for _, line := range []string{
					"pad press: leave the strips without load for a second",
					"press the left platform on the pad, rock it to all sides",
					"shoe off the foot, your hand in the box, foam on a table, 60 to 150 N",
					"s and Enter skips the pad press",
					"left: every edge is loaded: let go",
					"the pad press is done: the relevés can begin",
					"2 relevés as planned, p and Enter asks for a second pad press: did the strip move?",
					`"x": type s to skip a pad press, p to ask for one, Ctrl-C to end the recording`,
				} {
					assert.Contains(t, said, line)
				}
				assert.Regexp(t, `right: pad press kept, without .*`, said[len(said)-1])
			}
		})
	}
}

// If the other platform is pressed, the recording continues and asks again. That press
// counts neither as a press of a foot nor as a relevé.
func TestOtherPlatformAnswers(t *testing.T) {
	s := &mapped{script: script{then: io.EOF}}
	s.rests(120)
	s.rocks(t, device.Right, once)
	s.rests(100)
	s.rocks(t, device.Left, once)
	s.rests(100)
	s.rocks(t, device.Right, once)
	s.rests(100)
	r := recorder(t, &s.script)
	r.Open = func(ctx context.Context, _ func(device.Foot, link.Notice)) (capture.Source, error) {
		s.ctx = ctx
		return s, nil
	}
	var out bytes.Buffer
	_, err := capture.RunInLines(t.Context(), r, capture.Lines{Out: &out, Now: time.Now, What: "to a test", Press: capture.PressOptions{Ask: true, Watched: [2]bool{false, true}}})
	require.NoError(t, err)
	said := out.String()
	assert.Contains(t, said, "that was strip R-01 of the right foot: press the left platform; if you did, swap the strips or their cables first\npress the left platform on the pad, rock it to all sides\n")
	assert.Contains(t, said, "The right foot is watched: press its shoe with no foot in it.\n")
	assert.NotContains(t, said, "The left foot is watched")
	assert.NotContains(t, said, "Enter", "nobody can type")
	_, events := read(t, r.Path)
	assert.Equal(t, []shown{{device.Press, device.NoFoot, 12, 42}, {device.Press, device.Left, 52, 82}, {device.Press, device.Right, 92, 122}}, presses(events))
	result, err := analyze.File(t.Context(), r.Path, analyze.Options{})
	require.NoError(t, err)
	assert.Empty(t, result.Releves)
	assert.NotContains(t, said, "provisional")
}

// deeds are what people do with the platforms during a recording, in any order.
var deeds = rapid.SliceOfN(rapid.SampledFrom([]string{"rest", "rest", "left", "right", "left in part", "right in part", "stand", "stand", "s", "p", "knock"}), 1, 14)

// The recording reports a press with a bare hand instead of the pad at once, with the
// remedy.
func TestPressWithABareHand(t *testing.T) {
	s := &mapped{script: script{then: io.EOF}}
	s.rests(120)
	s.rocks(t, device.Left, sim.PadPress{BareHand: true, Turns: 1})
	s.rests(200)
	r := recorder(t, &s.script)
	r.Meta.Sides[device.Right] = nil
	r.Open = func(ctx context.Context, _ func(device.Foot, link.Notice)) (capture.Source, error) {
		s.ctx = ctx
		return &oneFoot{s, device.Left}, nil
	}
	var out bytes.Buffer
	_, err := capture.RunInLines(t.Context(), r, capture.Lines{Out: &out, Now: time.Now, What: "to a test", Press: capture.PressOptions{Ask: true}, Typed: make(chan string)})
	require.NoError(t, err)
	assert.Regexp(t, `left: pad press kept, .*but it does not show where the strip lies: .*\nleft: p and Enter: (press again|look whether)`, out.String())
	_, events := read(t, r.Path)
	assert.Len(t, events, 1, "it is a press all the same")
}

// A press that fits the platform of another shoe of the fitting is reported before the
// first relevé, and one that fits the named shoe is not.
func TestPressOfAnotherShoe(t *testing.T) {
	for name, c := range map[string]struct {
		named, other [2]float64 // mm
		said         bool
	}{
		"another shoe": {[2]float64{34, 19}, [2]float64{36, 22}, true},
		"that shoe":    {[2]float64{36, 22}, [2]float64{34, 19}, false},
	} {
		t.Run(name, func(t *testing.T) {
			s := &mapped{script: script{then: io.EOF}}
			s.rests(120)
			s.rocks(t, device.Left, once)
			s.rests(200)
			r := recorder(t, &s.script)
			r.Meta.Sides[device.Right] = nil
			named, other := *r.Meta.Sides[device.Left].Shoe, *r.Meta.Sides[device.Left].Shoe
			named.Code, named.PlatformMM = "N", c.named
			other.Code, other.PlatformMM = "O", c.other
			r.Meta.Sides[device.Left].Shoe = &named
			r.Open = func(ctx context.Context, _ func(device.Foot, link.Notice)) (capture.Source, error) {
				s.ctx = ctx
				return &oneFoot{s, device.Left}, nil
			}
			var out bytes.Buffer
			_, err := capture.RunInLines(t.Context(), r, capture.Lines{
				Out: &out, Now: time.Now, What: "to a test", Press: capture.PressOptions{Ask: true, Others: []device.Shoe{other}}, Typed: make(chan string),
			})
			require.NoError(t, err)
			assert.Contains(t, out.String(), "left: pad press kept")
			for _, line := range []string{words.OtherShoe(device.Left, "N", "O"), words.OtherShoeThen("N", "p and Enter")} {
				assert.Equal(t, c.said, strings.Contains(out.String(), line), "%s", &out)
			}
		})
	}
}

// A press of the only foot that is skipped before pressing leaves no event.
func TestPressSkippedInLines(t *testing.T) {
	s := &mapped{script: script{then: io.EOF}}
	s.rests(300)
	s.stands()
	r := recorder(t, &s.script)
	r.Meta.Sides[device.Left] = nil
	r.Open = func(ctx context.Context, _ func(device.Foot, link.Notice)) (capture.Source, error) {
		s.ctx = ctx
		return &oneFoot{s, device.Right}, nil
	}
	typed := make(chan string, 9)
	typed <- "s"
	typed <- "s"
	typed <- ""
	close(typed)
	var out bytes.Buffer
	_, err := capture.RunInLines(t.Context(), r, capture.Lines{Out: &out, Now: time.Now, What: "to a test", Press: capture.PressOptions{Ask: true}, Typed: typed})
	require.NoError(t, err)
	assert.Contains(t, out.String(), "right: pad press skipped; p and Enter asks for it again\nno pad press is asked for: nothing to skip\n")
	_, events := read(t, r.Path)
	assert.Empty(t, events)
	assert.Contains(t, out.String(), "relevé 1, right: ")
}

func TestMonitorNotices(t *testing.T) {
	meta := metadata()
	m := capture.NewMonitor(&meta, "a.mcap", capture.PressOptions{})
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
	assert.Equal(t, []string{"left: no signal: " + gone.String(), "left: signal is back"}, s.Says)
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
	n, err := capture.RunInLines(t.Context(), r, capture.Lines{Out: &out, Now: time.Now, What: "to ttyUSB0 (left)"})
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
	assert.Equal(t, "left: no signal: lost ttyUSB0 (end of file); recording continues when it is back\nleft: signal is back\n", out.String())
}
