package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"slices"

	"github.com/spf13/cobra"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/ask"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/fitting"
	"aplomb/cmd/internal/intake"
	"aplomb/cmd/internal/liveview"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/rehearsal"
	"aplomb/cmd/internal/secondscreen"
	"aplomb/cmd/internal/software"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
	"aplomb/device/link"
	"aplomb/plots/words"
)

// fittingFlags are the values of the flags of a guided fitting.
type fittingFlags struct {
	fitting.Options
	shoes    []string
	study    string
	plan     string // quick or full
	rehearse bool
	plain    bool
	link     link.Options
	folder   lookup.Folder
	page     pageOptions
	show     string // --screen
}

// The plans of a fitting.
var fittingPlans = []string{"quick", "full"}

func newFitting(o environment) *cobra.Command {
	var g fittingFlags
	cmd := &cobra.Command{
		Use:   "fitting [--dancer CODE] [--shoes A,B,C]",
		Short: "Run a guided fitting, from the first question to the answer",
		Long: `Run a whole guided fitting, from the first question to the answer.

It asks what it needs: of a new dancer what they agree to; pain, and from 4 of
10 it stops before the first rise; then support, floor, warm-up, weight. It
plans the order of the shoes and says what that can show and how long it takes.
For every step it asks for a pad press, counts the relevés against the plan, and
asks what you saw, how the shoe feels and whether the recording is used. In the
end it asks for your choice and gives the answer.

Most questions take one key. Three keys are enough while hands are on a shoe, so
that a presenter's remote or a pedal does: next (space, Enter, page down) takes
what is marked, repeat (tab, a full stop) marks the next answer or asks for the
pad press again, undo (page up, backspace) goes back, or discards the last
relevé.

Every answer is saved at once. An interrupted fitting continues where it was:
run aplomb fitting --dancer CODE on the same day. Only one fitting of a dancer
runs at a time. Every rise counts against --max-rises, aborted and discarded
ones too. Before a step, f gives the answer from the recordings so far, and t
starts practice: the dancer sees it live, and no comparison uses it.

--plan quick, the default, mounts the strips once under each shoe, three relevés
each; --plan full twice, in mirrored order, five relevés each. --rehearse
simulates strips, shoes and dancer, in a logbook of its own, so that it can be
learnt without any of them; with --logbook DIR that logbook stays. With --plain
it asks and tells in lines; a rehearsal then answers its own questions.

--study NAME leads through the dancer's next visit of a study: in the order of
its row, with labels in place of codes, without a second screen, and without an
answer about the shoes. See aplomb guide study for what is blinded.

` + words.Caution,
		Example: `  aplomb fitting --rehearse
  aplomb fitting --rehearse --plain
  aplomb fitting --dancer D7 --shoes A,B,C
  aplomb fitting --dancer D7 --shoes A,B --plan full --max-rises 24
  aplomb fitting --study spring --dancer D7`,
		ValidArgsFunction: cobra.NoFileCompletions,
		RunE:              func(cmd *cobra.Command, args []string) error { return g.run(cmd, o) },
	}
	f := cmd.Flags()
	f.StringVar(&g.Dancer, "dancer", "", "the dancer's `CODE`")
	f.StringArrayVar(&g.shoes, "shoes", nil, "`CODES` of the shoes, with commas between; or once for each shoe")
	f.StringVar(&g.study, "study", "", "`NAME` of the study whose next visit of the dancer this is")
	f.StringVar(&g.plan, "plan", "quick", "which `PLAN`: quick or full")
	f.IntVar(&g.Mountings, "mountings", 0, "`NUMBER` of times that the strips are mounted under each shoe; default that of the plan")
	f.IntVar(&g.Releves, "releves", 0, "`NUMBER` of relevés in every mounting; default that of the plan")
	f.IntVar(&g.MaxRises, "max-rises", 0, "most rises in this visit, a `NUMBER` that the dancer's clinician sets")
	f.Uint64Var(&g.Seed, "seed", 0, "`NUMBER` that decides which shoe begins; default random")
	f.BoolVar(&g.NoPress, "no-press", false, "do not ask for pad presses")
	f.BoolVar(&g.rehearse, "rehearse", false, "simulate strips, shoes and dancer, in a logbook of its own")
	f.BoolVar(&g.plain, "plain", false, "ask and tell in lines, on a terminal as well")
	f.StringVar(&g.link.Ports[device.Left], "left", "", "`PORT` of the left strip; default it is found")
	f.StringVar(&g.link.Ports[device.Right], "right", "", "`PORT` of the right strip; default it is found")
	f.IntVar(&g.link.Baud, "baud", link.DefaultBaud, "speed of the ports, `BITS` a second; where ports are found, the speed too")
	screenFlag(cmd, &g.show)
	f.StringVar(&g.page.out, "out", "", "HTML `FILE` to write the fitting sheet to; with --open default fitting-DANCER-VISIT.html in the current folder")
	openFlag(cmd, &g.page.open, "the fitting sheet")
	shareFlag(cmd, &g.page.access)
	logbookFlag(cmd, &g.folder)
	complete(cmd, "dancer", completeCodes(dancerCodes))
	complete(cmd, "shoes", completeCodes(shoeCodes))
	complete(cmd, "study", completeCodes(studyNames))
	complete(cmd, "plan", completeWords(fittingPlans...))
	complete(cmd, "left", portNames)
	complete(cmd, "right", portNames)
	complete(cmd, "out", completeFiles("html"))
	return cmd
}

