package main

import (
	"cmp"
	"context"
	"fmt"
	"io"
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
	var length time.Duration
	cmd := &cobra.Command{
		Use:   "record",
		Short: "Record strips from their serial ports",
		Long: `Record strips from their serial ports until Ctrl-C, or for as long as --for says.

Frames go to OUT.part as they come, onto the disk twice a second; at the end
OUT is made of it. Nothing is ever overwritten. After a crash OUT.part holds all
but the last second, and every command reads it. Where somebody removes it
meanwhile, it is written again and the recording goes on. Name the same port twice where one line carries both feet.
Every recording counts as a new mounting of the strips, unless
--same-mounting-as names one since which they were not taken off.

Pain means stop. Have a barre or a spotter.`,
		Example: `  aplomb record --shoe A.toml --strip left.toml --strip right.toml \
      --left /dev/ttyUSB0 --right /dev/ttyUSB1 --dancer D7 --support barre --out a1.mcap
  aplomb record --shoe A.toml --strip left.toml --left /dev/ttyACM0 --for 30s --out a2.mcap`,
		Args:              none,
		ValidArgsFunction: cobra.NoFileCompletions,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := needed(cmd, "out"); err != nil {
				return err
			}
			if length < 0 {
				return misused("--for %s: a length of time above 0, such as 30s", length)
			}
			m, err := s.meta(time.Now())
			if err != nil {
				return err
			}
			if err := portsFit(opt.Ports, &m); err != nil {
				return err
			}
			if err := cmp.Or(vacant(out), recording.Vacant(out)); err != nil {
				return err
			}
			return record(cmd, opt, m, out, length)
		},
	}
	s.flags(cmd)
	f := cmd.Flags()
	f.StringVar(&opt.Ports[device.Left], "left", "", "`PORT` of the left strip")
	f.StringVar(&opt.Ports[device.Right], "right", "", "`PORT` of the right strip")
	f.IntVar(&opt.Baud, "baud", link.DefaultBaud, "speed of the ports, `BITS` a second")
	f.DurationVar(&length, "for", 0, "for how much `TIME`, such as 30s; default until Ctrl-C")
	f.StringVar(&out, "out", "", "recording `FILE` to make")
	complete(cmd, "left", portNames)
	complete(cmd, "right", portNames)
	complete(cmd, "out", endingIn("mcap"))
	return cmd
}

// portsFit reports a port without a strip, or a strip without a port.
func portsFit(ports [2]string, m *recording.Meta) error {
	for _, f := range device.Feet {
		if ports[f] != "" && m.Sides[f] == nil {
			return misused("--%s %s: no --strip for the %s foot", f, ports[f], f)
		}
	}
	for _, f := range device.Feet {
		if ports[f] == "" && m.Sides[f] != nil {
			return misused("strip %s is for the %s foot, but there is no --%s PORT (see aplomb ports)", m.Sides[f].Strip.Name, f, f)
		}
	}
	return nil
}

// record records from ports, for a length of time where that is above 0, and
// tells how it goes.
func record(cmd *cobra.Command, opt link.Options, m recording.Meta, out string, length time.Duration) error {
	ctx, stop := context.WithCancel(cmd.Context())
	defer stop()
	stderr := cmd.ErrOrStderr()
	progress := newProgress(stderr)
	opt.Notice = func(f device.Foot, why string) {
		progress.clear()
		if why == "" {
			fmt.Fprintf(stderr, "%s: frames come again\n", f)
		} else {
			fmt.Fprintf(stderr, "%s: no frames (%s); the recording waits for them\n", f, why)
		}
	}
	src, err := listen(ctx, opt, &m)
	if err != nil {
		return err
	}
	defer src.Close()
	fmt.Fprintf(stderr, "listening at %d baud to %s; Ctrl-C ends it\n", opt.Baud, portsOf(opt))
	n, err := capture(src, m, out, func(n *tally) {
		if length > 0 && n.frames == 1 {
			time.AfterFunc(length, stop) // also where no frame comes any more
		}
		tell(stderr, progress, n)
		progress.show("recording %s", n)
		if length > 0 && n.length() >= length {
			stop()
		}
	})
	progress.clear()
	tell(stderr, progress, n)
	if n.kept {
		fmt.Fprintf(cmd.OutOrStdout(), "%s: %s\n", out, n)
	}
	return err
}

// tell passes on the warnings that have come since the last time.
func tell(w io.Writer, p *progress, n *tally) {
	for _, text := range n.news() {
		p.clear()
		fmt.Fprintln(w, "warning:", text)
	}
}

func portsOf(opt link.Options) string {
	var names []string
	for _, f := range device.Feet {
		if opt.Ports[f] != "" {
			names = append(names, fmt.Sprintf("%s (%s)", opt.Ports[f], f))
		}
	}
	return strings.Join(names, ", ")
}
