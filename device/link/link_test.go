//go:build unix

package link_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device"
	"aplomb/device/internal/wiretest"
	"aplomb/device/link"
	"aplomb/device/wire"
)

// board is the far end of a pseudo-terminal, to which a strip writes.
type board struct {
	testing.TB
	far  *os.File
	port string
}

func newBoard(t testing.TB) *board {
	far, near, err := pty.Open()
	require.NoError(t, err)
	t.Cleanup(func() { near.Close(); far.Close() })
	return &board{t, far, near.Name()}
}

func (b *board) send(line []byte) {
	b.Helper()
	_, err := b.far.Write(line)
	require.NoError(b, err)
}

func profile(f device.Foot) *device.Strip {
	return &device.Strip{Name: [2]string{"L-01", "R-01"}[f], Foot: f, Rows: 1, Cols: 3, ADCBits: 12}
}

func hello(dst []byte, f device.Foot) []byte {
	return wire.AppendHello(dst, wire.HelloOf(profile(f), 200))
}

// frame appends the n-th frame of a foot at 200 frames a second.
func frame(dst []byte, f device.Foot, n int) []byte {
	return wire.AppendFrame(dst, f, uint16(n), uint32(n*5000), countsOf(f, n))
}

func countsOf(f device.Foot, n int) []uint16 { return []uint16{uint16(f), uint16(n), uint16(n / 2)} }

// stoppedClock is a clock that shows the time it was set to, and counts how often it is read.
type stoppedClock struct{ ns, looks atomic.Int64 }

func (c *stoppedClock) Now() time.Time {
	c.looks.Add(1)
	return time.Unix(0, c.ns.Load())
}

// arrived waits until n chunks have been read.
func (c *stoppedClock) arrived(t testing.TB, n int) {
	t.Helper()
	require.Eventually(t, func() bool { return c.looks.Load() >= int64(n) }, 10*time.Second, time.Millisecond)
}

func left(b *board) link.Options {
	return link.Options{Ports: [2]string{b.port, ""}, Strips: [2]*device.Strip{profile(device.Left), nil}}
}

func both(l, r *board) link.Options {
	return link.Options{Ports: [2]string{l.port, r.port}, Strips: [2]*device.Strip{profile(device.Left), profile(device.Right)}}
}

func open(t testing.TB, o link.Options) *link.Link {
	t.Helper()
	l, err := link.Open(t.Context(), o)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, l.Close()) })
	return l
}

// take reads n frames.
func take(t testing.TB, l *link.Link, n int) (all []device.Frame) {
	t.Helper()
	for range n {
		var f device.Frame
		require.NoError(t, l.Next(&f))
		all = append(all, f)
	}
	return all
}

// failure reads frames until there is an error.
func failure(l *link.Link) (frames int, err error) {
	var f device.Frame
	for {
		if err := l.Next(&f); err != nil {
			return frames, err
		}
		frames++
	}
}

func TestBinaryInChunks(t *testing.T) {
	b := newBoard(t)
	var clock stoppedClock
	clock.ns.Store(1_700_000_000_000_000_000)
	o := left(b)
	o.Clock = &clock
	l := open(t, o)

	line := hello(nil, device.Left)
	const n = 300
	for i := range n {
		line = frame(line, device.Left, i)
	}
	go func() {
		rng := rand.New(rand.NewPCG(1, 2))
		for len(line) > 0 {
			k := min(len(line), 1+rng.IntN(40))
			b.far.Write(line[:k])
			line = line[k:]
		}
	}()
	for i, f := range take(t, l, n) {
		require.Equal(t, device.Frame{
			Foot: device.Left, Seq: int64(i), TimeUS: uint64(i) * 5000,
			ArrivalNS: 1_700_000_000_000_000_000, Counts: countsOf(device.Left, i),
		}, f)
	}
	s := l.Stats()
	assert.Equal(t, link.Stats{}, s[device.Right])
	assert.EqualValues(t, n, s[device.Left].Frames)
	assert.True(t, s[device.Left].Hello && s[device.Left].HasSeq)
	assert.Equal(t, "strip", s[device.Left].Clock)
	assert.Equal(t, wire.Binary, s[device.Left].Line.Format)
	assert.Zero(t, s[device.Left].Line.Dropped)
	assert.Empty(t, l.Warnings())
	assert.Empty(t, l.Events())
}

