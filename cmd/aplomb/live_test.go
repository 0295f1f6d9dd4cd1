//go:build unix

package main

import (
	"context"
	"io"
	"math"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/charmbracelet/x/vt"
	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/device/recording"
	"aplomb/device/sim"
	"aplomb/device/wire"
)

// terminal is a program on a pseudo-terminal with an emulator at the other end.
type terminal struct {
	testing.TB
	mu       sync.Mutex
	emulator *vt.Emulator
	far      *os.File
	drawn    func(*vt.Emulator) // called whenever something has been
	ended    chan error
	cmd      *exec.Cmd
}

// onTerminal runs aplomb in a folder, on a terminal of the given size.
func onTerminal(t testing.TB, dir string, wide, high int, env []string, args ...string) *terminal {
	x := &terminal{TB: t, emulator: vt.NewEmulator(wide, high), ended: make(chan error, 1)}
	x.cmd = exec.Command("aplomb", args...)
	x.cmd.Dir = dir
	x.cmd.Env = append(append(os.Environ(), "TERM=xterm-256color", "COLORTERM=truecolor", "NO_COLOR=", "GORACE=atexit_sleep_ms=0"), env...)
	var err error
	x.far, err = pty.StartWithSize(x.cmd, &pty.Winsize{Rows: uint16(high), Cols: uint16(wide)})
	require.NoError(t, err)
	go io.Copy(x.far, x.emulator) // what a terminal answers
	go func() {
		io.Copy(x, x.far)
		x.ended <- x.cmd.Wait()
	}()
	t.Cleanup(func() {
		x.cmd.Process.Kill()
		x.far.Close()
	})
	return x
}

// Write passes output to the emulator.
func (x *terminal) Write(p []byte) (int, error) {
	x.mu.Lock()
	defer x.mu.Unlock()
	n, err := x.emulator.Write(p)
	if x.drawn != nil {
		x.drawn(x.emulator)
	}
	return n, err
}

// look calls f with the screen while nothing is drawn.
func (x *terminal) look(f func(e *vt.Emulator)) {
	x.mu.Lock()
	defer x.mu.Unlock()
	f(x.emulator)
}

// text returns the text on the screen.
func (x *terminal) text() string {
	var b strings.Builder
	x.look(func(e *vt.Emulator) {
		for y := range e.Height() {
			writeLine(&b, e, y)
			b.WriteByte('\n')
		}
	})
	return b.String()
}

func writeLine(b *strings.Builder, e *vt.Emulator, y int) {
	for i := range e.Width() {
		if c := e.CellAt(i, y); c != nil && c.Content != "" {
			b.WriteString(c.Content)
		} else {
			b.WriteByte(' ')
		}
	}
}

// patience is how long a test waits for a program, a page or a terminal before it fails. It
// costs nothing where they answer.
const patience = time.Minute

