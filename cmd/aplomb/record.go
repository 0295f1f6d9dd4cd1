package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"aplomb/analyze/live"
	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/link"
	"aplomb/device/recording"
	"aplomb/plots/words"
)

func newRecord(o outside) *cobra.Command {
	var s setup
	opt := link.Options{}
	var h how
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
			if err := s.goesSomewhere(h.out); err != nil {
				return err
			}
			if h.length < 0 {
				return misused("--for %s: a length of time above 0, such as 30s", h.length)
			}
			if opt.Baud < 1 {
				return misused("--baud %d: the speed that the strips send at, such as %d", opt.Baud, link.DefaultBaud)
			}
			now := o.now()
			if err := s.find(now); err != nil {
				return err
			}
			m, err := s.meta(now, [2]bool{opt.Ports[device.Left] != "", opt.Ports[device.Right] != ""})
			if err != nil {
				return err
			}
			if err := portsFit(opt.Ports, &m); err != nil {
				return err
			}
			if h.out != "" {
				if err := cmp.Or(vacant(h.out), recording.Vacant(h.out)); err != nil {
					return err
				}
			}
			for _, side := range m.Sides {
				if side != nil {
					printWarnings(cmd.ErrOrStderr(), words.Warnings(measure.CalibrationWarnings(side.Strip.CalibrationDoubts(m.Started))))
				}
			}
			if s.in == nil {
				_, err := record(cmd, o, opt, m, h)
				return err
			}
			return recordInto(cmd, &s.book, *s.in, o, opt, m, h)
		},
	}
	s.flags(cmd)
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

// goesSomewhere reports a recording for which there is neither a file nor a visit.
func (s *setup) goesSomewhere(out string) error {
	if out == "" && s.visit == "" {
		return misused("--visit VISIT or --out FILE is missing: where the recording goes, into the logbook or a file")
	}
	return nil
}

