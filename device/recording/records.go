package recording

import (
	"bufio"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"slices"

	"github.com/foxglove/mcap/go/mcap"
	"github.com/klauspost/compress/zstd"
)

const (
	// maxRecord bounds a record, compressed or not, bytes: a longer one is damage.
	maxRecord = 64 << 20
	// blockSize is how much of a file without chunks is read into one block, bytes.
	blockSize = 256 << 10
	// recordHeader is the size of the opcode and the length before every record, bytes.
	recordHeader = 1 + 8
)

// Damage says where a recording differs from what was written. It matches ErrDamaged.
type Damage struct {
	Offset int64 // bytes from the start of the file to the damaged record
	Reason string
}

func (d *Damage) Error() string {
	return fmt.Sprintf("damaged at byte %d: %s; only the frames before it can be read", d.Offset, d.Reason)
}

// Is makes every Damage match ErrDamaged.
func (d *Damage) Is(target error) bool { return target == ErrDamaged }

// block is a run of whole records: the content of a chunk, or a part of a file
// without chunks.
type block struct {
	at      int64 // offset in the file of the chunk, or of the first record
	chunk   bool
	records []byte
}

// recordReader reads a file from the first record after the description on, and
// decompresses its chunks.
type recordReader struct {
	ctx    context.Context
	in     *bufio.Reader
	at     int64 // offset of the next byte
	size   int64 // of the file, bytes
	closed bool  // the file has its footer: it was closed
	unzip  *zstd.Decoder
	packed []byte

	crc     uint32 // of all bytes before at
	wholeTo int64  // offset up to which all records are whole
	err     error  // the end of the reading: io.EOF, a *Damage, the context's error or a failure to read
}

// errIncomplete means that the remaining bytes are no whole record. In a file
// that was closed this is damage; in one that was not it is the end.
var errIncomplete = errors.New("a record that is not whole")

// next fills b with the next run of records. The error that ends the file is
// returned alone, after all records before it.
func (f *recordReader) next(b *block) error {
	b.records, b.chunk = b.records[:0], false
	for f.err == nil && !b.chunk && len(b.records) < blockSize {
		if len(b.records) > 0 && f.nextIs(mcap.OpChunk) {
			return nil // a chunk is a block of its own
		}
		if f.err = f.read(b); f.err == errIncomplete {
			f.err = io.EOF
			if f.closed {
				f.err = &Damage{f.wholeTo, errIncomplete.Error()}
			}
		}
	}
	if len(b.records) > 0 {
		return nil
	}
	return f.err
}

// read appends to b the next record, or the content of a chunk. Records that
// hold neither messages nor channels are skipped.
func (f *recordReader) read(b *block) error {
	if err := f.ctx.Err(); err != nil {
		return err
	}
	f.wholeTo = f.at
	sum := f.crc
	op, size, err := f.header()
	switch {
	case err != nil:
		return err
	case op == mcap.OpSchema || op == mcap.OpChannel || op == mcap.OpMessage:
		return f.appendRecord(b, op, size)
	case op == mcap.OpChunk:
		return f.chunk(b, size)
	case op == mcap.OpDataEnd && f.closed:
		return f.dataEnd(sum)
	case op == mcap.OpReserved || op == mcap.OpDataEnd || op == mcap.OpFooter:
		return errIncomplete
	}
	return f.skip(size)
}

// header reads the opcode and the length of the next record, which must lie
// within the file.
func (f *recordReader) header() (op mcap.OpCode, size int64, err error) {
	h, err := f.in.Peek(recordHeader)
	if err != nil {
		return 0, 0, incompleteAtEOF(err)
	}
	op, length := mcap.OpCode(h[0]), binary.LittleEndian.Uint64(h[1:])
	if length > uint64(f.size-f.at-recordHeader) || length > maxRecord {
		return 0, 0, errIncomplete
	}
	return op, int64(length), f.skip(recordHeader)
}

// readFull reads the next len(p) bytes of the file into p.
func (f *recordReader) readFull(p []byte) error {
	if _, err := io.ReadFull(f.in, p); err != nil {
		return incompleteAtEOF(err)
	}
	f.advance(p)
	return nil
}

