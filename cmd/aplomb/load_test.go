//go:build linux && !race

package main

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"aplomb/device"
	"aplomb/device/recording"
	"aplomb/device/sim"
	"aplomb/device/wire"
)

// Two strips of 16 × 16 cells at 1000 frames a second each, recorded on one
// core. That no frame is lost is asked in any case; the load on the processor
// is for the reader of -v, since whatever else runs on the machine decides it too.
func TestLoad(t *testing.T) {
	length, room := 3*time.Second, 10*time.Second // the tests beside this one may keep the machine busy
	if os.Getenv("APLOMB_LONG") != "" {
		length, room = 10*time.Minute, roomOnALine
	}
	b := newBigStrips(t)
	for _, l := range b.lines {
		l.Patience = room
	}
	out := filepath.Join(b.dir, "out.mcap")
	cmd := exec.Command("aplomb", b.record(out)...)
	said, err := cmd.StderrPipe()
	require.NoError(t, err)
	var printed bytes.Buffer
	cmd.Stdout = &printed
	sent := b.danceTo(cmd, length, func() {
		line, err := bufio.NewReader(said).ReadString('\n')
		require.NoError(t, err)
		require.Contains(t, line, "listening")
	})
	t.Logf("%s", printed.Bytes())

	used := cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()
	t.Logf("%d + %d frames of 256 cells in %s on one core: %.1f %% of it used, %d MB of memory at most",
		sent[0], sent[1], length, 100*used.Seconds()/length.Seconds(), cmd.ProcessState.SysUsage().(*syscall.Rusage).Maxrss>>10)
	b.whole(out, sent)
}

// bigStrips is a pair of them on lines that they send down.
type bigStrips struct {
	testing.TB
	dir    string
	strips [2]*device.Strip
	lines  [2]*sim.Line
	dance  [2][][]uint16 // counts, a frame each
}

const bigRate = 1000 // frames a second

// roomOnALine is what a serial port holds for a program that does not come to
// read: 64 KiB on Linux (TTYB_DEFAULT_MEM_LIMIT in drivers/tty/tty_buffer.c, from memory),
// 120 frames.
const roomOnALine = 120 * time.Millisecond

func newBigStrips(t testing.TB) *bigStrips {
	b := &bigStrips{TB: t, dir: t.TempDir()}
	require.NoError(t, os.CopyFS(b.dir, os.DirFS("testdata/profiles")))
	shoe, err := device.ReadShoe(filepath.Join(b.dir, "A.toml"))
	require.NoError(t, err)
	setup := sim.Setup{Seed: 1, RateHz: bigRate, Mounting: "1", Dancer: sim.DefaultDancer(), Faults: sim.DefaultFaults()}
	setup.Dancer.Rises = 2
	for _, f := range device.Feet {
		b.strips[f] = &device.Strip{Name: [2]string{"L-16", "R-16"}[f], Foot: f, Rows: 16, Cols: 16,
			PitchMM: [2]float64{2.5, 2.5}, CellMM: [2]float64{2.5, 2.5}, ADCBits: 12, SaturatesAt: 4095,
			FirstCell: "back-lateral", Scan: "rows", Calibration: device.Calibration{KPaPerCount: 0.75, GainSD: 0.03},
			Mount: device.Mount{SeatSDMM: 1}}
		require.NoError(t, os.WriteFile(filepath.Join(b.dir, "big-"+f.String()+".toml"), []byte(device.TOML(b.strips[f])), 0o644))
		b.lines[f], err = sim.OpenLine(filepath.Join(b.dir, f.String()))
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
		b.dance[f.Foot] = append(b.dance[f.Foot], f.Counts)
	}
}

// record is what to type.
func (b *bigStrips) record(out string) []string {
	in := func(name string) string { return filepath.Join(b.dir, name) }
	return []string{"record", "--strip", in("big-left.toml"), "--strip", in("big-right.toml"), "--shoe", in("A.toml"),
		"--left", b.lines[0].Path(), "--right", b.lines[1].Path(), "--out", out}
}

// danceTo starts cmd on one core, sends to it for that long once it is ready,
// and ends it. It returns how many frames each strip sent.
func (b *bigStrips) danceTo(cmd *exec.Cmd, length time.Duration, ready func()) (sent [2]int) {
	cmd.Env = append(os.Environ(), "GOMAXPROCS=1")
	require.NoError(b, startOnOneCore(cmd))
	ready()
	ctx, stop := context.WithTimeout(b.Context(), length)
	defer stop()
	var feet sync.WaitGroup
	for _, f := range device.Feet {
		feet.Go(func() { sent[f] = b.send(ctx, f, nil) })
	}
	feet.Wait()
	for _, l := range b.lines {
		assert.Zero(b, l.Dropped(), "frames that the program was not there to read")
	}
	time.Sleep(200 * time.Millisecond)
	require.NoError(b, cmd.Process.Signal(os.Interrupt))
	require.NoError(b, cmd.Wait())
	return sent
}

// send sends the dance of one foot, over and over, until ctx is done. tell,
// where it is not nil, is told of every frame whose last byte is on the line.
func (b *bigStrips) send(ctx context.Context, f device.Foot, tell func(n int)) (n int) {
	var packet []byte
	began := time.Now()
	for ; ctx.Err() == nil; n++ {
		time.Sleep(time.Until(began.Add(time.Duration(n) * time.Second / bigRate)))
		packet = packet[:0]
		if n%bigRate == 0 {
			packet = wire.AppendHello(packet, wire.HelloOf(b.strips[f], bigRate))
		}
		packet = wire.AppendFrame(packet, f, uint16(n), uint32(n*1_000_000/bigRate), b.dance[f][n%len(b.dance[f])])
		if err := b.lines[f].Send(packet); err != nil {
			b.Error(err)
			return n
		}
		if tell != nil {
			tell(n)
		}
	}
	return n
}

// startOnOneCore starts cmd where all of it runs on the one core that the
// calling thread ran on.
func startOnOneCore(cmd *exec.Cmd) error {
	runtime.LockOSThread() // cmd gets its cores from the thread that starts it
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
	return errors.Join(cmd.Start(), unix.SchedSetaffinity(0, &all))
}

// whole checks that a recording has every frame that was sent, as it was sent.
func (b *bigStrips) whole(path string, sent [2]int) {
	r, err := recording.Open(path)
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
		require.Equal(b, b.dance[f.Foot][n%len(b.dance[f.Foot])], f.Counts)
		seen[f.Foot]++
	}
	require.Equal(b, sent, seen)
	assert.Empty(b, r.Events())
}
