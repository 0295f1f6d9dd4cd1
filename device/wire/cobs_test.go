package wire_test

import (
	"bytes"
	"hash/crc32"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/device/wire"
)

// count returns all bytes from a to b.
func count(a, b int) (out []byte) {
	for i := a; i <= b; i++ {
		out = append(out, byte(i))
	}
	return out
}

// These encodings follow the rule of Cheshire & Baker, IEEE/ACM Transactions on Networking 7
// (1999) 159-172: a code byte n precedes n-1 bytes and stands for a zero after them, except
// 0xFF, which stands for none. The short ones are the examples of Wikipedia's article on COBS.
func TestCOBSExamples(t *testing.T) {
	cat := func(parts ...[]byte) []byte { return bytes.Join(parts, nil) }
	for _, c := range []struct{ plain, coded []byte }{
		{[]byte{}, []byte{1}},
		{[]byte{0}, []byte{1, 1}},
		{[]byte{0, 0}, []byte{1, 1, 1}},
		{[]byte{0x11, 0x22, 0, 0x33}, []byte{3, 0x11, 0x22, 2, 0x33}},
		{[]byte{0x11, 0x22, 0x33, 0x44}, []byte{5, 0x11, 0x22, 0x33, 0x44}},
		{[]byte{0x11, 0, 0, 0}, []byte{2, 0x11, 1, 1, 1}},
		{count(1, 253), cat([]byte{254}, count(1, 253))},
		{count(1, 254), cat([]byte{255}, count(1, 254))},
		{count(1, 255), cat([]byte{255}, count(1, 254), []byte{2, 255})},
		{cat([]byte{0}, count(1, 254)), cat([]byte{1, 255}, count(1, 254))},
		{cat(count(1, 254), []byte{0}), cat([]byte{255}, count(1, 254), []byte{1, 1})},
		{cat(count(1, 253), []byte{0}), cat([]byte{254}, count(1, 253), []byte{1})},
	} {
		assert.Equal(t, c.coded, wire.AppendCOBS(nil, c.plain), "% x", c.plain)
		got, ok := wire.DecodeCOBS(nil, c.coded)
		assert.True(t, ok)
		assert.Equal(t, c.plain, got)
	}
	// The program in the paper writes a 01 after a final full block.
	got, ok := wire.DecodeCOBS(nil, cat([]byte{255}, count(1, 254), []byte{1}))
	assert.True(t, ok)
	assert.Equal(t, count(1, 254), got)
}

func TestCOBSRefuses(t *testing.T) {
	for _, bad := range [][]byte{nil, {0}, {2}, {3, 1}, {2, 0}, {1, 2}, append([]byte{255}, count(1, 253)...)} {
		got, ok := wire.DecodeCOBS([]byte("before"), bad)
		assert.False(t, ok, "% x", bad)
		assert.Equal(t, "before", string(got))
	}
}

func TestCOBSRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		plain := rapid.SliceOfN(rapid.OneOf(rapid.Just(byte(0)), rapid.Byte(), rapid.Just(byte(7))), 0, 1200).Draw(t, "plain")
		if rapid.Bool().Draw(t, "full") {
			plain = bytes.Repeat([]byte{9}, len(plain))
		}
		coded := wire.AppendCOBS([]byte("ab"), plain)[2:]
		require.NotContains(t, coded, byte(0))
		require.LessOrEqual(t, len(coded), len(plain)+len(plain)/254+1) // the paper's bound
		got, ok := wire.DecodeCOBS([]byte("ab"), coded)
		require.True(t, ok)
		require.Equal(t, append([]byte("ab"), plain...), got)
	})
}

// The CRC has the check value that catalogues of CRCs give for "123456789". A packet equals
// one that is assembled here byte by byte from the description of the format.
func TestFrameIsThePacketDescribed(t *testing.T) {
	require.Equal(t, uint32(0xCBF43926), crc32.ChecksumIEEE([]byte("123456789")))

	body := []byte{2, 1, 0x34, 0x12, 0x78, 0x56, 0x34, 0x12, 0xFF, 0x0F, 0x00, 0x01}
	crc := slowCRC(body)
	require.Equal(t, uint32(0xCBF43926), slowCRC([]byte("123456789")))
	for range 4 {
		body = append(body, byte(crc))
		crc >>= 8
	}
	require.NotContains(t, body[11:], byte(0))
	want := append([]byte{11}, body[:10]...) // up to the zero of the last count
	want = append(want, byte(len(body)-11+1))
	want = append(want, body[11:]...)
	want = append(want, 0)
	assert.Equal(t, want, wire.AppendFrame(nil, 1, 0x1234, 0x12345678, []uint16{0x0FFF, 0x0100}))
	assert.Len(t, wire.AppendFrame(nil, 0, 0, 0, make([]uint16, 40)), 94)
}

// slowCRC computes the CRC-32 of IEEE 802.3 bit by bit.
func slowCRC(b []byte) uint32 {
	crc := ^uint32(0)
	for _, x := range b {
		crc ^= uint32(x)
		for range 8 {
			if crc&1 == 1 {
				crc = crc>>1 ^ 0xEDB88320 // 0x04C11DB7 reflected
			} else {
				crc >>= 1
			}
		}
	}
	return ^crc
}

func FuzzCOBS(f *testing.F) {
	f.Add([]byte{})
	f.Add([]byte{3, 0x11, 0x22, 2, 0x33})
	f.Add(append([]byte{255}, count(1, 255)...))
	f.Fuzz(func(t *testing.T, b []byte) {
		got, ok := wire.DecodeCOBS(nil, wire.AppendCOBS(nil, b))
		require.True(t, ok)
		require.True(t, bytes.Equal(b, got))
		if plain, ok := wire.DecodeCOBS(nil, b); ok {
			again := wire.AppendCOBS(nil, plain)
			if !bytes.Equal(again, b) { // the one ambiguity: a 01 after a final full block
				require.Equal(t, append(again, 1), b)
			}
		}
	})
}