// In lock step, as in the demo, one packet is written, its frame is taken, and only then does time
// advance.
func TestLockStep(t *testing.T) {
	b := newBoard(t)
	var clock stoppedClock
	o := both(b, b)
	o.Clock = &clock
	l := open(t, o)
	b.send(hello(hello(nil, device.Left), device.Right))
	for i := range 200 {
		foot := device.Foot(i % 2)
		clock.ns.Store(int64(i) * 2_500_000)
		b.send(frame(nil, foot, i/2))
		f := take(t, l, 1)[0]
		require.Equal(t, foot, f.Foot)
		require.EqualValues(t, i/2, f.Seq)
		require.EqualValues(t, i*2_500_000, f.ArrivalNS)
	}
}

func TestTwoPorts(t *testing.T) {
	a, b := newBoard(t), newBoard(t)
	l := open(t, both(a, b))
	a.send(hello(nil, device.Left))
	b.send(hello(nil, device.Right))
	for i := range 50 { // one by one
		a.send(frame(nil, device.Left, i))
		require.Equal(t, countsOf(device.Left, i), take(t, l, 1)[0].Counts)
		b.send(frame(nil, device.Right, i))
		require.Equal(t, countsOf(device.Right, i), take(t, l, 1)[0].Counts)
	}
}

func TestOnePortUnderTwoNames(t *testing.T) {
	b := newBoard(t)
	other := filepath.Join(t.TempDir(), "by-id")
	require.NoError(t, os.Symlink(b.port, other))
	o := both(b, b)
	o.Ports[device.Right] = other
	l := open(t, o)
	b.send(frame(hello(nil, device.Right), device.Right, 7))
	assert.Equal(t, device.Right, take(t, l, 1)[0].Foot)
}

func TestTextWithClock(t *testing.T) {
	b := newBoard(t)
	l := open(t, left(b))
	line := []byte("a line that had begun\n")
	junk := len(line)
	line = wiretest.AppendTextHello(line, wire.HelloOf(profile(device.Left), 200))
	for i := range 20 {
		line = wiretest.AppendTextFrame(line, 1<<32-20_000+uint64(i)*5000, countsOf(device.Left, i), i%2 == 0)
	}
	line = append(line, "1,2,3\n"...) // lacks its clock
	line = wiretest.AppendTextFrame(line, 1<<32+80_000, countsOf(device.Left, 20), true)
	b.send(line)
	for i, f := range take(t, l, 21) {
		require.EqualValues(t, device.NoSeq, f.Seq)
		require.EqualValues(t, 1<<32-20_000+i*5000, f.TimeUS)
		require.Equal(t, countsOf(device.Left, i), f.Counts)
	}
	s := l.Stats()[device.Left]
	assert.EqualValues(t, []uint64{21, 1, uint64(junk)}, []uint64{s.Frames, s.Refused, s.Line.Dropped})
	assert.Equal(t, []any{"strip", wire.Text, false, true}, []any{s.Clock, s.Line.Format, s.HasSeq, s.Hello})
}

