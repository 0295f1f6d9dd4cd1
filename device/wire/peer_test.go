package wire_test

import (
	"bytes"
	"encoding/json"
	"math/rand/v2"
	"os/exec"
	"testing"

	"github.com/stretchr/testify/require"

	"aplomb/device"
	"aplomb/device/internal/wiretest"
	"aplomb/device/wire"
)

// peerMessage is a message for testdata/peer.py.
type peerMessage struct {
	Format   string      `json:"format"`
	Hello    *wire.Hello `json:"hello,omitempty"`
	Foot     uint8       `json:"foot"`
	Seq      uint16      `json:"seq"`
	TimeUS   uint64      `json:"t_us"`
	Counts   []uint16    `json:"counts"`
	Checksum bool        `json:"checksum"`
}

// The encoders agree byte for byte with one in another language, and the decoder decodes
// its output. Lengths and contents are chosen so that runs without a zero end below, at
// and above the 254 bytes of a block: a body of 121 cells has 254 bytes with its
// checksum.
func TestAgainstAnEncoderInPython(t *testing.T) {
	python, err := exec.LookPath("python3")
	if err != nil {
		t.Skip("there is no python3 here")
	}
	type talk struct {
		strip *device.Strip
		line  []byte
		want  []keptMessage
	}
	rng := rand.New(rand.NewPCG(5, 6))
	var talks []talk
	var input bytes.Buffer
	in := json.NewEncoder(&input)
	for _, format := range []string{"binary", "text"} {
		for _, cells := range []int{3, 120, 121, 122, 4096} {
			s := strip(device.Left, cells, 1)
			s.ADCBits = 16
			h := wire.HelloOf(s, 200)
			h.Strip = "rechts, größer ◇" // not ASCII alone
			own := talk{s, nil, []keptMessage{{Hello: h, Foot: h.Foot}}}
			if format == "binary" {
				own.line = wire.AppendHello(nil, h)
			} else {
				own.line = wiretest.AppendTextHello(nil, h)
			}
			require.NoError(t, in.Encode(peerMessage{Format: format, Hello: &h}))
			for range min(200, 20_000/cells) {
				f := keptMessage{Foot: device.Foot(rng.IntN(2)), HasSeq: true, HasClock: true, Seq: uint16(rng.Uint32()), TimeUS: uint64(rng.Uint32())}
				sparse := rng.IntN(3)
				for range cells {
					c := uint16(rng.Uint32())
					if sparse == 0 || sparse == 1 && rng.IntN(100) > 0 { // few zero bytes, or none
						c |= 0x0101
					}
					f.Counts = append(f.Counts, c)
				}
				m := peerMessage{Format: format, Foot: uint8(f.Foot), Seq: f.Seq, TimeUS: f.TimeUS, Counts: f.Counts, Checksum: cells%2 == 0}
				require.NoError(t, in.Encode(m))
				if format == "binary" {
					own.line = wire.AppendFrame(own.line, f.Foot, f.Seq, uint32(f.TimeUS), f.Counts)
				} else {
					own.line = wiretest.AppendTextFrame(own.line, f.TimeUS, f.Counts, m.Checksum)
					f.Foot, f.Seq, f.HasSeq = device.NoFoot, 0, false
				}
				own.want = append(own.want, f)
			}
			talks = append(talks, own)
		}
	}
	cmd := exec.Command(python, "testdata/peer.py")
	cmd.Stdin = &input
	theirs, err := cmd.Output()
	require.NoError(t, err)
	for _, k := range talks {
		require.GreaterOrEqual(t, len(theirs), len(k.line))
		require.True(t, bytes.HasPrefix(theirs, k.line), "%d cells", k.strip.Cells())
		d := wire.NewDecoder(k.strip, k.strip)
		require.Equal(t, k.want, listen(d, theirs[:len(k.line)], func() int { return 1 + rng.IntN(300) }))
		theirs = theirs[len(k.line):]
	}
	require.Empty(t, theirs)
}
