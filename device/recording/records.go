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
	// blockSize is the number of bytes of a file without chunks that are read into one
	// block.
	blockSize = 256 << 10
	// recordHeader is the size of the opcode and the length before every record, bytes.
	recordHeader = 1 + 8
)

// Damage is the error of an unreliable recording, which differs from what was written
// without a checksum that locates the difference. It matches ErrDamaged.
type Damage struct {
	Offset int64 // bytes from the start of the file to the damaged record
	Reason string
}

func (d *Damage) Error() string {
	return fmt.Sprintf("damaged at byte %d: %s: copy it again", d.Offset, d.Reason)
}

// Is makes every Damage match ErrDamaged.
func (d *Damage) Is(target error) bool { return target == ErrDamaged }

// block is a sequence of complete records: the content of a chunk, or part of a file
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
	file   io.ReaderAt
	in     *bufio.Reader
	at     int64 // offset of the next byte
	size   int64 // of the file, or of what comes before its summary, bytes
	closed bool  // the file has its footer: it was closed
	unzip  *zstd.Decoder
	packed []byte

	crc       uint32 // of all bytes before at
	resumed   bool   // bytes were left out, so that crc means nothing
	chunked   bool   // there was a chunk
	unguarded bool   // something was read that is covered by no checksum but that of the whole file
	wholeTo   int64  // offset up to which all records are whole
	tried     int64  // bytes that find has tried to read as records
	err       error  // why nothing more was read: io.EOF, errSum, a *Damage, the context's error or a failure to read
}

// errIncomplete is returned where the following bytes are no complete record.
var errIncomplete = errors.New("a record that is not whole")

// errSum is returned where all bytes were read and their checksum does not match.
var errSum = errors.New("the checksum of the whole file does not match")

// next fills b with the next sequence of records. An error is returned alone, after all
// records before it; a *Damage where the next record cannot be read.
func (f *recordReader) next(b *block) error {
	b.records, b.chunk = b.records[:0], false
	for f.err == nil && !b.chunk && len(b.records) < blockSize {
		if len(b.records) > 0 && f.nextIs(mcap.OpChunk) {
			return nil // a chunk is a block of its own
		}
		if f.err = f.read(b); f.err == errIncomplete {
			f.err = &Damage{f.wholeTo, errIncomplete.Error()}
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
	case op == mcap.OpChunk:
		return f.chunk(b, size)
	case f.isChunk(size):
		return &Damage{f.wholeTo, "a chunk that is not marked as one"}
	case op == mcap.OpSchema || op == mcap.OpChannel || op == mcap.OpMessage:
		return f.appendRecord(b, op, size)
	case op == mcap.OpDataEnd && f.closed:
		return f.dataEnd(sum)
	case op == mcap.OpReserved || op == mcap.OpDataEnd || op == mcap.OpFooter:
		return errIncomplete
	case !f.closed && !f.chunked:
		return &Damage{f.wholeTo, "a record that no .part holds"}
	}
	return f.skip(size)
}

// isChunk reports whether the next bytes have the form of the content of a chunk record
// of that size, whatever the record's opcode.
func (f *recordReader) isChunk(size int64) bool {
	if size < chunkFields {
		return false
	}
	p, err := f.in.Peek(int(min(size, chunkFields+8)))
	return err == nil && hasChunkForm(p, size)
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

// chunkFields is the size of the fields of a chunk other than the name of the
// compression and the records: start and end time, unpacked size, checksum, and the
// lengths of the name and of the records, bytes.
const chunkFields = 8 + 8 + 8 + 4 + 4 + 8

// hasChunkForm reports whether p is the beginning of the content of a chunk record of
// the given size: the lengths in it add up to that.
func hasChunkForm(p []byte, size int64) bool {
	if len(p) < chunkFields {
		return false
	}
	name := int(binary.LittleEndian.Uint32(p[28:]))
	if name > 4 || len(p) < chunkFields+name {
		return false
	}
	switch mcap.CompressionFormat(p[32 : 32+name]) {
	case mcap.CompressionZSTD, mcap.CompressionLZ4, mcap.CompressionNone:
		return binary.LittleEndian.Uint64(p[32+name:]) == uint64(size)-chunkFields-uint64(name)
	}
	return false
}

// chunk decompresses a chunk into b.
func (f *recordReader) chunk(b *block, size int64) error {
	if size < chunkFields {
		return &Damage{f.wholeTo, "a chunk that is too short"}
	}
	f.packed = slices.Grow(f.packed[:0], int(size))[:size]
	if err := f.readFull(f.packed); err != nil {
		return err
	}
	var err error
	if b.records, err = f.unpack(b.records, f.packed, f.wholeTo); err != nil {
		b.records = b.records[:0]
		return err
	}
	if binary.LittleEndian.Uint32(f.packed[24:]) == 0 {
		f.unguarded = true
	}
	b.at, b.chunk, f.chunked = f.wholeTo, len(b.records) > 0, true
	return nil
}

// unpack appends to records the records of the chunk at byte at, which has the
// content packed.
func (f *recordReader) unpack(records, packed []byte, at int64) ([]byte, error) {
	damaged := func(reason string) ([]byte, error) { return records, &Damage{at, reason} }
	unpacked := binary.LittleEndian.Uint64(packed[16:])
	sum := binary.LittleEndian.Uint32(packed[24:])
	name := uint64(binary.LittleEndian.Uint32(packed[28:]))
	if name > uint64(len(packed)-chunkFields) || unpacked > maxRecord {
		return damaged("a chunk of impossible size")
	}
	if f.unzip == nil {
		var err error
		// A chunk has its own checksum.
		f.unzip, err = zstd.NewReader(nil, zstd.WithDecoderConcurrency(1), zstd.WithDecodeAllCapLimit(true), zstd.IgnoreChecksum(true))
		if err != nil {
			return records, err
		}
	}
	compression, content := mcap.CompressionFormat(packed[32:32+name]), packed[32+name+8:]
	switch compression {
	case mcap.CompressionZSTD:
		// The capacity is the limit: decompression stops there in a chunk that contains
		// more than it states.
		records = slices.Grow(records[:0], int(unpacked))
		out, err := f.unzip.DecodeAll(content, records[:0:unpacked])
		if err != nil {
			return damaged("a chunk that cannot be unpacked")
		}
		records = records[:len(out)]
	case mcap.CompressionNone:
		records = append(records[:0], content...)
	case mcap.CompressionLZ4:
		return records, fmt.Errorf("a chunk compressed with lz4 at byte %d, which is not read here: rewrite the file with zstd", at)
	default:
		return damaged("a chunk of unknown compression")
	}
	if uint64(len(records)) != unpacked || sum != 0 && crc32.ChecksumIEEE(records) != sum {
		return damaged("the checksum of a chunk does not match")
	}
	return records, nil
}

// dataEnd compares sum, the checksum of all bytes before the record, with the
// one in the record. Where they differ it returns errSum.
func (f *recordReader) dataEnd(sum uint32) error {
	var want [4]byte
	if err := f.readFull(want[:]); err != nil {
		return err
	}
	if w := binary.LittleEndian.Uint32(want[:]); w != 0 && w != sum && !f.resumed {
		return errSum
	}
	return io.EOF
}
