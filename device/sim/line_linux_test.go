package sim

import (
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
)

// A reader that dies with the device locked does not block the next one.
func TestLineIsFreedWithoutAReader(t *testing.T) {
	line := openLine(t, "")
	reader, err := unix.Open(line.Path(), unix.O_RDWR|unix.O_NOCTTY, 0)
	require.NoError(t, err)
	require.NoError(t, unix.IoctlSetInt(reader, unix.TIOCEXCL, 0))
	require.NoError(t, unix.Close(reader))

	exclusive := func() int {
		raw, err := line.near.SyscallConn()
		require.NoError(t, err)
		var on int
		require.NoError(t, raw.Control(func(fd uintptr) { on, err = unix.IoctlGetInt(int(fd), unix.TIOCGEXCL) }))
		require.NoError(t, err)
		return on
	}
	require.Equal(t, 1, exclusive())
	for line.Dropped() == 0 {
		require.NoError(t, line.Send(make([]byte, 1000)))
	}
	require.Zero(t, exclusive())
}
