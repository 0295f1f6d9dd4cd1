//go:build unix

package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device"
	"aplomb/device/recording"
	"aplomb/device/sim"
	"aplomb/device/wire"
)

// process is aplomb as a process of its own, in a folder with the profiles of the
// scripts.
type process struct {
	*exec.Cmd
	t      *testing.T
	dir    string
	stdout bytes.Buffer
	stderr bytes.Buffer
}

func newProcess(t *testing.T) *process {
	p := &process{t: t, dir: t.TempDir()}
	require.NoError(t, os.CopyFS(p.dir, os.DirFS("testdata/profiles")))
	return p
}

func (p *process) at(name string) string { return filepath.Join(p.dir, name) }

func (p *process) start(args ...string) {
	p.Cmd = exec.Command("aplomb", args...)
	p.Dir, p.Stdout, p.Stderr = p.dir, &p.stdout, &p.stderr
	p.Env = append(os.Environ(), "APLOMB_LOGBOOK="+p.at("book"))
	require.NoError(p.t, p.Start())
	p.t.Cleanup(func() { p.Process.Kill() })
}

// interrupt sends the signal of Ctrl-C.
func (p *process) interrupt() { require.NoError(p.t, p.Process.Signal(os.Interrupt)) }

// end waits for the process and returns its exit status, -1 if a signal ended it.
func (p *process) end() int {
	began := time.Now()
	p.Wait()
	p.t.Logf("ended after %v", time.Since(began).Round(time.Millisecond))
	return p.ProcessState.ExitCode()
}

// pipe makes a named pipe and returns a function that opens it for writing, which
// waits until the process has opened it for reading.
func (p *process) pipe(name string) (open func() *os.File) {
	require.NoError(p.t, syscall.Mkfifo(p.at(name), 0o600))
	return func() *os.File {
		w, err := os.OpenFile(p.at(name), os.O_WRONLY, 0)
		require.NoError(p.t, err)
		p.t.Cleanup(func() { w.Close() })
		return w
	}
}

// manyRows is a CSV file of more than a megabyte. A pipe and the buffers behind it hold
// less than half of that: when all of it has been written, frames have been read.
func manyRows() string {
	var b strings.Builder
	b.WriteString("t_us")
	for k := range 40 {
		fmt.Fprintf(&b, ",c%d", k)
	}
	b.WriteString("\n")
	for i := range 15_000 {
		fmt.Fprintf(&b, "%d%s\n", 5000*i, strings.Repeat(",7", 40))
	}
	return b.String()
}

// framesIn reads a recording to its end.
func framesIn(t *testing.T, path string) (frames int, whole bool) {
	r, err := recording.Open(t.Context(), path)
	require.NoError(t, err)
	defer r.Close()
	var f device.Frame
	for {
		err := r.Next(&f)
		if errors.Is(err, io.EOF) {
			return frames, r.Whole()
		}
		require.NoError(t, err)
		frames++
	}
}

func TestASignalEndsWhatWaitsForAPipe(t *testing.T) {
	t.Parallel()
	p := newProcess(t)
	open := p.pipe("pipe")
	p.start("import", "--strip", "left.toml", "--shoe", "A.toml", "--out", "a.mcap", "pipe")
	open() // and nothing is written
	p.interrupt()
	assert.Equal(t, exitNo, p.end())
	assert.Equal(t, "aplomb: stopped before it was done\n", p.stderr.String())
	assert.NoFileExists(t, p.at("a.mcap"))
	assert.NoFileExists(t, p.at("a.mcap.part"))
}

func TestAPipeIsNoProfile(t *testing.T) {
	t.Parallel()
	for _, args := range [][]string{
		{"import", "--strip", "pipe", "--shoe", "A.toml", "--out", "a.mcap", "left.csv"},
		{"import", "--strip", "left.toml", "--shoe", "pipe", "--out", "a.mcap", "left.csv"},
		{"sim", "--strip", "pipe", "--link", "left"},
	} {
		p := newProcess(t)
		p.pipe("pipe")
		p.start(args...)
		assert.Equal(t, exitNo, p.end())
		assert.Regexp(t, "^aplomb: (strip profile|shoe): pipe: a pipe: name a file\n$", p.stderr.String())
	}
}

