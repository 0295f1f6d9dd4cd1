//go:build unix

package link_test

import (
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/term"

	"aplomb/device"
	"aplomb/device/internal/wiretest"
	"aplomb/device/link"
	"aplomb/device/wire"
)

// cable is a serial port that can be unplugged and plugged in again: a symbolic link to a
// pseudo-terminal, each time another one.
type cable struct {
	testing.TB
	path string
	far  *os.File
	near *os.File
}

func newCable(t testing.TB, name string) *cable {
	c := &cable{TB: t, path: filepath.Join(t.TempDir(), name)}
	c.plug()
	t.Cleanup(c.pull)
	return c
}

func (c *cable) plug() {
	var err error
	c.far, c.near, err = pty.Open()
	require.NoError(c, err)
	_, err = term.MakeRaw(int(c.near.Fd())) // otherwise what is sent before the port is open counts as typed
	require.NoError(c, err)
	require.NoError(c, os.Symlink(c.near.Name(), c.path))
}

func (c *cable) pull() {
	if c.far != nil {
		os.Remove(c.path)
		c.far.Close()
		c.near.Close()
		c.far = nil
	}
}

func (c *cable) send(line []byte) {
	c.Helper()
	_, err := c.far.Write(line)
	require.NoError(c, err)
}

// machine lists the ports of a simulated machine.
type machine struct {
	mu    sync.Mutex
	ports []link.PortInfo
}

func (m *machine) has(ports ...link.PortInfo) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.ports = ports
}

func (m *machine) list() ([]link.PortInfo, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return slices.Clone(m.ports), nil
}

// fitting is a link with everything that it returns, which a goroutine of its own
// reads as a recorder would.
type testLink struct {
	testing.TB
	link   *link.Link
	clock  settableClock
	frames chan device.Frame
	events []device.Event // when frames is closed
	stats  [2]link.Stats
	warned []string

	mu      sync.Mutex
	noticed [2][]string
}

// virtual is a clock that shows the time it was last set to.
type settableClock struct{ stoppedClock }

func (c *settableClock) set(ms int) { c.ns.Store(int64(ms) * 1e6) }

func begin(t testing.TB, o link.Options) *testLink {
	s := &testLink{TB: t, frames: make(chan device.Frame, 100_000)}
	o.Silence, o.HelloWait = 400*time.Millisecond, 300*time.Millisecond
	o.Clock = &s.clock
	o.Notify = func(f device.Foot, why link.Notice) {
		s.mu.Lock()
		defer s.mu.Unlock()
		s.noticed[f] = append(s.noticed[f], why.String())
	}
	var err error
	s.link, err = link.Open(t.Context(), o)
	require.NoError(t, err)
	t.Cleanup(func() { s.link.Close() })
	go func() {
		defer close(s.frames)
		for {
			var f device.Frame
			err := s.link.Next(&f)
			s.events = append(s.events, s.link.Events()...)
			if err != nil {
				s.stats = s.link.Stats()
				for _, n := range s.link.Warnings() {
					s.warned = append(s.warned, n.String())
				}
				assert.Equal(t, io.EOF, err, "nothing but its user ends it")
				return
			}
			s.frames <- f
		}
	}()
	return s
}

// next waits for a frame, for longer than a busy machine takes.
func (s *testLink) next() device.Frame {
	s.Helper()
	select {
	case f, ok := <-s.frames:
		require.True(s, ok, "the source has ended")
		return f
	case <-time.After(10 * time.Second):
		require.Fail(s, "no frame", "noticed: %q", s.notices())
	}
	return device.Frame{}
}

func (s *testLink) expect(f device.Foot, seq ...int) {
	s.Helper()
	for _, n := range seq {
		got := s.next()
		require.Equal(s, []any{f, int64(n)}, []any{got.Foot, got.Seq})
		require.Equal(s, uint16(f), got.Counts[0])
	}
}

// untilNotice waits for a Notice about a foot that contains part; "" means that frames
// come again.
func (s *testLink) untilNotice(f device.Foot, part string) {
	s.Helper()
	require.Eventually(s, func() bool {
		all := s.notices()[f]
		return len(all) > 0 && (part == "" && all[len(all)-1] == "" || part != "" && strings.Contains(all[len(all)-1], part))
	}, 10*time.Second, time.Millisecond, part)
}

func (s *testLink) notices() [2][]string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return [2][]string{slices.Clone(s.noticed[0]), slices.Clone(s.noticed[1])}
}

