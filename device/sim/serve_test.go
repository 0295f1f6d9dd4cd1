//go:build unix

package sim

import (
	"context"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"aplomb/device"
	"aplomb/device/wire"
)

func openLine(t *testing.T, link string) *Line {
	l, err := OpenLine(link)
	require.NoError(t, err)
	t.Cleanup(func() { l.Close() })
	return l
}

// listen calls take with every message on a line until the line ends or take returns false.
func listen(t *testing.T, path string, strips [2]*device.Strip, take func(*wire.Message) bool) {
	port, err := os.OpenFile(path, os.O_RDONLY, 0)
	require.NoError(t, err)
	defer port.Close()
	d := wire.NewDecoder(strips[0], strips[1])
	buf := make([]byte, 4096)
	var m wire.Message
	for {
		n, err := port.Read(buf)
		d.Feed(buf[:n])
		for d.Next(&m) {
			if !take(&m) {
				return
			}
		}
		if err != nil {
			return
		}
	}
}

func strips(s Setup) (out [2]*device.Strip) {
	for k, f := range s.Feet {
		if f != nil {
			out[k] = f.Strip
		}
	}
	return out
}

// In lock step a reader of the line gets the same frames at the same times of the clock as a
// reader of the session.
func TestLockStepLosesNothing(t *testing.T) {
	setup := testSetup()
	setup.Dancer.Rises, setup.Dancer.Aborted = 1, nil
	var want []device.Frame
	drain(t, newTestSession(t, setup), func(f *device.Frame) {
		g := *f
		g.Counts = append([]uint16(nil), f.Counts...)
		want = append(want, g)
	})

	line := openLine(t, "")
	var clock Clock
	step := NewLockStep(&clock)
	served := make(chan error, 1)
	go func() {
		served <- Serve(t.Context(), newTestSession(t, setup), [2]*Line{line, line}, step.Pace)
	}()
	i, hellos := 0, map[string]int{}
	listen(t, line.Path(), strips(setup), func(m *wire.Message) bool {
		if m.Hello != nil {
			hellos[m.Hello.Strip]++
			return true
		}
		w := want[i]
		require.Equal(t, w.ArrivalNS, clock.Now().UnixNano())
		require.Equal(t, w.Foot, m.Foot)
		require.Equal(t, uint16(w.Seq), m.Seq)
		require.Equal(t, uint64(uint32(w.TimeUS)), m.TimeUS)
		require.Equal(t, w.Counts, m.Counts)
		i++
		step.Taken()
		return i < len(want)
	})
	require.NoError(t, <-served)
	require.Zero(t, line.Dropped())
	seconds := float64(want[len(want)-1].ArrivalNS-want[0].ArrivalNS) / 1e9
	require.GreaterOrEqual(t, hellos["T-left"], int(seconds))
	require.GreaterOrEqual(t, hellos["T-right"], int(seconds))
}

// In real time frames come at their times, the line may be closed and opened again by its
// reader, and the end of the context ends Serve.
func TestRealTime(t *testing.T) {
	setup := testSetup()
	link := filepath.Join(t.TempDir(), "strip")
	line := openLine(t, link)
	ctx, cancel := context.WithCancel(t.Context())
	served := make(chan error, 1)
	go func() {
		served <- Serve(ctx, newTestSession(t, setup), [2]*Line{line, line}, RealTime())
	}()
	for range 2 {
		var first, last uint64
		began := time.Now()
		listen(t, link, strips(setup), func(m *wire.Message) bool {
			if m.Hello != nil || m.Foot == device.Right {
				return true
			}
			if first == 0 {
				first = m.TimeUS
			}
			last = m.TimeUS
			return last-first < 200_000
		})
		require.GreaterOrEqual(t, last-first, uint64(200_000))
		require.Greater(t, time.Since(began), 150*time.Millisecond, "no faster than life")
	}
	cancel()
	select {
	case err := <-served:
		require.ErrorIs(t, err, context.Canceled)
	case <-time.After(5 * time.Second):
		t.Fatal("Serve goes on after its context has ended")
	}
}

// Without a reader sending continues, and a later reader gets the frames sent from then
// on.
func TestNobodyReads(t *testing.T) {
	setup := testSetup()
	setup.Dancer.Rises = 1
	line := openLine(t, "")
	flat := func(context.Context, time.Time) error { return nil } // without delay
	s := newTestSession(t, setup)
	require.NoError(t, Serve(t.Context(), s, [2]*Line{line, line}, flat))
	require.Positive(t, line.Dropped())

	// The line still holds the last packets. Bytes that the system had not passed on
	// when the line was emptied may come before them, and may fill it once more. So
	// packets are sent until one finds room.
	left := s.feet[device.Left]
	end := int(left.seq) - 1
	for dropped := -1; dropped != line.Dropped(); {
		end++
		dropped = line.Dropped()
		require.NoError(t, line.Send(wire.AppendFrame(nil, device.Left, uint16(end), uint32(end*5000), make([]uint16, left.strip.Cells()))))
	}
	frames, last := 0, -1
	listen(t, line.Path(), strips(setup), func(m *wire.Message) bool {
		if m.Hello != nil || m.Foot != device.Left {
			return true
		}
		require.Greater(t, int(m.Seq), last)
		frames, last = frames+1, int(m.Seq)
		return last < end
	})
	require.Equal(t, end, last)
	require.Less(t, frames, 1000)
}

// All bytes pass unchanged, also those that are special to a terminal.
func TestLineIsRaw(t *testing.T) {
	line := openLine(t, "")
	port, err := os.Open(line.Path())
	require.NoError(t, err)
	defer port.Close()
	all := make([]byte, 256)
	for i := range all {
		all[i] = byte(i)
	}
	require.NoError(t, line.Send(all))
	got := make([]byte, 256)
	_, err = io.ReadFull(port, got)
	require.NoError(t, err)
	require.Equal(t, all, got)

	require.NoError(t, line.Close())
	require.ErrorContains(t, line.Send(all), line.near.Name())
}

func TestLink(t *testing.T) {
	dir := t.TempDir()
	link := filepath.Join(dir, "strip")
	line := openLine(t, link)
	to, err := os.Readlink(link)
	require.NoError(t, err)
	require.Equal(t, line.near.Name(), to)
	require.Equal(t, link, line.Path())

	_, err = OpenLine(link)
	require.ErrorContains(t, err, "is a link in use")
	require.NoError(t, line.Close())
	_, err = os.Lstat(link)
	require.ErrorIs(t, err, os.ErrNotExist)

	file := filepath.Join(dir, "notes")
	require.NoError(t, os.WriteFile(file, []byte("mine"), 0o600))
	_, err = OpenLine(file)
	require.ErrorContains(t, err, "exists and is not a link")
	kept, err := os.ReadFile(file)
	require.NoError(t, err)
	require.Equal(t, "mine", string(kept))

	require.NoError(t, os.Symlink(filepath.Join(dir, "gone"), link))
	again := openLine(t, link)
	require.NoError(t, os.Remove(link))
	require.NoError(t, os.WriteFile(link, nil, 0o600))
	require.NoError(t, again.Close())
	_, err = os.Lstat(link)
	require.NoError(t, err, "a link that is no longer ours stays")

	_, err = OpenLine(filepath.Join(dir, "nowhere", "strip"))
	require.ErrorIs(t, err, os.ErrNotExist)
}

func TestEveryStripNeedsALine(t *testing.T) {
	setup := testSetup()
	line := openLine(t, "")
	err := Serve(t.Context(), newTestSession(t, setup), [2]*Line{line, nil}, RealTime())
	require.ErrorContains(t, err, "right foot has no line")
}