func TestAPipeIsNoRecording(t *testing.T) {
	t.Parallel()
	for _, command := range []string{"check", "analyze", "compare"} {
		p := newProcess(t)
		p.pipe("pipe")
		p.start(command, "pipe")
		assert.Equal(t, exitNo, p.end())
		assert.Equal(t, "aplomb: pipe: not a file: name a recording\n", p.stderr.String(), command)
	}
}

func TestASignalEndsAnImportWell(t *testing.T) {
	t.Parallel()
	p := newProcess(t)
	p.startImport("--out", "a.mcap")
	p.interrupt()
	assert.Equal(t, exitNo, p.end())
	frames, whole := framesIn(t, p.at("a.mcap"))
	assert.True(t, whole)
	assert.Positive(t, frames)
	assert.Equal(t, fmt.Sprintf("a.mcap: %d frames\n", frames), p.stdout.String())
	assert.Equal(t, fmt.Sprintf("aplomb: stopped before the end of the CSV: the recording holds the %d frames read until then\n", frames), p.stderr.String())
	assert.NoFileExists(t, p.at("a.mcap.part"))
}

// The command's context is done while the recording is added and measured.
func TestASignalEndsAnImportIntoTheLogbookWell(t *testing.T) {
	t.Parallel()
	p := newProcess(t)
	for _, args := range [][]string{{"dancer", "add", "D7"}, {"visit", "add", "--dancer", "D7"}} {
		p.start(args...)
		require.Zero(t, p.end(), p.stderr.String())
	}
	p.stdout.Reset()
	p.stderr.Reset()
	p.startImport("--dancer", "D7", "--visit", "last")
	p.interrupt()
	assert.Equal(t, exitNo, p.end())
	assert.Regexp(t, "^recording 1 in the logbook: D7, .*", p.stdout.String())
	assert.Regexp(t, `(?m)^aplomb: stopped before the end of the CSV: the recording holds the \d+ frames read until then$`, p.stderr.String())
}

// startImport starts an import from a named pipe and writes more rows than the pipe
// holds, so frames have been read when it returns.
func (p *process) startImport(flags ...string) {
	open := p.pipe("left.csv")
	p.start(append([]string{"import", "--strip", "left.toml", "--shoe", "A.toml", "left.csv"}, flags...)...)
	_, err := io.WriteString(open(), manyRows())
	require.NoError(p.t, err)
}

// readable checks the result of two signals: a finished recording, or its .part.
func (p *process) readable() {
	path := p.at("a.mcap")
	if _, err := os.Stat(path); err != nil {
		path += ".part"
	}
	frames, whole := framesIn(p.t, path)
	p.t.Logf("%s: %d frames, whole %v", filepath.Base(path), frames, whole)
}

func TestASecondSignalLeavesAnImportReadable(t *testing.T) {
	t.Parallel()
	p := newProcess(t)
	p.startImport("--out", "a.mcap")
	p.interrupt()
	p.interrupt()
	p.end()
	p.readable()
}

func TestASecondSignalLeavesARecordingReadable(t *testing.T) {
	t.Parallel()
	p := newProcess(t)
	left, err := sim.OpenLine(p.at("left"))
	require.NoError(t, err)
	defer left.Close()
	ctx, stop := context.WithCancel(t.Context())
	sent := make(chan struct{})
	go func() {
		defer close(sent)
		for i := 0; ctx.Err() == nil; i++ {
			packet := []byte(nil)
			if i%20 == 0 {
				packet = wire.AppendHello(packet, wire.Hello{Link: 1, Strip: "L-01", Foot: device.Left, Rows: 5, Cols: 8, RateHz: 200, ADCBits: 12})
			}
			left.Send(wire.AppendFrame(packet, device.Left, uint16(i), uint32(5000*i), make([]uint16, 40)))
			time.Sleep(5 * time.Millisecond)
		}
	}()
	defer func() { stop(); <-sent }()
	p.start("record", "--strip", "left.toml", "--shoe", "A.toml", "--left", "left", "--out", "a.mcap")
	require.Eventually(t, func() bool {
		r, err := recording.Open(t.Context(), p.at("a.mcap.part"))
		if err != nil {
			return false
		}
		defer r.Close()
		var f device.Frame
		return r.Next(&f) == nil
	}, time.Minute, 10*time.Millisecond)
	p.interrupt()
	p.interrupt()
	p.end()
	p.readable()
}
