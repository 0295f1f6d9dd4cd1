package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"aplomb/analyze"
	"aplomb/analyze/agreement"
	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/analyze/provenance"
	"aplomb/cmd/internal/bench"
	"aplomb/cmd/internal/files"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/software"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
	"aplomb/device/recording"
	"aplomb/device/reference"
	"aplomb/plots"
	"aplomb/plots/words"
)

// agreeing holds the flags of agree.
type agreeing struct {
	folder                     lookup.Folder
	file, foot, at, instrument string
	flip, triggers             []string
	turn                       float64
	apart, simulated, dryRun   bool
	of                         agreement.Options
	result                     *measure.Result
	recording                  int64 // its number in the logbook, 0 for a file
}

func newAgree() *cobra.Command {
	var a agreeing
	var out, format string
	var access files.Access
	var asJSON, forget bool
	cmd := &cobra.Command{
		Use:   "agree RECORDING --reference FILE.csv",
		Short: "Compare a strip with a force plate or another reference",
		Long: `Compare a strip with a reference instrument, such as a force plate, that
measured under the same foot at the same time. RECORDING is a file, or the
number of a recording in the logbook.

The reference's file is CSV. Its first line names the columns with their units:
t_s (or t_ms, t_us), fz_n (fz_kn, fz_kgf, fz_lbf), and, if the instrument gives
a centre of pressure, medial_mm and over_mm (_cm, _m). Other columns are not
read. A line "` + reference.SimulatedMark + `" marks a file that no instrument measured.

Clocks      by taps that both saw: tap the platform on the reference three times
            before and after, with unequal pauses. Or by a common time:
            --trigger T is the reference's time at the recording's first frame,
            --trigger T=S its time at second S of the recording. Two or more
            show the rate of the clocks. A column named trigger gives T
Axes        --at says where the reference's origin lies from the platform's
            centroid, --turn how its axes are turned against the platform's from
            medial to over, --flip which point the other way; --apart that the
            platform was put down anew for each load, so that only what changes
            within a load can be compared in place
a hold      bias and 95 % limits of agreement of the means of holds, each with a
            95 % interval (Bland and Altman); how many differences lie within
            the interval that the strip states; and the slope of the difference
            on the mean
a frame     the same of one frame under load, the frames of one load taken as a
            group
error       root mean square difference in holds and in motion, and by the
            reference's value

Loads shorter than 0.3 s, pad presses, and loads that the reference did not see
are left out. The result is kept with the strip if the logbook has the strip:
aplomb strip show lists it, and sheets of the logbook name it. One with a
simulated reference is marked and validates nothing. --dry-run keeps nothing,
--forget removes what was kept of this recording and this file, as after a
mistake, --out DIR draws the differences. aplomb guide validate is a protocol
for a laboratory.`,
		Example: `  aplomb agree 12 --reference plate.csv --instrument "force plate 2"
  aplomb agree block.mcap --reference plate.csv --at -12.5,40 --turn 90
  aplomb agree 12 --reference plate.csv --foot left --trigger 3.25=0.5 \
      --dry-run --out pictures
  aplomb agree 12 --reference plate.csv --json | jq '.measures[].holds'`,
		Args:              exactArgs("the RECORDING, a file or its number in the logbook,"),
		ValidArgsFunction: completeOrFiles("mcap", completeCodes(recordingNumbers)),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := requireFlags(cmd, "reference"); err != nil {
				return err
			}
			if !slices.Contains(plots.Formats, format) {
				return usage.Errorf("--format %q: one of %s", format, strings.Join(plots.Formats, ", "))
			}
			if forget {
				return a.forget(cmd, args[0])
			}
			if err := device.CheckLength(a.instrument); err != nil {
				return usage.Errorf("--instrument: %w", err)
			}
			r, err := a.report(cmd, args[0])
			if err != nil {
				return err
			}
			if asJSON {
				err = output.JSON(cmd.OutOrStdout(), r)
				cmd.SetOut(cmd.ErrOrStderr()) // the following output is no JSON
			} else {
				output.Agreement(cmd.OutOrStdout(), r)
			}
			if err == nil {
				err = a.keep(cmd, r)
			}
			if err != nil || out == "" {
				return err
			}
			_, err = savePictures(cmd, plots.Reference(r), r.Provenance, out, format, access)
			return err
		},
	}
	f := cmd.Flags()
	f.StringVar(&a.file, "reference", "", "CSV `FILE` of the reference")
	f.StringVar(&a.instrument, "instrument", "", "what the reference is, in your `WORDS`")
	f.StringVar(&a.foot, "foot", "", "the left or the right `FOOT`; default the one that the recording has")
	f.StringArrayVar(&a.triggers, "trigger", nil, "common time `T` or T=S, s, instead of taps")
	f.StringVar(&a.at, "at", "0,0", "the reference's origin, `MEDIAL,OVER` mm from the platform's centroid")
	f.Float64Var(&a.turn, "turn", 0, "the reference's axes against the platform's, `DEGREES`")
	f.StringArrayVar(&a.flip, "flip", nil, "`AXIS` of the reference that points the other way: medial, over or load")
	f.BoolVar(&a.apart, "apart", false, "the platform was put down anew for each load")
	f.BoolVar(&a.simulated, "simulated", false, "no instrument measured the reference")
	f.BoolVar(&a.dryRun, "dry-run", false, "keep nothing in the logbook")
	f.BoolVar(&forget, "forget", false, "remove what was kept of this recording and reference, and compare nothing")
	f.StringVar(&out, "out", "", "`DIR` to put the pictures in")
	f.StringVar(&format, "format", "svg", "`FORMAT` of the pictures: "+strings.Join(plots.Formats, ", "))
	f.BoolVar(&asJSON, "json", false, "one JSON object")
	for _, other := range []string{"json", "dry-run", "out"} {
		oneOf(cmd, "forget", other)
	}
	logbookFlag(cmd, &a.folder)
	shareFlag(cmd, &access)
	cmd.MarkFlagDirname("out")
	complete(cmd, "reference", completeFiles("csv"))
	complete(cmd, "instrument", cobra.NoFileCompletions)
	complete(cmd, "foot", completeWords("left", "right"))
	complete(cmd, "trigger", cobra.NoFileCompletions)
	complete(cmd, "at", cobra.NoFileCompletions)
	complete(cmd, "turn", cobra.NoFileCompletions)
	complete(cmd, "flip", completeWords(flips...))
	complete(cmd, "format", completeWords(plots.Formats...))
	return cmd
}

