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
	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/cmd/internal/capture"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/files"
	"aplomb/cmd/internal/intake"
	"aplomb/cmd/internal/liveview"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/ports"
	"aplomb/cmd/internal/secondscreen"
	"aplomb/cmd/internal/software"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
	"aplomb/device/link"
	"aplomb/device/recording"
	"aplomb/plots/screen"
	"aplomb/plots/words"
)

func newRecord(o environment) *cobra.Command {
	var s intake.Setup
	opt := link.Options{}
	var how recordOptions
	var show string
	cmd := &cobra.Command{
		Use:   "record",
		Short: "Record strips from their serial ports",
		Long: `Record strips from their serial ports until Ctrl-C, or for a given time
(--for).

With --dancer and --visit the recording goes into the logbook and is measured,
and the next step of the visit's plan is printed. Conditions default to those of
the visit, and strips to those of the logbook if it has one for each foot.
Without --visit the recording is a file of your own, --out. Shoes and strips can
be named by code or by file.

Frames go to OUT.part as they arrive, and are synced to disk twice a second; at
the end OUT is made from it. No file is ever overwritten. Closing the window
ends the recording as Ctrl-C does. After a crash OUT.part holds all but the last
second, and every command can read it. If it was to go into the logbook, the
next command there mentions it, and aplomb import --unfinished takes it in. If
the file is removed during the recording, it is written again.

Without --left and --right Aplomb finds the strips: it listens to all ports for
a few seconds, and strips send their names. A strip that does not is looked for
on the port where it was last recorded into the logbook. --left and --right name
the ports; name the same one twice if one line carries both feet. --strip names
the strips to look for, such as one for a single foot.

Every recording counts as a new mounting of the strips, unless
--same-mounting-as names a recording after which they were not taken off.

It first asks for a pad press of each platform: the shoe off the foot, your hand
in the box, the platform on foam on a table, rocked to all sides. That shows
where the strip lies and whether the strips are swapped. The press is recorded
and marked, and does not count as a relevé. To skip it, press s, use --no-press,
or let the dancer rise. After the last relevé p asks for a second press, which
shows whether the strip moved. Without a terminal, or with --plain, it asks in
lines, and s and p are typed with Enter. Never rock a shoe that a foot is in.

On a terminal it shows both platforms during the recording, and where the load
of each foot is in one large word. n writes a note into the recording, d
discards the last relevé (press it again for the one before), u takes that back,
and q stops. A discarded relevé stays in the recording, marked. At the end one
line of aplomb check says whether the recording can be trusted.

--screen shows it in a browser too, on a second monitor; --screen lan on a
tablet in the local network, at an address with a key that works once. There are
two pages. The fitter's page is live. The dancer's page shows each relevé after
it is done, because seeing it live changes the rise that is measured; the
recording then has feedback after. With --feedback none it shows nothing;
--feedback live is practice.

` + words.Caution + ` If pain that calls for a
stop is noted in the visit meanwhile (aplomb visit edit), the recording ends and
is kept.`,
		Example: `  aplomb record --dancer D7 --visit today --shoe A
  aplomb record --dancer D7 --visit today --shoe A --left /dev/ttyUSB0 \
      --right /dev/ttyUSB1 --same-mounting-as last
  aplomb record --shoe A.toml --strip left.toml --strip right.toml \
      --left /dev/ttyUSB0 --right /dev/ttyUSB1 --dancer D7 --support barre \
      --out a1.mcap
  aplomb record --shoe A.toml --strip left.toml --left /dev/ttyACM0 \
      --for 30s --out a2.mcap
  aplomb record --dancer D7 --visit today --shoe A --left /dev/ttyUSB0 \
      --right /dev/ttyUSB1 --screen lan`,
		ValidArgsFunction: cobra.NoFileCompletions,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := s.CheckTarget(how.out); err != nil {
				return err
			}
			if err := checkShare(how.access, how.out); err != nil {
				return err
			}
			if how.length < 0 || how.length == 0 && cmd.Flags().Changed("for") {
				return usage.Errorf("--for %s: a length of time above 0, such as 30s", how.length)
			}
			if err := checkBaud(opt.Baud); err != nil {
				return err
			}
			s.Feedback = feedbackWith(show, s.Feedback)
			now := o.now()
			if err := s.FindVisit(now); err != nil {
				return err
			}
			if how.out != "" {
				if err := cmp.Or(files.CheckVacant(how.out), recording.CheckPath(how.out)); err != nil {
					return err
				}
			}
			if opt.Ports == [2]string{} {
				strips, err := s.Candidates(cmd.Context())
				if err == nil {
					err = s.CheckShoes(cmd.Context(), strips)
				}
				if err != nil {
					return err
				}
				notes, err := findStrips(cmd, o, &s, strips, &opt, nil)
				if err != nil {
					return err
				}
				text.Warnings(cmd.ErrOrStderr(), notes)
				how.messages = append(how.messages, notes...)
			}
			m, err := s.Metadata(cmd.Context(), now, [2]bool{opt.Ports[device.Left] != "", opt.Ports[device.Right] != ""})
			if err != nil {
				return err
			}
			if s.Into == nil { // otherwise the logbook has the code already
				warnOfName(cmd.ErrOrStderr(), m.Dancer)
			}
			if err := checkPorts(opt.Ports, &m); err != nil {
				return err
			}
			for _, side := range m.Sides {
				if side != nil {
					output.Warnings(cmd.ErrOrStderr(), measure.CalibrationWarnings(side.Strip.CalibrationDoubts(m.Started)))
				}
			}
			how.noPress = how.noPress || s.SameMounting != "" // the press was made after mounting
			if how.screen, err = startScreen(cmd, show, !how.plain); err != nil {
				return err
			}
			if how.screen != nil {
				defer how.screen.Close()
			}
			if s.Into == nil {
				made, err := recordFile(cmd, o, opt, m, how)
				if made {
					err = errors.Join(err, checkMade(cmd, how.out))
				}
				return err
			}
			return recordIntoVisit(cmd, &s.Logbook, *s.Into, o, opt, m, how)
		},
	}
	setupFlags(cmd, &s)
	f := cmd.Flags()
	f.StringVar(&opt.Ports[device.Left], "left", "", "`PORT` of the left strip; default it is found")
	f.StringVar(&opt.Ports[device.Right], "right", "", "`PORT` of the right strip; default it is found")
	f.IntVar(&opt.Baud, "baud", link.DefaultBaud, "speed of the ports, `BITS` a second; where ports are found, the speed too")
	f.DurationVar(&how.length, "for", 0, "how much `TIME` to record, the pad press included, such as 30s; default until Ctrl-C")
	f.StringVar(&how.out, "out", "", "recording `FILE` to make; with --visit the logbook takes a copy")
	shareFlag(cmd, &how.access)
	f.BoolVar(&how.plain, "plain", false, "report in lines, on a terminal as well")
	f.BoolVar(&how.noPress, "no-press", false, "skip the pad press at the beginning")
	screenFlag(cmd, &show)
	complete(cmd, "left", portNames)
	complete(cmd, "right", portNames)
	complete(cmd, "out", completeFiles("mcap"))
	return cmd
}

