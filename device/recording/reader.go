package recording

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"slices"

	"github.com/foxglove/mcap/go/mcap"

	"aplomb/device"
)

// Reader reads one recording, once, from beginning to end. It is a
// device.Source of the frames of both feet in the order of the file. Errors do
// not name the file; the caller knows it.
type Reader struct {
	meta   device.Metadata
	cells  [2]int   // by foot; 0 for a foot without a strip
	count  [2]int   // frames by foot, 0 where unknown
	roles  []uint16 // our channel by the id in the file, notOurs for another's, 0 for none
	events []device.Event
	single uint16 // only this channel, 0 for all

	feed  feed
	block block
	rest  []byte // what is left of the block
	last  message
	err   error // what ended it
	cut   int64 // after io.EOF: the file is whole up to here
	close func() error
}

// Meta returns the description of the recording.
func (r *Reader) Meta() device.Metadata { return r.meta }

// Count returns how many frames of the foot the recording says it has, 0 where
// it does not say. It is good for setting memory aside.
func (r *Reader) Count(f device.Foot) int {
	if f > device.Right {
		return 0
	}
	return r.count[f]
}

// Whole says whether the recording was closed. It does not say that nothing in
// it was damaged since: for that, Next has to reach io.EOF.
func (r *Reader) Whole() bool { return r.feed.whole }

// Missing says what the recording lacks; "" where it is whole. Once Next has
// returned io.EOF it says how much could not be read.
func (r *Reader) Missing() string {
	const open = "it was never closed, or was cut short"
	switch left := r.feed.size - r.cut; {
	case r.feed.whole:
		return ""
	case r.err != io.EOF:
		return open
	case left == 0:
		return open + "; every record in it is whole"
	default:
		return fmt.Sprintf("%s: the last %d bytes, from byte %d on, are not a whole record and were left out", open, left, r.cut)
	}
}

// Events returns the events met so far: all of them once Next has returned io.EOF.
func (r *Reader) Events() []device.Event { return r.events }

// Next reads the next frame into f, reusing f.Counts; io.EOF at the end, also
// where the recording ends early (see Missing), and a *Damage where it is not
// as it was written. All frames before the damage come first.
func (r *Reader) Next(f *device.Frame) error {
	for {
		m, err := r.next()
		if err != nil {
			return err
		}
		if m.channel == eventsChannel {
			e, err := decodeEvent(m.data)
			if err != nil {
				return r.stop(m.at, err.Error())
			}
			r.events = append(r.events, e)
			continue
		}
		f.Foot = device.Foot(m.channel - leftChannel)
		cells := r.cells[f.Foot]
		if cells == 0 {
			return r.stop(m.at, "a frame of a foot without a strip")
		}
		if err := decodeFrame(m.data, cells, f); err != nil {
			return r.stop(m.at, err.Error())
		}
		return nil
	}
}

// Close ends the reading, also in the middle.
func (r *Reader) Close() error {
	if r.err == nil {
		r.err = errors.New("the recording is closed")
	}
	r.rest = nil
	if r.feed.unzip != nil {
		r.feed.unzip.Close()
	}
	return r.close()
}

// message is a message as the file holds it, good until the next one is read.
type message struct {
	channel           uint16
	logged, published uint64 // ns
	at                int64  // in the file: where it begins, or its chunk does
	data              []byte
}

// messageHeader is what precedes the data of a message record: channel,
// sequence, log time and publish time.
const messageHeader = 2 + 4 + 8 + 8

// next returns the next message that is ours, good until the next call.
func (r *Reader) next() (*message, error) {
	m := &r.last
	for {
		if len(r.rest) == 0 {
			if err := r.nextBlock(); err != nil {
				return nil, err
			}
		}
		at := r.block.at
		if !r.block.chunk {
			at += int64(len(r.block.records) - len(r.rest))
		}
		if len(r.rest) < recordHeader {
			return nil, r.stop(at, errTorn.Error())
		}
		op, size := mcap.OpCode(r.rest[0]), binary.LittleEndian.Uint64(r.rest[1:])
		if size > uint64(len(r.rest)-recordHeader) {
			return nil, r.stop(at, errTorn.Error())
		}
		body := r.rest[recordHeader : recordHeader+size]
		r.rest = r.rest[recordHeader+size:]
		switch op {
		case mcap.OpMessage:
			if len(body) < messageHeader {
				return nil, r.stop(at, errTorn.Error())
			}
			if !r.feed.whole && !r.block.chunk {
				var sealed bool
				if body, sealed = unseal(body); !sealed {
					return nil, r.stop(at, errTorn.Error())
				}
			}
			m.channel = r.role(binary.LittleEndian.Uint16(body))
			m.logged = binary.LittleEndian.Uint64(body[6:])
			if m.channel == 0 {
				return nil, r.stop(at, "a message of a channel that the file does not have")
			}
			if m.channel == notOurs || r.single != 0 && m.channel != r.single {
				continue
			}
			m.published = binary.LittleEndian.Uint64(body[14:])
			m.at, m.data = at, body[messageHeader:]
			return m, nil
		case mcap.OpChannel:
			r.introduce(body)
		}
	}
}

// nextBlock makes the next block the current one.
func (r *Reader) nextBlock() error {
	if r.err != nil {
		return r.err
	}
	if err := r.feed.next(&r.block); err != nil {
		r.err, r.cut = err, r.feed.cut
		return err
	}
	r.rest = r.block.records
	return nil
}

// stop ends the reading at a record that makes no sense. That is damage, but
// for what a crash leaves at the end of a file that was never closed.
func (r *Reader) stop(at int64, reason string) error {
	if !r.feed.whole && !r.block.chunk {
		r.err, r.cut = io.EOF, at
	} else {
		r.err = &Damage{at, reason}
	}
	r.rest = nil
	return r.err
}

// introduce learns a channel from its record.
func (r *Reader) introduce(record []byte) {
	c, err := mcap.ParseChannel(record)
	if err != nil {
		return
	}
	role := slices.Index(topics[:], c.Topic)
	if role < int(leftChannel) || c.MessageEncoding != "protobuf" {
		role = int(notOurs)
	}
	if int(c.ID) >= len(r.roles) {
		r.roles = append(r.roles, make([]uint16, int(c.ID)+1-len(r.roles))...)
	}
	r.roles[c.ID] = uint16(role)
}

// role is what the file's channel with the id is to us, as in roles.
func (r *Reader) role(id uint16) uint16 {
	if int(id) < len(r.roles) {
		return r.roles[id]
	}
	return 0
}
