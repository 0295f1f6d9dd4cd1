package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"aplomb/analyze/kept"
	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
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
			printWarnings(cmd.ErrOrStderr(), t.stale)
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
	dancer logbook.Dancer
	visits []logbook.Visit
	stale  []string // what to know of measures that are old or missing
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
	if t.stale, err = staleOf(l, t.dancer.Code); err != nil {
		return t, err
	}
	measures, err := l.Measures(logbook.Filter{}, o.measure.Symbol())
	if err != nil {
		return t, err
	}
	if !slices.ContainsFunc(measures, func(m logbook.MeasureRow) bool { return m.Dancer == t.dancer.Code }) {
		return t, o.nothing("")
	}
	if t.FollowUp, err = track.Follow(o.measure, t.dancer.Code, kept.TrackRows(o.measure, measures)); err != nil {
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

// errNothing is there where there is nothing to follow.
var errNothing = errors.New("nothing was measured")

func (o *following) nothing(of string) error {
	return fmt.Errorf("%s of dancer %s: %w%s (aplomb show lists recordings)", o.measure, o.dancer, errNothing, of)
}

// staleOf says which recordings of a dancer have measures of an older version of
// this program, or none.
func staleOf(l *logbook.Logbook, dancer string) (said []string, err error) {
	recordings, err := l.Recordings(logbook.Filter{Dancer: dancer})
	if err != nil {
		return nil, err
	}
	var older, without []logbook.Recording
	for _, r := range recordings {
		switch r.Measured {
		case version:
		case "":
			without = append(without, r)
		default:
			older = append(older, r)
		}
	}
	renews := "aplomb analyze --dancer " + asTyped(dancer)
	if len(older) > 0 {
		said = append(said, fmt.Sprintf("measured by an older version: %s; %s measures anew", numbered(older), renews))
	}
	if len(without) > 0 {
		said = append(said, fmt.Sprintf("without a measured relevé: %s; if it was never tried, %s does", numbered(without), renews))
	}
	return said, nil
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
