package recording

import (
	"bufio"
	"encoding/binary"
	"errors"
	"io"

	"github.com/foxglove/mcap/go/mcap"
)

// triedAtLeast and triedPerByte bound the work of find over one file, bytes: a file
// can be made in which nearly every byte begins what looks like a record.
const (
	triedAtLeast = 64 << 20
	triedPerByte = 4
)

// find returns the offset, from byte from on, of the first record that is shown to be
// complete by its own checksum: a chunk, or in a .part a message with its seal. It
// returns -1 where there is none.
func (f *recordReader) find(from int64) (int64, error) {
	const head = recordHeader + chunkFields + 8 // the bytes that decide whether to try a record
	var window [64<<10 + head]byte
	for from < f.size {
		if err := f.ctx.Err(); err != nil {
			return -1, err
		}
		n, err := f.file.ReadAt(window[:min(int64(len(window)), f.size-from)], from)
		if err != nil && !errors.Is(err, io.EOF) {
			return -1, err
		}
		last := from+int64(n) >= f.size
		if n < recordHeader {
			return -1, nil
		}
		end := n - head + 1 // of the offsets whose head is entirely in the window
		if last {
			end = n - recordHeader + 1
		}
		for i := range end {
			op := mcap.OpCode(window[i])
			if op != mcap.OpChunk && op != mcap.OpMessage {
				continue
			}
			size := binary.LittleEndian.Uint64(window[i+1:])
			at := from + int64(i)
			if size > maxRecord || int64(size) > f.size-at-recordHeader {
				continue
			}
			if op == mcap.OpChunk && !hasChunkForm(window[i+recordHeader:n], int64(size)) {
				continue
			}
			switch whole, err := f.try(op, at, int64(size)); {
			case err != nil:
				return -1, err
			case whole:
				return at, nil
			case f.tried > triedAtLeast+triedPerByte*f.size:
				return -1, nil
			}
		}
		if last {
			return -1, nil
		}
		from += int64(end)
	}
	return -1, nil
}

// try reports whether the record at byte at, with a content of the given size, has its
// own checksum and matches it.
func (f *recordReader) try(op mcap.OpCode, at, size int64) (whole bool, err error) {
	if op == mcap.OpMessage && size < messageHeader+sealSize {
		return false, nil
	}
	if op == mcap.OpMessage { // usually its end already shows that there is no seal
		var tag [1]byte
		if _, err := f.file.ReadAt(tag[:], at+recordHeader+size-sealSize); err != nil || tag[0] != tagSeal {
			return false, err
		}
	}
	body := make([]byte, size)
	f.tried += size
	if _, err := f.file.ReadAt(body, at+recordHeader); err != nil {
		return false, err
	}
	if op == mcap.OpMessage {
		_, whole = unseal(body)
		return whole, nil
	}
	if binary.LittleEndian.Uint32(body[24:]) == 0 {
		return false, nil // it has no checksum
	}
	records, err := f.unpack(nil, body, at)
	f.tried += int64(len(records))
	return err == nil, nil
}

// resume continues at byte at, where a record begins.
func (f *recordReader) resume(at int64) {
	f.at, f.wholeTo, f.resumed, f.err = at, at, true, nil
	f.in = bufio.NewReaderSize(io.NewSectionReader(f.file, at, f.size-at), 1<<16)
}
