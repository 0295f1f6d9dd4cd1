//go:build unix

package main

import (
	"bytes"
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/foxglove/mcap/go/mcap"
	"github.com/rogpeppe/go-internal/testscript"

	"aplomb/cmd/internal/bench"
	"aplomb/cmd/internal/console"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/device/sim"
)

func TestMain(m *testing.M) {
	flag.Set("test.parallel", "8") // they wait for each other and for silence more than they work
	testscript.Main(m, map[string]func(){"aplomb": func() { os.Exit(program(environmentOfTest(), stderrOfTest())) }})
}

// stderrOfTest returns standard error, without progress unless it is a terminal: whether a line
// of progress is due there depends on how fast the machine is.
func stderrOfTest() io.Writer {
	if console.IsTerminal(os.Stderr) {
		return os.Stderr
	}
	return console.Quiet{Writer: os.Stderr}
}

// The scripts read like a shell session. Every script's folder contains two strips,
// left.toml and right.toml, and two shoes, A.toml and B.toml.
func TestScripts(t *testing.T) {
	t.Parallel()
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup: func(e *testscript.Env) error {
			run := filepath.Join(e.WorkDir, ".tmp", "run") // for locks of ports
			if err := os.Mkdir(run, 0o700); err != nil {
				return err
			}
			e.Setenv("XDG_RUNTIME_DIR", run)
			e.Setenv("GOGC", "400")                 // a garbage collection less at the start of each command
			e.Setenv("GORACE", "atexit_sleep_ms=0") // a second for each command otherwise
			readback, err := filepath.Abs("../../.ci/readback")
			if err != nil {
				return err
			}
			guide, err := filepath.Abs("guide")
			if err != nil {
				return err
			}
			e.Setenv("READBACK", readback)
			e.Setenv("GUIDE", guide)
			e.Setenv("APLOMB_LOGBOOK", filepath.Join(e.WorkDir, "book"))
			return os.CopyFS(e.WorkDir, os.DirFS("testdata/profiles"))
		},
		Condition: func(cond string) (bool, error) {
			switch cond {
			case "root":
				return os.Getuid() == 0, nil
			case "nohup": // the tests were started with nohup, and so is what they start
				return signal.Ignored(syscall.SIGHUP), nil
			case "race": // the race detector is in: commands take four times as long
				return racing, nil
			case "long": // tests may take minutes
				return os.Getenv("APLOMB_LONG") != "", nil
			case "mounts": // a small or a read-only disk can be had
				return exec.Command("unshare", "-rm", "mount", "-t", "tmpfs", "none", os.TempDir()).Run() == nil, nil
			}
			return false, fmt.Errorf("no condition %s", cond)
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"dance": dance, "against": against, "bench": onBench, "cut": cut, "damage": damage, "foreign": foreign,
			"line": line, "await": await, "files": onlyFiles, "status": status, "taken": taken,
			"keep": keep, "keeps": keeps, "hold": hold, "overwrite": overwrite, "garble": garble, "newer": newer,
		},
	})
}

// status CODE PROGRAM [ARGS...] is exec of a program that must end with that exit status
// and an error of one line on stderr.
func status(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: status CODE PROGRAM [ARGS...]")
	}
	err := ts.Exec(args[1], args[2:]...)
	var exit *exec.ExitError
	if !errors.As(err, &exit) {
		ts.Fatalf("ended well, should end with %s", args[0])
	}
	if code := strconv.Itoa(exit.ExitCode()); code != args[0] {
		ts.Fatalf("exit status %s, should be %s", code, args[0])
	}
	said := ts.ReadFile("stderr")
	if strings.Count(said, "\n") != 1 || !strings.HasPrefix(said, "aplomb: ") {
		ts.Fatalf("an error should be one line, this is %q", said)
	}
}

// dance FILE RELEVÉS OVER writes a CSV file of 50 frames a second with that many relevés
// on the platform of shoe A, the load a plane about OVER mm.
func dance(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 3 {
		ts.Fatalf("usage: dance FILE RELEVÉS OVER")
	}
	n, err := strconv.Atoi(args[1])
	ts.Check(err)
	over, err := strconv.ParseFloat(args[2], 64)
	ts.Check(err)
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), danced(platform.Superellipse(35, 21, 2.5), n, func(rise int) float64 { return over + 0.2*float64(rise%2) }), 0o666))
}

// danced returns a CSV file of 50 frames a second with n relevés on a platform over strip
// L-01 or R-01, the load of each a plane about a place along over, mm.
func danced(outline platform.Polygon, n int, over func(rise int) float64) []byte {
	const (
		rate, rows, cols      = 50, 5, 8
		pause, up, held, down = 0.8, 0.3, 1.0, 0.3
		period                = pause + up + held + down
	)
	whole := outline.Moments()
	var parts [rows * cols]platform.Moments // of the outline above each cell
	var b bytes.Buffer
	b.WriteString("t_us")
	for k := range parts {
		x, y := 5*float64(k%cols)-20, 5*float64(k/cols)-12.5
		parts[k] = outline.Clip(platform.Polygon{{x, y}, {x + 5, y}, {x + 5, y + 5}, {x, y + 5}}).Moments()
		fmt.Fprintf(&b, ",c%d", k)
	}
	b.WriteByte('\n')
	frames := int(math.Round((float64(n)*period + pause) * rate))
	for i := range frames {
		now := float64(i) / rate
		rise := int(now / period)
		in := now - float64(rise)*period - pause
		level := 0.0
		if rise < n {
			level = max(0, min(1, in/up, (up+held+down-in)/down))
		}
		fmt.Fprint(&b, 1_000_000*i/rate)
		// The first moment of 1 + y·slope is the second moment of the outline times the slope.
		slope := over(rise) * whole.Area / whole.OO
		for _, part := range parts {
			fmt.Fprintf(&b, ",%d", int(level*400*part.Area/25*max(0, 1+part.Centroid[1]*slope)))
		}
		b.WriteByte('\n')
	}
	return b.Bytes()
}

