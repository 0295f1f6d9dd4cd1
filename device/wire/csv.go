package wire

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"aplomb/device"
	"aplomb/device/input"
)

const (
	csvBuffer = 256 << 10
	// A smaller time than in the row before is a wrap at 2^32 where that makes a
	// step of at most csvWrapUS; otherwise time runs backwards.
	csvWrapUS = 60_000_000
)

// CSV reads the frames of one strip from comma-separated values: a header
// t_us,c0,c1,… and then one frame on each line, as in the text format. It is a
// device.Source. Empty lines and lines that start with # are ignored. Errors name
// file and line and are final.
type CSV struct {
	r      io.Reader
	close  func() error
	name   string
	strip  *device.Strip
	max    uint16
	anchor int64

	buf  []byte // buf[at:] is read but not yet used
	at   int
	done bool  // r has ended
	line int   // number of the line read last
	err  error // the error that Next has returned

	frames  uint64
	rawTime uint64
	time    uint64 // unwrapped, µs
}

// NewCSV reads frames of strip from r. Errors name the file as name. The ArrivalNS of
// a frame is anchorNS, ns since 1970, plus its t_us.
func NewCSV(r io.Reader, name string, strip *device.Strip, anchorNS int64) *CSV {
	return &CSV{
		r: r, close: func() error { return nil }, name: name, strip: strip, anchor: anchorNS,
		max: limitOf(strip).max,
		buf: make([]byte, 0, csvBuffer),
	}
}

// OpenCSV reads frames from a file as NewCSV does. The file may be a named pipe. Next
// returns the error of ctx soon after ctx is done.
func OpenCSV(ctx context.Context, path string, strip *device.Strip, anchorNS int64) (*CSV, error) {
	file, err := input.OpenStream(ctx, path)
	if err != nil {
		return nil, err
	}
	c := NewCSV(file, path, strip, anchorNS)
	c.close = file.Close
	return c, nil
}

// Close closes the file that OpenCSV opened.
func (c *CSV) Close() error { return c.close() }

// Next reads the next frame. It allocates no memory once f.Counts has room for the
// strip's cells.
func (c *CSV) Next(f *device.Frame) error {
	if c.err == nil {
		c.err = c.next(f)
	}
	return c.err
}

func (c *CSV) next(f *device.Frame) error {
	if c.line == 0 {
		if err := c.header(); err != nil {
			return err
		}
	}
	raw, err := c.contentLine()
	switch {
	case err == io.EOF && c.frames == 0:
		return c.errorf("a header and no frames under it: is the file complete?")
	case err != nil:
		return err
	}
	line, _, ok := splitChecksum(trimRight(raw))
	if !ok {
		return c.errorf("the checksum %s does not fit the line: copy the file again", trimRight(raw)[len(line):])
	}
	cells := c.strip.Cells()
	f.Counts = slices.Grow(f.Counts[:0], cells)[:cells]
	first, numbers, why := readRow(line, c.max, f.Counts)
	if why != accepted || numbers != cells+1 {
		return c.explainRow(line)
	}
	if err := c.setTime(first); err != nil {
		return err
	}
	c.frames++
	f.Foot, f.Seq, f.TimeUS = c.strip.Foot, device.NoSeq, c.time
	f.ArrivalNS = c.anchor + int64(c.time)*1000
	return nil
}

// setTime unwraps the time of a row into c.time.
func (c *CSV) setTime(raw uint64) error {
	switch step := raw - c.rawTime; {
	case c.frames == 0:
		c.time = raw
	case raw > c.rawTime:
		c.time += step
	case raw == c.rawTime:
		return c.errorf("t_us %d is that of the row before: every row needs a later time", raw)
	case c.rawTime < clockWrap && step%clockWrap <= csvWrapUS:
		c.time += step % clockWrap
	default:
		return c.errorf("t_us goes back from %d to %d: time must not run backwards; split the file here", c.rawTime, raw)
	}
	c.rawTime = raw
	if c.time > uint64(math.MaxInt64-max(0, c.anchor))/1000 {
		return c.errorf("t_us %d is too large: it counts microseconds", raw)
	}
	return nil
}

// header reads the first line that is neither empty nor a comment.
func (c *CSV) header() error {
	raw, err := c.contentLine()
	if err == io.EOF {
		return fmt.Errorf("%s: empty: it should begin with the header %s", c.name, c.wantedHeader())
	}
	if err != nil {
		return err
	}
	if c.line == 1 {
		raw = bytes.TrimPrefix(raw, []byte("\xEF\xBB\xBF")) // a byte order mark, which spreadsheets write
	}
	if !isText(raw) {
		return c.errorf("this is no text in UTF-8: save the table as CSV in UTF-8, with the header %s", c.wantedHeader())
	}
	got := fields(string(raw))
	for i, name := range got {
		got[i] = unquoted(name)
	}
	cells := c.strip.Cells()
	if _, err := strconv.ParseFloat(got[0], 64); err == nil {
		return c.errorf("no header: the first line should read %s", c.wantedHeader())
	}
	for i, name := range got {
		want := "t_us"
		if i > 0 {
			want = "c" + strconv.Itoa(i-1)
		}
		if name != want {
			return c.errorf("header: column %d is %s, should be %s: the header is %s", i+1, quote(name), want, c.wantedHeader())
		}
	}
	if len(got) != cells+1 {
		return c.errorf("header: %d cells, but strip %s has %d × %d = %d: take the profile of the strip that was recorded",
			len(got)-1, c.strip.Name, c.strip.Rows, c.strip.Cols, cells)
	}
	return nil
}

