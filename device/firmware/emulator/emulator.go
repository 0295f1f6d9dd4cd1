// Package emulator runs the firmware on an emulated board, for tests.
package emulator

import (
	"bufio"
	"fmt"
	"io"
	"os/exec"
	"regexp"
	"testing"

	"github.com/stretchr/testify/require"
)

// Board is an emulated ATmega328P board. It does not run until it is started.
type Board struct {
	Port  string // the pseudo-terminal of its serial line
	Start func()
}

var portLine = regexp.MustCompile(`redirected to (/dev/\S+)`)

// Boot loads the firmware of the file elf on a board, which ends with the test.
func Boot(t testing.TB, elf string) Board {
	t.Helper()
	qemu := exec.Command("qemu-system-avr", "-machine", "uno", "-bios", elf,
		"-S", "-serial", "pty", "-monitor", "stdio", "-display", "none")
	monitor, err := qemu.StdinPipe()
	require.NoError(t, err)
	said, in := io.Pipe()
	qemu.Stdout, qemu.Stderr = in, in
	require.NoError(t, qemu.Start())
	ended := make(chan struct{})
	go func() {
		qemu.Wait()
		in.Close()
		close(ended)
	}()
	t.Cleanup(func() {
		qemu.Process.Kill()
		<-ended
	})
	port, before := "", ""
	lines := bufio.NewScanner(said)
	for port == "" && lines.Scan() {
		before += lines.Text() + "\n"
		if m := portLine.FindStringSubmatch(lines.Text()); m != nil {
			port = m[1]
		}
	}
	require.NotEmpty(t, port, "the emulator names no port: %s", before)
	go io.Copy(io.Discard, said)
	return Board{port, func() {
		_, err := fmt.Fprintln(monitor, "cont")
		require.NoError(t, err)
	}}
}
