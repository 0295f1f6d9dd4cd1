//go:build unix

package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device"
	"aplomb/device/lock"
	"aplomb/device/recording"
	"aplomb/device/sim"
	"aplomb/device/wire"
)

// studio is a folder with a logbook, and a home, a folder for temporary files and one
// for locks of its own, in which commands are run and killed.
type studio struct {
	*testing.T
	dir string
}

func newStudio(t *testing.T) *studio {
	s := &studio{t, t.TempDir()}
	require.NoError(t, os.CopyFS(s.dir, os.DirFS("testdata/profiles")))
	for _, name := range []string{"home", "tmp", "run", "backups"} {
		require.NoError(t, os.Mkdir(s.at(name), 0o700))
	}
	return s
}

func (s *studio) at(names ...string) string {
	return filepath.Join(append([]string{s.dir}, names...)...)
}

func (s *studio) command(args ...string) *exec.Cmd {
	cmd := exec.Command("aplomb", args...)
	cmd.Dir = s.dir
	cmd.Env = append(os.Environ(), "APLOMB_LOGBOOK="+s.at("book"), "HOME="+s.at("home"), "TMPDIR="+s.at("tmp"), "XDG_RUNTIME_DIR="+s.at("run"))
	return cmd
}

// run runs a command, kills it after the time kill unless that is 0, and returns its exit
// status, -1 if it was killed, and its output.
func (s *studio) run(kill time.Duration, args ...string) (code int, said string) {
	var out bytes.Buffer
	cmd := s.command(args...)
	cmd.Stdout, cmd.Stderr = &out, &out
	require.NoError(s, cmd.Start())
	if kill > 0 {
		defer time.AfterFunc(kill, func() { cmd.Process.Kill() }).Stop()
	}
	cmd.Wait()
	return cmd.ProcessState.ExitCode(), out.String()
}

// well runs a command that must succeed.
func (s *studio) well(args ...string) string {
	s.Helper()
	code, said := s.run(0, args...)
	require.Zero(s, code, "aplomb %s: %s", strings.Join(args, " "), said)
	return said
}

// send sends frames on a line at 200 a second until the test ends.
func (s *studio) send(name string) {
	line, err := sim.OpenLine(s.at(name))
	require.NoError(s, err)
	ctx, stop := context.WithCancel(context.Background())
	var sent sync.WaitGroup
	sent.Go(func() {
		for i := 0; ctx.Err() == nil; i++ {
			packet := []byte(nil)
			if i%20 == 0 {
				packet = wire.AppendHello(packet, wire.Hello{Link: 1, Strip: "L-01", Foot: device.Left, Rows: 5, Cols: 8, RateHz: 200, ADCBits: 12})
			}
			line.Send(wire.AppendFrame(packet, device.Left, uint16(i), uint32(5000*i), make([]uint16, 40)))
			time.Sleep(5 * time.Millisecond)
		}
	})
	s.Cleanup(func() { stop(); sent.Wait(); line.Close() })
}

// record starts a recording of the dancer, and waits until its .part exists.
func (s *studio) record(dancer string) (cmd *exec.Cmd, part string, out *bytes.Buffer) {
	cmd = s.command("record", "--dancer", dancer, "--visit", "today", "--no-press", "--strip", "left.toml", "--shoe", "A.toml", "--left", "left")
	var said bytes.Buffer
	cmd.Stdout, cmd.Stderr = &said, &said
	require.NoError(s, cmd.Start())
	s.Cleanup(func() { cmd.Process.Kill() })
	require.Eventually(s, func() bool {
		all, err := filepath.Glob(s.at("book", "recordings", "*.part"))
		require.NoError(s, err)
		i := slices.IndexFunc(all, lock.Held) // no process writes those that were added unchanged
		if i >= 0 {
			part = all[i]
		}
		return i >= 0
	}, time.Minute, 5*time.Millisecond)
	return cmd, part, &said
}

// holding lists the files below a folder that contain the text in their bytes or names.
func (s *studio) holding(text, dir string) (all []string) {
	require.NoError(s, filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		if err != nil || !e.Type().IsRegular() {
			return err
		}
		b, err := os.ReadFile(path)
		if bytes.Contains(bytes.ToLower(b), []byte(strings.ToLower(text))) || strings.Contains(path, text) {
			all = append(all, path)
		}
		return err
	}))
	return all
}

// lastFrame returns the arrival time of a recording's last frame and the number of
// frames.
func lastFrame(t *testing.T, path string) (at time.Time, frames int) {
	r, err := recording.Open(t.Context(), path)
	if errors.Is(err, recording.ErrCutShort) {
		return at, 0
	}
	require.NoError(t, err)
	defer r.Close()
	var f device.Frame
	for {
		if err := r.Next(&f); errors.Is(err, io.EOF) {
			return at, frames
		} else {
			require.NoError(t, err)
		}
		at, frames = time.Unix(0, f.ArrivalNS), frames+1
	}
}