// wantedHeader returns the header of a file of this strip, for errors.
func (c *CSV) wantedHeader() string {
	switch n := c.strip.Cells(); n {
	case 1:
		return "t_us,c0"
	case 2:
		return "t_us,c0,c1"
	default:
		return fmt.Sprintf("t_us,c0,…,c%d", n-1)
	}
}

// explainRow returns an error that says what is wrong with a row.
func (c *CSV) explainRow(line []byte) error {
	if !isText(line) {
		return c.errorf("bytes that are no text: copy the file again")
	}
	all := fields(string(line))
	if parts := strings.Split(string(line), ";"); len(parts) > 1 && bytes.IndexByte(line, ',') >= 0 { // the commas are decimal
		for i, part := range parts {
			parts[i] = strings.Trim(part, " \t\r")
		}
		all = parts
	}
	for i, text := range all {
		column, most := "t_us", uint64(math.MaxUint64)
		if i > 0 {
			column, most = "c"+strconv.Itoa(i-1), uint64(c.max)
		}
		v, err := strconv.ParseUint(text, 10, 64)
		switch {
		case text == "":
			return c.errorf("%s is empty: every cell needs a count", column)
		case strings.HasPrefix(text, "-"):
			return c.errorf("%s is %s: negative; counts and times start at 0", column, quote(text))
		case err != nil && !errors.Is(err, strconv.ErrRange) && i == 0:
			return c.errorf("%s is %s: not a whole number of microseconds", column, quote(text))
		case err != nil && !errors.Is(err, strconv.ErrRange):
			return c.errorf("%s is %s: not a whole number", column, quote(text))
		case err == nil && v <= most:
			continue
		case i == 0:
			return c.errorf("t_us is %s: too large, it counts microseconds", quote(text))
		case i <= c.strip.Cells():
			return c.errorf("%s is %s: above %d, the range of the %d bits (adc_bits) of strip %s",
				column, quote(text), c.max, c.strip.ADCBits, c.strip.Name)
		}
	}
	return c.errorf("%d numbers, should be %d (t_us and %d cells): the row is incomplete or of another strip",
		len(all), c.strip.Cells()+1, c.strip.Cells())
}

// contentLine returns the next line that is neither empty nor a comment, without its
// line feed, or io.EOF.
func (c *CSV) contentLine() ([]byte, error) {
	for {
		line, err := c.nextLine()
		if err != nil {
			return nil, err
		}
		if i := skipBlanks(line, 0); i < len(line) && line[i] != '\r' && line[i] != '#' {
			return line[i:], nil
		}
	}
}

// nextLine returns the next line without its line feed, or io.EOF.
func (c *CSV) nextLine() ([]byte, error) {
	for searched := 0; ; {
		if i := bytes.IndexByte(c.buf[c.at+searched:], '\n'); i >= 0 {
			line := c.buf[c.at : c.at+searched+i]
			c.at += len(line) + 1
			c.line++
			return line, nil
		}
		searched = len(c.buf) - c.at
		switch {
		case searched > maxLine:
			c.line++
			return nil, c.errorf("a line of more than %d bytes: is this a file of frames?", maxLine)
		case c.done && searched == 0:
			return nil, io.EOF
		case c.done:
			line := c.buf[c.at:]
			c.at = len(c.buf)
			c.line++
			return line, nil
		}
		if err := c.fill(); err != nil {
			return nil, err
		}
	}
}

// fill reads more of the file behind the bytes that have not been used.
func (c *CSV) fill() error {
	c.buf = c.buf[:copy(c.buf, c.buf[c.at:])]
	c.at = 0
	n, err := c.r.Read(c.buf[len(c.buf):cap(c.buf)])
	c.buf = c.buf[:len(c.buf)+n]
	switch {
	case err == io.EOF:
		c.done = true
	case err != nil:
		return fmt.Errorf("%s: after line %d: %w", c.name, c.line, err)
	}
	return nil
}

func (c *CSV) errorf(format string, args ...any) error {
	return fmt.Errorf("%s:%d: %s", c.name, c.line, fmt.Sprintf(format, args...))
}

// fields splits a line as readRow does. Empty fields are kept.
func fields(line string) []string {
	line = strings.Trim(line, " \t\r")
	var out []string
	for {
		end := strings.IndexAny(line, ",; \t")
		if end < 0 {
			return append(out, line)
		}
		out = append(out, line[:end])
		line = strings.TrimLeft(line[end:], " \t")
		if line != "" && (line[0] == ',' || line[0] == ';') {
			line = strings.TrimLeft(line[1:], " \t")
			if line == "" {
				return out
			}
		}
	}
}

// isText reports whether a line is text in UTF-8.
func isText(line []byte) bool { return utf8.Valid(line) && bytes.IndexByte(line, 0) < 0 }

// unquoted returns a field without the quotation marks around it, which RFC 4180 allows.
func unquoted(field string) string {
	if n := len(field); n >= 2 && field[0] == '"' && field[n-1] == '"' {
		return field[1 : n-1]
	}
	return field
}

// quote quotes a field of a file for an error and shortens a long one.
func quote(s string) string {
	const most = 24
	if r := []rune(s); len(r) > most {
		s = string(r[:most]) + "…"
	}
	return strconv.Quote(s)
}
