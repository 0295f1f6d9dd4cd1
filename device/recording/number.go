package recording

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"hash/crc32"
	"io"
	"os"
	"slices"
	"strconv"

	"github.com/foxglove/mcap/go/mcap"

	"aplomb/device/input"
	"aplomb/device/internal/errkind"
)

// The number of a recording in its logbook is in its own metadata record: after all
// messages in a finished file, where it only moves the summary, and after the description
// in a .part.
const (
	numberRecord = "logbook"
	numberKey    = "number"
)

const (
	dataEndSize = recordHeader + 4
	// metadataCountAt is the offset of the number of metadata records in a statistics
	// record (https://mcap.dev/spec#statistics-op0x0b), bytes.
	metadataCountAt = 8 + 2 + 4 + 4
	// maxEnd bounds a summary or a description, bytes.
	maxEnd = 64 << 20
	// maxNumberRecord bounds a metadata record with a number, bytes.
	maxNumberRecord = 1 << 10
	// maxNumber is the highest valid number. A logbook continues above the highest number
	// in its recordings, so an unbounded one could leave none.
	maxNumber = 1_000_000_000
)

// Number returns the number in its logbook that the recording at path carries, 0
// where it carries none. Of several numbers in a file the last one counts.
func Number(ctx context.Context, path string) (number int64, err error) {
	in, end, err := openEnd(ctx, path)
	if err != nil {
		return 0, err
	}
	defer in.Close()
	for _, r := range end.records {
		switch r.op {
		case mcap.OpMetadata:
			number = numberIn(r.body, number)
		case mcap.OpMetadataIndex:
			index, err := mcap.ParseMetadataIndex(r.body)
			if err != nil || index.Name != numberRecord || index.Length < recordHeader || index.Length > maxNumberRecord {
				continue
			}
			record := make([]byte, index.Length)
			if _, err := in.ReadAt(record, int64(index.Offset)); err == nil && mcap.OpCode(record[0]) == mcap.OpMetadata {
				number = numberIn(record[recordHeader:], number)
			}
		}
	}
	return number, nil
}

// numberIn returns the number in the body of a metadata record, and otherwise where
// there is none.
func numberIn(body []byte, otherwise int64) int64 {
	m, err := mcap.ParseMetadata(body)
	if err != nil || m.Name != numberRecord {
		return otherwise
	}
	n, err := strconv.ParseInt(m.Metadata[numberKey], 10, 64)
	if err != nil || n < 1 || n > maxNumber {
		return otherwise
	}
	return n
}

// CopyNumbered writes the recording at path to w, with its number in its logbook. It
// changes no byte of its description and of its messages, and so keeps its id. The error
// matches ErrDamaged where the end of the file is not that of a finished recording with a
// summary; nothing is written to w then.
func CopyNumbered(ctx context.Context, w io.Writer, path string, number int64) error {
	in, end, err := openEnd(ctx, path)
	if err != nil {
		return err
	}
	defer in.Close()
	for _, part := range []io.Reader{
		io.NewSectionReader(in, 0, end.at),
		bytes.NewReader(end.withNumber(number)),
		io.NewSectionReader(in, end.goesOn, end.size-end.goesOn),
	} {
		if _, err := io.Copy(w, untilDone{ctx, part}); err != nil {
			return err
		}
	}
	return nil
}

// rawRecord is an MCAP record.
type rawRecord struct {
	op   mcap.OpCode
	body []byte
}

func (r rawRecord) appendTo(b []byte) []byte {
	b = binary.LittleEndian.AppendUint64(append(b, byte(r.op)), uint64(len(r.body)))
	return append(b, r.body...)
}

// splitRecords returns the records in b, and whether b ends with the end of one.
func splitRecords(b []byte) (all []rawRecord, whole bool) {
	for len(b) >= recordHeader {
		size := binary.LittleEndian.Uint64(b[1:])
		if size > uint64(len(b)-recordHeader) {
			return all, false
		}
		all = append(all, rawRecord{mcap.OpCode(b[0]), b[recordHeader : recordHeader+size]})
		b = b[recordHeader+size:]
	}
	return all, len(b) == 0
}

// fileEnd is the part of a recording that a number changes: everything after the
// messages, or in a .part nothing.
type fileEnd struct {
	size    int64       // of the file
	at      int64       // offset at which the number goes into the file
	goesOn  int64       // offset from which the file is unchanged: its size in a finished one
	records []rawRecord // of the summary without its offsets, or of the description of a .part

	// Of a finished file.
	dataSum    uint32 // checksum in the DataEnd record, 0 for none
	summarySum uint32 // checksum in the footer, 0 for none
	offsets    bool   // it has summary offsets
}

var errNoEnd = errkind.With(ErrDamaged, errors.New("damaged: its end is not that of a finished recording"))

// openEnd opens the recording at path and reads the part that a number changes.
func openEnd(ctx context.Context, path string) (in *os.File, end fileEnd, err error) {
	r, err := Open(ctx, path) // the error identifies a file that is no recording
	if err != nil {
		return nil, end, err
	}
	described := r.records.at
	r.Close()
	if in, err = input.Open(path); err != nil {
		return nil, end, err
	}
	if end, err = readEnd(in, described); err != nil {
		in.Close()
		return nil, end, &FileError{path, err}
	}
	return in, end, nil
}

