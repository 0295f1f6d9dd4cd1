package recording

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"slices"

	"github.com/foxglove/mcap/go/mcap"

	"aplomb/device"
	"aplomb/device/internal/errkind"
	"aplomb/device/lock"
)

// Reader reads one recording once, from beginning to end. It is a device.Source
// of the frames of both feet in the order of the file. Its errors do not name
// the file, which the caller knows.
type Reader struct {
	meta       device.Metadata // with the correction
	recorded   device.Metadata // as the file has it
	correction *Correction     // nil where there is none
	swapped    bool            // frames of the left foot are given as those of the right one and the other way round
	writer     lock.Holder     // the process that writes or wrote the .part; zero in other files
	cells      [2]int          // by foot; 0 for a foot without a strip
	count      [2]int          // frames by foot; 0 where the file does not say
	channels   []uint16        // by id in the file: one of our channels, foreignChannel, or 0 where the file has none
	events     []device.Event
	only       uint16 // the one channel to read; 0 for all

	records  recordReader
	block    block
	unread   []byte // the records of the block that have not been read
	last     message
	contents contentHash
	err      error // the end of the reading
	wholeTo  int64 // after io.EOF: offset up to which all records are whole
	close    func() error
}

// Meta returns the metadata of the recording, with its correction.
func (r *Reader) Meta() device.Metadata { return r.meta }

// Recorded returns the metadata as the file of the recording has it.
func (r *Reader) Recorded() device.Metadata { return r.recorded }

// Correction returns the correction of the recording, nil where there is none.
func (r *Reader) Correction() *Correction { return r.correction }

// foot returns the foot that frames and events of a foot in the file are of.
func (r *Reader) foot(inFile device.Foot) device.Foot {
	if r.swapped && inFile != device.NoFoot {
		return inFile.Other()
	}
	return inFile
}

// Count returns the number of frames of the foot according to the summary of the
// file, 0 where there is none. It serves to allocate memory.
func (r *Reader) Count(f device.Foot) int {
	if f > device.Right {
		return 0
	}
	return r.count[r.foot(f)]
}

// Whole says whether the recording was closed. It may have been damaged since
// then; only reading it to io.EOF shows that it was not.
func (r *Reader) Whole() bool { return r.records.closed }

// Missing describes what the recording lacks, "" where it was closed. Once Next
// has returned io.EOF it includes how much could not be read.
func (r *Reader) Missing() string {
	const open = "it was never closed, or was cut short"
	switch left := r.records.size - r.wholeTo; {
	case r.records.closed:
		return ""
	case r.err != io.EOF:
		return open
	case left == 0:
		return open + "; every record in it is whole"
	default:
		return fmt.Sprintf("%s: the last %d bytes, from byte %d on, are not a whole record and were left out", open, left, r.wholeTo)
	}
}

// Events returns the events read so far: all of them once Next has returned io.EOF.
func (r *Reader) Events() []device.Event { return r.events }

// Next reads the next frame into f and reuses f.Counts. It returns io.EOF at the
// end, also where the recording was cut short (see Missing); a *Damage, after
// all frames before it, where the file differs from what was written; and the
// error of the context that was given to Open soon after that is done.
func (r *Reader) Next(f *device.Frame) error {
	for {
		m, err := r.next()
		if err != nil {
			return err
		}
		if m.channel == eventsChannel {
			e, err := decodeEvent(m.data)
			if err != nil {
				return r.endAt(m.at, err.Error())
			}
			e.Foot = r.foot(e.Foot)
			r.events = append(r.events, e)
			r.contents.add(m.channel, m.data)
			continue
		}
		f.Foot = r.foot(device.Foot(m.channel - leftChannel))
		cells := r.cells[f.Foot]
		if cells == 0 {
			return r.endAt(m.at, "a frame of a foot without a strip")
		}
		if err := decodeFrame(m.data, cells, f); err != nil {
			return r.endAt(m.at, err.Error())
		}
		r.contents.add(m.channel, m.data)
		return nil
	}
}