// end closes the link and returns the events, each as "foot kind: cause length s".
func (s *testLink) end() (happened []string) {
	require.NoError(s, s.link.Close())
	for range s.frames {
	}
	for _, e := range s.events {
		happened = append(happened, fmt.Sprintf("%s %s: %s %.3g s", e.Foot, e.Kind, e.Cause, e.LengthS))
	}
	return happened
}

func onCables(l, r *cable) link.Options {
	o := link.Options{Strips: [2]*device.Strip{profile(device.Left), profile(device.Right)}}
	o.Ports[device.Left] = l.path
	if r == nil {
		o.Strips[device.Right] = nil
	} else {
		o.Ports[device.Right] = r.path
	}
	return o
}

// starts sends and expects frame 0 of each foot, at 1 s of the host's clock.
func (s *testLink) starts(l, r *cable) {
	s.Helper()
	s.clock.set(1000)
	l.send(frame(hello(nil, device.Left), device.Left, 0))
	s.expect(device.Left, 0)
	if r != nil {
		r.send(frame(hello(nil, device.Right), device.Right, 0))
		s.expect(device.Right, 0)
	}
}

func TestUnplugAndReplug(t *testing.T) {
	t.Parallel()
	l, r := newCable(t, "left"), newCable(t, "right")
	s := begin(t, onCables(l, r))
	s.starts(l, r)

	l.pull()
	s.untilNotice(device.Left, "lost ")
	for n := 1; n <= 400; n++ { // the other foot is still recorded
		s.clock.set(1000 + 5*n)
		r.send(frame(nil, device.Right, n))
		s.expect(device.Right, n)
	}
	l.plug()
	// The strip has kept its power: it continues counting, and its hello is not due
	// yet. The frame must come without it.
	require.Eventually(t, func() bool { return l.readers() > 1 }, 10*time.Second, time.Millisecond)
	l.send(frame(nil, device.Left, 400))
	s.expect(device.Left, 400)
	s.untilNotice(device.Left, "")
	assert.Equal(t, []string{"left gap: cable out 2 s", "left reconnect: cable out 2 s"}, s.end())
	assert.EqualValues(t, 399, s.stats[device.Left].Lost)
	require.Len(t, s.warned, 1)
	assert.Contains(t, s.warned[0], "no hello within 0.3 s")
	assert.Contains(t, s.events[0].Text, "399 lost")

	// A board that has its power from the cable restarts.
	s = begin(t, onCables(l, nil))
	s.starts(l, nil)
	l.pull()
	s.untilNotice(device.Left, "lost ")
	s.clock.set(8500)
	l.plug()
	l.send(frame(hello(nil, device.Left), device.Left, 0))
	s.expect(device.Left, 1)
	s.clock.set(8505)
	l.send(frame(nil, device.Left, 1))
	s.expect(device.Left, 2)
	assert.Equal(t, []string{"left gap: cable out 7.5 s", "left reconnect: cable out 7.5 s"}, s.end())
	assert.Empty(t, s.warned)
}

// readers returns how many times the port is open, this process included.
func (c *cable) readers() (n int) {
	all, _ := filepath.Glob("/proc/self/fd/*")
	for _, fd := range all {
		if to, err := os.Readlink(fd); err == nil && to == c.near.Name() {
			n++
		}
	}
	return n
}

func TestReplugUnderAnotherName(t *testing.T) {
	for _, c := range []struct {
		name   string
		serial string
		hello  bool
	}{
		{"known by its serial number", "A1", false},
		{"known by its hello", "", true},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			l, elsewhere, modem := newCable(t, "ttyUSB0"), newCable(t, "ttyUSB1"), newCable(t, "ttyS0")
			info := func(c *cable, serial string) link.PortInfo {
				return link.PortInfo{Name: c.path, VendorID: "0403", ProductID: "6001", SerialNumber: serial}
			}
			elsewhere.pull()
			var m machine
			m.has(info(l, c.serial), info(modem, "M"))
			s := begin(t, link.WithPorts(onCables(l, nil), m.list))
			s.starts(l, nil)
			l.pull()
			m.has(info(modem, "M"))
			s.untilNotice(device.Left, "lost ")
			time.Sleep(300 * time.Millisecond)
			elsewhere.plug()
			m.has(info(modem, "M"), info(elsewhere, c.serial))
			require.Eventually(t, func() bool { return elsewhere.readers() > 1 }, 10*time.Second, time.Millisecond)
			assert.Equal(t, 1, modem.readers(), "what was there before is left alone")
			s.clock.set(3000)
			var line []byte
			if c.hello {
				line = hello(line, device.Left)
			}
			elsewhere.send(frame(line, device.Left, 400))
			s.expect(device.Left, 400)
			assert.Equal(t, []string{"left gap: cable out 2 s", "left reconnect: cable out 2 s"}, s.end())
			assert.Equal(t, elsewhere.path, s.stats[device.Left].Port)
			assert.Contains(t, s.events[1].Text, elsewhere.path)
		})
	}
}