func TestTextWithoutClock(t *testing.T) {
	b := newBoard(t)
	var clock stoppedClock
	o := left(b)
	o.Clock = &clock
	l := open(t, o)
	clock.ns.Store(7_000_000_000)
	b.send([]byte("\n1,2,3\n4,5,6\n"))
	got := take(t, l, 2)
	clock.ns.Store(8_000_000_000)
	b.send([]byte("7,8,9\n"))
	got = append(got, take(t, l, 1)...)
	assert.Equal(t, []uint64{7_000_000, 7_000_001, 8_000_000}, []uint64{got[0].TimeUS, got[1].TimeUS, got[2].TimeUS})
	assert.Equal(t, "host", l.Stats()[device.Left].Clock)
	require.Len(t, l.Warnings(), 1)
	assert.Equal(t, link.HostClock, l.Warnings()[0].Code)
	assert.Contains(t, l.Warnings()[0].String(), "without a clock")
}

func TestGaps(t *testing.T) {
	b := newBoard(t)
	var clock stoppedClock
	o := left(b)
	o.Clock = &clock
	l := open(t, o)
	at := func(ms int64, n int) device.Frame {
		clock.ns.Store(ms * 1e6)
		b.send(frame(nil, device.Left, n))
		return take(t, l, 1)[0]
	}
	b.send(hello(nil, device.Left))
	at(1000, 400)
	at(1005, 401)
	f := at(1060, 412)
	assert.EqualValues(t, 412, f.Seq)
	assert.Equal(t, []device.Event{{TimeNS: 1060e6, Foot: device.Left, Kind: device.Gap, Cause: link.LostFrames, LengthS: 0.055, Text: "10 lost"}}, l.Events())
	b.send(hello(nil, device.Left)) // has restarted
	f = at(1860, 0)
	assert.EqualValues(t, 413, f.Seq)
	assert.EqualValues(t, 412*5000+800_000, f.TimeUS)
	assert.True(t, f.Restarted)
	e := l.Events()
	require.Len(t, e, 1)
	assert.Equal(t, []any{link.BoardReset, 0.8}, []any{e[0].Cause, e[0].LengthS})
	f = at(1865, 1)
	assert.EqualValues(t, 414, f.Seq)
	assert.False(t, f.Restarted)
	assert.Empty(t, l.Events())
	s := l.Stats()[device.Left]
	assert.Equal(t, []uint64{5, 10, 2}, []uint64{s.Frames, s.Lost, s.Gaps})
}

func TestFramesWaitForTheHello(t *testing.T) {
	b := newBoard(t)
	o := both(b, b)
	o.HelloWait = time.Hour
	l := open(t, o)
	line := frame(nil, device.Left, 1)
	line = frame(line, device.Right, 1)
	line = hello(line, device.Right)
	line = frame(line, device.Left, 2)
	line = hello(line, device.Left)
	line = frame(line, device.Right, 2)
	b.send(line)
	var order []string
	for _, f := range take(t, l, 4) {
		order = append(order, fmt.Sprint(f.Foot, f.Seq))
	}
	assert.Equal(t, []string{"left 1", "right 1", "left 2", "right 2"}, order)
	assert.Empty(t, l.Warnings())
}

func TestNoHello(t *testing.T) {
	b := newBoard(t)
	o := left(b)
	o.HelloWait = 30 * time.Millisecond
	l := open(t, o)
	b.send(frame(nil, device.Left, 1))
	assert.EqualValues(t, 1, take(t, l, 1)[0].Seq)
	require.Len(t, l.Warnings(), 1)
	assert.Equal(t, link.NoHello, l.Warnings()[0].Code)
	assert.Contains(t, l.Warnings()[0].String(), "no hello within 0.03 s: frames of the left foot are taken as strip L-01")
	assert.False(t, l.Stats()[device.Left].Hello)
}

