package recording

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"os"

	"github.com/foxglove/mcap/go/mcap"

	"aplomb/device"
	"aplomb/device/input"
	"aplomb/device/internal/errkind"
)

// footerSize is what a closed file ends with: footer record and magic.
const footerSize = recordHeader + 8 + 8 + 4 + 8

// Open opens a recording, finished or a .part, and reads its description and the
// correction beside it, see package correction. Corrections are applied only here. An
// error is a *FileError or names the file otherwise, and matches ErrForeign, ErrNewer,
// ErrCutShort, ErrDamaged, ErrUnfinished or ErrCorrection where one of them is the
// reason. Reading ends with the error of ctx soon after ctx is done.
func Open(ctx context.Context, path string) (*Reader, error) {
	r, err := openRaw(ctx, path)
	if err != nil {
		return nil, err
	}
	if err := r.correct(ctx, path); err != nil {
		r.Close()
		return nil, err
	}
	return r, nil
}

// openRaw is Open without a correction.
func openRaw(ctx context.Context, path string) (*Reader, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	file, err := input.Open(path)
	if kind := (*input.KindError)(nil); errors.As(err, &kind) {
		return nil, &FileError{path, errkind.With(ErrForeign, errors.New("not a file: name a recording"))}
	}
	if errors.Is(err, os.ErrNotExist) {
		if _, e := os.Stat(path + ".part"); e == nil {
			return nil, fmt.Errorf("%s does not exist, but %s.part does: %w; name the .part to read it", path, path, ErrUnfinished)
		}
	}
	if err != nil {
		return nil, err
	}
	r, err := open(ctx, file)
	if err != nil {
		file.Close()
		return nil, &FileError{path, err}
	}
	return r, nil
}

func open(ctx context.Context, file *os.File) (*Reader, error) {
	info, err := file.Stat()
	if err != nil {
		return nil, err
	}
	// The file is read up to its present size: a .part may grow meanwhile.
	r, err := newReader(ctx, io.NewSectionReader(file, 0, info.Size()))
	if err != nil {
		return nil, err
	}
	r.close = file.Close
	return r, nil
}

// newReader reads the beginning and the summary of a recording.
func newReader(ctx context.Context, file *io.SectionReader) (*Reader, error) {
	r := &Reader{
		records: recordReader{ctx: ctx, file: file, in: bufio.NewReaderSize(file, 1<<16), size: file.Size()},
		close:   func() error { return nil },
	}
	var end footerRecord
	if r.records.closed, end = footer(file); end.summaryStart > 0 {
		if err := r.readSummary(file, end); err != nil {
			return nil, err
		}
	}
	if err := r.description(); err != nil {
		return nil, err
	}
	r.recorded = r.meta
	for _, foot := range device.Feet {
		if s := r.meta.Sides[foot]; s != nil {
			r.cells[foot] = s.Strip.Cells()
		}
	}
	return r, nil
}

// description reads magic, header and metadata. The next record is then the
// first one after them.
func (r *Reader) description() error {
	f := &r.records
	if f.size == 0 {
		return errkind.With(ErrCutShort, errors.New("the file is empty"))
	}
	magic, err := f.in.Peek(int(min(f.size, int64(len(mcap.Magic)))))
	if err != nil {
		return err
	}
	if !bytes.HasPrefix(mcap.Magic, magic) {
		return fmt.Errorf("%w (not an MCAP file): name one; aplomb import makes one of CSV files", ErrForeign)
	}
	if err := f.skip(int64(len(mcap.Magic))); err != nil {
		return cutShort(err)
	}
	op, body, err := f.record()
	if err != nil {
		return cutShort(err)
	}
	header, err := mcap.ParseHeader(body)
	if op != mcap.OpHeader || err != nil {
		return fmt.Errorf("%w (an MCAP file without a header)", ErrForeign)
	}
	if header.Profile != profile {
		return fmt.Errorf("%w (an MCAP file with the profile %.40q, not %q)", ErrForeign, header.Profile, profile)
	}
	metadata := map[string]map[string]string{}
	for f.nextIs(mcap.OpMetadata) || len(metadata) == 0 {
		op, body, err := f.record()
		if err != nil {
			return cutShort(err)
		}
		if op != mcap.OpMetadata {
			break
		}
		m, err := mcap.ParseMetadata(body)
		if err != nil {
			return errkind.With(ErrDamaged, fmt.Errorf("the metadata before byte %d cannot be read: %w", f.at, err))
		}
		metadata[m.Name] = m.Metadata
	}
	r.writer = parseWriter(metadata[writerRecord])
	r.meta, err = parseMetadata(metadata)
	if errors.Is(err, ErrNewer) {
		return err // a newer version may use another checksum
	}
	has, wrong := checkDescription(metadata)
	if r.described = has; wrong != nil {
		return wrong
	}
	if err != nil {
		err = errkind.With(ErrDamaged, err)
	}
	return err
}