// Both cables are unplugged, and each is plugged in where the other one was.
func TestSwapped(t *testing.T) {
	t.Parallel()
	l, r := newCable(t, "left"), newCable(t, "right")
	s := begin(t, onCables(l, r))
	s.starts(l, r)
	l.pull()
	r.pull()
	s.untilNotice(device.Left, "lost ")
	s.untilNotice(device.Right, "lost ")
	s.clock.set(3000)
	l.plug()
	r.plug()
	l.send(frame(hello(nil, device.Right), device.Right, 400))
	s.expect(device.Right, 400)
	r.send(frame(hello(nil, device.Left), device.Left, 400))
	s.expect(device.Left, 400)
	happened := s.end()
	slices.Sort(happened)
	assert.Equal(t, []string{"left gap: cable out 2 s", "left reconnect: cable out 2 s",
		"right gap: cable out 2 s", "right reconnect: cable out 2 s"}, happened)
	assert.Equal(t, r.path, s.stats[device.Left].Port)
}

func TestWrongStripPluggedIn(t *testing.T) {
	t.Parallel()
	wrong := wire.HelloOf(profile(device.Left), 200)
	wrong.Strip = "L-07"
	const refused = `strip "L-07" of the left foot where strip "L-01" was: refused; plug "L-01" back in`

	t.Run("into the computer", func(t *testing.T) {
		t.Parallel()
		l, r := newCable(t, "left"), newCable(t, "right")
		s := begin(t, onCables(l, r))
		s.starts(l, r)
		l.pull()
		s.untilNotice(device.Left, "lost ")
		l.plug()
		line := frame(nil, device.Left, 5) // may be of any strip
		line = wire.AppendHello(line, wrong)
		l.send(frame(line, device.Left, 6))
		s.untilNotice(device.Left, refused)
		s.clock.set(1010)
		r.send(frame(nil, device.Right, 2))
		s.expect(device.Right, 2)
		l.pull()
		s.untilNotice(device.Left, "lost ")
		s.clock.set(4000)
		l.plug()
		l.send(frame(hello(nil, device.Left), device.Left, 600))
		s.expect(device.Left, 600)
		assert.Equal(t, []string{"right gap: lost frames 0.01 s", "left gap: cable out 3 s", "left reconnect: cable out 3 s"}, s.end())
		assert.Contains(t, s.events[1].Text, refused)
		require.Len(t, s.warned, 1)
		assert.Contains(t, s.warned[0], "port "+l.path+": "+refused)
	})

	t.Run("into an adapter that stays", func(t *testing.T) {
		t.Parallel()
		l := newCable(t, "left")
		s := begin(t, onCables(l, nil))
		s.starts(l, nil)
		s.clock.set(2000)
		line := wire.AppendHello(nil, wrong)
		line = frame(line, device.Left, 200)
		l.send(wire.AppendHello(line, wrong))
		s.untilNotice(device.Left, refused)
		s.clock.set(3000)
		l.send(frame(hello(nil, device.Left), device.Left, 400))
		s.expect(device.Left, 400)
		assert.Equal(t, []string{"left gap: wrong strip 2 s", "left reconnect: wrong strip 2 s"}, s.end())
	})

	t.Run("itself, with other rows", func(t *testing.T) {
		t.Parallel()
		l := newCable(t, "left")
		s := begin(t, onCables(l, nil))
		s.starts(l, nil)
		s.clock.set(2000)
		changed := wire.HelloOf(profile(device.Left), 200)
		changed.Rows++
		l.send(wire.AppendHello(nil, changed))
		s.untilNotice(device.Left, fmt.Sprintf(`strip "L-01" now says rows × cols %d × %d, its profile %d × %[2]d: refused; set it as it was, or record again with a profile that fits`,
			changed.Rows, changed.Cols, changed.Rows-1))
		s.clock.set(3000)
		l.send(frame(hello(nil, device.Left), device.Left, 400))
		s.expect(device.Left, 400)
		assert.Equal(t, []string{"left gap: wrong strip 2 s", "left reconnect: wrong strip 2 s"}, s.end())
	})

	t.Run("and the other foot's", func(t *testing.T) {
		t.Parallel()
		l, r := newCable(t, "left"), newCable(t, "right")
		s := begin(t, onCables(l, r))
		s.starts(l, r)
		l.pull()
		s.untilNotice(device.Left, "lost ")
		l.plug()
		l.send(hello(nil, device.Right)) // that strip is at its own port already
		s.untilNotice(device.Left, `strip "R-01" of the right foot where strip "L-01" was: refused`)
		l.send(frame(hello(nil, device.Left), device.Left, 1))
		s.expect(device.Left, 1)
	})

	// A hello in text has no checksum: a single one, which may be damaged, has no effect.
	t.Run("in text", func(t *testing.T) {
		t.Parallel()
		l := newCable(t, "left")
		s := begin(t, onCables(l, nil))
		s.clock.set(1000)
		text := func(line []byte, n int) []byte {
			return wiretest.AppendTextFrame(line, uint64(n)*5000, countsOf(device.Left, n), true)
		}
		us := wire.HelloOf(profile(device.Left), 200)
		them := wiretest.AppendTextHello(nil, wrong)
		l.send(text(wiretest.AppendTextHello(nil, us), 0))
		require.EqualValues(t, 0, s.next().TimeUS)
		l.send(text(them, 1))
		require.EqualValues(t, 5000, s.next().TimeUS)
		l.send(text(wiretest.AppendTextHello(nil, us), 2))
		require.EqualValues(t, 10_000, s.next().TimeUS)
		l.send(text(append(them, them...), 3))
		s.untilNotice(device.Left, refused)
	})
}