// findStrips finds the ports of strips, and sets ports, speed and strips. It returns
// notes for the user on how they were recognized. choose asks the user where several
// strips are possible; where it is nil that is an error.
func findStrips(cmd *cobra.Command, o environment, s *intake.Setup, strips []*device.Strip, opt *link.Options, choose func(string, []string) (int, error)) (notes []string, err error) {
	last, err := rememberedPorts(&s.Logbook)
	if err != nil {
		notes = append(notes, err.Error())
	}
	progress := console.NewProgress(cmd.ErrOrStderr())
	search := ports.Search{Strips: strips, Last: last, List: o.ports, Choose: choose, Progress: func(line string) { progress.Show("%s", line) }}
	if cmd.Flags().Changed("baud") {
		search.Baud = opt.Baud
	}
	found, err := o.find(cmd.Context(), search)
	progress.Clear()
	if err != nil {
		return nil, err
	}
	opt.Ports, opt.Baud = found.Ports, found.Baud
	s.UseStrips(found.Strips)
	return append(notes, found.Notes...), nil
}

// rememberedPorts returns the ports of strips stored with the logbook, if there is one.
func rememberedPorts(folder *lookup.Folder) ([]ports.Place, error) {
	if !folder.Exists() {
		return nil, nil
	}
	dir, err := folder.Dir()
	if err != nil {
		return nil, err
	}
	return ports.Read(dir)
}

// notRemembered is the beginning of the warning that rememberPorts has failed.
const notRemembered = "the ports of the strips are not remembered: "

// rememberPorts stores in the folder of the logbook the ports of the strips of a
// recording.
func rememberPorts(folder *lookup.Folder, o environment, opt link.Options, m *device.Metadata) error {
	dir, err := folder.Dir()
	if err != nil {
		return err
	}
	list, _ := o.ports() // a port is stored by its name where its adapter is unknown
	var places []ports.Place
	for f, side := range m.Sides {
		if side != nil {
			places = append(places, ports.PlaceOf(side.Strip.Name, opt.Ports[f], opt.Baud, list))
		}
	}
	return ports.Keep(dir, places)
}

// checkMade prints in one line the check of a recording that has just been made. It uses
// its own context, because a signal that ended the recording has cancelled the other.
func checkMade(cmd *cobra.Command, path string) error {
	r, err := check.File(context.WithoutCancel(cmd.Context()), path, software.Provenance())
	if err == nil {
		output.CheckLine(cmd.OutOrStdout(), r, "aplomb check "+text.Quoted(path))
	}
	return err
}

