package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/cmd/internal/capture"
	"aplomb/cmd/internal/files"
	"aplomb/cmd/internal/intake"
	"aplomb/cmd/internal/liveview"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
	"aplomb/device/link"
	"aplomb/device/recording"
	"aplomb/plots/words"
)

func newRecord(o environment) *cobra.Command {
	var s intake.Setup
	opt := link.Options{}
	var h manner
	cmd := &cobra.Command{
		Use:   "record",
		Short: "Record strips from their serial ports",
		Long: `Record strips from their serial ports until Ctrl-C, or for a while (--for).

With --dancer and --visit the recording goes into the logbook, is measured, and
what a plan of the visit has next is said. The visit's conditions hold where
none are given here; the strips of the logbook are taken where none are named
and it has one for each foot. Without --visit it is a file of your own, --out.
Shoes and strips are files too where the value names one.

Frames go to OUT.part as they come, onto the disk twice a second; at the end
OUT is made of it. Nothing is ever overwritten. After a crash OUT.part holds
all but the last second, and every command reads it; aplomb logbook check says
where it is if it was to go into the logbook, and aplomb import takes it in.
Where somebody removes it meanwhile, it is written again.

Name the same port twice where one line carries both feet.

Every recording counts as a new mounting of the strips, unless
--same-mounting-as names one since which they were not taken off.

On a terminal it shows both platforms while it records. With two feet it first
asks for a press on the left platform, to tell whether the strips are swapped;
what is pressed before it says so is not recorded. Then n writes a note into the
recording, d discards the last relevé (again: the one before), u takes that
back, and q stops. A discarded relevé stays in the recording, marked.

Pain means stop. Have a barre or a spotter.`,
		Example: `  aplomb record --dancer D7 --visit today --shoe A --left /dev/ttyUSB0 \
      --right /dev/ttyUSB1
  aplomb record --dancer D7 --visit today --shoe A --left /dev/ttyUSB0 \
      --right /dev/ttyUSB1 --same-mounting-as last
  aplomb record --shoe A.toml --strip left.toml --strip right.toml \
      --left /dev/ttyUSB0 --right /dev/ttyUSB1 --dancer D7 --support barre \
      --out a1.mcap
  aplomb record --shoe A.toml --strip left.toml --left /dev/ttyACM0 \
      --for 30s --out a2.mcap`,
		Args:              none,
		ValidArgsFunction: cobra.NoFileCompletions,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := s.CheckTarget(h.out); err != nil {
				return err
			}
			if h.length < 0 {
				return usage.Errorf("--for %s: a length of time above 0, such as 30s", h.length)
			}
			if opt.Baud < 1 {
				return usage.Errorf("--baud %d: the speed that the strips send at, such as %d", opt.Baud, link.DefaultBaud)
			}
			now := o.now()
			if err := s.FindVisit(now); err != nil {
				return err
			}
			m, err := s.Metadata(cmd.Context(), now, [2]bool{opt.Ports[device.Left] != "", opt.Ports[device.Right] != ""})
			if err != nil {
				return err
			}
			if err := portsFit(opt.Ports, &m); err != nil {
				return err
			}
			if h.out != "" {
				if err := cmp.Or(files.CheckVacant(h.out), recording.CheckPath(h.out)); err != nil {
					return err
				}
			}
			for _, side := range m.Sides {
				if side != nil {
					text.Warnings(cmd.ErrOrStderr(), words.Warnings(measure.CalibrationWarnings(side.Strip.CalibrationDoubts(m.Started))))
				}
			}
			if s.Into == nil {
				_, err := record(cmd, o, opt, m, h)
				return err
			}
			return recordInto(cmd, &s.Logbook, *s.Into, o, opt, m, h)
		},
	}
	setupFlags(cmd, &s)
	f := cmd.Flags()
	f.StringVar(&opt.Ports[device.Left], "left", "", "`PORT` of the left strip")
	f.StringVar(&opt.Ports[device.Right], "right", "", "`PORT` of the right strip")
	f.IntVar(&opt.Baud, "baud", link.DefaultBaud, "speed of the ports, `BITS` a second")
	f.DurationVar(&h.length, "for", 0, "for how much `TIME`, such as 30s; default until Ctrl-C")
	f.StringVar(&h.out, "out", "", "recording `FILE` to make; with --visit the logbook takes a copy")
	f.BoolVar(&h.plain, "plain", false, "say in lines how it goes, on a terminal as well")
	f.BoolVar(&h.noPress, "no-press", false, "do not ask for a press on the left platform")
	complete(cmd, "left", portNames)
	complete(cmd, "right", portNames)
	complete(cmd, "out", endingIn("mcap"))
	return cmd
}