func TestResetInMidPacket(t *testing.T) {
	t.Parallel()
	l := newCable(t, "left")
	s := begin(t, onCables(l, nil))
	s.starts(l, nil)
	var line []byte
	for n := 1; n < 300; n++ {
		line = frame(line, device.Left, n)
	}
	s.clock.set(2495)
	l.send(append(line, frame(nil, device.Left, 300)[:9]...)) // and the power fails
	for n := 1; n < 300; n++ {
		s.expect(device.Left, n)
	}
	s.clock.set(2995)
	// A packet without a zero before it is lost together with the incomplete packet before
	// it. Here that is the hello, so a second frame is needed to detect the restart.
	line = hello(nil, device.Left)
	for n := range 3 {
		line = frame(line, device.Left, n)
	}
	l.send(line)
	s.expect(device.Left, 300, 301)
	assert.Equal(t, []string{"left gap: board reset 0.5 s"}, s.end())
}

func TestStalledLine(t *testing.T) {
	t.Parallel()
	l, r := newCable(t, "left"), newCable(t, "right")
	s := begin(t, onCables(l, r))
	s.starts(l, r)
	s.untilNotice(device.Left, "no data for 0.4 s")
	s.clock.set(3000)
	// The frames in the buffers come first, and the loss shows only after them.
	l.send(frame(frame(nil, device.Left, 1), device.Left, 2))
	s.expect(device.Left, 1, 2)
	s.untilNotice(device.Left, "")
	s.clock.set(3010)
	l.send(frame(nil, device.Left, 402))
	s.expect(device.Left, 402)
	assert.Equal(t, []string{"left gap: line silent 2 s", "right gap: line silent 2.01 s"}, s.end())
}

// A strip may pause and then continue counting: no number is missing, but time has
// passed.
func TestPausedStrip(t *testing.T) {
	t.Parallel()
	l := newCable(t, "left")
	s := begin(t, onCables(l, nil))
	s.starts(l, nil)
	for n := 1; n < 20; n++ {
		us, ms := n*5000, 1000+n*5
		if n >= 10 {
			us, ms = us+300_000, ms+300
		}
		s.clock.set(ms)
		l.send(wire.AppendFrame(nil, device.Left, uint16(n), uint32(us), countsOf(device.Left, n)))
		s.expect(device.Left, n)
	}
	assert.Equal(t, []string{"left gap: strip paused 0.305 s"}, s.end())
}

func TestGarbage(t *testing.T) {
	t.Parallel()
	l := newCable(t, "left")
	s := begin(t, onCables(l, nil))
	s.starts(l, nil)
	rng := rand.New(rand.NewPCG(8, 9))
	want := []string{}
	for n := 10; n < 200; n += 10 {
		line := []byte{}
		for range rng.IntN(300) {
			line = append(line, byte(rng.Uint32()))
		}
		line = frame(append(line, 1, 0), device.Left, n)
		s.clock.set(1000 + 5*n)
		l.send(line)
		s.expect(device.Left, n)
		want = append(want, "left gap: damaged frames 0.05 s")
	}
	assert.Equal(t, want, s.end())
}