// Recordings are killed at random instants, and two people run commands on one logbook,
// with random kills among them. No data on the disk are lost, the logbook stays valid,
// and once the dancer is erased no byte of the code is in the logbook, in the home, among
// temporary files or among locks; backups that still contain the code are named.
// APLOMB_LONG=1 makes it 100 kills and 300 commands:
//
//	APLOMB_LONG=1 go test -run KilledOverOneLogbook -v -timeout 30m ./cmd/aplomb
func TestKilledOverOneLogbook(t *testing.T) {
	t.Parallel()
	kills, commands := 2, 12
	if os.Getenv("APLOMB_LONG") != "" {
		kills, commands = 100, 300
	}
	const code = "Quicksilver-77"
	random := rand.New(rand.NewPCG(14, 14))
	s := newStudio(t)
	s.send("left")
	require.NoError(t, os.WriteFile(s.at("left.csv"), []byte("t_us"+columns(40)+"\n0"+strings.Repeat(",7", 40)+"\n5000"+strings.Repeat(",7", 40)+"\n"), 0o600))
	s.well("dancer", "add", code)
	s.well("visit", "add", "--dancer", code)

	// Killed while it records, or soon after it was told to end.
	var worst time.Duration
	var running, ending, asPart, finished int
	for range kills {
		cmd, part, _ := s.record(code)
		time.Sleep(time.Duration(random.IntN(1500)) * time.Millisecond)
		told := random.IntN(3) == 0
		if told {
			cmd.Process.Signal(syscall.SIGINT)
			time.Sleep(time.Duration(random.IntN(60)) * time.Millisecond)
			ending++
		} else {
			running++
		}
		at := time.Now()
		cmd.Process.Kill()
		cmd.Wait()
		if _, err := os.Stat(part); err == nil {
			asPart++
			last, frames := lastFrame(t, part)
			if frames > 0 && !told {
				worst = max(worst, at.Sub(last))
			}
		} else {
			finished++
		}
		s.well("import", "--unfinished")
		// A finished file or a copy that is not yet a minute old may be that of a program that is about to take it in.
		code, said := s.run(0, "logbook", "check")
		for line := range strings.Lines(said) {
			require.True(t, code == 0 || strings.Contains(line, "did not take into") || strings.Contains(line, "a copy that was cut short") || strings.HasPrefix(line, "warning: "), "%s", said)
		}
	}
	t.Logf("%d recordings killed while they ran and %d while they ended: %d left a .part, %d none; at most %.2f s of one that ran was lost", running, ending, asPart, finished, worst.Seconds())
	assert.Less(t, worst, 5*time.Second) // syncs come twice a second; the rest is a slow disk

	// Two people type commands; a third of these is killed.
	var typed, killed sync.Map
	var both sync.WaitGroup
	backups := 0
	var mu sync.Mutex
	for person := range 2 {
		random := rand.New(rand.NewPCG(14, uint64(person)))
		both.Go(func() {
			for n := range commands / 2 {
				mu.Lock()
				backups++
				to := s.at("backups", fmt.Sprint(backups))
				mu.Unlock()
				other := fmt.Sprintf("D%d", random.IntN(5))
				all := [][]string{
					{"dancer", "add", other}, {"dancer", "remove", other, "--yes"}, {"visit", "add", "--dancer", code},
					{"dancer", "edit", code, "--note", fmt.Sprint("note ", n)}, {"logbook", "backup", to},
					{"import", "--dancer", code, "--visit", "last", "--strip", "left.toml", "--shoe", "A.toml", "left.csv"},
					{"import", "--unfinished"}, {"logbook", "check"}, {"logbook", "backups"}, {"dancer", "list"}, {"show", "1"},
				}
				args := all[random.IntN(len(all))]
				kill := time.Duration(0)
				if random.IntN(3) == 0 {
					kill = time.Duration(1+random.IntN(120)) * time.Millisecond
				}
				code, said := s.run(kill, args...)
				typed.Store([2]int{person, n}, true)
				if code == -1 {
					killed.Store([2]int{person, n}, true)
				}
				assert.False(t, strings.Contains(said, "panic") || strings.Contains(said, "malformed") || strings.Contains(said, "damaged"), "%v: %s", args, said)
				assert.False(t, code > 0 && strings.Contains(said, "FOREIGN KEY"), "%v: %s", args, said)
			}
		})
	}
	both.Wait()
	count := func(m *sync.Map) (n int) { m.Range(func(any, any) bool { n++; return true }); return n }
	t.Logf("%d commands in two processes at a time, %d of them killed", count(&typed), count(&killed))
	s.run(0, "import", "--unfinished")
	_, said := s.run(0, "logbook", "check")
	assert.NotRegexp(t, "integrity|row \\d+ of|is not what it was|missing|cannot be read", said)

	// While a recording runs the dancer stays; when its window is closed, the dancer goes.
	cmd, _, recorded := s.record(code)
	refused, why := s.run(0, "dancer", "remove", code, "--yes")
	assert.Equal(t, exitNo, refused)
	assert.Contains(t, why, "is being made now")
	require.NotEmpty(t, s.holding(code, s.at("book")), "the search can find what is there")
	if signal.Ignored(syscall.SIGHUP) { // this test itself runs with nohup
		cmd.Process.Signal(syscall.SIGINT)
	}
	cmd.Process.Signal(syscall.SIGHUP)
	cmd.Process.Signal(syscall.SIGHUP)
	cmd.Wait()
	assert.Zero(t, cmd.ProcessState.ExitCode(), recorded.String())
	said = s.well("dancer", "remove", code, "--yes")
	for _, dir := range []string{"book", "home", "tmp", "run"} {
		assert.Empty(t, s.holding(code, s.at(dir)), dir)
	}
	var named []string
	for _, path := range s.holding(code, s.at("backups")) {
		name, _, _ := strings.Cut(strings.TrimPrefix(path, s.at("backups")+"/"), "/")
		if !slices.Contains(named, name) {
			named = append(named, name)
			assert.Contains(t, said, s.at("backups", name)+" ", "a backup that holds the dancer is named")
		}
	}
	t.Logf("no byte of the dancer in logbook, home, temporary files or locks; %d backups hold the dancer, all of them named", len(named))
}

// columns are the headings of the cells of a CSV file.
func columns(n int) string {
	var b strings.Builder
	for k := range n {
		fmt.Fprintf(&b, ",c%d", k)
	}
	return b.String()
}