// shows waits until a text is on the screen.
func (x *terminal) shows(part string) {
	x.Helper()
	for begun := time.Now(); time.Since(begun) < patience; {
		if strings.Contains(x.text(), part) {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	require.Fail(x, "not on the screen", "%q in\n%s", part, x.text())
}

// answers waits for a question and types keys.
func (x *terminal) answers(asked, keys string) {
	x.Helper()
	x.shows(asked)
	x.types(keys)
}

func (x *terminal) types(keys string) {
	x.Helper()
	_, err := x.far.WriteString(keys)
	require.NoError(x, err)
}

// ends waits for the program to end and returns its exit status.
func (x *terminal) ends() int {
	x.Helper()
	select {
	case <-x.ended:
	case <-time.After(patience):
		require.Fail(x, "still running", x.text())
	}
	return x.cmd.ProcessState.ExitCode()
}

// stage is two strips on serial lines under somebody who does as told.
type stage struct {
	testing.TB
	dir  string
	mu   sync.Mutex
	sent int        // frames of each foot
	want [2]float64 // N
	at   [2]platform.Point
	rock [2]bool // the load goes round, once in two seconds
	feet [2]*standIn
}

// standIn is one foot of them.
type standIn struct {
	strip *device.Strip
	sole  *sim.Sole
	pads  *sim.ActiveAreas
	pose  sim.Pose
	load  float64
	line  *sim.Line // nil while the cable is out
	link  string
}

// newStage puts strips under shoe A and their lines at links in dir.
func newStage(t testing.TB, dir string, links [2]string) *stage {
	s := &stage{TB: t, dir: dir}
	shoe, err := device.ReadShoe(t.Context(), filepath.Join(dir, "A.toml"))
	require.NoError(t, err)
	for f := range s.feet {
		strip, err := device.ReadStrip(t.Context(), filepath.Join(dir, device.Foot(f).String()+".toml"))
		require.NoError(t, err)
		sole := sim.NewSole(shoe.Outline(), 0, sim.DefaultBedKPaMM)
		s.feet[f] = &standIn{strip: strip, sole: sole, pads: sim.NewActiveAreas(strip, sole), link: filepath.Join(dir, links[f])}
		s.plug(device.Foot(f))
	}
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() {
		defer close(done)
		s.run(ctx)
	}()
	t.Cleanup(func() {
		stop()
		<-done
		for _, f := range s.feet {
			if f.line != nil {
				f.line.Close()
			}
		}
	})
	return s
}

func (s *stage) plug(f device.Foot) {
	line, err := sim.OpenLine(s.feet[f].link)
	require.NoError(s, err)
	s.mu.Lock()
	defer s.mu.Unlock()
	s.feet[f].line = line
}

func (s *stage) pull(f device.Foot) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.feet[f].line.Close()
	s.feet[f].line = nil
}

// stand makes both feet carry loads (N), after a moment.
func (s *stage) stand(left, right float64) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.want, s.rock = [2]float64{left, right}, [2]bool{}
}

// presses makes a hand press the platform of a foot on a pad and rock it, after a moment.
func (s *stage) presses(f device.Foot) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.want, s.rock = [2]float64{}, [2]bool{}
	s.want[f], s.rock[f] = 90, true
}

// isHeard makes the lines wait for a reader that a busy machine delays: frames dropped by
// the lines would be missing from a hold.
func (s *stage) isHeard() {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, foot := range s.feet {
		foot.line.Timeout = 5 * time.Second
	}
}

// keepsStill waits until the given number of further frames of each foot has been sent:
// by the strips' clock, because on a busy machine they fall behind this one's.
func (s *stage) keepsStill(frames int) {
	count := func() int {
		s.mu.Lock()
		defer s.mu.Unlock()
		return s.sent
	}
	until := count() + frames
	require.Eventually(s, func() bool { return count() >= until }, 20*time.Second, 10*time.Millisecond)
}

// run sends 100 frames a second of each foot.
func (s *stage) run(ctx context.Context) {
	const every = 10 * time.Millisecond
	began := time.Now()
	var packet []byte
	for n := 0; ctx.Err() == nil; n++ {
		time.Sleep(time.Until(began.Add(time.Duration(n) * every)))
		s.mu.Lock()
		for f, foot := range s.feet {
			foot.load += max(-40, min(40, s.want[f]-foot.load))
			kPa := make([]float64, foot.strip.Cells())
			if foot.load > 1 {
				var err error
				at := s.at[f]
				if s.rock[f] {
					sin, cos := math.Sincos(float64(n%200) * math.Pi / 100)
					at = platform.Point{10 * cos, 6 * sin}
				}
				foot.pose, err = foot.sole.Solve(foot.load, at, foot.pose)
				if !assert.NoError(s, err) {
					s.mu.Unlock()
					return
				}
				foot.pads.Read(foot.pose, kPa)
			}
			counts := make([]uint16, len(kPa))
			for k, p := range kPa {
				counts[k] = uint16(3 + (n+k)%2 + int(p/foot.strip.Calibration.KPaPerCount))
			}
			packet = packet[:0]
			if n%50 == 0 {
				packet = wire.AppendHello(packet, wire.HelloOf(foot.strip, 100))
			}
			packet = wire.AppendFrame(packet, device.Foot(f), uint16(n), uint32(n)*10_000, counts)
			if foot.line != nil {
				foot.line.Send(packet)
			}
		}
		s.sent = n + 1
		s.mu.Unlock()
	}
}

