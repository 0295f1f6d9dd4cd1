package wire

import "aplomb/device"

// ParseFormat returns the Format with that String, Unknown for any other text.
func ParseFormat(s string) Format {
	for _, f := range []Format{Binary, Text} {
		if s == f.String() {
			return f
		}
	}
	return Unknown
}

// Transmission describes how frames are sent over a serial line, which determines the
// time that each takes.
type Transmission struct {
	Format Format
	Baud   int // speed, bits/s, of which a byte takes ten; 0 where it is not known
}

// TimeNS returns how long the bytes of f take on the line, ns; 0 where format or speed
// are not known. For a binary packet that is the longest possible encoding: a packet
// of more than 254 bytes may be a byte or two shorter. A line of text is assumed to
// have no checksum and a line feed alone at its end: it may be one to four bytes
// longer.
func (s Transmission) TimeNS(f *device.Frame) int64 {
	if s.Baud <= 0 {
		return 0
	}
	return int64(s.bytes(f)) * 10 * 1e9 / int64(s.Baud)
}

// bytes returns the number of bytes of f, 0 for an unknown format.
func (s Transmission) bytes(f *device.Frame) int {
	switch s.Format {
	case Binary:
		return cobsSize(frameHead+2*len(f.Counts)+crcSize) + 1
	case Text:
		n := digits(f.TimeUS) + len(f.Counts) + 1 // commas; line feed
		for _, c := range f.Counts {
			n += digits(uint64(c))
		}
		return n
	}
	return 0
}

// digits returns the number of decimal digits of v.
func digits(v uint64) int {
	n := 1
	for ; v >= 10; v /= 10 {
		n++
	}
	return n
}
