package input

import (
	"bytes"
	"fmt"
)

// The limits of a profile in TOML. A parser of TOML needs memory by the square of the
// parts of a key, and stack by the nesting of values.
const (
	// MaxProfile bounds a profile with its lists of numbers, bytes. An outline of 5,000
	// points, or three numbers for each of 4,096 cells, take half of it with all their
	// digits.
	MaxProfile = 512 << 10
	// maxProfileText bounds what a profile has beside its lists of numbers, bytes.
	maxProfileText = 64 << 10
	// maxDepth bounds the parts of a key and the brackets around a value. A profile
	// needs two of either.
	maxDepth = 8
)

// numbers are the bytes that lists of numbers consist of.
var numbers = []byte("0123456789.+-e, \t\r\n[]")

// LineError is an error in a line of a text.
type LineError struct {
	Line   int // from 1
	Reason string
}

func (e *LineError) Error() string { return fmt.Sprintf("line %d: %s", e.Line, e.Reason) }

// CheckTOML returns a *LineError where data is longer or nested deeper than any profile,
// so that a parser may not be given it. It takes time in proportion to the bytes and no
// memory. Text that is no TOML is left to the parser, which reads no further than its
// first error.
func CheckTOML(data []byte) error {
	line, text := 1, 0
	refuse := func(format string, args ...any) error { return &LineError{line, fmt.Sprintf(format, args...)} }
	if len(data) > MaxProfile {
		return refuse("more than %d KiB: no profile is so long", MaxProfile>>10)
	}
	dots, brackets := 0, 0
	for at := 0; at < len(data); {
		c, size := data[at], 1
		switch c {
		case '"', '\'':
			size = stringSize(data[at:])
		case '#':
			size = lineSize(data[at:])
		case '\n', '=', ',':
			dots = 0
		case '[', '{':
			dots = 0
			brackets++
		case ']', '}':
			dots = 0
			brackets = max(0, brackets-1)
		case '.':
			dots++
		}
		if brackets == 0 || bytes.IndexByte(numbers, c) < 0 {
			text += size
		}
		switch {
		case dots >= maxDepth:
			return refuse("a key of more than %d parts: no profile has one", maxDepth)
		case brackets > maxDepth:
			return refuse("more than %d brackets around a value: no profile has them", maxDepth)
		case text > maxProfileText:
			return refuse("more than %d KiB beside the lists of numbers: no profile is so long", maxProfileText>>10)
		}
		line += bytes.Count(data[at:at+size], []byte("\n"))
		at += size
	}
	return nil
}

// stringSize returns the length of the string that data begins with, quotes included.
// A string that its line does not end is as long as the line.
func stringSize(data []byte) int {
	quote := data[0]
	if long := bytes.Repeat([]byte{quote}, 3); bytes.HasPrefix(data, long) {
		for at := len(long); at < len(data); at++ {
			switch {
			case data[at] == '\\' && quote == '"':
				at++
			case bytes.HasPrefix(data[at:], long):
				at += len(long)
				for range 2 { // quotes that the string itself ends with
					if at < len(data) && data[at] == quote {
						at++
					}
				}
				return at
			}
		}
		return len(data)
	}
	for at := 1; at < len(data); at++ {
		switch {
		case data[at] == '\n':
			return at
		case data[at] == '\\' && quote == '"':
			at++
		case data[at] == quote:
			return at + 1
		}
	}
	return len(data)
}

// lineSize returns the length of the line that data begins with, without its line feed.
func lineSize(data []byte) int {
	if n := bytes.IndexByte(data, '\n'); n >= 0 {
		return n
	}
	return len(data)
}