// Close closes the file. Next then returns an error that matches ErrEnded, or
// the one that it returned before.
func (r *Reader) Close() error {
	if r.err == nil {
		r.err = errkind.With(ErrEnded, errors.New("the recording is closed"))
	}
	r.unread = nil
	if r.records.unzip != nil {
		r.records.unzip.Close()
	}
	return r.close()
}

// message is a message of one of our channels. It is valid until the next one is read.
type message struct {
	channel           uint16
	logged, published uint64 // ns since 1970
	at                int64  // offset in the file of its record, or of its chunk
	data              []byte // without the seal
}

// messageHeader is the size of what precedes the data of a message record:
// channel, sequence, log time and publish time, bytes.
const messageHeader = 2 + 4 + 8 + 8

// next returns the next message of one of our channels. It is valid until the
// next call.
func (r *Reader) next() (*message, error) {
	m := &r.last
	for {
		if len(r.unread) == 0 {
			if err := r.nextBlock(); err != nil {
				return nil, err
			}
		}
		at := r.block.at
		if !r.block.chunk {
			at += int64(len(r.block.records) - len(r.unread))
		}
		if len(r.unread) < recordHeader {
			return nil, r.endAt(at, errIncomplete.Error())
		}
		op, size := mcap.OpCode(r.unread[0]), binary.LittleEndian.Uint64(r.unread[1:])
		if size > uint64(len(r.unread)-recordHeader) {
			return nil, r.endAt(at, errIncomplete.Error())
		}
		body := r.unread[recordHeader : recordHeader+size]
		r.unread = r.unread[recordHeader+size:]
		switch op {
		case mcap.OpMessage:
			if len(body) < messageHeader {
				return nil, r.endAt(at, errIncomplete.Error())
			}
			if !r.records.closed && !r.block.chunk {
				var sealed bool
				if body, sealed = unseal(body); !sealed {
					return nil, r.endAt(at, errIncomplete.Error())
				}
			}
			m.channel = r.channel(binary.LittleEndian.Uint16(body))
			m.logged = binary.LittleEndian.Uint64(body[6:])
			if m.channel == 0 {
				return nil, r.endAt(at, "a message of a channel that the file does not have")
			}
			if m.channel == foreignChannel || r.only != 0 && m.channel != r.only {
				continue
			}
			m.published = binary.LittleEndian.Uint64(body[14:])
			m.at, m.data = at, body[messageHeader:]
			return m, nil
		case mcap.OpChannel:
			r.addChannel(body)
		}
	}
}

// nextBlock makes the next block the current one.
func (r *Reader) nextBlock() error {
	if r.err != nil {
		return r.err
	}
	if err := r.records.next(&r.block); err != nil {
		r.err, r.wholeTo = err, r.records.wholeTo
		return err
	}
	r.unread = r.block.records
	return nil
}

// endAt ends the reading at a record that is not valid. That is damage, except
// in a file that was never closed, where a crash leaves such an end.
func (r *Reader) endAt(at int64, reason string) error {
	if !r.records.closed && !r.block.chunk {
		r.err, r.wholeTo = io.EOF, at
	} else {
		r.err = &Damage{at, reason}
	}
	r.unread = nil
	return r.err
}

// addChannel notes a channel record of the file.
func (r *Reader) addChannel(record []byte) {
	c, err := mcap.ParseChannel(record)
	if err != nil {
		return
	}
	channel := slices.Index(topics[:], c.Topic)
	if channel < int(leftChannel) || c.MessageEncoding != "protobuf" {
		channel = int(foreignChannel)
	}
	if int(c.ID) >= len(r.channels) {
		r.channels = append(r.channels, make([]uint16, int(c.ID)+1-len(r.channels))...)
	}
	r.channels[c.ID] = uint16(channel)
}

// channel returns our channel for a channel id of the file, as in Reader.channels.
func (r *Reader) channel(id uint16) uint16 {
	if int(id) < len(r.channels) {
		return r.channels[id]
	}
	return 0
}
