package recording

import (
	"context"
	"errors"
	"fmt"
	"io"

	"aplomb/device"
	"aplomb/device/internal/errkind"
)

// Rewriting specifies the changes of a recording that is written again.
type Rewriting struct {
	Meta  device.Metadata          // replaces the description
	Frame func(*device.Frame)      // changes a frame before it is written; it keeps the foot and the number of cells
	Event func(*device.Event) bool // changes an event before it is written; false leaves it out
}

// Rewrite writes the recording at path to w as another one: the frames and events from a
// Reader, with its correction applied, each changed according to r, with the description
// r.Meta. It copies nothing else: neither the number in a logbook nor records added by
// other programs. The output depends on these alone.
//
// The error matches ErrUnfinished where the recording was never closed, and ErrDamaged
// where parts of it are lost, because the result would appear complete.
func Rewrite(ctx context.Context, w io.Writer, path string, r Rewriting) error {
	in, err := Open(ctx, path)
	if err != nil {
		return err
	}
	defer in.Close()
	if !in.Whole() {
		return &FileError{path, errkind.With(ErrUnfinished, errors.New("it was never closed, or was cut short"))}
	}
	if err := r.Meta.Check(); err != nil {
		return &FileError{path, err}
	}
	out, err := newMessageWriter(w, r.Meta, true)
	if err != nil {
		return err
	}
	written := 0 // events
	events := func() error {
		for _, e := range in.Events()[written:] {
			written++
			if !r.Event(&e) {
				continue
			}
			if err := e.Check(); err != nil {
				return &FileError{path, err}
			}
			if err := out.event(&e); err != nil {
				return err
			}
		}
		return nil
	}
	var f device.Frame
	for {
		err := in.Next(&f)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return &FileError{path, err}
		}
		if err := events(); err != nil {
			return err
		}
		r.Frame(&f)
		if err := out.check(&f); err != nil {
			return &FileError{path, err}
		}
		if err := out.frame(&f); err != nil {
			return err
		}
	}
	if in.incomplete() {
		return &FileError{path, errkind.With(ErrDamaged, fmt.Errorf("%s: what is lost cannot be told from what was never there once it is written anew", in.Damaged()))}
	}
	if err := events(); err != nil {
		return err
	}
	return out.close()
}
