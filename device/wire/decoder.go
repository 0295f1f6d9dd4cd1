package wire

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"hash/crc32"

	"aplomb/device"
)

// Format is how a line writes its frames.
type Format uint8

const (
	Unknown Format = iota
	Binary
	Text
)

// String returns "unknown", "binary" or "text".
func (f Format) String() string { return [...]string{"unknown", "binary", "text"}[f] }

// Reason says why a packet or a line of text was dropped.
type Reason uint8

const (
	accepted    Reason = iota
	TooLong            // longer than any frame or hello can be
	Damaged            // its checksum is wrong
	WrongLength        // whole, but with another number of cells than the strip's
	OutOfRange         // whole, but with counts beyond the strip's converter
	NotNumbers         // a line of text with something else than numbers in it
	BadHello           // a hello that cannot be read
	BadKind            // a packet that is neither hello nor frame, or of no foot
	NoChecksum         // a line of text without one from a strip that writes them
	reasons
)

// Stats counts what a Decoder has seen.
type Stats struct {
	Format  Format
	Frames  uint64
	Hellos  uint64
	Bytes   uint64          // all that was fed
	Dropped uint64          // bytes that belong to no message; a message still arriving is not counted
	Bad     [reasons]uint64 // packets or lines dropped, by Reason

	HelloError string // what was wrong with the last BadHello
}

// Plus returns the counts of two stretches of one line, s before t.
func (s Stats) Plus(t Stats) Stats {
	if t.Format == Unknown {
		t.Format = s.Format
	}
	t.Frames += s.Frames
	t.Hellos += s.Hellos
	t.Bytes += s.Bytes
	t.Dropped += s.Dropped
	for r, n := range s.Bad {
		t.Bad[r] += n
	}
	t.HelloError = cmp.Or(t.HelloError, s.HelloError)
	return t
}

// Message is one thing that a strip said: a frame, or a hello.
type Message struct {
	Hello    *Hello      // set where this is a hello, and the rest is not
	Foot     device.Foot // NoFoot in text, whose lines do not name it
	HasSeq   bool
	HasClock bool
	Seq      uint16   // as sent, wraps at 2^16
	TimeUS   uint64   // as sent, wraps at 2^32 in binary; µs
	Counts   []uint16 // valid until the next call of Next
}

const (
	maxPacket = frameHead + 2*device.MaxCells + crcSize + (frameHead+2*device.MaxCells+crcSize)/cobsBlock + 1
	maxLine   = 32 << 10 // 4096 cells of 5 digits and a comma, a clock, a checksum, and room for blanks
	window    = 2 * maxLine

	// Damage makes a checksum of digits once in a million lines, never twice running.
	enoughChecks = 2
)

// Decoder reads what comes in on one serial line. Bytes go in by Feed,
// messages come out of Next:
//
//	d.Feed(chunk)
//	for d.Next(&m) { … }
//
// so all messages between two calls of Feed were completed by that chunk and
// arrived when it did. The messages do not depend on how the bytes are cut
// into chunks.
//
// The decoder finds out by itself whether the line is binary or text, and
// after any garbage is back in step at the next delimiter: a zero byte in
// binary, a zero byte or line feed in text. A packet with the right CRC proves
// binary for good; until then lines of text are taken too. The line in
// progress when a decoder starts is taken only with a checksum, since its
// beginning, and with it part of a number, may be missing. Once two frames
// running had a checksum every frame must have one: damage that takes the
// checksum away would otherwise go unseen.
//
// It keeps 64 KiB, whatever comes in, and allocates nothing for a frame.
type Decoder struct {
	limits [2]limit // by foot
	stats  [3]Stats // by Format: what was dropped, as seen by either reader
	format Format
	frames uint64
	hellos uint64

	chunk []byte // fed, not yet in buf
	buf   []byte
	base  uint64 // place of buf[0] in the stream
	scan  int    // buf up to here has been searched for delimiters
	// Where the packet and the line in progress start in buf; -1 in one that is too long.
	packet, line int
	whole        bool   // the line in progress was seen from its beginning
	checks       int    // frames running that had a checksum, in text; once enough, for good
	used         uint64 // bytes of messages and delimiters

	body   []byte
	counts []uint16
	hello  Hello

	helloError error // of the last that could not be read
}

// limit is what a frame of one foot must keep to.
type limit struct {
	cells int
	max   uint16
}