// The test runs a recording as a fitter sees it: the pad presses, two relevés, a cable
// that is unplugged and plugged in again, a second press of one foot, a note, a discarded
// relevé, and the end.
func TestLiveView(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, os.DirFS("testdata/profiles")))
	s := newStage(t, dir, [2]string{"ttyUSB0", "ttyUSB1"})
	s.at = [2]platform.Point{{-1, -5.5}, {0.1, -0.1}}
	x := onTerminal(t, dir, 100, 30, nil, "record", "--strip", "left.toml", "--strip", "right.toml", "--shoe", "A.toml",
		"--left", "ttyUSB0", "--right", "ttyUSB1", "--dancer", "D7", "--out", "a1.mcap")

	x.shows("press the left platform on the pad, rock it to all sides")
	s.isHeard()
	assert.FileExists(t, filepath.Join(dir, "a1.mcap.part"), "it is recorded")
	for _, f := range device.Feet {
		x.shows("press the " + f.String() + " platform on the pad")
		s.presses(f)
		x.shows("let go of the " + f.String() + " platform")
		s.stand(0, 0)
	}
	x.shows("waiting for the first relevé")
	for n := range 2 {
		s.stand(250, 280)
		x.shows("left 47 %")
		s.keepsStill(90)
		s.stand(0, 0)
		x.shows([]string{" 1 ", " 2 "}[n])
		x.shows("left –")
	}
	x.shows(" s BACK")
	x.shows(" s OVER")

	s.stand(250, 280)
	x.shows("left 47 %")
	s.keepsStill(70)
	s.pull(device.Left)
	x.shows("lost ttyUSB0")
	x.shows("recording continues when it is back")
	x.shows("LEFT, for 2 s")
	keepPicture(t, x)
	s.stand(0, 0)
	x.shows("RIGHT  0 N")
	s.plug(device.Left)
	x.shows("left: signal is back")
	x.shows("frames missing")

	x.types("p")
	x.shows("press the left platform on the pad")
	s.presses(device.Left)
	x.shows("let go of the left platform")
	s.stand(0, 0)
	x.shows("press the right platform on the pad")
	x.types("ds")
	x.shows("right: pad press skipped; p asks for it again")
	x.types("d")
	x.shows("relevé 3 discarded: u takes that back")
	x.types("d")
	x.shows("relevé 2 discarded")
	x.types("u")
	x.shows("relevé 2 counts again")
	x.types("nleft cable pulled by qd\x7f\x7fmyself")
	x.shows("note: left cable pulled by myself")
	x.types("\r")
	x.shows("note kept: left cable pulled by myself")
	x.types("q")
	require.Equal(t, exitDone, x.ends(), x.text())
	assert.Contains(t, x.text(), "a1.mcap: ", "back on the usual screen it says what was recorded")

	r, err := analyze.File(context.Background(), filepath.Join(dir, "a1.mcap"), analyze.Options{KeepTrace: true})
	require.NoError(t, err)
	kinds := map[device.EventKind]int{}
	for _, e := range r.Events {
		kinds[e.Kind]++
		if e.Kind == device.Note {
			assert.Equal(t, "left cable pulled by myself", e.Text)
		}
	}
	assert.Equal(t, map[device.EventKind]int{device.Gap: 1, device.Reconnect: 1, device.Note: 1, device.Discard: 3, device.Press: 3}, kinds)
	require.NotEmpty(t, r.Releves)
	for _, one := range r.Releves {
		assert.Equal(t, one.N == 3, one.Discarded, "relevé %d", one.N)
		if one.N < 3 && one.Foot == device.Left {
			require.Equal(t, measure.Measured, one.Status, "relevé %d, %.1f s long, of %v", one.N, one.EndS-one.StartS, r.Warnings)
			assert.InDelta(t, -5.5, one.OverMM, 0.3)
			assert.InDelta(t, 250, one.LoadN, 5)
		}
	}
	assert.Equal(t, 3, r.Releves[len(r.Releves)-1].N, "a press is no relevé")
	assert.Len(t, r.Presses[device.Left], 2)
	assert.Len(t, r.Presses[device.Right], 1)
}

