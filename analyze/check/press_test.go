package check_test

import (
	"cmp"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/check"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/sim"
)

// tape is the frames of one strip at 100 Hz.
type tape struct {
	strip  *device.Strip
	start  int64 // ns since 1970
	frames []device.Frame
}

// now returns the time of the next frame, ns since 1970.
func (p *tape) now() int64 { return p.start + int64(len(p.frames))*10_000_000 }

// play adds frames of a map, kPa, times a scale that depends on the elapsed fraction of
// the time. A nil map is no load.
func (p *tape) play(seconds float64, kPa []float64, scale func(share float64) float64) {
	n := int(100 * seconds)
	for i := range n {
		at := len(p.frames)
		f := device.Frame{Foot: p.strip.Foot, Seq: int64(at), TimeUS: uint64(at) * 10_000, ArrivalNS: p.now(), Counts: make([]uint16, p.strip.Cells())}
		for k := range f.Counts {
			counts := 100.0
			if kPa != nil {
				counts += kPa[k] / p.strip.Calibration.KPaPerCount * scale(float64(i)/float64(n))
			}
			f.Counts[k] = uint16(math.Round(max(0, counts)))
		}
		p.frames = append(p.frames, f)
	}
}

func steady(float64) float64 { return 1 }

func (p *tape) rest(seconds float64) { p.play(seconds, nil, nil) }

// press adds a pad press, half a second a map, and returns its mark.
func (p *tape) press(maps []sim.PressMap) device.Event {
	from := p.now()
	for _, m := range maps {
		p.play(0.5, m.KPa, steady)
	}
	return device.Event{TimeNS: p.now(), Foot: p.strip.Foot, Kind: device.Press, LengthS: float64(p.now()-from) / 1e9}
}

// hold adds relevés, each with a rise, a descent and a pause, and returns when each
// was, as marks.
func (p *tape) hold(maps []sim.HoldMap) (marks []device.Event) {
	for _, h := range maps {
		from := p.now()
		p.play(0.3, h.KPa, func(share float64) float64 { return share })
		p.play(2, h.KPa, steady)
		p.play(0.3, h.KPa, func(share float64) float64 { return 1 - share })
		marks = append(marks, device.Event{TimeNS: p.now(), Foot: p.strip.Foot, Kind: device.Press, LengthS: float64(p.now()-from) / 1e9})
		p.rest(1.5)
	}
	return marks
}

// onPad is a scenario with one simulated mounting and an empty tape of its strip.
func onPad(t *testing.T, seed uint64, change func(*sim.MountingSetup)) (s *session, m *sim.Mounting, p *tape) {
	scenario, err := sim.ScenarioNamed("all together")
	require.NoError(t, err)
	setup := scenario.Setup(3001+seed, int(seed), 3, 10)
	setup.GridMM = 0.5 // that of a session
	setup.Strip.Calibration = device.Calibration{KPaPerCount: 0.75, GainSD: 0.03}
	if change != nil {
		change(&setup)
	}
	m, err = sim.NewMounting(setup)
	require.NoError(t, err)
	s = ordinary()
	s.meta.Sides[setup.Strip.Foot] = &device.Side{Strip: setup.Strip, Shoe: setup.Shoe, Clock: "strip", Format: "binary", Mounting: "m"}
	p = &tape{strip: setup.Strip, start: s.Start.UnixNano()}
	s.frames = func([]device.Frame) []device.Frame { return p.frames }
	return s, m, p
}

// finding returns the only finding of a kind about a foot, or fails.
func finding(t *testing.T, r *check.Report, foot device.Foot, kind check.Kind) check.Finding {
	i := slices.IndexFunc(r.Findings, func(f check.Finding) bool { return f.Kind == kind && f.About == foot.String() })
	require.GreaterOrEqual(t, i, 0, "%s %s: %v", foot, kind, r.Findings)
	return r.Findings[i]
}

// An unmarked pad press at the beginning is found: it shows the seat as a marked one
// does, and is no relevé. One of fifty is missed.
func TestUnmarkedPress(t *testing.T) {
	missed := 0
	for seed := range uint64(3) {
		marked := pressedAndMarked(t, seed)
		s := pressed(t, seed)
		s.unmarked = true
		r := s.checked(t)
		for _, f := range device.Feet {
			foot, same := r.Feet.Of(f), marked.Feet.Of(f)
			require.NotNil(t, foot.Seat)
			if foot.Seat.Evidence != measure.EvidencePress {
				missed++
				continue
			}
			assert.Equal(t, 3, *foot.Measured)
			assert.InDelta(t, same.Seat.Medial.Value, foot.Seat.Medial.Value, 0.1)
			assert.InDelta(t, same.Seat.Over.Value, foot.Seat.Over.Value, 0.1)
			found := finding(t, r, f, check.PressFound)
			assert.Regexp(t, `^a pad press from \d+\.\d to \d+\.\d s that nobody marked$`, found.Text)
			assert.False(t, found.Grave)
		}
	}
	assert.LessOrEqual(t, missed, 1)
}

