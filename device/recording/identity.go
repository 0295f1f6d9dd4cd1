package recording

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/base32"
	"encoding/binary"
	"errors"
	"hash"
	"io"

	"aplomb/device"
	"aplomb/device/internal/errkind"
)

// Identity returns the id of the recording at path; doc.go says how it is
// computed. It reads the whole file. A recording that has lost frames or events to
// damage, or was cut short after it was finished, has none.
func Identity(ctx context.Context, path string) (string, error) {
	r, err := Open(ctx, path)
	if err != nil {
		return "", err
	}
	defer r.Close()
	var f device.Frame
	for err == nil {
		err = r.Next(&f)
	}
	if !errors.Is(err, io.EOF) {
		return "", &FileError{path, err}
	}
	if r.incomplete() {
		return "", &FileError{path, errkind.With(ErrDamaged, errors.New(cmp.Or(r.Damaged(), r.Missing())))}
	}
	return r.ID(), nil
}

// IdentityIfAny returns the id of the recording at path, "" where it has none because it
// is damaged or has no frames. It reads the whole file.
func IdentityIfAny(ctx context.Context, path string) (string, error) {
	r, err := openRaw(ctx, path)
	if err != nil {
		return "", err
	}
	defer r.Close()
	frames := 0
	var f device.Frame
	for err = r.Next(&f); err == nil; err = r.Next(&f) {
		frames++
	}
	if ctx.Err() != nil {
		return "", ctx.Err()
	}
	if frames == 0 {
		return "", nil
	}
	return r.ID(), nil
}

// ID returns the id of the recording once Next has returned io.EOF, and ""
// before that, after any other error, or where the recording has lost frames or events
// since it was finished.
func (r *Reader) ID() string {
	if r.err != io.EOF || r.incomplete() {
		return ""
	}
	return r.contents.id()
}

// idLength is the number of characters of an id, 50 bits of the hash. Among
// 10,000 recordings two have the same one with a probability of 4 in 10^8.
const idLength = 10

// crockford is Douglas Crockford's Base32 alphabet in lower case: no i, l, o, u.
var crockford = base32.NewEncoding("0123456789abcdefghjkmnpqrstvwxyz").WithPadding(base32.NoPadding)

// contentHash hashes the messages of a recording, channel by channel: a .part contains
// the messages of all channels in order of arrival and the finished file in order of log
// time, but within a channel the order is the same.
type contentHash struct {
	channels [len(topics)]channelHash
}

// channelHash hashes the messages of one channel. It collects them first, because hashing
// a few dozen bytes at a time is much slower.
type channelHash struct {
	sum    hash.Hash
	unread []byte
}

const hashBlock = 8 << 10 // bytes

// add hashes a message. data is its protobuf encoding, without the seal.
func (h *contentHash) add(channel uint16, data []byte) {
	c := &h.channels[channel]
	c.unread = binary.LittleEndian.AppendUint32(c.unread, uint32(len(data)))
	c.unread = append(c.unread, data...)
	if len(c.unread) >= hashBlock {
		c.flush()
	}
}

func (c *channelHash) flush() {
	if c.sum == nil {
		c.sum = sha256.New()
	}
	c.sum.Write(c.unread)
	c.unread = c.unread[:0]
}

func (h *contentHash) id() string {
	all := sha256.New()
	for channel := leftChannel; channel <= eventsChannel; channel++ {
		c := &h.channels[channel]
		c.flush()
		all.Write(c.sum.Sum(nil))
	}
	return crockford.EncodeToString(all.Sum(nil))[:idLength]
}