// skip reads n bytes and uses them for the checksum alone.
func (f *recordReader) skip(n int64) error {
	for n > 0 {
		p, err := f.in.Peek(int(min(n, 4096)))
		if err != nil {
			return incompleteAtEOF(err)
		}
		f.advance(p)
		n -= int64(len(p))
		if _, err := f.in.Discard(len(p)); err != nil {
			return incompleteAtEOF(err)
		}
	}
	return nil
}

// advance updates offset and checksum for bytes that have been read.
func (f *recordReader) advance(p []byte) {
	f.at += int64(len(p))
	if f.closed {
		f.crc = crc32.Update(f.crc, crc32.IEEETable, p)
	}
}

// incompleteAtEOF returns errIncomplete for the end of the file and any other
// error as it is.
func incompleteAtEOF(err error) error {
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return errIncomplete
	}
	return err
}

// appendRecord appends a record of a file without chunks to b.
func (f *recordReader) appendRecord(b *block, op mcap.OpCode, size int64) error {
	n := len(b.records)
	if n == 0 {
		b.at = f.wholeTo
	}
	b.records = append(b.records, byte(op))
	b.records = binary.LittleEndian.AppendUint64(b.records, uint64(size))
	b.records = slices.Grow(b.records, int(size))[:n+recordHeader+int(size)]
	if err := f.readFull(b.records[n+recordHeader:]); err != nil {
		b.records = b.records[:n]
		return err
	}
	return nil
}

// chunk decompresses a chunk into b.
func (f *recordReader) chunk(b *block, size int64) error {
	// Start and end time, unpacked size, checksum, and the lengths of the
	// compression's name and of the records.
	const fixed = 8 + 8 + 8 + 4 + 4 + 8
	damaged := func(reason string) error { return &Damage{f.wholeTo, reason} }
	if size < fixed {
		return damaged("a chunk that is too short")
	}
	f.packed = slices.Grow(f.packed[:0], int(size))[:size]
	if err := f.readFull(f.packed); err != nil {
		return err
	}
	unpacked := binary.LittleEndian.Uint64(f.packed[16:])
	sum := binary.LittleEndian.Uint32(f.packed[24:])
	name := uint64(binary.LittleEndian.Uint32(f.packed[28:]))
	if name > uint64(size-fixed) || unpacked > maxRecord {
		return damaged("a chunk of impossible size")
	}
	if f.unzip == nil {
		var err error
		// A chunk has its own checksum.
		f.unzip, err = zstd.NewReader(nil, zstd.WithDecoderConcurrency(1), zstd.WithDecodeAllCapLimit(true), zstd.IgnoreChecksum(true))
		if err != nil {
			return err
		}
	}
	compression, records := mcap.CompressionFormat(f.packed[32:32+name]), f.packed[32+name+8:]
	switch compression {
	case mcap.CompressionZSTD:
		// The capacity is the limit: a chunk that claims less than it holds stops there.
		room := slices.Grow(b.records, int(unpacked))
		out, err := f.unzip.DecodeAll(records, room[:0:unpacked])
		if err != nil {
			return damaged("a chunk that cannot be unpacked (" + err.Error() + ")")
		}
		b.records = room[:len(out)]
	case mcap.CompressionNone:
		b.records = append(b.records, records...)
	case mcap.CompressionLZ4:
		return fmt.Errorf("a chunk compressed with lz4 at byte %d, which is not read here: rewrite the file with zstd", f.wholeTo)
	default:
		return damaged("a chunk of unknown compression")
	}
	if uint64(len(b.records)) != unpacked || sum != 0 && crc32.ChecksumIEEE(b.records) != sum {
		b.records = b.records[:0]
		return damaged("the checksum of a chunk does not match")
	}
	b.at, b.chunk = f.wholeTo, len(b.records) > 0
	return nil
}

// dataEnd compares sum, the checksum of all bytes before the record, with the
// one in the record. It covers the description, which no chunk's checksum does.
func (f *recordReader) dataEnd(sum uint32) error {
	var want [4]byte
	if err := f.readFull(want[:]); err != nil {
		return err
	}
	if w := binary.LittleEndian.Uint32(want[:]); w != 0 && w != sum {
		return &Damage{f.wholeTo, "the checksum of the whole file does not match, though those of the frames do: the description is not as it was written"}
	}
	return io.EOF
}
