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

// Reader reads one recording once, from beginning to end. It is a device.Source of the
// frames of both feet in the order of the file. Its errors do not name the file, which is
// known to the caller.
type Reader struct {
	meta       device.Metadata // with the correction
	recorded   device.Metadata // as the file has it
	correction *Correction     // nil where there is none
	swapped    bool            // frames of the left foot are given as those of the right one and the other way round
	writer     lock.Holder     // the process that writes or wrote the .part; zero in other files
	cells      [2]int          // by foot; 0 for a foot without a strip
	channels   []uint16        // by id in the file: one of our channels, foreignChannel, or 0 where the file has none
	events     []device.Event
	only       uint16 // the one channel to read; 0 for all

	begun      bool // a message was read
	described  bool // the description has a checksum, which matches
	summary    summary
	read       [len(topics)]uint64 // messages, by channel
	latestNS   uint64              // the latest log time
	disordered bool                // a chunk has messages that are earlier than those before them
	losses     []Loss
	firstNS    int64   // arrival of the first frame; 0 before that
	afterLoss  [2]bool // by foot: frames may have been lost since its last one

	records  recordReader
	block    block
	unread   []byte // the records of the block that have not been read
	last     message
	contents contentHash
	err      error // the end of the reading
	wholeTo  int64 // after io.EOF: offset up to which all records are whole, but for losses
	// cutInFirstChunk reports, after io.EOF, that the file ends within its first chunk.
	cutInFirstChunk bool
	close           func() error
}

// Meta returns the metadata of the recording, with its correction.
func (r *Reader) Meta() device.Metadata { return r.meta }

// Recorded returns the metadata as the file of the recording has it.
func (r *Reader) Recorded() device.Metadata { return r.recorded }

// Correction returns the correction of the recording, nil where there is none.
func (r *Reader) Correction() *Correction { return r.correction }

// foot returns the foot to which frames and events of a foot in the file belong.
func (r *Reader) foot(inFile device.Foot) device.Foot {
	if r.swapped && inFile != device.NoFoot {
		return inFile.Other()
	}
	return inFile
}

// Count returns the number of frames of the foot according to the summary of the file, 0
// without a summary. It is for allocating memory.
func (r *Reader) Count(f device.Foot) int {
	if f > device.Right {
		return 0
	}
	return int(r.summary.messages[channelOf(r.foot(f))])
}

// Whole reports whether the recording was closed. It may have been damaged since then,
// which only reading it to io.EOF excludes.
func (r *Reader) Whole() bool { return r.records.closed }

// Missing describes what the recording lacks at its end, "" where it was closed. Once
// Next has returned io.EOF it includes the amount that could not be read.
func (r *Reader) Missing() string {
	const open = "it was never closed, or was cut short"
	switch {
	case r.records.closed:
		return ""
	case r.err != io.EOF:
		return open
	case r.wholeTo == r.records.size:
		return open + "; every record in it is whole"
	case r.cutInFirstChunk:
		return fmt.Sprintf("it was cut short at byte %d, within its first second: copy it again", r.records.size)
	default:
		return fmt.Sprintf("%s: its end, from byte %d on, is no whole record and was left out", open, r.wholeTo)
	}
}

// Events returns the events read so far: all of them once Next has returned io.EOF.
// A loss is among them, as a gap of both feet.
func (r *Reader) Events() []device.Event { return r.events }