func TestErrorsWhileReading(t *testing.T) {
	says := func(change func(h *wire.Hello)) []byte {
		h := wire.HelloOf(profile(device.Left), 200)
		change(&h)
		return wire.AppendHello(nil, h)
	}
	text := []byte("\n1,2,3,4\n")
	for _, c := range []struct {
		name   string
		shared bool
		line   []byte
		kind   error
		want   string
	}{
		{"another strip", false, says(func(h *wire.Hello) { h.Strip = "L-02" }), link.ErrWrongStrip, `the strip says it is "L-02", its profile "L-01": give the profile of this strip with --strip`},
		{"another foot", false, says(func(h *wire.Hello) { h.Foot = device.Right }), link.ErrWrongFoot, "says it is under the right foot, the port was given for the left: swap"},
		{"other rows", false, says(func(h *wire.Hello) { h.Rows = 2 }), link.ErrWrongStrip, "the strip says rows × cols 2 × 3, its profile 1 × 3"},
		{"other cols", false, says(func(h *wire.Hello) { h.Cols = 4 }), link.ErrWrongStrip, "the strip says rows × cols 1 × 4, its profile 1 × 3"},
		{"another converter", false, says(func(h *wire.Hello) { h.ADCBits = 10 }), link.ErrWrongStrip, "the strip says adc_bits 10, its profile 12"},
		{"another foot in text", false, wiretest.AppendTextHello(nil, wire.HelloOf(profile(device.Right), 200)), link.ErrWrongFoot, "swap --left and --right"},
		{"frames of another foot", false, frame(nil, device.Right, 1), link.ErrWrongFoot, "frames of the right foot on the port of the left: swap"},
		{"text for both feet", true, text, link.ErrOneFoot, "text, which carries one foot only: give each foot a port of its own"},
		{"text hello for both feet", true, wiretest.AppendTextHello(nil, wire.HelloOf(profile(device.Left), 200)), link.ErrOneFoot, "text, which carries one foot only"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBoard(t)
			o := left(b)
			if c.shared {
				o = both(b, b)
			}
			l := open(t, o)
			b.send(c.line)
			n, err := failure(l)
			assertOneLine(t, err, b.port, c.want)
			assert.ErrorIs(t, err, c.kind)
			assert.Zero(t, n)
			var f device.Frame
			assert.Equal(t, err, l.Next(&f), "final")
		})
	}
}

func assertOneLine(t testing.TB, err error, port, want string) {
	t.Helper()
	require.Error(t, err)
	assert.Contains(t, err.Error(), want)
	assert.True(t, strings.HasPrefix(err.Error(), "port "+port+": "), err)
	assert.NotContains(t, err.Error(), "\n")
}

func TestSilence(t *testing.T) {
	noise := make([]byte, 400)
	rng := rand.New(rand.NewPCG(3, 4))
	for i := range noise {
		noise[i] = byte(rng.IntN(256))
	}
	absurd := wire.HelloOf(profile(device.Left), 200)
	absurd.Rows, absurd.Cols = 100, 100
	for _, c := range []struct {
		name   string
		shared bool
		line   []byte // sent again and again
		kind   error
		want   string
	}{
		{"nothing", false, nil, link.ErrSilent, "no data for 0.3 s: is the strip switched on"},
		{"noise", false, noise, link.ErrNoFrames, "that are neither binary packets nor lines of numbers: check --baud (now 921600)"},
		{"letters", false, []byte("hello world\n"), link.ErrNoFrames, "that are neither binary packets nor lines of numbers"},
		{"more cells", false, wire.AppendFrame(nil, 0, 1, 1, make([]uint16, 40)), link.ErrNoFrames, "no frame that fits strip L-01 in 0.3 s: "},
		{"more cells in text", false, []byte("5000,1,2,3,4,5,6\n"), link.ErrNoFrames, "with another number of cells than 1 × 3"},
		{"a strip of 10000 cells", false, wire.AppendHello(nil, absurd), link.ErrNoFrames, "cannot be meant (hello: 100 × 100 cells: 1 to 4096): correct what its firmware sends"},
		{"and in text", false, wiretest.AppendTextHello(nil, absurd), link.ErrNoFrames, "cannot be meant (hello: 100 × 100 cells: 1 to 4096)"},
		{"only hello", false, hello(nil, device.Left), link.ErrNoFrames, "strip L-01 says hello but sends no frame"},
		{"one foot of two", true, nil, link.ErrNoFrames, "no frame of the right foot for 0.3 s"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			b := newBoard(t)
			o := left(b)
			if c.shared {
				o = both(b, b)
			}
			o.Silence, o.HelloWait = 300*time.Millisecond, 20*time.Millisecond
			l := open(t, o)
			done := make(chan struct{})
			defer close(done)
			go func() {
				for i := 0; ; i++ {
					line := c.line
					if c.shared {
						line = frame(nil, device.Left, i)
					}
					b.far.Write(line)
					select {
					case <-done:
						return
					case <-time.After(3 * time.Millisecond):
					}
				}
			}()
			_, err := failure(l)
			assertOneLine(t, err, b.port, c.want)
			assert.ErrorIs(t, err, c.kind)
		})
	}
}

