//go:build linux

package main

import (
	"context"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/charmbracelet/x/vt"
	"github.com/stretchr/testify/require"

	"aplomb/device"
	"aplomb/device/sim"
	"aplomb/device/wire"
)

// BenchmarkLiveView records two strips of 16 × 16 cells at 1 kHz for ten seconds
// with the live view on a terminal of 120 × 40. It reports what share of one core
// the whole process took, and how long after a frame was on the line its number
// stood on the screen: 99 of 100 within p99-ms.
func BenchmarkLiveView(b *testing.B) {
	const length, every = 10 * time.Second, time.Millisecond
	for b.Loop() {
		dir := b.TempDir()
		require.NoError(b, os.CopyFS(dir, os.DirFS("testdata/profiles")))
		dense := strings.NewReplacer("rows = 5", "rows = 16", "cols = 8", "cols = 16", "[5.0, 5.0]", "[2.5, 2.5]")
		var lines [2]*sim.Line
		var strips [2]*device.Strip
		for _, f := range device.Feet {
			path := filepath.Join(dir, f.String()+".toml")
			text, err := os.ReadFile(path)
			require.NoError(b, err)
			require.NoError(b, os.WriteFile(path, []byte(dense.Replace(string(text))), 0o666))
			strips[f], err = device.ReadStrip(path)
			require.NoError(b, err)
			lines[f], err = sim.OpenLine(filepath.Join(dir, "tty"+f.String()))
			require.NoError(b, err)
			defer lines[f].Close()
		}
		x := onTerminal(b, dir, 120, 40, nil, "record", "--strip", "left.toml", "--strip", "right.toml", "--shoe", "A.toml",
			"--left", "ttyleft", "--right", "ttyright", "--no-press", "--out", "a.mcap", "--for", length.String())

		x.shows("waiting for its first frame") // so that the first one sent is the first one counted

		ctx, stop := context.WithTimeout(b.Context(), length+3*time.Second)
		var mu sync.Mutex
		var sent []time.Time // when the left frame of that number was on the line
		go func() {
			counts := make([]uint16, 256)
			var packet []byte
			began := time.Now()
			for n := 0; ctx.Err() == nil; n++ {
				time.Sleep(time.Until(began.Add(time.Duration(n) * every)))
				level := uint16(max(0, min(500, 2*(n%4000)-1000))) // up, held, and down at once
				for k := range counts {
					counts[k] = 3 + uint16((n+k)%3) + level
				}
				for f, line := range lines {
					packet = packet[:0]
					if n%500 == 0 {
						packet = wire.AppendHello(packet, wire.HelloOf(strips[f], 1000))
					}
					line.Send(wire.AppendFrame(packet, device.Foot(f), uint16(n), uint32(n)*1000, counts))
					if f == 0 {
						mu.Lock()
						sent = append(sent, time.Now())
						mu.Unlock()
					}
				}
			}
		}()
		var late []float64 // ms
		watched := make(chan struct{})
		go func() {
			defer close(watched)
			shown := 0
			for ctx.Err() == nil {
				time.Sleep(time.Millisecond)
				n := shownFrames(x)
				now := time.Now()
				mu.Lock()
				for ; shown < n && shown < len(sent); shown++ {
					late = append(late, now.Sub(sent[shown]).Seconds()*1000)
				}
				mu.Unlock()
			}
		}()
		require.Equal(b, exitDone, x.ends(), x.text())
		stop()
		<-watched
		use := x.cmd.ProcessState.SysUsage().(*syscall.Rusage)
		cpu := time.Duration(use.Utime.Nano() + use.Stime.Nano())
		late = late[min(len(late), 1000):] // the beginning
		require.NotEmpty(b, late)
		slices.Sort(late)
		b.ReportMetric(100*cpu.Seconds()/length.Seconds(), "%core")
		b.ReportMetric(late[len(late)*50/100], "p50-ms")
		b.ReportMetric(late[len(late)*99/100], "p99-ms")
		b.ReportMetric(late[len(late)-1], "max-ms")
		b.Log(strings.TrimSpace(x.text()[strings.Index(x.text(), "a.mcap"):]))
	}
}

var leftFrames = regexp.MustCompile(`left (\d+) frames, (\d+) lost`)

// shownFrames is how many frames of the left foot the screen says there are.
func shownFrames(x *terminal) int {
	var line strings.Builder
	x.look(func(e *vt.Emulator) { writeLine(&line, e, 0) })
	m := leftFrames.FindStringSubmatch(line.String())
	if m == nil {
		return 0
	}
	n, _ := strconv.Atoi(m[1])
	lost, _ := strconv.Atoi(m[2])
	return n + lost
}