// flips are the axes of agreement.Options.Flip.
var flips = []string{"medial", "over", "load"}

// report analyzes the recording and sets it against the reference.
func (a *agreeing) report(cmd *cobra.Command, named string) (*agreement.Report, error) {
	if err := a.options(); err != nil {
		return nil, err
	}
	path, err := a.find(named)
	if err != nil {
		return nil, err
	}
	ref, err := reference.Read(cmd.Context(), a.file)
	if err != nil {
		return nil, err
	}
	if err := a.useTrigger(ref); err != nil {
		return nil, err
	}
	sum, _, err := provenance.SHA256(cmd.Context(), a.file)
	if err != nil {
		return nil, err
	}
	a.result, err = analyze.File(cmd.Context(), path, analyze.Options{Software: software.Provenance(), KeepTrace: true})
	if err != nil {
		return nil, err
	}
	if err := a.findFoot(named); err != nil {
		return nil, err
	}
	r, err := agreement.Of(a.result, ref, a.of)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", a.file, err)
	}
	r.Simulated = r.Simulated || a.simulated
	r.Reference.File, r.Reference.SHA256, r.Reference.Instrument = filepath.Base(a.file), sum, a.instrument
	r.Provenance = a.result.Provenance
	return r, nil
}

// options parses the flags about axes and clocks.
func (a *agreeing) options() (err error) {
	at, err := bench.ParsePair(a.at, ",")
	if err != nil {
		return usage.Errorf("--at %.40q: two lengths in mm, such as -12.5,40", a.at)
	}
	a.of.At, a.of.TurnDeg, a.of.Apart = at, a.turn, a.apart
	if a.foot != "" && a.foot != device.Left.String() && a.foot != device.Right.String() {
		return usage.Errorf("--foot %.40q: left or right", a.foot)
	}
	if !(a.turn >= -360 && a.turn <= 360) {
		return usage.Errorf("--turn %v: degrees from -360 to 360", a.turn)
	}
	for _, axis := range a.flip {
		i := slices.Index(flips, axis)
		if i < 0 {
			return usage.Errorf("--flip %.40q: one of %s", axis, strings.Join(flips, ", "))
		}
		a.of.Flip[i] = true
	}
	for _, typed := range a.triggers {
		both := typed
		if !strings.Contains(typed, "=") {
			both += "=0"
		}
		pair, err := bench.ParsePair(both, "=")
		if err != nil {
			return usage.Errorf("--trigger %.40q: seconds of the reference, or of the reference and of the recording, such as 3.25=0.5", typed)
		}
		a.of.Triggers = append(a.of.Triggers, agreement.Trigger{Reference: pair[0], Recording: pair[1]})
	}
	return nil
}