// check returns a usage error for flags that are invalid or do not go together, and sets the
// options of the fitting that follow from the others.
func (g *fittingFlags) check(cmd *cobra.Command) error {
	switch g.plan {
	case "quick":
	case "full":
		g.Full = true
	default:
		return usage.Errorf("--plan %.40q: quick or full", g.plan)
	}
	if g.Mountings < 0 || g.Releves < 0 || g.MaxRises < 0 {
		return usage.Errorf("--mountings, --releves and --max-rises: above 0")
	}
	if g.MaxRises > logbook.MostRises {
		return usage.Errorf("--max-rises %d: up to %d", g.MaxRises, logbook.MostRises)
	}
	if g.Releves > logbook.MostRises {
		return usage.Errorf("--releves %d: up to %d", g.Releves, logbook.MostRises)
	}
	if g.Dancer != "" {
		if err := logbook.CheckDancer(logbook.Dancer{Code: g.Dancer}); err != nil {
			return usage.New(err)
		}
	}
	if g.study != "" {
		if err := g.checkStudy(cmd); err != nil {
			return err
		}
	}
	if err := checkBaud(g.link.Baud); err != nil {
		return err
	}
	if g.rehearse {
		for _, name := range []string{"left", "right", "baud"} {
			if cmd.Flags().Changed(name) {
				return usage.Errorf("--%s and --rehearse do not go together: a rehearsal simulates the strips", name)
			}
		}
	}
	if err := g.checkPage(); err != nil {
		return err
	}
	for _, one := range g.shoes {
		g.Shoes = append(g.Shoes, lookup.List(one)...)
	}
	if err := fitting.CheckShoes(g.Shoes); err != nil {
		return usage.New(err)
	}
	if !cmd.Flags().Changed("seed") {
		g.Seed = rand.Uint64N(1_000_000)
	}
	return nil
}