// In a visit the screen shows dancer and shoe, and first the next step of the plan. With
// pain it shows the advice to stop throughout.
func TestLiveViewOfAVisit(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, os.DirFS("testdata/profiles")))
	env := []string{"APLOMB_LOGBOOK=" + filepath.Join(dir, "book")}
	types := func(args ...string) {
		t.Helper()
		cmd := exec.Command("aplomb", args...)
		cmd.Dir, cmd.Env = dir, append(os.Environ(), env...)
		out, err := cmd.CombinedOutput()
		require.NoError(t, err, "%s", out)
	}
	types("dancer", "add", "D7", "--watch", "left")
	types("strip", "add", "left.toml", "right.toml")
	types("shoe", "add", "A", "--file", "A.toml")
	types("shoe", "add", "B", "--file", "B.toml")
	types("visit", "add", "--dancer", "D7", "--pain-before", "1")
	types("visit", "plan", "--dancer", "D7", "--shoes", "A,B", "--seed", "1")
	newStage(t, dir, [2]string{"ttyUSB0", "ttyUSB1"})
	begin := func() *terminal {
		return onTerminal(t, dir, 80, 24, env, "record", "--dancer", "D7", "--visit", "today", "--left-shoe", "A", "--right-shoe", "B",
			"--left", "ttyUSB0", "--right", "ttyUSB1")
	}

	x := begin()
	x.shows(", shoe A / B  0:0")
	x.shows("(1 of 4)")
	x.shows("press the left platform on the pad")
	x.shows("The left foot is watched: press its shoe with no foot in it.")
	assert.Regexp(t, `next: shoe [AB], mount the strips \(1 of 4\)`, x.text())
	assert.Contains(t, x.text(), "Pain means stop. Have a barre or a spotter.")
	x.types("q")
	assert.Equal(t, exitNo, x.ends(), "nothing was loaded: no step of the plan is done")
	assert.Contains(t, x.text(), "aplomb: stopped before a platform was loaded; nothing was recorded")

	types("visit", "edit", "--dancer", "D7", "--pain-before", "5")
	x = begin()
	x.shows("press the left platform on the pad") // the lines above the view say the rest already
	x.shows("the plan waits, 0 of 4 done: there is pain")
	x.shows("Stop: pain was 5 of 10 before. Hand over to the dancer's clinician.")
	x.types("s")
	x.shows("left and right: pad press skipped")
	assert.Contains(t, x.text(), "Stop: pain was 5 of 10 before.", "it stays")
	x.types("q")
	assert.Equal(t, exitDone, x.ends(), x.text())
}

// Each strip announces itself but lies under the wrong shoe, which only a press shows.
// The recording asks again and goes on.
func TestSwappedStrips(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, os.DirFS("testdata/profiles")))
	s := newStage(t, dir, [2]string{"ttyUSB0", "ttyUSB1"})
	x := onTerminal(t, dir, 80, 24, nil, "record", "--strip", "left.toml", "--strip", "right.toml", "--shoe", "A.toml",
		"--left", "ttyUSB0", "--right", "ttyUSB1", "--out", "a1.mcap")
	x.shows("press the left platform on the pad")
	s.presses(device.Right) // the left shoe has the right strip
	x.shows("the right foot's strip: let go, press the left shoe, or swap the strips")
	s.stand(0, 0)
	x.shows("that was strip R-01 of the right foot: press the left platform; if you did,")
	s.presses(device.Left)
	x.shows("let go of the left platform")
	s.stand(0, 0)
	x.shows("press the right platform on the pad")
	x.types("q")
	require.Equal(t, exitDone, x.ends(), x.text())
	assert.Equal(t, []device.Foot{device.NoFoot, device.Left}, pressed(t, filepath.Join(dir, "a1.mcap")))
	r, err := analyze.File(t.Context(), filepath.Join(dir, "a1.mcap"), analyze.Options{})
	require.NoError(t, err)
	assert.Empty(t, r.Releves)
}

// pressed returns the feet of the presses that a recording marks.
func pressed(t *testing.T, path string) (feet []device.Foot) {
	r, err := recording.Open(t.Context(), path)
	require.NoError(t, err)
	defer r.Close()
	var f device.Frame
	for err == nil {
		err = r.Next(&f)
	}
	for _, e := range r.Events() {
		if e.Kind == device.Press {
			feet = append(feet, e.Foot)
		}
	}
	return feet
}