// NewDecoder returns a decoder for a line with the strips left and right on
// it. One may be nil: frames of that foot, should any come, are held against
// the other strip, and it is for the caller to say that they should not be
// there. Lines of text are held against left, or right where left is nil.
func NewDecoder(left, right *device.Strip) *Decoder {
	d := &Decoder{
		buf:  make([]byte, 0, window),
		body: make([]byte, 0, maxPacket),
	}
	d.Expect(left, right)
	return d
}

// Expect changes the strips that NewDecoder was given, from the next message on.
func (d *Decoder) Expect(left, right *device.Strip) {
	if left == nil {
		left = right
	}
	if right == nil {
		right = left
	}
	d.limits = [2]limit{limitOf(left), limitOf(right)}
	d.counts = make([]uint16, max(d.limits[0].cells, d.limits[1].cells))
}

func limitOf(s *device.Strip) limit {
	return limit{cells: s.Cells(), max: uint16(1<<s.ADCBits - 1)}
}

// Feed gives the decoder the next bytes of the line. It keeps chunk, which
// must stay as it is until Next has returned false; only then feed more.
func (d *Decoder) Feed(chunk []byte) { d.chunk = chunk }

// Stats returns the counts so far. Dropped and Bad are what the format of the
// line makes of the bytes; while it is unknown, Bad holds the complaints of both.
func (d *Decoder) Stats() Stats {
	s := d.stats[d.format]
	s.Format, s.Frames, s.Hellos = d.format, d.frames, d.hellos
	if d.helloError != nil {
		s.HelloError = d.helloError.Error()
	}
	s.Bytes = d.base + uint64(len(d.buf)) + uint64(len(d.chunk))
	if d.format == Unknown {
		for r := range s.Bad {
			s.Bad[r] = d.stats[Binary].Bad[r] + d.stats[Text].Bad[r]
		}
	}
	if resolved := d.base + uint64(d.pending()); resolved > d.used {
		s.Dropped = resolved - d.used
	}
	return s
}

// held returns where the bytes start that may still become a message.
func (d *Decoder) pending() int {
	at := len(d.buf)
	if d.packet >= 0 && d.format != Text {
		at = min(at, d.packet)
	}
	if d.line >= 0 && d.format != Binary {
		at = min(at, d.line)
	}
	return at
}

// Next sets m to the next message and returns true, or returns false when the
// bytes fed so far hold no further one.
func (d *Decoder) Next(m *Message) bool {
	for {
		i := d.delimiter()
		if i < 0 {
			d.dropTooLong(len(d.buf))
			if len(d.chunk) == 0 {
				return false
			}
			d.fill()
			continue
		}
		d.dropTooLong(i)
		d.scan = i + 1
		packet, line, whole := d.packet, d.line, d.whole
		d.line, d.whole = i+1, true
		if d.buf[i] == 0 {
			d.packet = i + 1
			if packet >= 0 && d.readPacket(m, d.buf[packet:i]) {
				return true
			}
		} else if line >= 0 && d.readLine(m, d.buf[line:i], whole) {
			return true
		}
	}
}

// delimiter returns the place of the next delimiter not yet seen, or -1.
func (d *Decoder) delimiter() int {
	rest := d.buf[d.scan:]
	if d.format == Binary {
		if i := bytes.IndexByte(rest, 0); i >= 0 {
			return d.scan + i
		}
	} else {
		for i, b := range rest {
			if b == 0 || b == '\n' {
				return d.scan + i
			}
		}
	}
	d.scan = len(d.buf)
	return -1
}

// giveUp gives up on a packet and a line that have grown too long by end.
func (d *Decoder) dropTooLong(end int) {
	if d.packet >= 0 && end-d.packet > maxPacket {
		d.packet = -1
		d.drop(Binary, TooLong)
	}
	if d.format != Binary && d.line >= 0 && end-d.line > maxLine {
		d.line = -1
		d.drop(Text, TooLong)
	}
}

// fill moves bytes of the chunk into the window.
func (d *Decoder) fill() {
	keep := len(d.buf)
	if d.packet >= 0 {
		keep = min(keep, d.packet)
	}
	if d.format != Binary && d.line >= 0 {
		keep = min(keep, d.line)
	}
	if keep == len(d.buf) || cap(d.buf)-len(d.buf) < len(d.chunk) {
		d.buf = d.buf[:copy(d.buf, d.buf[keep:])]
		d.base += uint64(keep)
		d.scan -= keep
		if d.packet >= 0 {
			d.packet -= keep
		}
		if d.line >= 0 {
			d.line -= keep
		}
	}
	n := min(len(d.chunk), cap(d.buf)-len(d.buf))
	d.buf = append(d.buf, d.chunk[:n]...)
	d.chunk = d.chunk[n:]
}

