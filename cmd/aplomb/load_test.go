//go:build linux && !race

package main

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"sort"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/charmbracelet/x/vt"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"aplomb/device"
	"aplomb/device/recording"
	"aplomb/device/sim"
	"aplomb/device/wire"
)

// Two strips of 16 × 16 cells at 1000 frames a second each are recorded on one core with
// the live view on a terminal. No frame may be lost. The processor's load, and the delay
// between a frame's last byte on the line and its count on the screen, are logged with -v
// and not tested, because they also depend on other programs of the machine.
func TestLoad(t *testing.T) {
	length, room := 3*time.Second, 10*time.Second // the tests beside this one may keep the machine busy
	if os.Getenv("APLOMB_LONG") != "" {
		length, room = 10*time.Minute, roomOnALine
	}
	load(t, length, room, 0)
}

// The test is TestLoad with 50 pages of the second screen open on the same core, one of
// which reads nothing.
func TestLoadOfPages(t *testing.T) {
	if os.Getenv("APLOMB_LONG") == "" {
		t.Skip("takes a minute: APLOMB_LONG=1")
	}
	load(t, time.Minute, 10*time.Second, 50)
}

// load records for a while over lines that hold back frames for some time, with a number
// of pages open.
func load(t *testing.T, length, room time.Duration, pages int) {
	b := newBigStrips(t)
	for _, l := range b.lines {
		l.Timeout = room
	}
	args := []string{
		"record", "--strip", "big-left.toml", "--strip", "big-right.toml",
		"--shoe", "A.toml", "--left", "ttyleft", "--right", "ttyright", "--no-press", "--out", "out.mcap",
	}
	if pages > 0 {
		args = append(args, "--screen")
	}
	var x *terminal
	require.NoError(t, onOneCore(func() { x = onTerminal(t, b.dir, 120, 40, []string{"GOMAXPROCS=1"}, args...) }))
	if pages > 0 {
		openPages(t, x, pages)
		x.types("\r")
	}
	x.shows("waiting for its first frame")
	var late lateness
	x.look(func(*vt.Emulator) { x.drawn = late.look })
	began := time.Now()
	sent := b.dance(length, &late)
	took := time.Since(began)
	time.Sleep(time.Second) // the last frames; no longer, or the lines would count as silent
	x.types("q")
	require.Equal(t, exitDone, x.ends(), x.text())

	whole := x.cmd.ProcessState
	used := whole.UserTime() + whole.SystemTime()
	t.Logf("%d + %d frames of 256 cells in %.0f s on one core: %.1f %% of it used, %d MB of memory at most",
		sent[0], sent[1], took.Seconds(), 100*used.Seconds()/took.Seconds(), whole.SysUsage().(*syscall.Rusage).Maxrss>>10)
	t.Log(late.String())
	t.Log(strings.TrimSpace(x.text()[strings.Index(x.text(), "out.mcap"):]))
	b.whole(filepath.Join(b.dir, "out.mcap"), sent)
}

// openPages opens a number of pages of a second screen whose addresses are on a terminal.
func openPages(t *testing.T, x *terminal, pages int) {
	x.shows("Enter begins the recording.")
	address := regexp.MustCompile(`http://[\d.]+:\d+/fitter`).FindString(x.text()) + "/news"
	for page := range pages {
		answer, err := http.Get(address)
		require.NoError(t, err)
		t.Cleanup(func() { answer.Body.Close() })
		if page > 0 { // the first takes nothing
			go io.Copy(io.Discard, answer.Body)
		}
	}
}

// lateness is how long frames take from the line to the screen.
type lateness struct {
	mu    sync.Mutex
	sent  [2][]time.Time // when each frame's last byte was on the line
	shown [2]int
	ms    []float64
}

func (l *lateness) add(f device.Foot) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.sent[f] = append(l.sent[f], time.Now())
}

var counted = regexp.MustCompile(`(left|right) (\d+) frames, (\d+) lost`)

// look reads the screen's first line, which counts the frames.
func (l *lateness) look(e *vt.Emulator) {
	var line strings.Builder
	writeLine(&line, e, 0)
	now := time.Now()
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, m := range counted.FindAllStringSubmatch(line.String(), 2) {
		f, _ := device.ParseFoot(m[1])
		frames, _ := strconv.Atoi(m[2])
		lost, _ := strconv.Atoi(m[3])
		for ; l.shown[f] < frames+lost && l.shown[f] < len(l.sent[f]); l.shown[f]++ {
			l.ms = append(l.ms, now.Sub(l.sent[f][l.shown[f]]).Seconds()*1000)
		}
	}
}

func (l *lateness) String() string {
	slices.Sort(l.ms)
	of := func(percent int) float64 { return l.ms[(len(l.ms)-1)*percent/100] }
	within := 100 * float64(sort.SearchFloat64s(l.ms, 50)) / float64(len(l.ms))
	return fmt.Sprintf("from the line to the screen: half within %.0f ms, 99 %% within %.0f, all within %.0f; %.2f %% within 50", of(50), of(99), of(100), within)
}

