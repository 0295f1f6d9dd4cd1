//go:build unix

package link_test

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/term"

	"aplomb/device"
	"aplomb/device/link"
	"aplomb/device/wire"
)

// relay is a serial line made by socat (http://www.dest-unreach.org/socat/):
// two pseudo-terminals, and a process that carries bytes between them. It
// shares nothing with the pseudo-terminals of the other tests.
type relay struct {
	testing.TB
	program, ours, theirs string
	cmd                   *exec.Cmd
	out                   *os.File // theirs, where the strip writes
}

func newRelay(t testing.TB) *relay {
	program, err := exec.LookPath("socat")
	if err != nil {
		t.Skip("there is no socat here")
	}
	dir := t.TempDir()
	r := &relay{TB: t, program: program, ours: filepath.Join(dir, "ours"), theirs: filepath.Join(dir, "theirs")}
	r.plug()
	t.Cleanup(r.pull)
	return r
}

func (r *relay) plug() {
	r.cmd = exec.Command(r.program, "pty,raw,echo=0,link="+r.theirs, "pty,raw,echo=0,link="+r.ours)
	require.NoError(r, r.cmd.Start())
	require.Eventually(r, func() bool {
		_, a := os.Stat(r.ours)
		_, b := os.Stat(r.theirs)
		return a == nil && b == nil
	}, 10*time.Second, time.Millisecond)
	var err error
	r.out, err = os.OpenFile(r.theirs, os.O_RDWR, 0)
	require.NoError(r, err)
	_, err = term.MakeRaw(int(r.out.Fd()))
	require.NoError(r, err)
}

// pull ends the process, which removes both pseudo-terminals.
func (r *relay) pull() {
	if r.cmd != nil {
		r.cmd.Process.Kill()
		r.cmd.Wait()
		r.out.Close()
		os.Remove(r.ours)
		os.Remove(r.theirs)
		r.cmd = nil
	}
}

// peer returns the bytes of messages from an encoder in another language.
func peer(t testing.TB, messages []any) []byte {
	t.Helper()
	python, err := exec.LookPath("python3")
	if err != nil {
		t.Skip("there is no python3 here")
	}
	var in bytes.Buffer
	for _, m := range messages {
		require.NoError(t, json.NewEncoder(&in).Encode(m))
	}
	cmd := exec.Command(python, "../wire/testdata/peer.py")
	cmd.Stdin = &in
	out, err := cmd.Output()
	require.NoError(t, err)
	return out
}

// A strip of the largest size, 4096 cells of 16 bits, is read in both formats, also after
// an interruption of the line.
func TestThroughSocat(t *testing.T) {
	for _, format := range []string{"binary", "text"} {
		t.Run(format, func(t *testing.T) {
			t.Parallel()
			strip := &device.Strip{Name: "L-01", Foot: device.Left, Rows: 64, Cols: 64, ADCBits: 16}
			type message struct {
				Format   string      `json:"format"`
				Hello    *wire.Hello `json:"hello,omitempty"`
				Foot     uint8       `json:"foot"`
				Seq      uint16      `json:"seq"`
				TimeUS   uint64      `json:"t_us"`
				Counts   []uint16    `json:"counts"`
				Checksum bool        `json:"checksum"`
			}
			counts := func(n int) []uint16 {
				all := make([]uint16, strip.Cells())
				for k := range all {
					all[k] = uint16(k*16 + n)
				}
				all[len(all)-1] = 65535
				return all
			}
			says := wire.HelloOf(strip, 20)
			frames := func(from, to int) []any {
				all := []any{message{Format: format, Hello: &says}}
				for n := from; n < to; n++ {
					all = append(all, message{Format: format, Seq: uint16(n), TimeUS: uint64(n) * 50_000, Counts: counts(n), Checksum: true})
				}
				return all
			}

			before, after := peer(t, frames(0, 20)), peer(t, frames(60, 80))
			r := newRelay(t)
			s := begin(t, link.Options{Ports: [2]string{r.ours}, Strips: [2]*device.Strip{strip}})
			s.clock.set(1000)
			expect := func(from, to int) {
				for n := from; n < to; n++ {
					f := s.next()
					require.EqualValues(t, n*50_000, f.TimeUS)
					require.Equal(t, counts(n), f.Counts)
				}
			}
			go r.out.Write(before) // it blocks without a reader
			expect(0, 20)
			r.pull()
			s.untilNotice(device.Left, "lost ")
			s.clock.set(4000)
			r.plug()
			go r.out.Write(after)
			expect(60, 80)
			assert.Equal(t, []string{"left gap: cable out 2.05 s", "left reconnect: cable out 2.05 s"}, s.end())
			assert.Empty(t, s.warned)
			assert.Zero(t, s.stats[device.Left].Refused)
		})
	}
}
