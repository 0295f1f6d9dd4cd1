package recording

import (
	"bufio"
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"
)

// pack rewrites the recording at part, of count messages, in compressed chunks
// and in order of log time, and gives it the name path. What the result holds
// depends on the messages and m alone. After an error part is as it was.
func pack(part, path string, m Meta, count uint64) (err error) {
	tmp := path + ".tmp" // ours alone: part was created exclusively
	file, err := os.Create(tmp)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			file.Close()
			os.Remove(tmp)
		}
	}()
	buf := bufio.NewWriterSize(file, 1<<16)
	out, err := newLog(buf, m, true)
	if err != nil {
		return fmt.Errorf("%s: %w", tmp, err)
	}
	if err := merge(part, out); err != nil {
		return fmt.Errorf("%s: %w", part, err)
	}
	if out.written() != count {
		return fmt.Errorf("%s: %d messages can be read back of %d that were written", part, out.written(), count)
	}
	if err := cmp.Or(out.close(), buf.Flush(), file.Sync(), file.Close()); err != nil {
		return fmt.Errorf("%s: %w", tmp, err)
	}
	return publish(tmp, path)
}

// merge copies the messages of the file at part to out, in order of log time
// and on ties in order of channel. Two ports interleave as their threads happen
// to run, so each channel has a reader of its own.
func merge(part string, out *log) error {
	var heads [len(topics)]*head
	for channel := leftChannel; channel <= eventsChannel; channel++ {
		r, err := Open(part)
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
		if err := out.copy(&first.message); err != nil {
			return err
		}
		if err := first.advance(); err != nil {
			return err
		}
	}
}

// head is the next message of one channel.
type head struct {
	message
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
