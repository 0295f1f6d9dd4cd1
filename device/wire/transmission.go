package wire

import "aplomb/device"

// ParseFormat reads what Format.String writes; anything else is Unknown.
func ParseFormat(s string) Format {
	for _, f := range []Format{Binary, Text} {
		if s == f.String() {
			return f
		}
	}
	return Unknown
}

// Sending is how frames are sent: how long each takes on the line.
type Transmission struct {
	Format Format
	Baud   int // bits a second, of which a byte takes ten; 0 where that is not known
}

// NS returns how long the bytes of f take on the line, ns; 0 where format or
// speed are not known. A binary packet is taken at its longest: one of more
// than 254 bytes may be a byte or two shorter. A line of text is taken without
// a checksum and with a line feed alone: it may be one to four bytes longer.
func (s Transmission) TimeNS(f *device.Frame) int64 {
	if s.Baud <= 0 {
		return 0
	}
	return int64(s.bytes(f)) * 10 * 1e9 / int64(s.Baud)
}

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

func digits(v uint64) int {
	n := 1
	for ; v >= 10; v /= 10 {
		n++
	}
	return n
}