// A cable is unplugged during the press of the only strip: the recording waits for it,
// and the press continues. Killed during the next press, the program leaves the recording
// so far, with the completed press.
func TestPressInterrupted(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, os.DirFS("testdata/profiles")))
	s := newStage(t, dir, [2]string{"ttyUSB0", "ttyUSB1"})
	x := onTerminal(t, dir, 80, 24, nil, "record", "--strip", "right.toml", "--shoe", "A.toml", "--right", "ttyUSB1", "--out", "a1.mcap")
	x.shows("press the right platform on the pad")
	s.presses(device.Right)
	x.shows("still to load: ")
	s.pull(device.Right)
	x.shows("lost ttyUSB1")
	s.plug(device.Right)
	x.shows("let go of the right platform")
	s.stand(0, 0)
	x.shows("right: pad press kept, all edges loaded")
	x.shows("waiting for the first relevé")
	x.types("p")
	x.shows("press the right platform on the pad")
	s.presses(device.Right)
	x.shows("still to load: ")
	s.keepsStill(150) // until what came before is on the disk
	require.NoError(t, x.cmd.Process.Kill())
	x.ends()
	assert.NoFileExists(t, filepath.Join(dir, "a1.mcap"))
	assert.Equal(t, []device.Foot{device.Right}, pressed(t, filepath.Join(dir, "a1.mcap.part")))
	_, err := analyze.File(t.Context(), filepath.Join(dir, "a1.mcap.part"), analyze.Options{})
	require.NoError(t, err)
}

// In line mode on a terminal keys typed with Enter skip the press and ask for it.
func TestPressInLines(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, os.DirFS("testdata/profiles")))
	s := newStage(t, dir, [2]string{"ttyUSB0", "ttyUSB1"})
	x := onTerminal(t, dir, 120, 40, nil, "record", "--plain", "--strip", "left.toml", "--strip", "right.toml", "--shoe", "A.toml",
		"--left", "ttyUSB0", "--right", "ttyUSB1", "--out", "a1.mcap")
	x.shows("press the left platform on the pad, rock it to all sides")
	x.shows("shoe off the foot, your hand in the box, foam on a table")
	x.shows("s and Enter skips the pad press")
	x.types("skip\r")
	x.shows(`"skip": type s to skip a pad press`)
	x.types("s\r")
	x.shows("left and right: pad press skipped; p and Enter asks for it again")
	x.types("p\r")
	x.shows("pad press: leave the strips without load for a second")
	s.stand(250, 280)
	x.shows("left and right: no pad press, because someone stands on the strips")
	s.stand(0, 0)
	x.shows("relevé 1, left: ")
	x.types("\x03")
	assert.Equal(t, exitDone, x.ends(), x.text())
	assert.Empty(t, pressed(t, filepath.Join(dir, "a1.mcap")))
}

// A recording is also shown in the local network: the addresses stay on the terminal
// until Enter; the pages exist, and end with the recording.
func TestSecondScreen(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, os.DirFS("testdata/profiles")))
	s := newStage(t, dir, [2]string{"ttyUSB0", "ttyUSB1"})
	x := onTerminal(t, dir, 80, 30, nil, "record", "--strip", "left.toml", "--strip", "right.toml", "--shoe", "A.toml",
		"--left", "ttyUSB0", "--right", "ttyUSB1", "--dancer", "D7", "--out", "a1.mcap", "--screen", "lan")
	x.shows("Enter begins the recording.")
	assert.Len(t, regexp.MustCompile("[█▀▄]+.*\n").FindAllString(x.text(), -1), 19, x.text())
	assert.NoFileExists(t, filepath.Join(dir, "a1.mcap.part"))
	pages := regexp.MustCompile(`http://[\d.]+:\d+/(fitter|dancer)/[a-z2-7]{26}`).FindAllString(x.text(), -1)
	require.Len(t, pages, 2)
	x.types("\r")
	x.shows("press the left platform on the pad")
	x.types("s")
	x.shows("pad press skipped")
	s.stand(200, 200)
	x.shows("left 50 %")
	answer, err := http.Get(pages[0] + "/news")
	require.NoError(t, err)
	defer answer.Body.Close()
	x.types("q")
	require.Equal(t, exitDone, x.ends(), x.text())
	news, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	assert.Contains(t, string(news), `"load":"Left 50 %, right 50 % of the load on both feet"`)
	assert.Contains(t, string(news), "The recording has ended")
	assert.NotContains(t, string(news), "D7")
}

