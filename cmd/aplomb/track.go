package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"aplomb/analyze"
	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/analyze/provenance"
	"aplomb/analyze/track"
	"aplomb/plots/words"
)

func newTrack() *cobra.Command {
	var b book
	var of following
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "track --dancer CODE",
		Short: "Follow a dancer over visits: what has changed beyond noise",
		Long: `Follow a measure of a dancer over visits, on each foot and left less right.

Every visit is set against the first that is marked as baseline, or else the
first. The change is
  beyond noise  if it is larger than the minimal detectable change, 1.96·√2
                times the standard error of measurement
  within noise  if not
The error is that of baseline visits, or of mountings on one day: of this
dancer, or where those are too few of every dancer in the logbook. It is never
taken from the follow-up itself, where recovery would count as error.

One shoe is followed at a time, under the same support and rise. What it says is
what was measured: it is no advice on return to dance.

The measures: ` + strings.ReplaceAll(wrapped("The measures: "+strings.Join(measureNames(), ", ")+"."), "The measures: ", ""),
		Example: `  aplomb track --dancer D7
  aplomb track --dancer D7 --measure contact_share --foot left --shoe A
  aplomb track --dancer D7 --json | jq '.series[].points[].change'`,
		Args:              none,
		ValidArgsFunction: cobra.NoFileCompletions,
	}
	f := cmd.Flags()
	f.StringVar(&of.dancer, "dancer", "", "the dancer's `CODE`")
	f.StringVar(&of.symbol, "measure", measure.Over.Symbol(), "`MEASURE` to follow")
	f.StringVar(&of.foot, "foot", "", "only the left or the right `FOOT`")
	f.StringVar(&of.shoe, "shoe", "", "only in the shoe of that `CODE`")
	b.flag(cmd)
	f.BoolVar(&asJSON, "json", false, "one JSON object")
	complete(cmd, "dancer", b.codes(dancerCodes))
	complete(cmd, "measure", oneOf(measureNames()...))
	complete(cmd, "foot", oneOf("left", "right"))
	complete(cmd, "shoe", b.codes(shoeCodes))
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		if err := of.check(cmd); err != nil {
			return err
		}
		return b.with(func(l *logbook.Logbook) error {
			t, err := of.follow(l)
			if err != nil {
				return typedWrong(err)
			}
			printWarnings(cmd.ErrOrStderr(), t.leftOut)
			if asJSON {
				t.Texts = words.Warnings(t.Warnings)
				return writeJSON(cmd.OutOrStdout(), t.FollowUp)
			}
			printTrack(cmd.OutOrStdout(), t)
			return nil
		})
	}
	return cmd
}

func measureNames() (names []string) {
	for _, m := range measure.All() {
		names = append(names, m.Symbol())
	}
	return names
}

// following is what track is asked for.
type following struct {
	dancer, symbol, foot, shoe string
	measure                    measure.Measure // that symbol names
}

func (o *following) check(cmd *cobra.Command) error {
	if err := needed(cmd, "dancer"); err != nil {
		return err
	}
	named, ok := measure.Named(o.symbol)
	if !ok {
		return misused("--measure %.40q: one of %s", o.symbol, strings.Join(measureNames(), ", "))
	}
	o.measure = named
	if o.foot != "" && o.foot != "left" && o.foot != "right" {
		return misused("--foot %.40q: left or right", o.foot)
	}
	return nil
}

// tracked is a follow-up with what the logbook knows besides.
type tracked struct {
	*track.FollowUp
	dancer  logbook.Dancer
	visits  []logbook.Visit
	leftOut []string // which recordings are not in it, and which command measures them
}

// follow follows the measure over all of the logbook, since other dancers tell
// how well it repeats where this one is there too seldom.
func (o *following) follow(l *logbook.Logbook) (t tracked, err error) {
	if t.dancer, err = l.Dancer(o.dancer); err != nil {
		return t, listed(err, "aplomb dancer list")
	}
	if t.visits, err = l.Visits(o.dancer); err != nil {
		return t, err
	}
	shoe := ""
	if o.shoe != "" {
		s, err := l.Shoe(o.shoe)
		if err != nil {
			return t, listed(err, "aplomb shoe list")
		}
		shoe = s.Code
	}
	own, others, err := leftOut(l, t.dancer.Code)
	if err != nil {
		return t, err
	}
	t.leftOut = append(own, others...)
	t.FollowUp, err = l.FollowUp(t.dancer.Code, o.measure, provenance.New(built(), analyze.Settings(version)))
	if errors.Is(err, logbook.ErrNotMeasured) && len(own) > 0 {
		return t, fmt.Errorf("%w: %s", err, own[0])
	}
	if errors.Is(err, logbook.ErrNotMeasured) {
		return t, o.nothing("")
	}
	if err != nil {
		return t, err
	}
	t.Keep(func(s track.Series) bool {
		thisFoot := o.foot == "" || s.Side == track.Side(o.foot) || s.Side == track.Both
		return thisFoot && (shoe == "" || s.Shoe == shoe)
	})
	if len(t.Series) == 0 {
		return t, o.nothing(" of that foot and shoe")
	}
	return t, nil
}

func (o *following) nothing(of string) error {
	return fmt.Errorf("%s of dancer %s: %w%s (aplomb show lists recordings)", o.measure, o.dancer, logbook.ErrNotMeasured, of)
}

// leftOut says which recordings are left out of what is computed about a dancer,
// because their measures are stale or there are none, and which command measures
// them. own is about the dancer's recordings; those of other dancers are only
// counted.
func leftOut(l *logbook.Logbook, dancer string) (own, others []string, err error) {
	recordings, err := l.Recordings(logbook.Filter{})
	if err != nil {
		return nil, nil, err
	}
	var stale, without []logbook.Recording
	elsewhere := 0
	for _, r := range recordings {
		switch {
		case r.Dancer != dancer && r.Measures == logbook.Stale:
			elsewhere++
		case r.Dancer != dancer:
		case r.Measures == logbook.Stale:
			stale = append(stale, r)
		case r.Measures == logbook.NotMeasured:
			without = append(without, r)
		}
	}
	const command = "aplomb logbook measure"
	ofDancer := command + " --dancer " + asTyped(dancer)
	if len(stale) > 0 {
		own = append(own, fmt.Sprintf("left out, measured with another algorithm: %s; %s measures again", numbered(stale), ofDancer))
	}
	if len(without) > 0 {
		own = append(own, fmt.Sprintf("left out, not measured: %s; %s measures what can be measured", numbered(without), ofDancer))
	}
	if elsewhere > 0 {
		others = append(others, fmt.Sprintf("left out, measured with another algorithm: %s of other dancers; %s measures again", words.Count(elsewhere, "recording", "recordings"), command))
	}
	return own, others, nil
}

// numbered names recordings by their numbers.
func numbered(recordings []logbook.Recording) string {
	var all []string
	for _, r := range recordings {
		all = append(all, fmt.Sprint(r.ID))
	}
	what := "recordings "
	if len(all) == 1 {
		what = "recording "
	}
	return what + strings.Join(all, ", ")
}