// onBench implements bench FILE LOADN@MEDIAL,OVER WIDTHxDEPTH SECONDS, which writes a CSV
// file of the readings of strip L-01 on a bench with a load on a pad, 50 frames a second;
// the load is absent in the first half second. The strip differs from left.toml: its
// curve is bent, and its cells differ by a tenth.
func onBench(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 4 {
		ts.Fatalf("usage: bench FILE LOADN@MEDIAL,OVER WIDTHxDEPTH SECONDS")
	}
	load, at, err := bench.ParseWeightAt(args[1])
	ts.Check(err)
	size, err := bench.ParsePair(args[2], "x")
	ts.Check(err)
	seconds, err := strconv.ParseFloat(args[3], 64)
	ts.Check(err)
	strip, err := device.ReadStrip(context.Background(), ts.MkAbs("true.toml"))
	ts.Check(err)
	const rate = 50
	b, err := sim.NewBench(strip, sim.Faults{Zero: 40, ZeroSD: 10, Noise: 0.7}, 1, time.Now(), rate)
	ts.Check(err)
	var out bytes.Buffer
	out.WriteString("t_us")
	for k := range strip.Cells() {
		fmt.Fprintf(&out, ",c%d", k)
	}
	var f device.Frame
	for b.Now() < seconds {
		if b.Now() > 0.5 {
			b.Put(load, at, size)
		}
		ts.Check(b.Next(&f))
		fmt.Fprintf(&out, "\n%d", f.TimeUS)
		for _, c := range f.Counts {
			fmt.Fprintf(&out, ",%d", c)
		}
	}
	out.WriteByte('\n')
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), out.Bytes(), 0o666))
}

// cut FILE BYTES removes that many bytes from the end of a file.
func cut(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: cut FILE BYTES")
	}
	path := ts.MkAbs(args[0])
	n, err := strconv.ParseInt(args[1], 10, 64)
	ts.Check(err)
	info, err := os.Stat(path)
	ts.Check(err)
	ts.Check(os.Truncate(path, max(0, info.Size()-n)))
}

// damage FILE WHAT changes one byte of a recording: in its N-th chunk, or the last but
// one of the first occurrence of a text.
func damage(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: damage FILE CHUNK|TEXT")
	}
	path := ts.MkAbs(args[0])
	b, err := os.ReadFile(path)
	ts.Check(err)
	at := bytes.Index(b, []byte(args[1])) + len(args[1]) - 2
	if n, err := strconv.Atoi(args[1]); err == nil {
		at = 0
		for range n {
			at += 4 + bytes.Index(b[at:], []byte("zstd"))
		}
		at += 100
	}
	b[at] ^= 1
	ts.Check(os.WriteFile(path, b, 0o666))
}

// foreign FILE writes an MCAP file of another program.
func foreign(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: foreign FILE")
	}
	var b bytes.Buffer
	w, err := mcap.NewWriter(&b, &mcap.WriterOptions{})
	ts.Check(err)
	ts.Check(w.WriteHeader(&mcap.Header{Profile: "weather"}))
	ts.Check(w.Close())
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), b.Bytes(), 0o666))
}

// line PATH [TEXT] creates a serial line at PATH until the script ends. It delivers TEXT
// every 20 ms, in which \n is a line feed; without TEXT it delivers nothing.
func line(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 1 || len(args) > 2 {
		ts.Fatalf("usage: line PATH [TEXT]")
	}
	l, err := sim.OpenLine(ts.MkAbs(args[0]))
	ts.Check(err)
	stop, stopped := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(stopped)
		tick := time.NewTicker(20 * time.Millisecond)
		defer tick.Stop()
		for {
			select {
			case <-stop:
				return
			case <-tick.C:
			}
			if len(args) == 2 {
				l.Send([]byte(strings.ReplaceAll(args[1], `\n`, "\n")))
			}
		}
	}()
	ts.Defer(func() {
		close(stop)
		<-stopped
		l.Close()
	})
}

// await FILE [TEXT] waits until the file exists and contains TEXT.
func await(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 1 || len(args) > 2 {
		ts.Fatalf("usage: await FILE [TEXT]")
	}
	for range 1000 {
		_, err := os.Stat(ts.MkAbs(args[0]))
		if err == nil && (len(args) == 1 || strings.Contains(ts.ReadFile(args[0]), args[1])) {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	ts.Fatalf("%s has not come within ten seconds", args[0])
}

// onlyFiles implements files PATTERN..., which fails if a file matches none of the
// expected patterns, links excepted: it finds what a failed command left behind.
func onlyFiles(ts *testscript.TestScript, neg bool, args []string) {
	there, err := os.ReadDir(ts.MkAbs("."))
	ts.Check(err)
	for _, f := range there {
		wanted := f.Type()&os.ModeSymlink != 0 || f.Name() == ".tmp"
		for _, pattern := range args {
			ok, err := filepath.Match(pattern, f.Name())
			ts.Check(err)
			wanted = wanted || ok
		}
		if !wanted {
			ts.Fatalf("%s was left behind", f.Name())
		}
	}
}
