package wire

import (
	"encoding/binary"
	"hash/crc32"
	"slices"

	"aplomb/device"
)

// The first byte of a body.
const (
	kindHello = 0x01
	kindFrame = 0x02
)

const (
	frameHead = 8 // bytes of a frame's body before its counts
	crcSize   = 4
)

// AppendHello appends a Hello as a binary packet.
func AppendHello(dst []byte, h Hello) []byte {
	start := len(dst)
	return endPacket(h.appendJSON(append(dst, kindHello)), start)
}

// AppendFrame appends a frame as a binary packet, 94 bytes for 40 cells.
func AppendFrame(dst []byte, foot device.Foot, seq uint16, tUS uint32, counts []uint16) []byte {
	start := len(dst)
	dst = append(dst, kindFrame, byte(foot))
	dst = binary.LittleEndian.AppendUint16(dst, seq)
	dst = binary.LittleEndian.AppendUint32(dst, tUS)
	for _, c := range counts {
		dst = binary.LittleEndian.AppendUint16(dst, c)
	}
	return endPacket(dst, start)
}

// endPacket makes a packet of the body in dst from start on. It moves the body up by
// the largest number of bytes that the encoding can add and encodes it back down, so
// that no second buffer is needed.
func endPacket(dst []byte, start int) []byte {
	dst = binary.LittleEndian.AppendUint32(dst, crc32.ChecksumIEEE(dst[start:]))
	n := len(dst) - start
	up := cobsSize(n) - n
	dst = slices.Grow(dst, up+1)[:start+n+up]
	body := dst[start+up:]
	copy(body, dst[start:start+n])
	return append(AppendCOBS(dst[:start], body), 0)
}

// xor returns the exclusive or of all bytes, the checksum of NMEA 0183 sentences.
func xor(b []byte) (x byte) {
	for _, c := range b {
		x ^= c
	}
	return x
}