// recordInto records into a visit of the logbook. It first prints what the visit
// and its plan say.
func recordInto(cmd *cobra.Command, folder *lookup.Folder, v logbook.Visit, o environment, opt link.Options, m device.Metadata, h manner) error {
	err := folder.With(func(l *logbook.Logbook) error {
		if h.out == "" {
			h.out, h.called = l.NewRecordingPath(m.Started), "recorded"
		}
		if h.stop = v.Advice(); h.stop != "" {
			fmt.Fprintln(cmd.ErrOrStderr(), text.Wrap(h.stop))
		}
		var next strings.Builder
		err := output.Next(&next, l, v)
		fmt.Fprint(cmd.ErrOrStderr(), next.String())
		h.says = strings.FieldsFunc(next.String(), func(r rune) bool { return r == '\n' })
		return err
	})
	if err != nil {
		return err
	}
	made, failed := record(cmd, o, opt, m, h)
	if !made {
		return failed
	}
	if err := takeIn(cmd, folder, v, h.out, true); err != nil {
		return errors.Join(failed, err)
	}
	return errors.Join(failed, printNext(cmd, folder, v))
}

// portsFit reports a port without a strip, or a strip without a port.
func portsFit(ports [2]string, m *device.Metadata) error {
	for _, f := range device.Feet {
		if ports[f] != "" && m.Sides[f] == nil {
			return usage.Errorf("--%s %s: no --strip for the %s foot", f, ports[f], f)
		}
	}
	for _, f := range device.Feet {
		if ports[f] == "" && m.Sides[f] != nil {
			return usage.Errorf("strip %s is for the %s foot, but there is no --%s PORT (see aplomb ports)", m.Sides[f].Strip.Name, f, f)
		}
	}
	return nil
}

// manner is what a person says of how a recording is made.
type manner struct {
	out     string        // file
	called  string        // the file's name in the last message; "" for out
	says    []string      // the first messages in the live view
	stop    string        // why nobody should rise, from the visit; "" where nothing says so
	length  time.Duration // 0 until Ctrl-C
	plain   bool          // lines instead of the live view
	noPress bool          // do not ask for a press
}

// record records from ports and shows how it goes: on a terminal in the live view,
// elsewhere in lines. It returns whether there is a recording now.
func record(cmd *cobra.Command, o environment, opt link.Options, m device.Metadata, h manner) (made bool, err error) {
	for _, side := range m.Sides {
		if side != nil {
			side.Baud = opt.Baud
		}
	}
	r := &capture.Recorder{Meta: m, Path: h.out, Length: h.length}
	r.Open = func(ctx context.Context, notify func(device.Foot, link.Notice)) (capture.Source, error) {
		opt.Notify = notify
		return o.listen(ctx, opt, &m)
	}
	var n *capture.Tally
	if on, ok := liveview.Possible(cmd.ErrOrStderr()); ok && !h.plain {
		n, err = liveview.Run(cmd.Context(), r, monitor(&m, h), on)
		if n != nil { // what was on the screen has gone with it
			text.Warnings(cmd.ErrOrStderr(), n.Warnings())
		}
	} else {
		n, err = capture.RunInLines(cmd.Context(), r, cmd.ErrOrStderr(), o.now, fmt.Sprintf("at %d baud to %s", opt.Baud, portsOf(opt)))
	}
	if n == nil || !n.Kept {
		return false, err
	}
	fmt.Fprintf(cmd.OutOrStdout(), "%s: %s; all on the disk within %.1f s\n", cmp.Or(h.called, h.out), n, o.exposed(n.File).Seconds())
	return true, err
}

// monitor returns what the live view follows a recording with.
func monitor(m *device.Metadata, h manner) *capture.Monitor {
	name := filepath.Base(h.out)
	if m.Visit != "" {
		name = m.Dancer + ", " + m.Visit
	}
	press := !h.noPress && m.Sides[device.Left] != nil && m.Sides[device.Right] != nil
	mon := capture.NewMonitor(m, name+", shoe "+worn(m), press)
	mon.Stop = h.stop
	for _, line := range h.says {
		mon.Say(line)
	}
	return mon
}

// worn names the shoes of a recording, once where both feet wear the same.
func worn(m *device.Metadata) string {
	var codes []string
	for _, side := range m.Sides {
		if side != nil && !slices.Contains(codes, side.Shoe.Code) {
			codes = append(codes, side.Shoe.Code)
		}
	}
	return strings.Join(codes, " / ")
}

// portsOf names the ports and their feet.
func portsOf(opt link.Options) string {
	var names []string
	for _, f := range device.Feet {
		if opt.Ports[f] != "" {
			names = append(names, fmt.Sprintf("%s (%s)", opt.Ports[f], f))
		}
	}
	return strings.Join(names, ", ")
}