// useTrigger takes the common time from the column trigger, unless it was given by a
// flag.
func (a *agreeing) useTrigger(ref *reference.Series) error {
	if len(a.of.Triggers) > 0 || ref.Triggers == nil {
		return nil
	}
	if len(ref.Triggers) != 1 {
		return usage.Errorf("%s: its column trigger rises %d times, where once is the recording's first frame: name the common time with --trigger T=S", a.file, len(ref.Triggers))
	}
	a.of.Triggers = []agreement.Trigger{{Reference: ref.Triggers[0]}}
	return nil
}

// find returns the path of a recording given by file or number.
func (a *agreeing) find(named string) (path string, err error) {
	if _, err := strconv.Atoi(named); err != nil {
		return named, nil
	}
	err = a.folder.With(func(l *logbook.Logbook) error {
		r, err := lookup.Recording(l, named)
		path, a.recording = r.Path, r.ID
		return err
	})
	return path, err
}

// findFoot finds the foot that is meant.
func (a *agreeing) findFoot(named string) error {
	var there []device.Foot
	for _, f := range device.Feet {
		if a.result.Meta.Sides[f] != nil {
			there = append(there, f)
		}
	}
	for _, f := range there {
		if a.foot == f.String() || a.foot == "" && len(there) == 1 {
			a.of.Foot = f
			return nil
		}
	}
	if a.foot == "" {
		return usage.Errorf("%s has two feet, the reference is of one: say --foot left or --foot right", named)
	}
	return usage.Errorf("--foot %s: the recording has only the %s foot", a.foot, there[0])
}

// forget removes the agreements of a recording's strips with the reference from the logbook.
func (a *agreeing) forget(cmd *cobra.Command, named string) error {
	path, err := a.find(named)
	if err != nil {
		return err
	}
	r, err := recording.Open(cmd.Context(), path)
	if err != nil {
		return err
	}
	defer r.Close()
	sum, _, err := provenance.SHA256(cmd.Context(), a.file)
	if err != nil {
		return err
	}
	m := r.Meta()
	var removed int64
	err = a.folder.With(func(l *logbook.Logbook) error {
		for _, side := range m.Sides {
			if side == nil {
				continue
			}
			n, err := l.RemoveAgreements(side.Strip.Name, sum, logbook.DayOf(m.Started.Local()))
			if err != nil {
				return err
			}
			removed += n
		}
		return nil
	})
	if err == nil && removed == 0 {
		err = fmt.Errorf("nothing is kept of %s with %s: aplomb strip show lists what is", named, a.file)
	}
	if err != nil {
		return err
	}
	fmt.Fprintln(cmd.OutOrStdout(), words.Count(int(removed), "agreement", "agreements")+" removed")
	return nil
}

// keep keeps the agreement with its strip in the logbook, and says what it kept, or why it
// kept nothing.
func (a *agreeing) keep(cmd *cobra.Command, r *agreement.Report) error {
	not := func(why string) error {
		fmt.Fprintln(cmd.ErrOrStderr(), "not kept: "+why)
		return nil
	}
	kept := measure.Agreement{
		Day: logbook.DayOf(a.result.Meta.Started.Local()).Time(), Recording: a.recording, Instrument: r.Reference.Instrument,
		Reference: r.Reference.SHA256, Simulated: r.Simulated, Evidence: r.Evidence,
	}
	for _, c := range r.Measures {
		if c.Holds != nil {
			kept.Measures = append(kept.Measures, measure.Agreed{Measure: c.Measure, Holds: c.Holds.N, Bias: c.Holds.Bias, Lower: c.Holds.Lower, Upper: c.Holds.Upper})
		}
	}
	switch {
	case a.dryRun:
		return not("--dry-run")
	case len(kept.Measures) == 0:
		return not("no measure has limits of agreement")
	case !a.folder.Exists():
		return not("there is no logbook")
	}
	var version int
	err := a.folder.With(func(l *logbook.Logbook) (err error) {
		version, err = l.AddAgreement(*a.result.Meta.Sides[r.Foot].Strip, kept)
		return err
	})
	switch {
	case errors.Is(err, logbook.ErrNotFound):
		return not(fmt.Sprintf("the logbook does not have strip %s with the profile of the recording", r.Strip))
	case err != nil:
		return fmt.Errorf("the agreement is not kept: %w", err)
	}
	fmt.Fprintf(cmd.OutOrStdout(), "agreement of %s kept: strip %s, version %d, in the logbook\n", r.Day, r.Strip, version)
	return nil
}
