package wire_test

import (
	"bytes"
	"encoding/json"
	"math/rand/v2"
	"os/exec"
	"testing"

	"github.com/stretchr/testify/require"

	"aplomb/device"
	"aplomb/device/wire"
)

// peerMessage is what testdata/peer.py reads.
type peerMessage struct {
	Hello    *wire.Hello `json:"hello,omitempty"`
	Foot     uint8       `json:"foot"`
	Seq      uint16      `json:"seq"`
	TimeUS   uint64      `json:"t_us"`
	Counts   []int       `json:"counts"` // a []uint16 would do, but for its reader
	Checksum bool        `json:"checksum"`
}

// The encoders are held against one in another language, byte for byte, and
// the decoder reads what that one wrote. Lengths and contents are drawn so
// that runs without a zero end below, at and above the 254 bytes of a block: a
// body of 121 cells has 254 with its checksum.
func TestAgainstAnEncoderInPython(t *testing.T) {
	python, err := exec.LookPath("python3")
	if err != nil {
		t.Skip("there is no python3 here")
	}
	rng := rand.New(rand.NewPCG(5, 6))
	const frames = 300
	for _, format := range []string{"binary", "text"} {
		for _, cells := range []int{3, 120, 121, 122, 4096} {
			s := strip(device.Left, cells, 1)
			s.ADCBits = 16
			h := wire.HelloOf(s, 200)
			h.Strip = "rechts, größer ◇" // not of ASCII alone
			var ours []byte
			var input bytes.Buffer
			var want []said
			in := json.NewEncoder(&input)
			if format == "binary" {
				ours = wire.AppendHello(ours, h)
			} else {
				ours = wire.AppendTextHello(ours, h)
			}
			require.NoError(t, in.Encode(peerMessage{Hello: &h}))
			want = append(want, said{Hello: h, Foot: h.Foot})
			for range min(frames, 40_000/cells) {
				f := said{Foot: device.Foot(rng.IntN(2)), HasSeq: true, HasClock: true, Seq: uint16(rng.Uint32()), TimeUS: uint64(rng.Uint32())}
				m := peerMessage{Foot: uint8(f.Foot), Seq: f.Seq, TimeUS: f.TimeUS, Checksum: true}
				sparse := rng.IntN(3)
				for range cells {
					c := uint16(rng.Uint32())
					if sparse == 0 || sparse == 1 && rng.IntN(100) > 0 { // few bytes that are zero, or none
						c |= 0x0101
					}
					f.Counts = append(f.Counts, c)
					m.Counts = append(m.Counts, int(c))
				}
				require.NoError(t, in.Encode(m))
				if format == "binary" {
					ours = wire.AppendFrame(ours, f.Foot, f.Seq, uint32(f.TimeUS), f.Counts)
				} else {
					ours = wire.AppendTextFrame(ours, f.TimeUS, f.Counts, true)
					f.Foot, f.Seq, f.HasSeq = device.NoFoot, 0, false
				}
				want = append(want, f)
			}
			cmd := exec.Command(python, "testdata/peer.py", format)
			cmd.Stdin = &input
			theirs, err := cmd.Output()
			require.NoError(t, err)
			require.True(t, bytes.Equal(ours, theirs), "%s, %d cells", format, cells)
			require.Equal(t, want, listen(wire.NewDecoder(s, s), theirs, func() int { return 1 + rng.IntN(300) }))
		}
	}
}