func TestDuplicatedAndReordered(t *testing.T) {
	t.Parallel()
	l := newCable(t, "left")
	s := begin(t, onCables(l, nil))
	s.starts(l, nil)
	line := []byte{}
	for _, n := range []int{1, 2, 2, 3, 2, 5, 4, 6, 6, 7, 10, 11, 9, 8, 12} {
		line = frame(line, device.Left, n)
	}
	l.send(line)
	s.expect(device.Left, 1, 2, 3, 5, 6, 7, 10, 11, 12)
	assert.Equal(t, []string{"left gap: lost frames 0.01 s", "left gap: lost frames 0.015 s"}, s.end())
	assert.Equal(t, []uint64{6, 6, 3}, []uint64{s.stats[0].Refused, s.stats[0].Late, s.stats[0].Lost})
}

func TestEndsWhileTheCableIsOut(t *testing.T) {
	t.Parallel()
	l, r := newCable(t, "left"), newCable(t, "right")
	s := begin(t, onCables(l, r))
	s.starts(l, r)
	l.pull()
	s.untilNotice(device.Left, "lost ")
	s.clock.set(4000)
	r.send(frame(nil, device.Right, 1))
	s.expect(device.Right, 1)
	assert.Equal(t, []string{"left gap: cable out 3 s"}, s.end())
	assert.Equal(t, link.PortGone, s.stats[device.Left].Away.Code)
}

// A strip whose clock has stopped sends data, so its line is not silent.
func TestEndsWhileTheClockIsStopped(t *testing.T) {
	t.Parallel()
	l := newCable(t, "left")
	s := begin(t, onCables(l, nil))
	s.starts(l, nil)
	s.clock.set(4000)
	for n := 1; !slices.ContainsFunc(s.notices()[device.Left], func(said string) bool { return strings.Contains(said, "no frame of the left foot") }); n++ {
		l.send(wire.AppendFrame(nil, device.Left, uint16(n), 0, countsOf(device.Left, n)))
		time.Sleep(5 * time.Millisecond)
	}
	assert.Equal(t, []string{"left gap: damaged frames 3 s"}, s.end())
}

// On a line with faults of all kinds, in text or binary, every delivered frame was sent,
// and frames come in order. If strips do not restart, delivered and lost frames add up to
// all that were sent.
func TestFaultsOfAllKinds(t *testing.T) {
	t.Parallel()
	c := newCable(t, "both")
	o := onCables(c, c)
	s := begin(t, o)
	s.starts(c, c)
	rng := rand.New(rand.NewPCG(10, 11))
	const last = 3000
	next := [2]int{1, 1} // number of the next frame
	read := [2]int{1, 1}
	took := func(f device.Frame) {
		require.GreaterOrEqual(t, int(f.Seq), next[f.Foot])
		require.Equal(t, countsOf(f.Foot, int(f.Seq)), f.Counts)
		require.EqualValues(t, f.Seq*5000, f.TimeUS)
		next[f.Foot] = int(f.Seq) + 1
		read[f.Foot]++
	}
	for n := 1; n <= last; n++ {
		s.clock.set(1000 + 5*n)
		line := []byte{}
		for _, f := range device.Feet {
			if n%100 == 0 || n == last {
				line = hello(line, f)
			}
			at := len(line)
			line = frame(line, f, n)
			if n < last-1 && n%1000 != 999 {
				switch rng.IntN(100) {
				case 0: // lost
					line = line[:at]
				case 1: // twice
					line = append(line, line[at:]...)
				case 2: // a flipped bit
					line[at+rng.IntN(len(line)-at)] ^= 1 << rng.IntN(8)
				case 3: // cut short
					line = line[:at+rng.IntN(len(line)-at)]
				case 4:
					line = append(line, "\xffgarbage\x01"...)
				}
			}
		}
		if n == 1000 || n == 2000 {
			for next[0] < n || next[1] < n { // what is still on the line is lost with it
				took(s.next())
			}
			c.pull()
			s.untilNotice(device.Left, "lost ")
			s.untilNotice(device.Right, "lost ")
			c.plug()
			require.Eventually(t, func() bool { return c.readers() > 1 }, 10*time.Second, time.Millisecond)
			line = hello(hello(nil, device.Left), device.Right)
		}
		c.send(append(line, 0))
	}
	for next[0] <= last || next[1] <= last {
		took(s.next())
	}
	happened := s.end()
	for _, f := range device.Feet {
		assert.EqualValues(t, read[f], s.stats[f].Frames)
		assert.EqualValues(t, last+1, s.stats[f].Frames+s.stats[f].Lost)
		assert.Greater(t, read[f], last*9/10)
		outs := 0
		for _, h := range happened {
			if strings.HasPrefix(h, f.String()+" reconnect: cable out") {
				outs++
			}
			assert.NotContains(t, h, "board reset")
		}
		assert.Equal(t, 2, outs)
	}
}