func (d *Decoder) drop(f Format, why Reason) bool {
	d.stats[f].Bad[why]++
	return false
}

// readPacket reads the bytes between two zeros. It returns whether they are a message.
func (d *Decoder) readPacket(m *Message, p []byte) bool {
	if len(p) == 0 {
		d.used++ // a zero too many does no harm, and many boards start with one
		return false
	}
	var ok bool
	d.body, ok = DecodeCOBS(d.body[:0], p)
	n := len(d.body) - crcSize
	if !ok || n < 1 || binary.LittleEndian.Uint32(d.body[n:]) != crc32.ChecksumIEEE(d.body[:n]) {
		return d.drop(Binary, Damaged)
	}
	d.format = Binary
	why := d.readBody(m, d.body[:n])
	if why != accepted {
		return d.drop(Binary, why)
	}
	d.used += uint64(len(p) + 1)
	return true
}

func (d *Decoder) readBody(m *Message, b []byte) Reason {
	switch {
	case b[0] == kindHello:
		return d.readHello(m, b[1:])
	case b[0] != kindFrame || len(b) >= 2 && b[1] > byte(device.Right):
		return BadKind
	case len(b) < frameHead:
		return WrongLength
	}
	foot := device.Foot(b[1])
	lim := d.limits[foot]
	if len(b) != frameHead+2*lim.cells {
		return WrongLength
	}
	counts := d.counts[:lim.cells]
	cells := b[frameHead:]
	var all uint16
	for k := range counts {
		c := binary.LittleEndian.Uint16(cells[2*k:])
		counts[k] = c
		all |= c
	}
	if all > lim.max { // max is all ones, so any bit beyond it shows
		return OutOfRange
	}
	d.frames++
	*m = Message{
		Foot:     foot,
		HasSeq:   true,
		HasClock: true,
		Seq:      binary.LittleEndian.Uint16(b[2:]),
		TimeUS:   uint64(binary.LittleEndian.Uint32(b[4:])),
		Counts:   counts,
	}
	return accepted
}

func (d *Decoder) readHello(m *Message, data []byte) Reason {
	h, err := ParseHello(data)
	if err != nil {
		d.helloError = err
		return BadHello
	}
	d.hellos++
	d.hello = h
	*m = Message{Hello: &d.hello, Foot: h.Foot}
	return accepted
}

// readLine reads a line of text without its line feed. It returns whether it is a message.
func (d *Decoder) readLine(m *Message, raw []byte, whole bool) bool {
	if d.format == Binary {
		return false
	}
	size := uint64(len(raw) + 1)
	line := trimRight(raw)
	line = line[skipBlanks(line, 0):]
	if len(line) == 0 {
		d.used += size
		return false
	}
	line, checked, ok := splitChecksum(line)
	switch {
	case !ok:
		return d.drop(Text, Damaged)
	case len(line) > 0 && line[0] == '#':
		data := line[1:]
		data = data[skipBlanks(data, 0):]
		if len(data) == 0 || data[0] != '{' {
			d.used += size
			return false
		}
		if why := d.readHello(m, data); why != accepted {
			return d.drop(Text, why)
		}
	case !whole && !checked:
		return false
	case !checked && d.checks >= enoughChecks:
		return d.drop(Text, NoChecksum)
	default:
		if why := d.readCounts(m, line); why != accepted {
			return d.drop(Text, why)
		}
		if d.checks++; !checked {
			d.checks = 0
		}
	}
	d.format = Text
	d.used += size
	return true
}

func (d *Decoder) readCounts(m *Message, line []byte) Reason {
	lim := d.limits[device.Left]
	counts := d.counts[:lim.cells]
	first, numbers, why := readRow(line, lim.max, counts)
	switch {
	case why != accepted:
		return why
	case numbers == lim.cells+1:
		*m = Message{Foot: device.NoFoot, HasClock: true, TimeUS: first, Counts: counts}
	case numbers != lim.cells:
		return WrongLength
	case first > uint64(lim.max):
		return OutOfRange
	default: // no clock: what was read first is the first count
		copy(counts[1:], counts)
		counts[0] = uint16(first)
		*m = Message{Foot: device.NoFoot, Counts: counts}
	}
	d.frames++
	return accepted
}