// Without colours the view is legible, the press can be skipped, and Ctrl-C ends the
// recording as q does.
func TestLiveViewWithoutColours(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, os.DirFS("testdata/profiles")))
	s := newStage(t, dir, [2]string{"ttyUSB0", "ttyUSB1"})
	x := onTerminal(t, dir, 80, 24, []string{"NO_COLOR=1"}, "record", "--strip", "left.toml", "--strip", "right.toml", "--shoe", "A.toml",
		"--left", "ttyUSB0", "--right", "ttyUSB1", "--out", "a1.mcap")
	x.shows("s skip the press")
	x.types("s")
	x.shows("pad press skipped")
	s.stand(200, 200)
	x.shows("X")
	x.shows("▓")
	x.look(func(e *vt.Emulator) {
		for y := range e.Height() {
			for i := range e.Width() {
				c := e.CellAt(i, y)
				assert.True(t, c == nil || c.Style.Fg == nil && c.Style.Bg == nil, "coloured at %d, %d", i, y)
			}
		}
	})
	require.NoError(t, pty.Setsize(x.far, &pty.Winsize{Rows: 20, Cols: 70}))
	x.look(func(e *vt.Emulator) { e.Resize(70, 20) })
	x.shows("make this window 80 × 24 or larger")
	x.types("\x03")
	assert.Equal(t, exitDone, x.ends())
	r, err := recording.Open(t.Context(), filepath.Join(dir, "a1.mcap"))
	require.NoError(t, err)
	require.NoError(t, r.Close())
}

// Closing the terminal window ends the recording as q does.
func TestWindowClosed(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, os.DirFS("testdata/profiles")))
	s := newStage(t, dir, [2]string{"ttyUSB0", "ttyUSB1"})
	x := onTerminal(t, dir, 100, 30, nil, "record", "--strip", "left.toml", "--strip", "right.toml", "--shoe", "A.toml",
		"--left", "ttyUSB0", "--right", "ttyUSB1", "--out", "a1.mcap")
	x.shows("press the left platform on the pad")
	s.isHeard()
	s.stand(300, 0)
	require.NoError(t, x.far.Close())
	require.NotEqual(t, -1, x.ends(), "ended by the signal") // its last output cannot be read
	assert.NoFileExists(t, filepath.Join(dir, "a1.mcap.part"))
	survey, err := recording.Inspect(t.Context(), filepath.Join(dir, "a1.mcap"))
	require.NoError(t, err)
	assert.Empty(t, survey.Missing)
	assert.Positive(t, survey.Feet[device.Left].Frames)
}

// One step of a guided fitting runs with the three keys alone: next accepts the marked
// answer, repeat marks the next one, undo goes back. next also ends the recording and the
// rest before the next step.
func TestFittingByThreeKeys(t *testing.T) {
	t.Parallel()
	const next, repeat, undo = " ", "\t", "\x7f"
	x := onTerminal(t, t.TempDir(), 80, 24, []string{rehearsalPace + "=16"},
		"fitting", "--rehearse", "--shoes", "B", "--releves", "1", "--mountings", "2", "--seed", "1", "--logbook", "book")
	var bells atomic.Int32
	x.look(func(e *vt.Emulator) { e.SetCallbacks(vt.Callbacks{Bell: func() { bells.Add(1) }}) })
	answer := x.answers
	answer("> 0  none", next)
	answer("Hold on to:", next)
	answer("How does the dancer rise?", undo)
	x.shows("> b  barre") // asked again
	x.types(repeat)
	answer("> h  hand of a spotter", next)
	answer("How does the dancer rise?", next)
	answer("Is the floor one that does not slip?", next)
	answer("Is the dancer warmed up?", next)
	answer("Body weight in kg", next)
	answer("Begin?", next)
	answer("> g  go: both strips are fixed", next)

	answer("Tug at each strip; at full point its tail hangs slack.", next)
	x.shows("space next: end this")
	enough := func() bool { return bells.Load() >= 4 } // once for the press, three times for enough
	require.Eventually(t, enough, patience, 10*time.Millisecond)
	answer("space next: end this", next)
	x.shows("Recording 1: left 1 relevé, right 1 relevé")
	answer("What did you see?", next)
	answer("How comfortable is it, for the dancer?", repeat)
	answer("> 4", next)
	answer("Where does it pinch?", next)
	answer("> 0  none", next)
	answer("This recording:", next)
	answer("Step 2 of 2, 1 rise so far,", next)
	answer("space goes on", next)
	x.shows("R1, step 2 of 2, shoe B")
}
