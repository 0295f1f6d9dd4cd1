package recording

import (
	"bufio"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"

	"aplomb/device"
	"aplomb/device/internal/errkind"
	"aplomb/device/lock"
)

// pack creates the finished file at path from a .part: all messages in order of log time,
// in compressed chunks. The result depends on the messages and m alone. At every moment
// either part or path is complete and synced to the disk. It is an error when fewer than
// minMessages messages can be read back; after an error part is unchanged.
func pack(d disk, part file, path string, m device.Metadata, minMessages uint64) (err error) {
	tmp := path + ".tmp"
	file, err := createOver(d, tmp)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			file.Close()
			d.Remove(tmp)
		}
	}()
	buf := bufio.NewWriterSize(file, 1<<16)
	out, err := newMessageWriter(buf, m, true)
	if err != nil {
		return fmt.Errorf("%s: %w", tmp, err)
	}
	if err := copyInOrder(part, out); err != nil {
		return err
	}
	if out.written() < minMessages {
		return fmt.Errorf("%d messages can be read back of %d that were written", out.written(), minMessages)
	}
	if err := cmp.Or(out.close(), buf.Flush(), file.Sync(), file.Close()); err != nil {
		return err
	}
	return publish(d, tmp, path)
}

// createOver creates a file, replacing one that a crash may have left. It removes the old
// file instead of overwriting it, which may be a finished recording under a second name.
func createOver(d disk, name string) (file, error) {
	f, err := d.Create(name)
	if !errors.Is(err, os.ErrExist) {
		return f, err
	}
	if lock.Held(name) {
		return nil, errkind.With(ErrInUse, fmt.Errorf("%s exists: another aplomb is making that recording", name))
	}
	if err := d.Remove(name); err != nil {
		return nil, err
	}
	return d.Create(name)
}

// copyInOrder copies the messages of part to out in order of log time, and in order of
// channel where log times are equal. In part the order of messages from two ports depends
// on the scheduling of their goroutines, so every channel has its own reader.
func copyInOrder(part file, out *messageWriter) error {
	info, err := part.Stat()
	if err != nil {
		return err
	}
	var heads [len(topics)]*head
	for channel := leftChannel; channel <= eventsChannel; channel++ {
		r, err := newReader(context.Background(), io.NewSectionReader(part, 0, info.Size()))
		if err != nil {
			return err
		}
		defer r.Close()
		r.only = channel
		heads[channel] = &head{from: r}
		if err := heads[channel].advance(); err != nil {
			return err
		}
	}
	for {
		var first *head
		for _, h := range heads[leftChannel:] {
			if !h.ended && (first == nil || h.logged < first.logged) {
				first = h
			}
		}
		if first == nil {
			return nil
		}
		if err := out.copy(first.message); err != nil {
			return err
		}
		if err := first.advance(); err != nil {
			return err
		}
	}
}

// head is the next message of one channel.
type head struct {
	*message
	from  *Reader // of that channel alone
	ended bool
}

// advance reads the next message of the channel.
func (h *head) advance() (err error) {
	h.message, err = h.from.next()
	if errors.Is(err, io.EOF) {
		h.ended = true
		return nil
	}
	return err
}
