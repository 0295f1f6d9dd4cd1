package recording

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/foxglove/mcap/go/mcap"

	"aplomb/device"
)

// footerSize is what a closed file ends with: footer record and magic.
const footerSize = recordHeader + 8 + 8 + 4 + 8

// Open opens a recording, a .part of one, or one that was cut short, and reads
// its description. An error names the file and says in one line what it is not.
func Open(path string) (*Reader, error) {
	file, err := os.Open(path)
	if errors.Is(err, os.ErrNotExist) {
		if _, e := os.Stat(path + ".part"); e == nil {
			return nil, fmt.Errorf("%s does not exist, but %s.part does: the recording is still running or was cut short; name the .part to read it", path, path)
		}
	}
	if err != nil {
		return nil, err
	}
	r, err := open(file)
	if err != nil {
		file.Close()
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return r, nil
}

func open(file *os.File) (*Reader, error) {
	info, err := file.Stat()
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, errors.New("not a file: name a recording")
	}
	// The size now is the size for good: a .part may grow while it is read.
	r, err := newReader(io.NewSectionReader(file, 0, info.Size()))
	if err != nil {
		return nil, err
	}
	r.close = file.Close
	return r, nil
}

// newReader reads the beginning and the summary of a recording.
func newReader(file *io.SectionReader) (*Reader, error) {
	r := &Reader{
		feed:  feed{in: bufio.NewReaderSize(file, 1<<16), size: file.Size()},
		close: func() error { return nil },
	}
	var summaryStart int64
	if r.feed.whole, summaryStart = footer(file); summaryStart > 0 {
		r.summary(file, summaryStart)
	}
	if err := r.description(); err != nil {
		return nil, err
	}
	for _, foot := range device.Feet {
		if s := r.meta.Sides[foot]; s != nil {
			r.cells[foot] = s.Strip.Cells()
		}
	}
	return r, nil
}

// description reads magic, header and metadata, and leaves the feed at the
// first record after them.
func (r *Reader) description() error {
	f := &r.feed
	if f.size == 0 {
		return errors.New("the file is empty")
	}
	magic, err := f.in.Peek(int(min(f.size, int64(len(mcap.Magic)))))
	if err != nil {
		return err
	}
	if !bytes.HasPrefix(mcap.Magic, magic) {
		return errors.New("not a recording (not an MCAP file): name one; aplomb import makes one of CSV files")
	}
	if err := f.pass(int64(len(mcap.Magic))); err != nil {
		return short(err)
	}
	op, body, err := f.record()
	if err != nil {
		return short(err)
	}
	header, err := mcap.ParseHeader(body)
	if op != mcap.OpHeader || err != nil {
		return errors.New("not a recording (an MCAP file without a header)")
	}
	if header.Profile != profile {
		return fmt.Errorf("not a recording (an MCAP file with the profile %.40q, not %q)", header.Profile, profile)
	}
	records := map[string]map[string]string{}
	for f.follows(mcap.OpMetadata) || len(records) == 0 {
		op, body, err := f.record()
		if err != nil {
			return short(err)
		}
		if op != mcap.OpMetadata {
			break
		}
		m, err := mcap.ParseMetadata(body)
		if err != nil {
			return fmt.Errorf("the metadata before byte %d cannot be read: %w", f.at, err)
		}
		records[m.Name] = m.Metadata
	}
	r.meta, err = parseMetadata(records)
	return err
}

// short says that a file ends before its description does.
func short(err error) error {
	if err == errTorn {
		return errors.New("cut off before the end of its description: nothing in it can be read")
	}
	return err
}

// follows says whether the next record is an op.
func (f *feed) follows(op mcap.OpCode) bool {
	next, err := f.in.Peek(1)
	return err == nil && mcap.OpCode(next[0]) == op
}

// record reads a small record whole.
func (f *feed) record() (mcap.OpCode, []byte, error) {
	op, size, err := f.header()
	if err != nil {
		return op, nil, err
	}
	body := make([]byte, size)
	return op, body, f.fill(body)
}

// footer says whether file ends as a closed one does, and where its summary
// begins, 0 where it has none.
func footer(file *io.SectionReader) (whole bool, summaryStart int64) {
	at := file.Size() - footerSize
	var end [footerSize]byte
	if at < 0 {
		return false, 0
	}
	if _, err := file.ReadAt(end[:], at); err != nil {
		return false, 0
	}
	if mcap.OpCode(end[0]) != mcap.OpFooter || !bytes.HasSuffix(end[:], mcap.Magic) {
		return false, 0
	}
	f, err := mcap.ParseFooter(end[recordHeader:])
	if err != nil || f.SummaryStart >= uint64(at) {
		return true, 0
	}
	return true, int64(f.SummaryStart)
}

// summary learns the channels and how many messages each has. They are a
// convenience, so a summary that cannot be read is as good as none.
func (r *Reader) summary(file *io.SectionReader, start int64) {
	part := io.NewSectionReader(file, start, file.Size()-footerSize-start)
	f := feed{in: bufio.NewReader(part), size: part.Size()}
	counts := map[uint16]uint64{}
	for {
		op, size, err := f.header()
		if err != nil {
			break
		}
		if op != mcap.OpChannel && op != mcap.OpStatistics {
			if f.pass(size) != nil {
				break
			}
			continue
		}
		body := make([]byte, size)
		if f.fill(body) != nil {
			break
		}
		if op == mcap.OpChannel {
			r.introduce(body)
		} else if s, err := mcap.ParseStatistics(body); err == nil {
			counts = s.ChannelMessageCounts
		}
	}
	for id, n := range counts {
		// A message takes 31 bytes and its content before compression, so that
		// four to one file byte is more than a recording can hold. A count
		// beyond that would make a caller set aside memory for nothing.
		if foot := device.Foot(r.role(id) - leftChannel); foot <= device.Right && n <= uint64(file.Size())/4 {
			r.count[foot] = int(n)
		}
	}
}