// Next reads the next frame into f and reuses f.Counts. At the end it returns io.EOF,
// also where the recording was cut short (see Missing) or parts of it cannot be read (see
// Damaged). It returns a *Damage where the file differs from what was written and no
// checksum locates the difference, so that none of its frames are reliable; and the error
// of the context given to Open soon after that is done.
func (r *Reader) Next(f *device.Frame) error {
	for {
		m, err := r.next()
		if err != nil {
			if err == io.EOF {
				r.closeLosses(max(r.summary.endNS, r.latestNS))
			}
			return err
		}
		r.read[m.channel]++
		r.closeLosses(m.logged)
		r.disordered = r.disordered || r.block.chunk && m.logged < r.latestNS
		r.latestNS = max(r.latestNS, m.logged)
		if m.channel == eventsChannel {
			e, err := decodeEvent(m.data)
			if err != nil {
				if err := r.bad(m.at, err.Error()); err != nil {
					return err
				}
				continue
			}
			e.Foot = r.foot(e.Foot)
			r.events = append(r.events, e)
			r.contents.add(m.channel, m.data)
			continue
		}
		f.Foot = r.foot(device.Foot(m.channel - leftChannel))
		cells := r.cells[f.Foot]
		err = errStripless
		if cells != 0 {
			err = decodeFrame(m.data, cells, f)
		}
		if err != nil {
			if err := r.bad(m.at, err.Error()); err != nil {
				return err
			}
			continue
		}
		f.AfterLoss, r.afterLoss[f.Foot] = r.afterLoss[f.Foot], false
		if r.firstNS == 0 {
			r.firstNS = f.ArrivalNS
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

// errStripless is the error for a frame of a foot without a strip.
var errStripless = errors.New("a frame of a foot without a strip")

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
		m, wrong := r.take()
		if wrong != "" {
			if err := r.bad(at, wrong); err != nil {
				return nil, err
			}
			continue
		}
		if m != nil {
			m.at = at
			return m, nil
		}
	}
}

// take takes the next record of the block. It returns its message, or nil for a record
// without a message of our channels, and otherwise what is wrong with it.
func (r *Reader) take() (m *message, wrong string) {
	if len(r.unread) < recordHeader {
		return nil, errIncomplete.Error()
	}
	op, size := mcap.OpCode(r.unread[0]), binary.LittleEndian.Uint64(r.unread[1:])
	if size > uint64(len(r.unread)-recordHeader) {
		return nil, errIncomplete.Error()
	}
	body := r.unread[recordHeader : recordHeader+size]
	r.unread = r.unread[recordHeader+size:]
	inPart := !r.records.closed && !r.block.chunk
	content, sealed := body, false
	if inPart {
		content, sealed = unseal(body)
	}
	if inPart && op != mcap.OpMessage && (sealed || r.begun) {
		return nil, "a message that is not marked as one"
	}
	switch op {
	case mcap.OpMessage:
		switch {
		case len(body) < messageHeader:
			return nil, errIncomplete.Error()
		case inPart && !sealed:
			return nil, "the checksum of a message does not match"
		}
		r.begun = true
		r.records.unguarded = r.records.unguarded || !inPart && !r.block.chunk
		m = &r.last
		id := binary.LittleEndian.Uint16(body)
		if m.channel = r.channel(id); inPart && int(id) < len(topics) {
			m.channel = id // of our own .part, whatever is left of its channel records
		}
		if m.channel == 0 {
			return nil, "a message of a channel that the file does not have"
		}
		if m.channel == foreignChannel || r.only != 0 && m.channel != r.only {
			return nil, ""
		}
		m.logged = binary.LittleEndian.Uint64(body[6:])
		m.published = binary.LittleEndian.Uint64(body[14:])
		m.data = content[messageHeader:]
	case mcap.OpChannel:
		r.records.unguarded = r.records.unguarded || r.records.closed && !r.block.chunk
		if !r.addChannel(body) && inPart {
			return nil, "a channel that cannot be read"
		}
	}
	return m, ""
}

// nextBlock makes the next block the current one.
func (r *Reader) nextBlock() error {
	for {
		if r.err != nil {
			return r.err
		}
		err := r.records.next(&r.block)
		if s := &r.summary; err == nil && r.block.chunk && s.guarded && len(s.chunks) > 0 && !slices.Contains(s.chunks, r.block.at) {
			err = &Damage{r.block.at, "a chunk that was not written there"}
		}
		var damage *Damage
		switch {
		case err == nil:
			r.unread = r.block.records
			return nil
		case err == errSum:
			return r.endUnlike()
		case errors.As(err, &damage):
			if err := r.resume(damage); err != nil {
				return err
			}
		default:
			return r.end(err)
		}
	}
}

// end ends the reading with err, which is io.EOF where all of the file was read.
func (r *Reader) end(err error) error {
	if err == io.EOF && len(r.losses) > 0 {
		if why := r.unreliable(); why != "" {
			err = &Damage{r.losses[0].Offset, r.losses[0].Reason + ", and " + why}
		}
	}
	r.err, r.wholeTo, r.unread = err, r.records.wholeTo, nil
	return err
}

// bad skips an invalid record in a .part, where every message has its own checksum. In
// other files it ends the reading: there the checksum of the record's chunk matches
// nevertheless, or there is none.
func (r *Reader) bad(at int64, reason string) error {
	if d := (&Damage{at, reason}); r.records.closed || r.block.chunk {
		return r.end(d)
	} else {
		return r.resume(d)
	}
}

// addChannel processes a channel record of the file. It returns false where the record
// cannot be read.
func (r *Reader) addChannel(record []byte) bool {
	c, err := mcap.ParseChannel(record)
	if err != nil {
		return false
	}
	channel := slices.Index(topics[:], c.Topic)
	if channel < int(leftChannel) || c.MessageEncoding != "protobuf" {
		channel = int(foreignChannel)
	}
	if int(c.ID) >= len(r.channels) {
		r.channels = append(r.channels, make([]uint16, int(c.ID)+1-len(r.channels))...)
	}
	r.channels[c.ID] = uint16(channel)
	return true
}

// channel returns our channel for a channel id of the file, as in Reader.channels.
func (r *Reader) channel(id uint16) uint16 {
	if int(id) < len(r.channels) {
		return r.channels[id]
	}
	return 0
}