// readEnd reads the part that a number changes. described is the offset of the end of the
// description.
func readEnd(in *os.File, described int64) (end fileEnd, err error) {
	info, err := in.Stat()
	if err != nil {
		return end, err
	}
	size, magic := info.Size(), int64(len(mcap.Magic))
	last, err := readRange(in, max(0, size-footerSize), size)
	if err != nil {
		return end, err
	}
	if len(last) < footerSize || mcap.OpCode(last[0]) != mcap.OpFooter || !bytes.HasSuffix(last, mcap.Magic) {
		end = fileEnd{size: size, at: described, goesOn: described}
		description, err := readRange(in, magic, described)
		end.records, _ = splitRecords(description)
		return end, err
	}
	footer, err := mcap.ParseFooter(last[recordHeader:])
	if err != nil || footer.SummaryStart > uint64(size-footerSize) || int64(footer.SummaryStart) < described+dataEndSize {
		return end, errNoEnd
	}
	end = fileEnd{size: size, at: int64(footer.SummaryStart) - dataEndSize, goesOn: size, summarySum: footer.SummaryCRC}
	b, err := readRange(in, end.at, size-magic)
	if err != nil {
		return end, err
	}
	dataEnd, summary := b[:dataEndSize], b[dataEndSize:]
	if mcap.OpCode(dataEnd[0]) != mcap.OpDataEnd || binary.LittleEndian.Uint64(dataEnd[1:]) != dataEndSize-recordHeader {
		return end, errNoEnd
	}
	end.dataSum = binary.LittleEndian.Uint32(dataEnd[recordHeader:])
	if end.summarySum != 0 && end.summarySum != crc32.ChecksumIEEE(summary[:len(summary)-4]) {
		return end, errNoEnd
	}
	records, whole := splitRecords(summary[:size-footerSize-int64(footer.SummaryStart)])
	if !whole {
		return end, errNoEnd
	}
	for _, r := range records {
		if r.op == mcap.OpSummaryOffset {
			end.offsets = true
		} else {
			end.records = append(end.records, r)
		}
	}
	return end, nil
}

// readRange reads the bytes of a file from one offset to another.
func readRange(in io.ReaderAt, from, to int64) ([]byte, error) {
	if to < from || to-from > maxEnd {
		return nil, errNoEnd
	}
	b := make([]byte, to-from)
	_, err := in.ReadAt(b, from)
	return b, err
}

// withNumber returns the bytes of the file from end.at to end.goesOn for a recording with
// a number.
func (end *fileEnd) withNumber(number int64) []byte {
	prefixed := func(b []byte, s string) []byte {
		return append(binary.LittleEndian.AppendUint32(b, uint32(len(s))), s...)
	}
	pair := string(prefixed(prefixed(nil, numberKey), strconv.FormatInt(number, 10)))
	out := rawRecord{mcap.OpMetadata, prefixed(prefixed(nil, numberRecord), pair)}.appendTo(nil)
	if end.goesOn != end.size {
		return out
	}
	// Records of one kind stand together, so the index goes behind the others.
	index := binary.LittleEndian.AppendUint64(nil, uint64(end.at))
	index = prefixed(binary.LittleEndian.AppendUint64(index, uint64(len(out))), numberRecord)
	after := len(end.records)
	for i, r := range end.records {
		if r.op == mcap.OpMetadataIndex {
			after = i + 1
		}
	}
	records := slices.Insert(slices.Clone(end.records), after, rawRecord{mcap.OpMetadataIndex, index})

	dataSum := end.dataSum
	if dataSum != 0 {
		// The new checksum is updated from the one in the file, so that damage before it
		// is still detected.
		dataSum = crc32.Update(dataSum, crc32.IEEETable, out)
	}
	out = rawRecord{mcap.OpDataEnd, binary.LittleEndian.AppendUint32(nil, dataSum)}.appendTo(out)
	summary := len(out)
	offset := func() uint64 { return uint64(end.at) + uint64(len(out)) }
	start := offset()
	var groups []rawRecord // summary offsets
	for i := 0; i < len(records); {
		op, from := records[i].op, offset()
		for ; i < len(records) && records[i].op == op; i++ {
			body := records[i].body
			if op == mcap.OpStatistics && len(body) >= metadataCountAt+4 {
				body = slices.Clone(body)
				count := body[metadataCountAt:]
				binary.LittleEndian.PutUint32(count, binary.LittleEndian.Uint32(count)+1)
			}
			out = rawRecord{op, body}.appendTo(out)
		}
		body := binary.LittleEndian.AppendUint64([]byte{byte(op)}, from)
		groups = append(groups, rawRecord{mcap.OpSummaryOffset, binary.LittleEndian.AppendUint64(body, offset()-from)})
	}
	offsets := uint64(0)
	if end.offsets {
		offsets = offset()
		for _, g := range groups {
			out = g.appendTo(out)
		}
	}
	out = binary.LittleEndian.AppendUint64(append(out, byte(mcap.OpFooter)), 8+8+4)
	out = binary.LittleEndian.AppendUint64(binary.LittleEndian.AppendUint64(out, start), offsets)
	summarySum := uint32(0)
	if end.summarySum != 0 {
		summarySum = crc32.ChecksumIEEE(out[summary:])
	}
	return append(binary.LittleEndian.AppendUint32(out, summarySum), mcap.Magic...)
}

// untilDone is a Reader that ends with the error of ctx when ctx is done.
type untilDone struct {
	ctx  context.Context
	from io.Reader
}

func (r untilDone) Read(b []byte) (int, error) {
	if err := r.ctx.Err(); err != nil {
		return 0, err
	}
	return r.from.Read(b)
}