// A slow caller does not make the strip count as silent.
func TestSlowCallerIsNotASilentStrip(t *testing.T) {
	t.Parallel()
	b := newBoard(t)
	o := left(b)
	o.Silence = 400 * time.Millisecond
	l := open(t, o)
	line := hello(nil, device.Left)
	for i := range 100 {
		line = frame(line, device.Left, i)
	}
	b.send(line)
	take(t, l, 1)
	time.Sleep(700 * time.Millisecond)
	take(t, l, 99)
}

func TestPortVanishesBeforeItHasBegun(t *testing.T) {
	a, b := newBoard(t), newBoard(t)
	l := open(t, both(a, b))
	a.send(frame(frame(hello(nil, device.Left), device.Left, 1), device.Left, 2))
	take(t, l, 1) // so that the rest is known to have arrived
	require.NoError(t, a.far.Close())
	n, err := failure(l)
	assert.Equal(t, 1, n, "what had arrived comes first")
	assertOneLine(t, err, a.port, "the line has ended")
	assert.ErrorIs(t, err, link.ErrLineEnded)
}

func TestCloseWhileWaiting(t *testing.T) {
	for _, how := range []string{"Close", "context"} {
		t.Run(how, func(t *testing.T) {
			b := newBoard(t)
			ctx, cancel := context.WithCancel(t.Context())
			defer cancel()
			l, err := link.Open(ctx, left(b))
			require.NoError(t, err)
			b.send(frame(hello(nil, device.Left), device.Left, 1))
			take(t, l, 1)
			ended := make(chan error)
			go func() { _, err := failure(l); ended <- err }()
			if how == "Close" {
				require.NoError(t, l.Close())
			} else {
				cancel()
			}
			select {
			case err := <-ended:
				assert.Equal(t, io.EOF, err)
			case <-time.After(10 * time.Second):
				t.Fatal("Next does not return")
			}
			require.NoError(t, l.Close(), "closing twice does no harm")
			// The port has been closed.
			again, err := link.Open(t.Context(), left(b))
			require.NoError(t, err)
			require.NoError(t, again.Close())
		})
	}
}

func TestWhatArrivedComesBeforeTheEnd(t *testing.T) {
	b := newBoard(t)
	var clock stoppedClock
	o := left(b)
	o.Clock, o.HelloWait = &clock, time.Hour
	l, err := link.Open(t.Context(), o)
	require.NoError(t, err)
	b.send(hello(nil, device.Left))
	for n := range 3 {
		clock.arrived(t, n+1)
		b.send(frame(nil, device.Left, n))
	}
	clock.arrived(t, 4)
	require.NoError(t, l.Close())
	n, err := failure(l)
	assert.Equal(t, 3, n)
	assert.Equal(t, io.EOF, err)

	// Frames that wait for a hello are not lost either.
	l, err = link.Open(t.Context(), o)
	require.NoError(t, err)
	b.send(frame(nil, device.Left, 4))
	clock.arrived(t, 5)
	require.NoError(t, l.Close())
	n, err = failure(l)
	assert.Equal(t, 1, n)
	assert.Equal(t, io.EOF, err)
	assert.Len(t, l.Warnings(), 1)
}