// With one pad press before the relevés and one after, check reports how far the strip
// moved between them. The truth is the simulator's.
func TestSecondPress(t *testing.T) {
	for _, c := range []struct {
		slipMM float64
		moved  bool
	}{{0, false}, {1.2, true}} {
		s, m, p := onPad(t, 1, func(setup *sim.MountingSetup) {
			setup.Press = sim.DefaultPadPress()
			setup.Press.Maps, setup.Press.Turns, setup.Press.SlipMM = 60, 2, c.slipMM
		})
		p.rest(2)
		first := p.press(m.Press[:30])
		p.rest(2)
		p.hold(m.Holds)
		s.events = []device.Event{first, p.press(m.Press[30:])}
		p.rest(2)
		r := s.checked(t)
		foot := r.Feet.Of(device.Right)
		assert.Equal(t, 3, *foot.Measured)
		require.NotNil(t, foot.Seat)
		assert.Equal(t, measure.EvidencePress, foot.Seat.Evidence)
		move := foot.Seat.BetweenPresses
		require.NotNil(t, move)
		medial, over := m.Seat.MedialMM-m.InPress.MedialMM, m.Seat.OverMM-m.InPress.OverMM
		t.Logf("moved by %.2f, %.2f mm: %.2f ± %.2f, %.2f ± %.2f", medial, over, move.Medial.Value, 1.96*move.Medial.U, move.Over.Value, 1.96*move.Over.U)
		assert.InDelta(t, medial, move.Medial.Value, 0.3)
		assert.InDelta(t, over, move.Over.Value, 0.3)
		assert.Equal(t, c.moved, move.Beyond)
		// The holds are where the strip lies after it moved.
		assert.InDelta(t, m.Seat.MedialMM, foot.Seat.Medial.Value, 2.6*foot.Seat.Medial.U)
		assert.InDelta(t, m.Seat.OverMM, foot.Seat.Over.Value, 2.6*foot.Seat.Over.U)
		t.Logf("seat %.2f is %.2f ± %.2f, %.2f is %.2f ± %.2f", foot.Seat.Medial.Value, m.Seat.MedialMM, 1.96*foot.Seat.Medial.U, foot.Seat.Over.Value, m.Seat.OverMM, 1.96*foot.Seat.Over.U)
		if c.moved {
			found := finding(t, r, device.Right, check.StripMoved)
			assert.Regexp(t, `the strip moved 1\.\d mm between the pad presses`, found.Text)
			assert.Contains(t, found.Means, "fix the strip")
		}
	}
}

// If one of two presses was made with the fingers instead of a pad, the other one counts,
// and check names the one that does not.
func TestOneOfTwoPresses(t *testing.T) {
	s, m, p := onPad(t, 1, nil)
	_, bare, _ := onPad(t, 1, func(setup *sim.MountingSetup) {
		setup.Press = sim.DefaultPadPress()
		setup.Press.BareHand = true
	})
	p.rest(2)
	s.events = append(s.events, p.press(bare.Press))
	p.rest(2)
	s.events = append(s.events, p.press(m.Press))
	p.rest(2)
	p.hold(m.Holds)
	r := s.checked(t)
	foot := r.Feet.Of(device.Right)
	require.NotNil(t, foot.Seat)
	assert.Equal(t, measure.EvidencePress, foot.Seat.Evidence)
	assert.Equal(t, 3, *foot.Measured)
	found := finding(t, r, device.Right, check.PressUnused)
	assert.Contains(t, found.Text, "the pad press from 2.0 to 17.0 s does not show")
	assert.Contains(t, found.Means, "the seat above comes from another press")
}

// A relevé marked as a pad press is the load of a foot: it does not show the seat, and is
// no relevé.
func TestPressByAFoot(t *testing.T) {
	s, m, p := onPad(t, 1, nil)
	p.rest(2)
	s.events = p.hold(m.Holds)[:1]
	r := s.checked(t)
	foot := r.Feet.Of(device.Right)
	assert.Equal(t, 2, *foot.Measured)
	require.NotNil(t, foot.Seat)
	assert.Equal(t, measure.EvidenceHolds, foot.Seat.Evidence)
	found := finding(t, r, device.Right, check.PressUnused)
	assert.Contains(t, found.Text, "a foot stood on the platform")
	assert.Contains(t, found.Means, "the shoe off")
}

// A press marked on the wrong foot is found on the other one, and check names the foot.
func TestPressOfTheOtherFoot(t *testing.T) {
	s, m, p := onPad(t, 1, nil)
	left := &tape{strip: s.meta.Sides[device.Left].Strip, start: p.start}
	p.rest(2)
	mark := p.press(m.Press)
	left.rest(2 + mark.LengthS)
	mark.Foot = device.Left
	s.events = []device.Event{mark}
	for _, one := range []*tape{p, left} {
		one.rest(2)
		one.hold(m.Holds)
	}
	s.frames = func([]device.Frame) []device.Frame {
		all := append(slices.Clone(p.frames), left.frames...)
		slices.SortStableFunc(all, func(a, b device.Frame) int { return cmp.Compare(a.ArrivalNS, b.ArrivalNS) })
		return all
	}
	r := s.checked(t)
	assert.Equal(t, 3, *r.Feet.Of(device.Left).Measured)
	assert.Equal(t, 3, *r.Feet.Of(device.Right).Measured)
	found := finding(t, r, device.Left, check.PressUnused)
	assert.Contains(t, found.Text, "the right platform was pressed instead")
	assert.Contains(t, found.Means, "mark the press as one of the right foot")
	finding(t, r, device.Right, check.PressFound)
	require.NotNil(t, r.Feet.Of(device.Right).Seat)
	assert.Equal(t, measure.EvidencePress, r.Feet.Of(device.Right).Seat.Evidence)
}
