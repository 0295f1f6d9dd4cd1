package recording

import (
	"bufio"
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
	// maxRecord bounds a record, packed or unpacked: what claims more is damage.
	maxRecord = 64 << 20
	// gather is how much of an unchunked file goes into one block.
	gather = 256 << 10
	// recordHeader is the opcode and the length before every record.
	recordHeader = 1 + 8
)

// Damage says that a recording is not as it was written.
type Damage struct {
	Offset int64 // bytes from the start of the file to the damaged record
	Reason string
}

func (d *Damage) Error() string {
	return fmt.Sprintf("damaged at byte %d: %s; only the frames before it can be read", d.Offset, d.Reason)
}

// block is a run of whole records: what a chunk held, or a stretch of a file
// without chunks.
type block struct {
	at      int64 // where in the file the chunk or the stretch begins
	chunk   bool
	records []byte
}

// feed reads a file from its first record after the description, and unpacks it.
type feed struct {
	in     *bufio.Reader
	at     int64 // offset of the next byte
	size   int64 // of the file
	whole  bool  // the file has its footer
	unzip  *zstd.Decoder
	packed []byte

	crc uint32 // of everything before at
	cut int64  // the file is whole up to here
	err error  // what ended it: io.EOF, a *Damage, or a failure to read
}

// errTorn says that the bytes at hand are no whole record: damage in a file
// that was closed, and simply the end of one that was not.
var errTorn = errors.New("a record that is not whole")

// next fills b with the next run of records. What ends the file comes by itself,
// after all records before it.
func (f *feed) next(b *block) error {
	b.records, b.chunk = b.records[:0], false
	for f.err == nil && !b.chunk && len(b.records) < gather {
		if len(b.records) > 0 && f.follows(mcap.OpChunk) {
			return nil // which is a block of its own
		}
		if f.err = f.read(b); f.err == errTorn {
			f.err = io.EOF
			if f.whole {
				f.err = &Damage{f.cut, errTorn.Error()}
			}
		}
	}
	if len(b.records) > 0 {
		return nil
	}
	return f.err
}

// read adds the next record to b, or what it holds, if it is of use.
func (f *feed) read(b *block) error {
	f.cut = f.at
	sum := f.crc
	op, size, err := f.header()
	switch {
	case err != nil:
		return err
	case op == mcap.OpSchema || op == mcap.OpChannel || op == mcap.OpMessage:
		return f.take(b, op, size)
	case op == mcap.OpChunk:
		return f.chunk(b, size)
	case op == mcap.OpDataEnd && f.whole:
		return f.dataEnd(sum)
	case op == mcap.OpReserved || op == mcap.OpDataEnd || op == mcap.OpFooter:
		return errTorn
	}
	return f.pass(size)
}

// header reads the opcode and the length of the next record, which has to lie
// in the file.
func (f *feed) header() (op mcap.OpCode, size int64, err error) {
	h, err := f.in.Peek(recordHeader)
	if err != nil {
		return 0, 0, torn(err)
	}
	op, length := mcap.OpCode(h[0]), binary.LittleEndian.Uint64(h[1:])
	if length > uint64(f.size-f.at-recordHeader) || length > maxRecord {
		return 0, 0, errTorn
	}
	return op, int64(length), f.pass(recordHeader)
}

// fill reads the next bytes of the file.
func (f *feed) fill(p []byte) error {
	if _, err := io.ReadFull(f.in, p); err != nil {
		return torn(err)
	}
	f.count(p)
	return nil
}

// pass reads over n bytes.
func (f *feed) pass(n int64) error {
	for n > 0 {
		p, err := f.in.Peek(int(min(n, 4096)))
		if err != nil {
			return torn(err)
		}
		f.count(p)
		n -= int64(len(p))
		if _, err := f.in.Discard(len(p)); err != nil {
			return torn(err)
		}
	}
	return nil
}

func (f *feed) count(p []byte) {
	f.at += int64(len(p))
	if f.whole {
		f.crc = crc32.Update(f.crc, crc32.IEEETable, p)
	}
}

// torn makes the end of the file a torn record, and leaves a failure to read as it is.
func torn(err error) error {
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return errTorn
	}
	return err
}

// take appends a record of a file without chunks to b.
func (f *feed) take(b *block, op mcap.OpCode, size int64) error {
	n := len(b.records)
	if n == 0 {
		b.at = f.cut
	}
	b.records = append(b.records, byte(op))
	b.records = binary.LittleEndian.AppendUint64(b.records, uint64(size))
	b.records = slices.Grow(b.records, int(size))[:n+recordHeader+int(size)]
	if err := f.fill(b.records[n+recordHeader:]); err != nil {
		b.records = b.records[:n]
		return err
	}
	return nil
}

// chunk unpacks a chunk into b.
func (f *feed) chunk(b *block, size int64) error {
	// Start and end time, unpacked size, checksum, and the lengths of the
	// compression's name and of the records.
	const fixed = 8 + 8 + 8 + 4 + 4 + 8
	damaged := func(reason string) error { return &Damage{f.cut, reason} }
	if size < fixed {
		return damaged("a chunk that is too short")
	}
	f.packed = slices.Grow(f.packed[:0], int(size))[:size]
	if err := f.fill(f.packed); err != nil {
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
		return fmt.Errorf("a chunk compressed with lz4 at byte %d, which is not read here: rewrite the file with zstd", f.cut)
	default:
		return damaged("a chunk of unknown compression")
	}
	if uint64(len(b.records)) != unpacked || sum != 0 && crc32.ChecksumIEEE(b.records) != sum {
		b.records = b.records[:0]
		return damaged("the checksum of a chunk does not match")
	}
	b.at, b.chunk = f.cut, len(b.records) > 0
	return nil
}

// dataEnd compares sum, the checksum of everything before, with the one the
// file was closed with: it covers what no chunk's own checksum does.
func (f *feed) dataEnd(sum uint32) error {
	var want [4]byte
	if err := f.fill(want[:]); err != nil {
		return err
	}
	if w := binary.LittleEndian.Uint32(want[:]); w != 0 && w != sum {
		return &Damage{f.cut, "the checksum of the whole file does not match, though those of the frames do: the description is not as it was written"}
	}
	return io.EOF
}
