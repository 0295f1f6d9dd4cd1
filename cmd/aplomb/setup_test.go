//go:build unix && !race

package main

import (
	"bytes"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"aplomb/device/firmware/emulator"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// late is what a busy machine adds, which delays the emulated board.
var late = regexp.MustCompile(`(?m)^(warning: port \S+: no hello within .*|left: no signal.*|left: signal is back.*)\n`)

// unheard is what commands say that have listened to the port for too short a time.
var unheard = regexp.MustCompile(`frames without a name|does not announce itself|no data`)

// pausedMade is what record says where a busy machine made the emulated board pause, which
// loses no frame.
var pausedMade = regexp.MustCompile(`checked: not whole, but what is there can be trusted \(aplomb check try\.mcap\s+says\s+more\)`)

// The page about setting up a board is tested on an emulated board with the firmware that
// it names: every command of its blocks is typed and prints the page's text.
func TestSetupPageOnAnEmulatedBoard(t *testing.T) {
	t.Parallel()
	for _, tool := range []string{"make", "avr-gcc", "qemu-system-avr"} {
		if _, err := exec.LookPath(tool); err != nil {
			t.Skipf("%s is missing: install make, gcc-avr, avr-libc and qemu-system-misc", tool)
		}
	}
	page := read(t, "guide/setup.md")
	flash := regexp.MustCompile(`(?m)^\$ make flash PORT=/dev/ttyUSB0 (.*)$`).FindStringSubmatch(page)
	require.NotNil(t, flash, "how the firmware is built")
	dir := t.TempDir()
	port := emulatedBoard(t, dir, strings.Fields(flash[1])...)

	// A name as long as the one on the page, so that columns stand as they do there.
	const named, there = "/dev/ttyUSB0", "dev0/ttyUSB0"
	require.NoError(t, os.Mkdir(filepath.Join(dir, "dev0"), 0o700))
	require.NoError(t, os.Symlink(port, filepath.Join(dir, there)))
	blocks := regexp.MustCompile("(?s)<!-- board -->\n```console\n(.*?)```\n").FindAllStringSubmatch(page, -1)
	require.Len(t, blocks, 4)
	commands := 0
	for _, block := range blocks {
		for _, one := range strings.Split(block[1], "$ ")[1:] {
			command, want, _ := strings.Cut(one, "\n")
			var out []byte
			var err error
			for range 20 { // until the hello of a board that a busy machine delays is heard
				sh := exec.CommandContext(t.Context(), "sh", "-c", strings.ReplaceAll(command, named, there))
				sh.Dir = dir
				sh.Env = append(os.Environ(), testPorts+"="+there, "APLOMB_LOGBOOK="+filepath.Join(dir, "book"), "TZ=UTC")
				if out, err = sh.CombinedOutput(); !unheard.Match(out) {
					break
				}
			}
			if strings.HasPrefix(command, "aplomb check ") { // a busy machine makes the emulated board pause; it may lose no frame
				var exit *exec.ExitError
				if errors.As(err, &exit) && exit.ExitCode() == exitNo {
					err = nil
				}
				out = bytes.Replace(out, []byte("not whole, but what is there can be trusted"), []byte("whole"), 1)
			}
			out = pausedMade.ReplaceAll(out, []byte("checked: whole"))
			got := strings.ReplaceAll(late.ReplaceAllString(string(out), ""), there, named)
			require.NoError(t, err, "%s\n%s", command, got)
			assert.True(t, alike(want, got), "%s\n%s", command, got)
			commands++
		}
	}
	assert.Equal(t, 8, commands)
}

// emulatedBoard builds the firmware with settings, starts it on an emulated board, and
// returns the board's port.
func emulatedBoard(t *testing.T, dir string, settings ...string) (port string) {
	out, err := exec.CommandContext(t.Context(), "make", append(settings, "-C", "../../device/firmware", "BUILD="+filepath.Join(dir, "firmware"))...).CombinedOutput()
	require.NoError(t, err, "%s", out)
	board := emulator.Boot(t, filepath.Join(dir, "firmware", "strip.elf"))
	board.Start()
	return board.Port
}
