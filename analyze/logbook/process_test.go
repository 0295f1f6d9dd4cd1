package logbook

import (
	"bufio"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/device"
)

// task says what this program is to do as the other program.
const task = "LOGBOOK_TEST_TASK"

func TestMain(m *testing.M) {
	if what := os.Getenv(task); what != "" {
		if err := otherProgram(what, os.Args[len(os.Args)-1]); err != nil {
			fmt.Println(err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	// The model waits for the disk more than it computes. More with -rapid.checks=100.
	if err := flag.Set("rapid.checks", "10"); err != nil {
		panic(err)
	}
	os.Exit(m.Run())
}

func otherProgram(what, dir string) error {
	l, err := Open(dir)
	if err != nil {
		return err
	}
	defer l.Close()
	switch what {
	case "visits":
		for range 25 {
			if _, err := l.AddVisit(Visit{Dancer: "D7", Day: "2026-03-14"}); err != nil {
				return err
			}
		}
	case "read":
		return readAll(l)
	case "hold": // until stdin is closed or somebody kills us
		tx, err := l.db.Begin()
		if err != nil {
			return err
		}
		if _, err := tx.Exec(`UPDATE dancers SET note = 'half done'`); err != nil {
			return err
		}
		fmt.Println("holding")
		bufio.NewReader(os.Stdin).ReadByte()
	}
	return nil
}

// readAll calls everything in a logbook that only reads, and recomputes measures.
func readAll(l *Logbook) error {
	kept, err := l.Recordings(Filter{})
	if err != nil {
		return err
	}
	findings, err := l.Check(bg)
	if err != nil {
		return err
	}
	if len(findings) > 0 {
		fmt.Println("finding:", findings[0])
	}
	r := kept[len(kept)-1]
	if err := l.PutMeasures(r.ID, result("1", releve(1, device.Left, 1, 0.5))); err != nil {
		return err
	}
	rows, err := l.Measures(Filter{}, measure.Over)
	if err != nil {
		return err
	}
	d, err := l.Dancer("D7")
	fmt.Printf("%d recordings, %d values of over, note %q\n", len(kept), len(rows), d.Note)
	return err
}

// other starts the other program.
func other(t *testing.T, what, dir string) *exec.Cmd {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), os.Args[0], dir)
	cmd.Env = append(os.Environ(), task+"="+what)
	return cmd
}

func TestTwoProgramsUseOneLogbook(t *testing.T) {
	l := begin(t)
	require.NoError(t, l.AddDancer(Dancer{Code: "D7"}))
	cmd := other(t, "visits", l.Dir())
	var out strings.Builder
	cmd.Stdout = &out
	require.NoError(t, cmd.Start())
	for range 25 {
		_, err := l.AddVisit(Visit{Dancer: "D7", Day: "2026-03-14"})
		require.NoError(t, err)
	}
	require.NoError(t, cmd.Wait(), out.String())
	all, err := l.Visits("D7")
	require.NoError(t, err)
	require.Len(t, all, 50)
	for i, v := range all {
		assert.Equal(t, i+1, v.Number)
	}
}

// Two programs find no logbook and create the same one.
func TestTwoProgramsBeginOneLogbook(t *testing.T) {
	dir := t.TempDir() + "/new"
	cmds := []*exec.Cmd{other(t, "open", dir), other(t, "open", dir), other(t, "open", dir)}
	outs := make([]strings.Builder, len(cmds))
	for i, cmd := range cmds {
		cmd.Stdout = &outs[i]
		require.NoError(t, cmd.Start())
	}
	for i, cmd := range cmds {
		assert.NoError(t, cmd.Wait(), outs[i].String())
	}
	reopen(t, dir)
}

// holding starts a program that stays in the middle of a change.
func holding(t *testing.T, dir string) *exec.Cmd {
	t.Helper()
	cmd := other(t, "hold", dir)
	_, err := cmd.StdinPipe()
	require.NoError(t, err)
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	line, err := bufio.NewReader(out).ReadString('\n')
	require.NoError(t, err)
	require.Equal(t, "holding\n", line)
	return cmd
}

func TestLockedLogbookSaysSo(t *testing.T) {
	l := begin(t)
	require.NoError(t, l.AddDancer(Dancer{Code: "D7"}))
	cmd := holding(t, l.Dir())
	_, err := l.db.Exec(`PRAGMA busy_timeout = 50`)
	require.NoError(t, err)
	who := ""
	if runtime.GOOS == "linux" {
		who = fmt.Sprintf("(process %d, started 20", cmd.Process.Pid)
	}
	oneLine(t, l.AddDancer(Dancer{Code: "D8"}), ErrLocked, l.Dir(), who, "try again")
	_, err = l.Dancer("D7")
	assert.NoError(t, err, "reading goes on")
	require.NoError(t, cmd.Process.Kill())
	cmd.Wait()

	// Killed in the middle: nothing of its change is there, and nothing is locked.
	d, err := l.Dancer("D7")
	require.NoError(t, err)
	assert.Empty(t, d.Note)
	require.NoError(t, l.AddDancer(Dancer{Code: "D8"}))
	findings, err := l.Check(bg)
	require.NoError(t, err)
	assert.Empty(t, findings)
}

// A program waits while another one has the logbook locked.
func TestLockedLogbookIsWaitedFor(t *testing.T) {
	l := begin(t)
	require.NoError(t, l.AddDancer(Dancer{Code: "D7"}))
	cmd := holding(t, l.Dir())
	time.AfterFunc(100*time.Millisecond, func() { cmd.Process.Kill() })
	assert.NoError(t, l.AddDancer(Dancer{Code: "D8"}))
	cmd.Wait()
}