func TestBusyPort(t *testing.T) {
	b := newBoard(t)
	open(t, left(b))
	_, err := link.Open(t.Context(), left(b))
	assertOneLine(t, err, b.port, "busy: another aplomb reads it (process ")
	assert.ErrorIs(t, err, link.ErrBusy)

	other := filepath.Join(t.TempDir(), "by-id")
	require.NoError(t, os.Symlink(b.port, other))
	o := left(b)
	o.Ports[device.Left] = other
	_, err = link.Open(t.Context(), o)
	assertOneLine(t, err, other, "busy")
}

func TestSecondPortFailsFirstIsFreed(t *testing.T) {
	b := newBoard(t)
	o := both(b, b)
	o.Ports[device.Right] = "/dev/no-such-port"
	_, err := link.Open(t.Context(), o)
	assertOneLine(t, err, "/dev/no-such-port", "no such port: there ")
	assert.ErrorIs(t, err, link.ErrNoPort)
	assert.Contains(t, err.Error(), "(see aplomb ports)")
	open(t, left(b))
}

func TestNotAPort(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	require.NoError(t, os.WriteFile(file, nil, 0o600))
	for _, name := range []string{file, filepath.Dir(file)} {
		o := link.Options{Ports: [2]string{name}, Strips: [2]*device.Strip{profile(device.Left)}}
		_, err := link.Open(t.Context(), o)
		assertOneLine(t, err, name, "aplomb ports")
		assert.ErrorIs(t, err, link.ErrNotSerial)
	}
	_, err := link.Open(t.Context(), link.Options{})
	assert.ErrorContains(t, err, "--left or --right")
	_, err = link.Open(t.Context(), link.Options{Ports: [2]string{"x"}})
	assertOneLine(t, err, "x", "no strip profile for the left foot")
	o := left(newBoard(t))
	o.Baud = -1
	_, err = link.Open(t.Context(), o)
	assertOneLine(t, err, o.Ports[0], "-1 baud: give the speed that the strip sends at")
	assert.ErrorIs(t, err, link.ErrBaud)
}

// TestMain also serves as the program of tests that need another user or process: with a
// port in the environment it opens that port and runs no tests.
func TestMain(m *testing.M) {
	port := os.Getenv("APLOMB_TEST_PORT")
	if port == "" {
		os.Exit(m.Run())
	}
	_, err := link.Open(context.Background(), link.Options{Ports: [2]string{port}, Strips: [2]*device.Strip{profile(device.Left)}})
	fmt.Println(err)
	if errors.Is(err, link.ErrPermission) {
		fmt.Println("ErrPermission")
	}
	if os.Getenv("APLOMB_TEST_STAY") != "" {
		select {}
	}
}

// inAnotherProcess returns the command that opens port in another process.
func inAnotherProcess(t *testing.T, port string) *exec.Cmd {
	data, err := os.ReadFile("/proc/self/exe")
	if err != nil {
		t.Skip("this system does not show a program to itself")
	}
	dir, err := os.MkdirTemp("", "aplomb") // other users cannot read the directory of the test
	require.NoError(t, err)
	t.Cleanup(func() { os.RemoveAll(dir) })
	require.NoError(t, os.Chmod(dir, 0o755))
	program := filepath.Join(dir, "open")
	require.NoError(t, os.WriteFile(program, data, 0o755))
	cmd := exec.Command(program)
	cmd.Dir = "/"
	cmd.Env = append(os.Environ(), "APLOMB_TEST_PORT="+port)
	return cmd
}

