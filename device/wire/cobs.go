package wire

import (
	"bytes"
	"slices"
)

// Consistent overhead byte stuffing (Cheshire & Baker, IEEE/ACM Transactions
// on Networking 7 (1999) 159-172) writes any bytes without using zero: each
// zero is replaced by the distance to the next, each run of 254 bytes without
// a zero is led by 0xFF.

// cobsBlock is the largest number of bytes in one block behind its code byte.
const cobsBlock = 254

// cobsSize returns the largest number of bytes that n bytes can become.
func cobsSize(n int) int { return n + n/cobsBlock + 1 }

// AppendCOBS appends the encoding of src to dst, without the zero that ends a packet.
// Where src ends with a full block no trailing 01 is written. src may lie in the
// unused capacity of dst, at least cobsSize(len(src)) - len(src) bytes behind
// len(dst).
func AppendCOBS(dst, src []byte) []byte {
	dst = slices.Grow(dst, cobsSize(len(src)))
	out := dst[len(dst):cap(dst)]
	code, n := 0, 1 // where the block's code byte goes, and the next byte
	for i, b := range src {
		if b != 0 {
			out[n] = b
			n++
		}
		if b == 0 || (n-code == 0xFF && i < len(src)-1) {
			out[code] = byte(n - code)
			code, n = n, n+1
		}
	}
	out[code] = byte(n - code)
	return dst[:len(dst)+n]
}

// DecodeCOBS appends the decoded src to dst. It returns dst unchanged and false where
// src is no encoding: it is empty, has a zero in it, or ends within a block. A
// trailing 01 after a final full block is accepted.
func DecodeCOBS(dst, src []byte) ([]byte, bool) {
	if len(src) == 0 || bytes.IndexByte(src, 0) >= 0 {
		return dst, false
	}
	dst = slices.Grow(dst, len(src))
	out := dst[len(dst) : len(dst)+len(src)]
	// All but the first byte is copied. Then each code byte is overwritten by the
	// zero that it stands for or, after a full block, by the bytes behind it.
	copy(out, src[1:])
	shift := 1 // how far the copy lags behind src
	for at := 0; ; {
		code := int(src[at])
		at += code
		switch {
		case at == len(src):
			return dst[:len(dst)+at-shift], true
		case at > len(src):
			return dst, false
		case code < 0xFF:
			out[at-shift] = 0
		default:
			copy(out[at-shift:], src[at+1:])
			shift++
		}
	}
}
