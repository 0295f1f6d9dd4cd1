package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"aplomb/device"
	"aplomb/device/link"
	"aplomb/device/recording"
)

func newRecord() *cobra.Command {
	var s setup
	var out string
	opt := link.Options{}
	var last time.Duration
	cmd := &cobra.Command{
		Use:   "record",
		Short: "Record strips from their serial ports",
		Long: `Record strips from their serial ports until Ctrl-C, or for as long as --for says.

Frames go to OUT.part as they come, onto the disk twice a second; at the end
OUT is made of it. Name the same port twice where one line carries both feet.
Every recording counts as a new mounting of the strips, unless
--same-mounting-as names one since which they were not taken off.

Pain means stop. Have a barre or a spotter.`,
		Example: `  aplomb record --shoe A.toml --strip left.toml --strip right.toml \
      --left /dev/ttyUSB0 --right /dev/ttyUSB1 --dancer D7 --support barre --out a1.mcap
  aplomb record --shoe A.toml --strip left.toml --left /dev/ttyACM0 --for 30s --out a2.mcap`,
		Args: none,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := needed(cmd, "out"); err != nil {
				return err
			}
			m, err := s.meta(time.Now())
			if err != nil {
				return err
			}
			for _, f := range device.Feet {
				switch {
				case opt.Ports[f] != "" && m.Sides[f] == nil:
					return misused("--%s %s: no --strip for the %s foot", f, opt.Ports[f], f)
				case opt.Ports[f] == "" && m.Sides[f] != nil:
					return misused("strip %s is for the %s foot, but there is no --%s PORT (see aplomb ports)", m.Sides[f].Strip.Name, f, f)
				}
			}
			ctx := cmd.Context()
			if last > 0 {
				var stop context.CancelFunc
				ctx, stop = context.WithTimeout(ctx, last)
				defer stop()
			}
			progress := newProgress(cmd.ErrOrStderr())
			watch := func(n *tally) { progress.show("recording: %s", n) }
			n, err := capture(ctx, opt, m, out, watch)
			progress.clear()
			if n != nil {
				for _, w := range n.warnings {
					fmt.Fprintln(cmd.ErrOrStderr(), "warning:", w)
				}
			}
			if err != nil {
				return err
			}
			fmt.Fprintf(cmd.OutOrStdout(), "%s: %s\n", out, n)
			return nil
		},
	}
	s.flags(cmd)
	f := cmd.Flags()
	f.StringVar(&opt.Ports[device.Left], "left", "", "`PORT` of the left strip")
	f.StringVar(&opt.Ports[device.Right], "right", "", "`PORT` of the right strip")
	f.IntVar(&opt.Baud, "baud", link.DefaultBaud, "speed of the ports, bits a second")
	f.DurationVar(&last, "for", 0, "how long, such as 30s; default until Ctrl-C")
	f.StringVar(&out, "out", "", "recording `FILE` to make")
	return cmd
}

// tally is what has been recorded so far.
type tally struct {
	link     *link.Link
	meta     recording.Meta
	frames   int
	warnings []string
}

// String is one line for people: frames and losses of each foot.
func (n *tally) String() string {
	var feet []string
	for _, f := range device.Feet {
		if n.meta.Sides[f] != nil {
			s := n.link.Stats()[f]
			text := fmt.Sprintf("%s %d frames", f, s.Frames)
			if s.Lost > 0 {
				text += fmt.Sprintf(", %d lost", s.Lost)
			}
			feet = append(feet, text)
		}
	}
	return strings.Join(feet, "; ")
}

// capture records from ports until ctx is done. What was recorded before an
// error is kept. watch is called after every frame.
func capture(ctx context.Context, opt link.Options, m recording.Meta, out string, watch func(*tally)) (*tally, error) {
	for f, side := range m.Sides {
		if side != nil {
			opt.Strips[f] = side.Strip
		}
	}
	src, err := link.Open(ctx, opt)
	if err != nil {
		return nil, err
	}
	defer src.Close()
	n := &tally{link: src, meta: m}
	first, err := n.hearAll(watch)
	if err != nil {
		return nil, err
	}
	w, err := recording.Create(out, n.meta)
	if err != nil {
		return nil, err
	}
	for i := range first {
		if err := w.Write(&first[i]); err != nil {
			return n, errors.Join(err, w.Close())
		}
	}
	err = n.copy(w, watch)
	n.warnings = src.Warnings()
	return n, errors.Join(err, w.Close())
}

// hearAll waits until every foot has been heard: only then is it known what
// the strips send, which the recording says at its beginning. It returns the
// frames that came meanwhile.
func (n *tally) hearAll(watch func(*tally)) (first []device.Frame, err error) {
	heard := [2]bool{n.meta.Sides[0] == nil, n.meta.Sides[1] == nil}
	for !heard[0] || !heard[1] {
		var f device.Frame
		if err := n.link.Next(&f); err != nil {
			if errors.Is(err, io.EOF) {
				return nil, errors.New("stopped before a frame of every foot had arrived: nothing was recorded")
			}
			return nil, err
		}
		n.frames++
		if !heard[f.Foot] {
			heard[f.Foot] = true
			side := *n.meta.Sides[f.Foot]
			s := n.link.Stats()[f.Foot]
			side.Format, side.Clock = s.Line.Format.String(), s.Clock
			n.meta.Sides[f.Foot] = &side
		}
		f.Counts = slices.Clone(f.Counts)
		first = append(first, f)
		watch(n)
	}
	return first, nil
}

// copy writes frames and events until the link ends.
func (n *tally) copy(w *recording.Writer, watch func(*tally)) error {
	var f device.Frame
	for {
		err := n.link.Next(&f)
		for _, e := range n.link.Events() {
			if err := w.WriteEvent(e); err != nil {
				return err
			}
		}
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		if err := w.Write(&f); err != nil {
			return err
		}
		n.frames++
		watch(n)
	}
}