// cutShort returns ErrCutShort where the file ends before its description does.
func cutShort(err error) error {
	if err == errIncomplete {
		return fmt.Errorf("%w: nothing in it can be read: copy it again", ErrCutShort)
	}
	return err
}

// nextIs reports whether the next record has the given opcode.
func (f *recordReader) nextIs(op mcap.OpCode) bool {
	next, err := f.in.Peek(1)
	return err == nil && mcap.OpCode(next[0]) == op
}

// maxDescription bounds the description of a recording, from the start of the file,
// bytes: two strips and two shoes, each as long as input.MaxProfile, and some words.
const maxDescription = 4 << 20

// record reads a whole record of the description.
func (f *recordReader) record() (mcap.OpCode, []byte, error) {
	op, size, err := f.header()
	if err == nil && f.at+size > maxDescription {
		err = errkind.With(ErrDamaged, fmt.Errorf("its description is longer than %d MiB: copy the file again", maxDescription>>20))
	}
	if err != nil {
		return op, nil, err
	}
	body := make([]byte, size)
	return op, body, f.readFull(body)
}

// footerRecord is what a closed file ends with.
type footerRecord struct {
	summaryStart int64  // offset of the summary, 0 where the file has none
	summarySum   uint32 // checksum from there to itself, 0 where there is none
}

// footer reports whether the file ends in a footer, as a closed one does, and returns it.
func footer(file *io.SectionReader) (closed bool, f footerRecord) {
	at := file.Size() - footerSize
	var end [footerSize]byte
	if at < 0 {
		return false, f
	}
	if _, err := file.ReadAt(end[:], at); err != nil {
		return false, f
	}
	if mcap.OpCode(end[0]) != mcap.OpFooter || !bytes.HasSuffix(end[:], mcap.Magic) {
		return false, f
	}
	record, err := mcap.ParseFooter(end[recordHeader:])
	if err != nil || record.SummaryStart >= uint64(at) {
		return true, f
	}
	return true, footerRecord{int64(record.SummaryStart), record.SummaryCRC}
}

// summary is the information about the whole file at the end of a closed one.
type summary struct {
	guarded  bool                // there is a summary, and its checksum matches; otherwise the rest is not set
	chunks   []int64             // offset of each
	messages [len(topics)]uint64 // by channel
	startNS  uint64              // the earliest and the latest log time
	endNS    uint64
}

// readSummary reads the summary. It ignores one whose checksum does not match, because it
// is needed only to describe what is missing in a damaged file.
func (r *Reader) readSummary(file *io.SectionReader, end footerRecord) error {
	start, size := end.summaryStart, file.Size()
	sum := crc32.NewIEEE()
	// The checksum covers the footer up to the checksum itself.
	if _, err := io.Copy(sum, io.NewSectionReader(file, start, size-start-int64(len(mcap.Magic))-4)); err != nil {
		return err
	}
	if end.summarySum == 0 || sum.Sum32() != end.summarySum {
		return nil
	}
	s := &r.summary
	s.guarded, r.records.size = true, start
	part := io.NewSectionReader(file, start, size-footerSize-start)
	f := recordReader{ctx: r.records.ctx, in: bufio.NewReader(part), size: part.Size()}
	counts := map[uint16]uint64{}
	for {
		op, size, err := f.header()
		if err != nil {
			break
		}
		if op != mcap.OpChannel && op != mcap.OpStatistics && op != mcap.OpChunkIndex || size > maxDescription {
			if f.skip(size) != nil {
				break
			}
			continue
		}
		body := make([]byte, size)
		if f.readFull(body) != nil {
			break
		}
		switch op {
		case mcap.OpChannel:
			r.addChannel(body)
		case mcap.OpChunkIndex:
			if c, err := mcap.ParseChunkIndex(body); err == nil {
				s.chunks = append(s.chunks, int64(c.ChunkStartOffset))
			}
		case mcap.OpStatistics:
			if all, err := mcap.ParseStatistics(body); err == nil {
				counts, s.startNS, s.endNS = all.ChannelMessageCounts, all.MessageStartTime, all.MessageEndTime
			}
		}
	}
	for id, n := range counts {
		// A message takes 31 bytes and its content before compression, so that a
		// recording holds fewer than one message for every four of its bytes. A
		// larger count is wrong, and would make a caller allocate too much.
		if channel := r.channel(id); int(channel) < len(topics) && n <= uint64(size)/4 {
			s.messages[channel] += n
		}
	}
	return nil
}