// bigStrips is a pair of them on lines that they send down.
type bigStrips struct {
	testing.TB
	dir    string
	strips [2]*device.Strip
	lines  [2]*sim.Line
	frames [2][][]uint16 // counts of each
}

const bigRate = 1000 // frames a second

// roomOnALine is how long a serial port holds frames for a program that does not
// read: 64 KiB in older versions of Linux, which is 120 frames; newer ones hold
// 640 KiB (TTYB_DEFAULT_MEM_LIMIT in drivers/tty/tty_buffer.c).
const roomOnALine = 120 * time.Millisecond

func newBigStrips(t testing.TB) *bigStrips {
	b := &bigStrips{TB: t, dir: t.TempDir()}
	require.NoError(t, os.CopyFS(b.dir, os.DirFS("testdata/profiles")))
	shoe, err := device.ReadShoe(context.Background(), filepath.Join(b.dir, "A.toml"))
	require.NoError(t, err)
	setup := sim.Setup{Seed: 1, RateHz: bigRate, Mounting: "1", Dancer: sim.DefaultDancer(), Faults: sim.DefaultFaults()}
	setup.Dancer.Rises = 2
	for _, f := range device.Feet {
		b.strips[f] = &device.Strip{Name: [2]string{"L-16", "R-16"}[f], Foot: f, Rows: 16, Cols: 16,
			PitchMM: [2]float64{2.5, 2.5}, CellMM: [2]float64{2.5, 2.5}, ADCBits: 12, SaturatesAt: 4095,
			FirstCell: "back-lateral", Scan: "rows", Calibration: device.Calibration{KPaPerCount: 0.75, GainSD: 0.03},
			Mount: device.Mount{SeatSDMM: 1}}
		require.NoError(t, os.WriteFile(filepath.Join(b.dir, "big-"+f.String()+".toml"), []byte(device.TOML(b.strips[f])), 0o644))
		b.lines[f], err = sim.OpenLine(filepath.Join(b.dir, "tty"+f.String()))
		require.NoError(t, err)
		t.Cleanup(func() { b.lines[f].Close() })
		setup.Feet[f] = &sim.Foot{Strip: b.strips[f], Shoe: shoe, Stand: sim.Stand{CoPMM: [2]float64{0, -1}}}
	}
	s, err := sim.NewSession(setup)
	require.NoError(t, err)
	for {
		var f device.Frame
		if err := s.Next(&f); err != nil {
			require.ErrorIs(t, err, io.EOF)
			return b
		}
		b.frames[f.Foot] = append(b.frames[f.Foot], f.Counts)
	}
}

// dance sends for the given time, and returns the number of frames that each strip sent.
func (b *bigStrips) dance(length time.Duration, late *lateness) (sent [2]int) {
	ctx, stop := context.WithTimeout(b.Context(), length)
	defer stop()
	var feet sync.WaitGroup
	for _, f := range device.Feet {
		feet.Go(func() { sent[f] = b.send(ctx, f, late) })
	}
	feet.Wait()
	for _, l := range b.lines {
		assert.Zero(b, l.Dropped(), "frames that the program was not there to read")
	}
	return sent
}

// send sends the frames of one foot repeatedly until ctx is done.
func (b *bigStrips) send(ctx context.Context, f device.Foot, late *lateness) (n int) {
	var packet []byte
	began := time.Now()
	for ; ctx.Err() == nil; n++ {
		time.Sleep(time.Until(began.Add(time.Duration(n) * time.Second / bigRate)))
		packet = packet[:0]
		if n%(bigRate/2) == 0 {
			packet = wire.AppendHello(packet, wire.HelloOf(b.strips[f], bigRate))
		}
		packet = wire.AppendFrame(packet, f, uint16(n), uint32(n*1_000_000/bigRate), b.frames[f][n%len(b.frames[f])])
		late.add(f) // before there may have to be room for it
		if err := b.lines[f].Send(packet); err != nil {
			b.Error(err)
			return n
		}
	}
	return n
}

// onOneCore calls a function that starts a program, which then runs on one core.
func onOneCore(start func()) error {
	runtime.LockOSThread() // a program gets its cores from the thread that starts it
	defer runtime.UnlockOSThread()
	var all, one unix.CPUSet
	if err := unix.SchedGetaffinity(0, &all); err != nil {
		return err
	}
	for cpu := range 1024 {
		if all.IsSet(cpu) {
			one.Set(cpu)
			break
		}
	}
	if err := unix.SchedSetaffinity(0, &one); err != nil {
		return err
	}
	start()
	return unix.SchedSetaffinity(0, &all)
}

// whole checks that a recording has every sent frame unchanged.
func (b *bigStrips) whole(path string, sent [2]int) {
	r, err := recording.Open(context.Background(), path)
	require.NoError(b, err)
	defer r.Close()
	var seen [2]int
	for {
		var f device.Frame
		if err := r.Next(&f); err != nil {
			require.ErrorIs(b, err, io.EOF)
			break
		}
		n := seen[f.Foot]
		require.EqualValues(b, n, f.Seq)
		require.Equal(b, b.frames[f.Foot][n%len(b.frames[f.Foot])], f.Counts)
		seen[f.Foot]++
	}
	require.Equal(b, sent, seen)
}
