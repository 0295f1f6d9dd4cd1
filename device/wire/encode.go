package wire

import (
	"encoding/binary"
	"hash/crc32"
	"slices"
	"strconv"

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

// AppendTextHello appends a Hello as a line of text.
func AppendTextHello(dst []byte, h Hello) []byte {
	return append(h.appendJSON(append(dst, "# "...)), '\n')
}

// AppendTextFrame appends a frame as a line of text, with the clock first and,
// if checksum is set, with *HH at its end.
func AppendTextFrame(dst []byte, tUS uint64, counts []uint16, checksum bool) []byte {
	start := len(dst)
	dst = strconv.AppendUint(dst, tUS, 10)
	for _, c := range counts {
		dst = strconv.AppendUint(append(dst, ','), uint64(c), 10)
	}
	if checksum {
		const hex = "0123456789ABCDEF"
		x := xor(dst[start:])
		dst = append(dst, '*', hex[x>>4], hex[x&15])
	}
	return append(dst, '\n')
}

// xor returns the exclusive or of all bytes, the checksum of NMEA 0183 sentences.
func xor(b []byte) (x byte) {
	for _, c := range b {
		x ^= c
	}
	return x
}
