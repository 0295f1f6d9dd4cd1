package wire

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"hash/crc32"

	"aplomb/device"
)

// Format is the format in which a line sends its frames.
type Format uint8

const (
	Unknown Format = iota
	Binary
	Text
)

// String returns "unknown", "binary" or "text".
func (f Format) String() string { return [...]string{"unknown", "binary", "text"}[f] }

// Reason is the reason for dropping a packet or a line of text.
type Reason uint8

const (
	accepted    Reason = iota
	TooLong            // longer than any frame or hello can be
	Damaged            // its checksum is wrong
	WrongLength        // intact, but with another number of cells than the strip's
	OutOfRange         // intact, but with counts beyond the strip's converter
	NotNumbers         // a line of text that contains something other than numbers
	BadHello           // a hello that cannot be read
	BadKind            // a packet that is neither hello nor frame, or of no foot
	NoChecksum         // a line of text without one from a strip that writes them
	reasons
)

// Stats counts what a Decoder has decoded and dropped.
type Stats struct {
	Format  Format
	Frames  uint64
	Hellos  uint64
	Bytes   uint64          // bytes fed
	Dropped uint64          // bytes that belong to no message, without a message that is still arriving
	Bad     [reasons]uint64 // packets or lines dropped, by Reason

	HelloError string // the error of the last BadHello
}

// Plus returns the sum of the counts of two parts of one line, s before t.
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

// Message is a frame or a Hello, as a strip has sent it.
type Message struct {
	Hello    *Hello      // the Hello; nil for a frame, which has the other fields
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

	// enoughChecks is the number of successive lines with a correct checksum after which
	// every line must have one. Damage produces digits that form a checksum about once in
	// a million lines.
	enoughChecks = 2
)

// Decoder decodes the bytes of one serial line. Feed takes bytes and Next returns
// messages:
//
//	d.Feed(chunk)
//	for d.Next(&m) { … }
//
// All messages between two calls of Feed were completed by that chunk and arrived
// when it did. They do not depend on how the bytes are divided into chunks.
//
// The decoder detects whether the line is binary or text. After an error it goes on
// at the next delimiter: a zero byte in binary, a zero byte or line feed in text. A
// packet with the right CRC decides for binary; before that, lines of text are
// decoded too. The first line of text is accepted only with a checksum, because its
// beginning may be missing. Once two successive frames had a checksum every frame
// must have one, because damage may have removed it.
//
// It keeps 64 KiB and allocates no memory for a frame.
type Decoder struct {
	limits [2]limit // by foot
	stats  [3]Stats // by Format: what was dropped when the bytes were decoded as that format
	format Format
	frames uint64
	hellos uint64

	chunk []byte // fed, not yet in buf
	buf   []byte
	base  uint64 // offset of buf[0] in the stream
	scan  int    // index in buf up to which delimiters have been searched
	// Indices in buf where the current packet and the current line start; -1 within
	// one that is too long.
	packet, line int
	whole        bool   // the current line has been fed from its beginning
	checks       int    // successive lines of text with a checksum; it stays at enoughChecks
	used         uint64 // bytes of messages and delimiters

	body   []byte
	counts []uint16
	hello  Hello

	helloError error // of the last Hello that could not be read
}

// limit is the number of cells of a frame of one foot and its highest count.
type limit struct {
	cells int
	max   uint16
}

// NewDecoder returns a decoder for a line with the strips left and right on it. One of
// them may be nil: frames of that foot are then checked against the other strip, and
// the caller has to refuse them. Lines of text are checked against left, or against
// right where left is nil.
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

// Feed gives the decoder the next bytes of the line. It keeps chunk, which must not
// change until Next has returned false; only then may Feed be called again.
func (d *Decoder) Feed(chunk []byte) { d.chunk = chunk }

// Stats returns the counts so far. Dropped and Bad are those of the format of the
// line; while that is unknown, Bad is the sum for both formats.
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

// pending returns the index in buf from which bytes may still become a message.
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

// delimiter returns the index in buf of the next delimiter from scan on, or -1.
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

// dropTooLong drops the current packet and line where they have become too long by end.
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

// fill moves bytes of the chunk into buf.
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

// drop counts a packet or line that was dropped, and returns false.
func (d *Decoder) drop(f Format, why Reason) bool {
	d.stats[f].Bad[why]++
	return false
}

// readPacket decodes the bytes between two zeros. It returns whether they are a message.
func (d *Decoder) readPacket(m *Message, p []byte) bool {
	if len(p) == 0 {
		d.used++ // an additional zero is allowed; many boards start with one
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

// readBody decodes the body of a packet.
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

// readHello decodes the JSON of a Hello.
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

// readLine decodes a line of text without its line feed. It returns whether it is a
// message. whole reports whether its beginning is there.
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

// readCounts decodes a line of numbers as a frame.
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
	default: // there is no clock: the first number is the first count
		copy(counts[1:], counts)
		counts[0] = uint16(first)
		*m = Message{Foot: device.NoFoot, Counts: counts}
	}
	d.frames++
	return accepted
}
