package wire_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"aplomb/device"
	"aplomb/device/internal/wiretest"
	"aplomb/device/wire"
)

// The transmission time is that of the encoders' bytes, ten bits each: a start bit, eight
// data bits and a stop bit.
func TestSendingIsWhatTheEncodersWrite(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := device.Frame{
			TimeUS: uint64(rapid.Uint32().Draw(t, "t_us")),
			Counts: rapid.SliceOfN(rapid.Uint16(), 1, 300).Draw(t, "counts"),
		}
		const baud = 10_000_000 // a microsecond a byte
		sent := func(format wire.Format) int {
			return int(wire.Transmission{Format: format, Baud: baud}.TimeNS(&f) / 1000)
		}
		packet := len(wire.AppendFrame(nil, device.Left, 0, uint32(f.TimeUS), f.Counts))
		if got := sent(wire.Binary); got < packet || got > packet+len(f.Counts)*2/254+1 {
			t.Fatalf("a packet of %d bytes taken as %d", packet, got)
		}
		if line := len(wiretest.AppendTextFrame(nil, f.TimeUS, f.Counts, false)); sent(wire.Text) != line {
			t.Fatalf("a line of %d bytes taken as %d", line, sent(wire.Text))
		}
	})
}

func TestSending(t *testing.T) {
	f := device.Frame{Counts: make([]uint16, 40)}
	assert.EqualValues(t, 94*10*1_000_000_000/115200, wire.Transmission{Format: wire.Binary, Baud: 115200}.TimeNS(&f), "94 bytes for 40 cells")
	assert.Zero(t, wire.Transmission{Format: wire.Binary}.TimeNS(&f))
	assert.Zero(t, wire.Transmission{Baud: 115200}.TimeNS(&f))
	for _, format := range []wire.Format{wire.Unknown, wire.Binary, wire.Text} {
		assert.Equal(t, format, wire.ParseFormat(format.String()))
	}
	assert.Equal(t, wire.Unknown, wire.ParseFormat("csv"))
}
