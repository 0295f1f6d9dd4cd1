package recording

import (
	"bufio"
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"

	"aplomb/device"
)

// pack rewrites the recording in part, of at least so many messages, in
// compressed chunks and in order of log time, and gives it the name path. What
// the result holds depends on the messages and m alone. At every moment either
// part or path is whole and on the disk. After an error part is as it was.
func pack(d disk, part file, path string, m device.Metadata, least uint64) (err error) {
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
	out, err := newLog(buf, m, true)
	if err != nil {
		return fmt.Errorf("%s: %w", tmp, err)
	}
	if err := merge(part, out); err != nil {
		return err
	}
	if out.written() < least {
		return fmt.Errorf("%d messages can be read back of %d that were written", out.written(), least)
	}
	if err := cmp.Or(out.close(), buf.Flush(), file.Sync(), file.Close()); err != nil {
		return err
	}
	return publish(d, tmp, path)
}

// createOver makes a file where a crash may have left one. That one may be a
// finished recording under its second name: it is unlinked, never written into.
func createOver(d disk, name string) (file, error) {
	f, err := d.Create(name)
	if !errors.Is(err, os.ErrExist) {
		return f, err
	}
	if locked(name) {
		return nil, fmt.Errorf("%s exists: another aplomb is making that recording", name)
	}
	if err := d.Remove(name); err != nil {
		return nil, err
	}
	return d.Create(name)
}

// merge copies the messages of part to out, in order of log time and on ties in
// order of channel. Two ports interleave as their threads happen to run, so each
// channel has a reader of its own.
func merge(part file, out *log) error {
	info, err := part.Stat()
	if err != nil {
		return err
	}
	var heads [len(topics)]*head
	for channel := leftChannel; channel <= eventsChannel; channel++ {
		r, err := newReader(io.NewSectionReader(part, 0, info.Size()))
		if err != nil {
			return err
		}
		defer r.Close()
		r.single = channel
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
	from  *Reader
	ended bool
}

func (h *head) advance() (err error) {
	h.message, err = h.from.next()
	if errors.Is(err, io.EOF) {
		h.ended = true
		return nil
	}
	return err
}