func TestNoPermission(t *testing.T) {
	b := newBoard(t)
	const nobody = 65534
	cmd := inAnotherProcess(t, b.port)
	if os.Geteuid() == 0 {
		require.NoError(t, os.Chown(b.port, -1, 5)) // tty on Linux; access names no group for root's
		require.NoError(t, os.Chmod(b.port, 0o620))
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: nobody, Gid: nobody}}
	} else {
		require.NoError(t, os.Chmod(b.port, 0))
	}
	out, err := cmd.Output()
	require.NoError(t, err)
	said, kind, _ := strings.Cut(strings.TrimSpace(string(out)), "\n")
	assert.Equal(t, "ErrPermission", kind)
	assert.True(t, strings.HasPrefix(said, "port "+b.port+": no permission: it belongs to group "), said)
	assert.NotContains(t, said, "\n")
}

// A lock lasts until its process ends, also when the process is killed and also for root.
func TestLockIsThatOfTheProcess(t *testing.T) {
	b := newBoard(t)
	cmd := inAnotherProcess(t, b.port)
	cmd.Env = append(cmd.Env, "APLOMB_TEST_STAY=1")
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	said := make([]byte, 100)
	n, err := out.Read(said)
	require.NoError(t, err)
	require.Equal(t, "<nil>\n", string(said[:n]))
	_, err = link.Open(t.Context(), left(b))
	assertOneLine(t, err, b.port, "busy")
	require.NoError(t, cmd.Process.Kill())
	cmd.Wait()
	open(t, left(b))
}

func TestPortsAreSorted(t *testing.T) {
	ports, err := link.Ports()
	require.NoError(t, err)
	assert.True(t, slices.IsSortedFunc(ports, func(a, b link.PortInfo) int { return strings.Compare(a.Name, b.Name) }))
	for _, p := range ports {
		assert.NotEmpty(t, p.Name)
	}
}

// BenchmarkNext reads frames of 40 cells from a pseudo-terminal: one at a time, as the demo does,
// and as fast as possible.
// Run with: go test -run '^$' -bench . ./device/link
func BenchmarkNext(b *testing.B) {
	for _, perWrite := range []int{1, 32} {
		b.Run(fmt.Sprintf("write=%d", perWrite), func(b *testing.B) {
			far := newBoard(b)
			strip := &device.Strip{Name: "L-01", Rows: 5, Cols: 8, ADCBits: 12}
			l := open(b, link.Options{Ports: [2]string{far.port}, Strips: [2]*device.Strip{strip}})
			far.send(wire.AppendHello(nil, wire.HelloOf(strip, 200)))
			line, n := []byte{}, 0
			var f device.Frame
			b.ReportAllocs()
			for b.Loop() {
				line = line[:0]
				for range perWrite {
					line = wire.AppendFrame(line, 0, uint16(n), uint32(n*5000), bytes40)
					n++
				}
				far.send(line)
				for range perWrite {
					if err := l.Next(&f); err != nil {
						b.Fatal(err)
					}
				}
			}
			b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "frames/s")
		})
	}
}

var bytes40 = func() []uint16 {
	c := make([]uint16, 40)
	for i, x := range bytes.Repeat([]byte{0, 200}, 20) {
		c[i] = uint16(x) * 5
	}
	return c
}()

// The lock of a port is in no folder in which another user could put a file in its way.
func TestLockIsInNoSharedFolder(t *testing.T) {
	shared, own := t.TempDir(), t.TempDir()
	t.Setenv("TMPDIR", shared)
	t.Setenv("XDG_RUNTIME_DIR", own)
	b := newBoard(t)
	open(t, left(b))
	found, err := os.ReadDir(shared)
	require.NoError(t, err)
	assert.Empty(t, found)
	found, err = os.ReadDir(filepath.Join(own, "aplomb"))
	require.NoError(t, err)
	assert.Len(t, found, 1)
	_, err = link.Open(t.Context(), left(b))
	assertOneLine(t, err, b.port, fmt.Sprintf("(process %d, started 20", os.Getpid()))
}