// run runs the fitting.
func (g *fittingFlags) run(cmd *cobra.Command, o environment) error {
	if err := g.check(cmd); err != nil {
		return err
	}
	f := &fitting.Fitting{Options: g.Options, Out: cmd.OutOrStdout(), Folder: &g.folder, Now: o.now, Software: "aplomb " + software.This().String()}
	r := &fittingRecorder{fittingFlags: g, cmd: cmd, o: o, chosen: map[string]int{}}
	screen := cmd.ErrOrStderr()
	on, terminal := liveview.Possible(screen)
	switch {
	case terminal && !g.plain:
		r.keys = &ask.Keys{On: on}
		f.Person = r.keys
	case g.rehearse:
		robot := &rehearsal.Robot{Out: screen}
		if typed := console.Typed(cmd.Context(), true); typed != nil && !console.IsTerminal(os.Stdin) {
			robot.First = &ask.Lines{Out: screen, Typed: typed, Echo: true}
		}
		f.Person = robot
	default:
		r.typed = console.Typed(cmd.Context(), true)
		if r.typed == nil {
			return errors.New("nobody can answer here: run it at a terminal, or --rehearse --plain to see it go by itself")
		}
		f.Person = ask.Lines{Out: screen, Typed: r.typed, Echo: !console.IsTerminal(os.Stdin)}
	}
	if g.rehearse {
		done, err := r.rehearse(f)
		if err != nil {
			return err
		}
		defer done()
		f.Passing, f.Flags = r.passing, " --rehearse"
	} else if err := g.checkStrips(); err != nil {
		return err
	}
	if cmd.Flags().Changed("logbook") {
		f.Flags += " --logbook " + text.Quoted(cmd.Flag("logbook").Value.String())
	}
	if g.study != "" {
		if err := g.findStudy(f); err != nil {
			return err
		}
	}
	r.person = f.Person
	shown, err := startScreen(cmd, g.show, false)
	if err != nil {
		return err
	}
	if shown != nil {
		r.screen = &fittingScreen{Server: shown, of: map[int64][]secondscreen.Shoe{}}
		defer shown.Close()
	}
	f.Record, f.Relabel, f.Prepare, f.Answer, f.Rest = r.record, r.relabel, r.prepare, r.answer, r.rest
	defer func() { r.prepared.end() }()
	f.Ready = func(ctx context.Context) error {
		opt := g.link // every recording searches for the ports again
		return r.findStrips(ctx, &intake.Setup{Logbook: g.folder}, &opt)
	}
	f.TakeIn = func(context.Context) error {
		if f.Study != nil { // remarks on recordings name shoes
			out := cmd.OutOrStdout()
			cmd.SetOut(io.Discard)
			defer cmd.SetOut(out)
		}
		_, err := addAllUnfinished(cmd, &g.folder)
		if errors.Is(err, errNo) {
			err = nil // it was reported, and does not end the fitting
		}
		return err
	}
	err = f.Run(cmd.Context())
	if errors.Is(err, fitting.ErrStopped) {
		kept := " Everything is kept."
		if f.Passing {
			kept = "\n" + fitting.LogbookRemoved
		}
		fmt.Fprintln(cmd.OutOrStdout(), "The fitting has ended because of pain."+kept)
		return nil
	}
	return err
}

// checkPage returns an error where the fitting sheet cannot be written as requested.
func (g *fittingFlags) checkPage() error {
	switch {
	case g.page.out == onStdout:
		return usage.Errorf("--out %s: name a file, because the answer is on standard output", onStdout)
	case g.page.out != "":
		return g.page.check()
	case g.page.access.Shared && !g.page.open:
		return usage.Errorf("--share is for the fitting sheet: say --out FILE or --open too")
	}
	return nil
}

// checkStrips returns an error where the logbook has no strip for a foot that is to be
// recorded: both, or those whose ports are named.
func (g *fittingFlags) checkStrips() error {
	var strips []logbook.Strip
	if g.folder.Exists() {
		err := g.folder.With(func(l *logbook.Logbook) (err error) {
			strips, err = l.Strips()
			return err
		})
		if err != nil {
			return err
		}
	}
	const add = "aplomb strip new puts one there, or aplomb strip add FILE.toml one from its profile"
	if len(strips) == 0 {
		return errors.New("no strip in the logbook: " + add)
	}
	for _, f := range device.Feet {
		if g.link.Ports[f] != "" && !slices.ContainsFunc(strips, func(s logbook.Strip) bool { return s.Foot == f }) {
			return fmt.Errorf("--%s %s: no strip for the %s foot in the logbook: %s", f, g.link.Ports[f], f, add)
		}
	}
	return nil
}

// checkStudy returns a usage error for flags whose values are determined by a study, or
// that would reveal blinded information.
func (g *fittingFlags) checkStudy(cmd *cobra.Command) error {
	if g.Dancer == "" {
		return usage.Errorf("--study %s: whose visit? Say --dancer CODE too", text.Quoted(g.study))
	}
	for _, name := range []string{"shoes", "plan", "mountings", "releves", "seed"} {
		if cmd.Flags().Changed(name) {
			return usage.Errorf("--%s and --study do not go together: the study decides that", name)
		}
	}
	for _, name := range []string{"screen", "out", "open"} {
		if cmd.Flags().Changed(name) {
			return usage.Errorf("--%s and --study do not go together: numbers and codes of shoes stay hidden until the study ends", name)
		}
	}
	return nil
}

// findStudy finds the study and the dancer's row in it.
func (g *fittingFlags) findStudy(f *fitting.Fitting) error {
	return g.folder.With(func(l *logbook.Logbook) error {
		s, err := findStudy(l, g.study)
		if err != nil {
			return err
		}
		d, err := lookup.Dancer(l, f.Dancer)
		if err != nil {
			return err
		}
		if s.Row(d.Code) == 0 {
			return fmt.Errorf("dancer %s has no row in study %s: aplomb study status %s shows who has", d.Code, s.Name, text.Quoted(s.Name))
		}
		f.Dancer, f.Study = d.Code, &s
		return nil
	})
}