// recordIntoVisit records into a visit of the logbook. It first prints the advice
// to stop, if the visit has one, and the next step of the plan.
func recordIntoVisit(cmd *cobra.Command, folder *lookup.Folder, v logbook.Visit, o environment, opt link.Options, m device.Metadata, how recordOptions) error {
	err := folder.With(func(l *logbook.Logbook) error {
		if err := l.Writable(); err != nil {
			return err
		}
		if how.out == "" {
			how.out, how.shownName = l.NewRecordingPath(m.Started), "recorded"
		}
		if how.stop = v.Advice(); how.stop != "" {
			fmt.Fprintln(cmd.ErrOrStderr(), text.Wrap(how.stop))
		}
		d, err := lookup.Dancer(l, m.Dancer)
		if err != nil {
			return err
		}
		for _, f := range device.Feet {
			how.watched[f] = d.Watched == f.String()
		}
		if how.releves, err = plannedReleves(l, v); err != nil {
			return err
		}
		var next strings.Builder
		err = output.Next(&next, l, v)
		fmt.Fprint(cmd.ErrOrStderr(), next.String())
		how.messages = append(how.messages, strings.FieldsFunc(next.String(), func(r rune) bool { return r == '\n' })...)
		return err
	})
	if err != nil {
		return err
	}
	how.begun = keepsVisit(folder, v)
	begun, ended := v, false
	how.until = func(ctx context.Context) bool {
		ended = painNoted(ctx, folder, begun)
		return ended
	}
	made, failed := recordFile(cmd, o, opt, m, how)
	if ended {
		fmt.Fprintln(cmd.ErrOrStderr(), "pain was noted in the visit: the recording was ended")
	}
	if now, err := visitNow(folder, v); err == nil { // otherwise adding the recording fails too
		v = now
	}
	if !made {
		return failed
	}
	if err := rememberPorts(folder, o, opt, &m); err != nil {
		text.Warnings(cmd.ErrOrStderr(), []string{notRemembered + err.Error()})
	}
	r, result, err := addToLogbook(cmd, folder, v, how.out, true)
	if err != nil {
		return errors.Join(failed, err)
	}
	checked, err := check.Measured(context.WithoutCancel(cmd.Context()), r.Path, result)
	if err != nil {
		return errors.Join(failed, err)
	}
	output.CheckLine(cmd.OutOrStdout(), checked, fmt.Sprintf("aplomb check --dancer %s --visit %s", text.Quoted(r.Dancer), r.VisitName))
	return errors.Join(failed, printNext(cmd, folder, v))
}

// keepsVisit returns the function that a recording into a visit calls once its file
// exists, because until then another program may have erased the dancer.
func keepsVisit(folder *lookup.Folder, v logbook.Visit) func() error {
	return func() error {
		return folder.With(func(l *logbook.Logbook) error { return l.KeepsVisit(v) })
	}
}

// painEvery is the interval at which a recording reads the pain of its visit.
const painEvery = time.Second

// painNoted waits until the pain noted in a visit gives the advice to stop, and reports
// whether it does. Advice that v has already does not count: the user has begun in spite
// of it. painNoted returns when ctx is done.
func painNoted(ctx context.Context, folder *lookup.Folder, v logbook.Visit) bool {
	tick := time.NewTicker(painEvery)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return false
		case <-tick.C:
		}
		now, err := visitNow(folder, v)
		if err == nil && now.Advice() != "" && now.Advice() != v.Advice() {
			return true
		}
	}
}

// visitNow returns a visit as the logbook has it now.
func visitNow(folder *lookup.Folder, v logbook.Visit) (now logbook.Visit, err error) {
	err = folder.With(func(l *logbook.Logbook) error {
		now, err = l.Visit(v.ID)
		return err
	})
	return now, err
}

// plannedReleves returns the number of relevés of the next step of a visit's plan, 0
// where there is none.
func plannedReleves(l *logbook.Logbook, v logbook.Visit) (int, error) {
	c, err := l.PlanProgress(v.ID)
	switch {
	case errors.Is(err, logbook.ErrNotFound):
		return 0, nil
	case err != nil || c.Next == len(c.Plan.Steps):
		return 0, err
	}
	return c.Plan.Steps[c.Next].Releves, nil
}

// checkPorts returns a usage error for a port without a strip, or a strip without a
// port.
func checkPorts(named [2]string, m *device.Metadata) error {
	for _, f := range device.Feet {
		if named[f] != "" && m.Sides[f] == nil {
			return usage.Errorf("--%s %s: no --strip for the %s foot", f, named[f], f)
		}
	}
	for _, f := range device.Feet {
		if named[f] == "" && m.Sides[f] != nil {
			return usage.Errorf("strip %s is for the %s foot, but there is no --%s PORT (see aplomb ports)", m.Sides[f].Strip.Name, f, f)
		}
	}
	return nil
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