// recordInto records into a visit, and says first what there is to know.
func recordInto(cmd *cobra.Command, b *book, v logbook.Visit, o outside, opt link.Options, m device.Metadata, h how) error {
	err := b.with(func(l *logbook.Logbook) error {
		if h.out == "" {
			h.out, h.called = l.NewRecordingPath(m.Started), "recorded"
		}
		if h.stop = v.Advice(); h.stop != "" {
			fmt.Fprintln(cmd.ErrOrStderr(), wrapped(h.stop))
		}
		var next strings.Builder
		err := tellNext(&next, l, v)
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
	if err := takeIn(cmd, b, v, h.out); err != nil {
		return errors.Join(failed, stays(err, v, h.out))
	}
	return errors.Join(failed, sayNext(cmd, b, v))
}

// portsFit reports a port without a strip, or a strip without a port.
func portsFit(ports [2]string, m *device.Metadata) error {
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

// how is how a recording goes, beside what is recorded.
type how struct {
	out     string
	called  string        // in what is said of it at the end; out where it is ""
	says    []string      // to begin with, in the live view
	stop    string        // why nobody should rise, all the while
	length  time.Duration // 0: until Ctrl-C
	plain   bool          // lines instead of the live view
	noPress bool          // ask for no press
}

// record records from ports and tells how it goes: on a terminal in the live
// view, elsewhere in lines. It returns whether there is a recording now.
func record(cmd *cobra.Command, o outside, opt link.Options, m device.Metadata, h how) (made bool, err error) {
	ctx, stop := context.WithCancel(cmd.Context())
	defer stop()
	for _, side := range m.Sides {
		if side != nil {
			side.Baud = opt.Baud
		}
	}
	r := &recorder{meta: m, out: h.out}
	until := func(n *tally, f *device.Frame) {
		if h.length > 0 && n.frames == 1 {
			time.AfterFunc(h.length, stop) // also where no frame comes any more
		}
		if h.length > 0 && n.length() >= h.length {
			stop()
		}
	}
	var n *tally
	if on, ok := canShow(os.Stdin, cmd.ErrOrStderr()); ok && !h.plain {
		press := !h.noPress && m.Sides[device.Left] != nil && m.Sides[device.Right] != nil
		n, err = recordShown(ctx, stop, cmd, o, opt, r, on, until, press, h)
	} else {
		n, err = recordPlainly(ctx, cmd, o, opt, r, until)
	}
	if n == nil || !n.kept {
		return false, err
	}
	fmt.Fprintf(cmd.OutOrStdout(), "%s: %s; all on the disk within %.1f s\n", cmp.Or(h.called, h.out), n, o.exposed(n.file).Seconds())
	return true, err
}

// recordShown records with the live view.
func recordShown(ctx context.Context, stop func(), cmd *cobra.Command, o outside, opt link.Options, r *recorder, on *os.File, until func(*tally, *device.Frame), press bool, h how) (*tally, error) {
	name := filepath.Base(r.out)
	if r.meta.Visit != "" {
		name = r.meta.Dancer + ", " + r.meta.Visit
	}
	v := newView(&r.meta, name+", shoe "+worn(&r.meta), press)
	v.stop = h.stop
	for _, text := range h.says {
		v.say(text)
	}
	opt.Notice = v.notice
	src, err := o.listen(ctx, opt, &r.meta)
	if err != nil {
		return nil, err
	}
	defer src.Close()
	r.link, r.marks = src, v.marks
	if press {
		r.ready = v.ready
	}
	r.watch = func(n *tally, f *device.Frame) {
		for _, text := range n.news() {
			v.say("warning: " + text)
		}
		v.frame(n, f)
		until(n, f)
	}
	n, err := v.show(r, on, stop)
	n.told = [2]int{} // the screen is gone, and what it said with it
	tell(cmd.ErrOrStderr(), newProgress(io.Discard), n)
	return n, err
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

// recordPlainly records and says in lines what happens.
func recordPlainly(ctx context.Context, cmd *cobra.Command, o outside, opt link.Options, r *recorder, until func(*tally, *device.Frame)) (*tally, error) {
	stderr := cmd.ErrOrStderr()
	progress := newProgress(stderr).by(o.now)
	opt.Notice = func(f device.Foot, why string) {
		progress.clear()
		if why == "" {
			fmt.Fprintf(stderr, "%s: frames come again\n", f)
		} else {
			fmt.Fprintf(stderr, "%s: no frames (%s); the recording waits for them\n", f, why)
		}
	}
	src, err := o.listen(ctx, opt, &r.meta)
	if err != nil {
		return nil, err
	}
	defer src.Close()
	fmt.Fprintf(stderr, "listening at %d baud to %s; Ctrl-C ends it\n", opt.Baud, portsOf(opt))
	seen := live.New(&r.meta)
	r.link = src
	r.watch = func(n *tally, f *device.Frame) {
		tell(stderr, progress, n)
		news, err := seen.Add(f)
		if err != nil {
			return // the analysis will say so
		}
		for _, one := range news {
			progress.clear()
			fmt.Fprintln(stderr, inWords(one))
		}
		progress.show("recording %s", n)
		until(n, f)
	}
	n, err := r.record()
	progress.clear()
	tell(stderr, progress, n)
	return n, err
}

// inWords says one foot of a relevé that has just ended, in one line.
func inWords(one live.Ended) string {
	if !one.Hold.Settled {
		return fmt.Sprintf("relevé %d, %s: never settled (provisional)", one.N, one.Foot)
	}
	h := one.Hold
	return fmt.Sprintf("relevé %d, %s: hold %.1f s, over %s mm, contact %s, %s (provisional)", one.N, one.Foot, h.HoldS,
		words.Number(h.OverMM, 1), words.DisplayOf(measure.ContactShare).Value(h.ContactShare), words.Verdict(h.Verdict, h.MedialMM))
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
