package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"aplomb/analyze/check"
	"aplomb/cmd/internal/capture"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/files"
	"aplomb/cmd/internal/liveview"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/secondscreen"
	"aplomb/cmd/internal/software"
	"aplomb/cmd/internal/text"
	"aplomb/device"
	"aplomb/device/link"
	"aplomb/plots/screen"
)

// checkMade prints in one line the check of a recording that has just been made. It uses
// its own context, because a signal that ended the recording has cancelled the other.
func checkMade(cmd *cobra.Command, path string) error {
	r, err := check.File(context.WithoutCancel(cmd.Context()), path, software.Provenance())
	if err == nil {
		output.CheckLine(cmd.OutOrStdout(), r, "aplomb check "+text.Quoted(path))
	}
	return err
}

// recordOptions are the settings of a recording other than its ports: those of the flags
// and, with a visit, those of the logbook.
type recordOptions struct {
	out       string                     // file
	shownName string                     // the file's name in the last message; "" for out
	access    files.Access               // to out
	messages  []string                   // the first messages in the live view
	stop      string                     // the visit's advice to stop; "" for none
	length    time.Duration              // 0 until Ctrl-C
	plain     bool                       // lines instead of the live view
	noPress   bool                       // do not ask for a press at the beginning
	releves   int                        // of the plan's next step; 0 for none
	begun     func() error               // called once the file exists; may be nil
	until     func(context.Context) bool // waits for a reason to end the recording, and reports whether there is one; may be nil
	watched   [2]bool                    // by device.Foot, whether it is being watched according to the logbook
	others    []device.Shoe              // shoes that may be under the strips by mistake
	called    string                     // name of the shoe; "" for its code
	worn      func()                     // called when the user confirms that the shoes are on; may be nil
	guided    bool                       // part of a guided fitting
	what      string                     // description of the source; "" for the ports
	title     string                     // of the live view; "" for one derived from the file
	typed     <-chan string              // lines typed by the user; nil for standard input

	screen *secondscreen.Server // nil for none
	shown  secondscreen.State   // what it shows in addition to the recording; the shoe is added
}

// press returns the options for pad presses.
func (how *recordOptions) press() capture.PressOptions {
	return capture.PressOptions{Ask: !how.noPress, Watched: how.watched, Releves: how.releves, Guided: how.guided, Others: how.others, Called: how.called, Worn: how.worn}
}

// lines returns the lines typed by the user during the recording.
func (how *recordOptions) lines(ctx context.Context) <-chan string {
	if how.typed != nil || how.guided {
		return how.typed
	}
	return console.Typed(ctx, !how.noPress)
}

// recordFile records from ports into a file and shows progress: on a terminal in the live
// view, elsewhere in lines. It returns whether the file was created.
func recordFile(cmd *cobra.Command, o environment, opt link.Options, m device.Metadata, how recordOptions) (made bool, err error) {
	for _, side := range m.Sides {
		if side != nil {
			side.Baud = opt.Baud
		}
	}
	ctx, end := context.WithCancel(cmd.Context())
	var waiting sync.WaitGroup
	if how.until != nil {
		waiting.Go(func() {
			if how.until(ctx) {
				end()
			}
		})
	}
	defer waiting.Wait()
	defer end()
	r := &capture.Recorder{Meta: m, Path: how.out, Length: how.length, Begun: how.begun}
	r.Open = func(ctx context.Context, notify func(device.Foot, link.Notice)) (capture.Source, error) {
		opt.Notify = notify
		return o.listen(ctx, opt, &m)
	}
	console.OutliveReaders()
	var watch func(func(*screen.State))
	if how.screen != nil {
		how.shown.Shoe, how.shown.Planned = shoeNames(&m), how.releves
		watch = how.screen.Follow(&m, how.shown)
	}
	var n *capture.Tally
	if on, ok := liveview.Possible(cmd.ErrOrStderr()); ok && !how.plain {
		mon := monitor(&m, how)
		mon.Watch = watch
		n, err = liveview.Run(ctx, r, mon, on)
		if n != nil { // the live view is no longer on the screen, and neither are its messages
			text.Warnings(cmd.ErrOrStderr(), n.Warnings())
		}
	} else {
		var bell func(capture.Signal)
		if on, ok := console.Terminal(cmd.ErrOrStderr()); ok {
			bell = capture.NewBell(ctx, on).Ring
		}
		n, err = capture.RunInLines(ctx, r, capture.Lines{
			Out: cmd.ErrOrStderr(), Now: o.now, What: cmp.Or(how.what, fmt.Sprintf("at %d baud to %s", opt.Baud, portsOf(opt))),
			Press: how.press(), Typed: how.lines(cmd.Context()), Bell: bell, Watch: watch,
		})
	}
	if n == nil || !n.Kept {
		return false, err
	}
	err = errors.Join(err, how.access.Apply(how.out))
	said := fmt.Sprintf("%s: %s; all on the disk within %.1f s", cmp.Or(how.shownName, how.out), n, o.exposed(n.File).Seconds())
	if how.guided {
		said = text.Wrap(said)
	}
	fmt.Fprintln(cmd.OutOrStdout(), said)
	return true, err
}

// monitor returns the monitor through which the live view shows a recording.
func monitor(m *device.Metadata, how recordOptions) *capture.Monitor {
	name := filepath.Base(how.out)
	if m.Visit != "" {
		name = m.Dancer + ", " + m.Visit
	}
	mon := capture.NewMonitor(m, cmp.Or(how.title, name+", shoe "+shoeNames(m)), how.press())
	mon.Stop = how.stop
	for _, line := range how.messages {
		mon.Say(line)
	}
	return mon
}

// shoeNames returns the codes of the shoes of a recording, one where both feet wear
// the same.
func shoeNames(m *device.Metadata) string {
	var codes []string
	for _, side := range m.Sides {
		if side != nil && !slices.Contains(codes, side.Shoe.Code) {
			codes = append(codes, side.Shoe.Code)
		}
	}
	return strings.Join(codes, " / ")
}

// portsOf lists the ports, each with its foot.
func portsOf(opt link.Options) string {
	var names []string
	for _, f := range device.Feet {
		if opt.Ports[f] != "" {
			names = append(names, fmt.Sprintf("%s (%s)", opt.Ports[f], f))
		}
	}
	return strings.Join(names, ", ")
}
