// Package wiretest encodes the text format of package wire for tests. Strips send text;
// nothing but tests writes it.
package wiretest

import (
	"encoding/json"
	"strconv"

	"aplomb/device/wire"
)

// AppendTextHello appends a Hello as a line of text.
func AppendTextHello(dst []byte, h wire.Hello) []byte {
	b, err := json.Marshal(h)
	if err != nil {
		panic(err) // a rate that is not a finite number
	}
	return append(append(append(dst, "# "...), b...), '\n')
}

// AppendTextFrame appends a frame as a line of text, with the clock first and, if
// checksum is set, with *HH at its end.
func AppendTextFrame(dst []byte, tUS uint64, counts []uint16, checksum bool) []byte {
	start := len(dst)
	dst = strconv.AppendUint(dst, tUS, 10)
	for _, c := range counts {
		dst = strconv.AppendUint(append(dst, ','), uint64(c), 10)
	}
	if checksum {
		const hex = "0123456789ABCDEF"
		x := byte(0)
		for _, c := range dst[start:] {
			x ^= c
		}
		dst = append(dst, '*', hex[x>>4], hex[x&15])
	}
	return append(dst, '\n')
}
