//go:build unix

package ports_test

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/cmd/internal/ports"
	"aplomb/device"
	"aplomb/device/link"
	"aplomb/device/owneronly"
	"aplomb/device/sim"
	"aplomb/device/wire"
)

func profile(f device.Foot) *device.Strip {
	return &device.Strip{Name: [2]string{"L-01", "R-01"}[f], Foot: f, Rows: 1, Cols: 3, ADCBits: 12}
}

// line returns a port that delivers the result of say every 20 ms.
func line(t *testing.T, say ...byte) link.PortInfo {
	l, err := sim.OpenLine("")
	require.NoError(t, err)
	stop, stopped := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(stopped)
		for {
			select {
			case <-stop:
				return
			case <-time.After(20 * time.Millisecond):
				l.Send(say)
			}
		}
	}()
	t.Cleanup(func() {
		close(stop)
		<-stopped
		l.Close()
	})
	return link.PortInfo{Name: l.Path()}
}

func hello(f device.Foot) []byte { return wire.AppendHello(nil, wire.HelloOf(profile(f), 200)) }

func listed(all ...link.PortInfo) func() ([]link.PortInfo, error) {
	return func() ([]link.PortInfo, error) { return all, nil }
}

// Strips are found on ports in any order, and remembered; one that does not announce
// itself is then found again, on a port that the system does not list.
func TestFind(t *testing.T) {
	t.Parallel()
	right, left, silent := line(t, hello(device.Right)...), line(t, hello(device.Left)...), line(t)
	var lines []string
	strips := [2]*device.Strip{profile(device.Left), profile(device.Right)}
	found, err := ports.Find(t.Context(), ports.Search{
		Strips: strips[:], Baud: 115200, List: listed(right, silent, left, left), Progress: func(line string) { lines = append(lines, line) },
	})
	require.NoError(t, err)
	assert.Equal(t, [2]string{left.Name, right.Name}, found.Ports)
	assert.Equal(t, strips, found.Strips)
	assert.Equal(t, 115200, found.Baud)
	assert.Empty(t, found.Notes)
	assert.Contains(t, lines[len(lines)-1], "listening to 3 serial ports, R-01 on "+right.Name+", L-01 on "+left.Name)

	dir := t.TempDir()
	require.NoError(t, ports.Keep(dir, found.Places))
	text := line(t, []byte("1,2,3\n")...)
	require.NoError(t, ports.Keep(dir, []ports.Place{{Strip: "L-01", Port: text.Name, Baud: 57600}}))
	last, err := ports.Read(dir)
	require.NoError(t, err)
	assert.Equal(t, []ports.Place{{Strip: "L-01", Port: text.Name, Baud: 57600}, {Strip: "R-01", Port: right.Name, Baud: 115200}}, last)
	found, err = ports.Find(t.Context(), ports.Search{Strips: []*device.Strip{profile(device.Left), nil}, Last: last, List: listed()})
	require.NoError(t, err)
	assert.Equal(t, [2]string{text.Name, ""}, found.Ports)
	assert.Equal(t, 57600, found.Baud, "the speed is remembered, too")
	assert.Len(t, found.Notes, 1)
}

func TestFindNothing(t *testing.T) {
	t.Parallel()
	strips := []*device.Strip{profile(device.Left)}
	_, err := ports.Find(t.Context(), ports.Search{Strips: strips, List: listed()})
	assert.ErrorIs(t, err, ports.ErrNone)
	assert.ErrorContains(t, err, "this machine has no serial port: plug the strips in")
	broken := errors.New("no list")
	_, err = ports.Find(t.Context(), ports.Search{Strips: strips, List: func() ([]link.PortInfo, error) { return nil, broken }})
	assert.ErrorIs(t, err, broken)
	_, err = ports.Find(t.Context(), ports.Search{Strips: strips, List: listed(line(t)), For: 50 * time.Millisecond})
	assert.ErrorIs(t, err, link.ErrSilent)
}

// The memory file is readable by its owner only and written only on changes; a damaged
// file is an error on reading and is replaced.
func TestMemory(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	path := filepath.Join(dir, "ports.toml")
	last, err := ports.Read(dir)
	require.NoError(t, err)
	assert.Empty(t, last)
	there := []ports.Place{{Strip: "L-01", Port: "COM3", Baud: 921600, Adapter: "1a86:7523 X"}}
	require.NoError(t, ports.Keep(dir, there))
	info, err := os.Stat(path)
	require.NoError(t, err)
	assert.Equal(t, owneronly.File, info.Mode().Perm())
	require.NoError(t, ports.Keep(dir, there))
	again, err := os.Stat(path)
	require.NoError(t, err)
	assert.True(t, os.SameFile(info, again), "nothing changed")

	require.NoError(t, ports.Keep(dir, []ports.Place{{Strip: "L-02", Port: "COM4", Adapter: "1a86:7523 X"}}))
	last, err = ports.Read(dir)
	require.NoError(t, err)
	assert.Equal(t, []ports.Place{{Strip: "L-02", Port: "COM4", Adapter: "1a86:7523 X"}}, last, "one adapter has one strip")

	require.NoError(t, os.WriteFile(path, []byte("?"), 0o600))
	_, err = ports.Read(dir)
	assert.ErrorContains(t, err, "cannot be read: remove it")
	require.NoError(t, ports.Keep(dir, there))
	last, err = ports.Read(dir)
	require.NoError(t, err)
	assert.Equal(t, there, last)
	assert.ErrorIs(t, ports.Keep(filepath.Join(dir, "nowhere"), there), fs.ErrNotExist)
}
