package wire

import (
	"math"
)

// readRow reads the numbers of a line without line end and checksum. The first number
// (the clock or, where there is none, the first count) goes to first, the others to
// counts. It stops with a reason at anything that is neither a number nor a
// separator, at a number above max, and at a number for which counts has no room.
//
// A separator is a comma, a semicolon, or any run of tabs and spaces, with blanks
// around it. One at the end of the line is ignored.
func readRow(line []byte, max uint16, counts []uint16) (first uint64, numbers int, why Reason) {
	i := skipBlanks(line, 0)
	start := i
	for ; i < len(line) && isDigit(line[i]); i++ {
		d := uint64(line[i] - '0')
		if first > (math.MaxUint64-d)/10 {
			return first, 0, OutOfRange
		}
		first = first*10 + d
	}
	if i == start {
		return first, 0, NotNumbers
	}
	n := 0
	for ; ; n++ {
		// The separator is a single comma in most files.
		if i < len(line) && line[i] == ',' {
			i++
		} else if j := skipSeparator(line, i); j > i || i == len(line) {
			i = j
		} else {
			return first, n + 1, NotNumbers
		}
		i = skipBlanks(line, i)
		if i == len(line) {
			return first, n + 1, accepted
		}
		v := uint32(line[i]) - '0'
		if v > 9 {
			return first, n + 1, NotNumbers
		}
		for i++; i < len(line); i++ {
			d := uint32(line[i]) - '0'
			if d > 9 || v > math.MaxUint16 {
				break
			}
			v = v*10 + d
		}
		if n == len(counts) {
			return first, n + 2, WrongLength
		}
		if v > uint32(max) {
			return first, n + 2, OutOfRange
		}
		counts[n] = uint16(v)
	}
}

// splitChecksum cuts *HH off the end of a line. found reports whether it was there; ok is
// false where it is wrong.
func splitChecksum(line []byte) (rest []byte, found, ok bool) {
	n := len(line) - 3
	if n < 0 || line[n] != '*' {
		return line, false, true
	}
	hi, lo := unhex(line[n+1]), unhex(line[n+2])
	if hi > 15 || lo > 15 {
		return line, false, true
	}
	return line[:n], true, hi<<4|lo == xor(line[:n])
}

// unhex returns the value of a hexadecimal digit, 0xFF for any other byte.
func unhex(c byte) byte {
	switch {
	case isDigit(c):
		return c - '0'
	case c >= 'A' && c <= 'F':
		return c - 'A' + 10
	case c >= 'a' && c <= 'f':
		return c - 'a' + 10
	}
	return 0xFF
}

func isDigit(c byte) bool { return c-'0' <= 9 }
func isBlank(c byte) bool { return c == ' ' || c == '\t' }

// skipBlanks returns the index of the first byte from i on that is no blank.
func skipBlanks(line []byte, i int) int {
	for i < len(line) && isBlank(line[i]) {
		i++
	}
	return i
}

// skipSeparator returns the index behind the separator at i, i itself where there is
// none.
func skipSeparator(line []byte, i int) int {
	i = skipBlanks(line, i)
	if i < len(line) && (line[i] == ',' || line[i] == ';') {
		i++
	}
	return i
}

// trimRight cuts blanks and carriage returns off the end of a line.
func trimRight(line []byte) []byte {
	n := len(line)
	for n > 0 && (isBlank(line[n-1]) || line[n-1] == '\r') {
		n--
	}
	return line[:n]
}
