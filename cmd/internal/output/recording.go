package output

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"

	"aplomb/analyze"
	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/text"
	"aplomb/device"
	"aplomb/device/correction"
	"aplomb/device/recording"
	"aplomb/plots/words"
)

// Recording prints all data about a recording, and its relevés.
func Recording(ctx context.Context, w io.Writer, l *logbook.Logbook, r logbook.Recording, releves []logbook.Releve) error {
	v, err := l.Visit(r.VisitID)
	if err != nil {
		return err
	}
	Stop(w, v.Advice())
	fmt.Fprintf(w, "recording %d of dancer %s, visit %s\n", r.ID, r.Dancer, r.VisitName)
	text.Facts(w, "began", r.Started.Local().Format("2006-01-02 15:04:05"))
	for _, foot := range device.Feet {
		if f := r.Feet[foot]; f != nil {
			said, err := sideWords(l, f)
			if err != nil {
				return err
			}
			text.Facts(w, foot.String(), said)
		}
	}
	survey, frames := inspect(ctx, r.Path)
	text.Facts(w, "marks", ofSides(survey, func(s *device.Side) string { return markWords(s.Mark) }),
		"padding", ofSides(survey, func(s *device.Side) string { return s.Padding }),
		"fixing", ofSides(survey, func(s *device.Side) string { return s.Fixing }))
	feedback := ""
	if survey != nil {
		feedback = survey.Meta.Feedback
	}
	text.Facts(w, "support", r.Support, "rise", r.Rise, "position", r.Position, "floor", r.Floor, "feedback", feedback, "body mass", text.Known(r.MassKG, "kg"),
		"id", r.Identity, "file", r.Path, "frames", frames, "recorded by", r.Software, "measured", byWords(r))
	printRemark(w, r.Remark)
	if err := printNotes(ctx, w, r, survey); err != nil {
		return err
	}
	for _, line := range words.Visit(*v.Record()) {
		text.Facts(w, "of the visit", line)
	}
	printCorrections(w, survey)
	if len(releves) > 0 {
		fmt.Fprintln(w)
		printKept(w, releves)
	}
	return nil
}

// printRemark prints the remark on a recording.
func printRemark(w io.Writer, r correction.Remark) {
	comfort := ""
	if r.Comfort > 0 {
		comfort = fmt.Sprintf("%d of 5", r.Comfort)
	}
	text.Facts(w, "seen", strings.Join(r.Saw, ", "), "said", r.Note, "comfort", comfort, "pinches", strings.Join(r.Pinches, ", "),
		"pain", words.OfTen(r.Pain), "decided", r.Decision)
}

// printNotes prints the notes in a recording, each with its time and relevé. s is nil
// where the file cannot be read.
func printNotes(ctx context.Context, w io.Writer, r logbook.Recording, s *recording.Survey) error {
	if s == nil || !slices.ContainsFunc(s.Events, func(e device.Event) bool { return e.Kind == device.Note }) {
		return nil
	}
	notes, err := analyze.Notes(ctx, r.Path)
	if err != nil {
		return err
	}
	for _, note := range notes {
		text.Facts(w, "note", words.Note(note))
	}
	return nil
}

// printCorrections prints the corrections of a recording's metadata, with old and new
// values, and each correction with its time where there are several.
func printCorrections(w io.Writer, s *recording.Survey) {
	if s == nil || s.Correction == nil {
		return
	}
	summary := s.Correction.Summary(s.Recorded)
	text.Facts(w, "corrected", summary, "correction", s.Correction.Path)
	steps, err := s.Correction.Steps(s.Recorded)
	if err != nil || len(steps) == 1 && summary != "" {
		return
	}
	for _, step := range steps {
		text.Facts(w, "", step.String())
	}
}

// sideWords describes shoe, strip and mounting of a foot, and reports whether shoe and
// strip have a newer version.
func sideWords(l *logbook.Logbook, f *logbook.RecordedFoot) (string, error) {
	shoe, err := l.Shoe(f.Shoe)
	if err != nil {
		return "", err
	}
	strip, err := l.Strip(f.Strip)
	if err != nil {
		return "", err
	}
	mounting := f.Mounting
	if mounting == "" {
		mounting = "nothing says in which mounting"
	}
	return fmt.Sprintf("shoe %s %s, strip %s %s; %s", f.Shoe, versionWords(f.ShoeVersion, shoe.Version),
		f.Strip, versionWords(f.StripVersion, strip.Version), mounting), nil
}

func versionWords(then, now int) string {
	if then == now {
		return fmt.Sprintf("(version %d)", then)
	}
	return fmt.Sprintf("(version %d, now %d)", then, now)
}

// byWords returns in words which version measured a recording, and whether the
// measures are stale.
func byWords(r logbook.Recording) string {
	command := "aplomb logbook measure --dancer " + text.Quoted(r.Dancer)
	switch {
	case r.Measures == logbook.NotMeasured:
		return "not yet: " + command + " measures it"
	case r.Measures == logbook.Stale:
		return fmt.Sprintf("stale, by version %s with another algorithm or before a correction: %s measures again", r.Version, command)
	case r.Version == "":
		return "no relevé in it"
	}
	return "by version " + r.Version
}

// inspect reads the file of a recording and returns in words how many frames it has
// and what is missing. The survey is nil where the file cannot be read.
func inspect(ctx context.Context, path string) (*recording.Survey, string) {
	s, err := recording.Inspect(ctx, path)
	if err != nil {
		if file := (*recording.FileError)(nil); errors.As(err, &file) {
			err = file.Err // the file name is printed separately
		}
		return nil, fmt.Sprintf("cannot be read (%s): aplomb logbook check says more", console.Explain(err))
	}
	var there, missing []string
	if s.Damage != nil {
		missing = append(missing, fmt.Sprintf("damaged at byte %d (%s)", s.Damage.Offset, s.Damage.Reason))
	}
	if s.Damaged != "" {
		missing = append(missing, s.Damaged)
	}
	if s.Missing != "" {
		missing = append(missing, s.Missing)
	}
	for _, foot := range device.Feet {
		f := s.Feet[foot]
		if f == nil {
			continue
		}
		there = append(there, fmt.Sprintf("%d %s", f.Frames, foot))
		switch {
		case f.Lost > 0:
			missing = append(missing, fmt.Sprintf("%d lost %s", f.Lost, foot))
		case !f.Whole():
			missing = append(missing, fmt.Sprintf("a pause %s", foot))
		}
	}
	said := strings.Join(there, ", ")
	if len(missing) == 0 {
		return s, said + ", whole"
	}
	return s, said + "; not whole: " + strings.Join(missing, ", ")
}

// ofSides returns a property of the feet in the file of a recording, the left one first,
// once where it is the same for both; "" where there is none.
func ofSides(s *recording.Survey, of func(*device.Side) string) string {
	if s == nil {
		return ""
	}
	var said []string
	for _, side := range s.Meta.Sides {
		if side == nil {
			continue
		}
		if one := of(side); one != "" && !slices.Contains(said, one) {
			said = append(said, one)
		}
	}
	return strings.Join(said, " / ")
}

// markWords returns the mark of a physical shoe, "" where it has none.
func markWords(mark int) string {
	if mark == 0 {
		return ""
	}
	return strconv.Itoa(mark)
}

// wornText describes how a shoe is worn with a strip: mark, padding and fixing, where
// known.
func wornText(mark int, padding, fixing string) (said []string) {
	for _, one := range [][2]string{{"mark", markWords(mark)}, {"padding", padding}, {"fixing", fixing}} {
		if one[1] != "" {
			said = append(said, one[0]+": "+one[1])
		}
	}
	return said
}

// printKept prints the relevés of a recording in the logbook.
func printKept(w io.Writer, releves []logbook.Releve) {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	// Text after the last tab is not a cell, so it stays on the left.
	fmt.Fprintln(t, "n\tfoot\tstart s\thold s\tload\tover\tmedial\tcontact\t  verdict")
	for _, one := range releves {
		fmt.Fprintf(t, "%d\t%s\t%.2f\t", one.N, one.Foot, one.StartS)
		if one.Aborted {
			fmt.Fprintf(t, "\t\t\t\t\t  %s\n", keptVerdict(one))
			continue
		}
		m := measures(one)
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\t  %s\n", words.Number(m[measure.HoldTime].Value, 2), shown(m, measure.Load), shown(m, measure.Over),
			shown(m, measure.Medial), shown(m, measure.ContactShare), keptVerdict(one))
	}
	t.Flush()
	fmt.Fprintln(w, "± is the half-width of the 95 % interval of the relevé, the seat of the strip included")
}

// measures returns the values of a relevé in the logbook.
func measures(r logbook.Releve) map[measure.Measure]logbook.Value {
	values := map[measure.Measure]logbook.Value{}
	for _, v := range r.Values {
		values[v.Measure] = v
	}
	return values
}

// shown writes a measure with its uncertainty, "" where it was not measured.
func shown(of map[measure.Measure]logbook.Value, m measure.Measure) string {
	v, ok := of[m]
	if !ok {
		return ""
	}
	return words.DisplayOf(m).WithU(v.Value, v.U, v.DOF)
}

func keptVerdict(r logbook.Releve) string {
	if r.Aborted {
		return string(measure.Aborted)
	}
	return words.Verdict(r.Verdict, nil, measures(r)[measure.Medial].Value)
}

// Releve prints one relevé of a recording, given as the rows of the feet that rose, with
// its notes.
func Releve(ctx context.Context, w io.Writer, l *logbook.Logbook, r logbook.Recording, feet []logbook.Releve) error {
	v, err := l.Visit(r.VisitID)
	if err != nil {
		return err
	}
	Stop(w, v.Advice())
	fmt.Fprintf(w, "relevé %d of recording %s\n", feet[0].N, text.RecordingName(r))
	headings := []string{""}
	var byFoot []map[measure.Measure]logbook.Value
	for _, one := range feet {
		alone := ""
		if one.FeetUp == 1 && r.Feet[device.Left] != nil && r.Feet[device.Right] != nil {
			alone = ", on this foot alone"
		}
		text.Facts(w, one.Foot.String(), fmt.Sprintf("%s; begins %.2f s after the first frame%s", keptVerdict(one), one.StartS, alone))
		headings = append(headings, one.Foot.String())
		byFoot = append(byFoot, measures(one))
	}
	text.Facts(w, "file", r.Path, "measured", byWords(r))
	// A file that cannot be read has no notes, and the measures are in the logbook.
	if notes, err := analyze.Notes(ctx, r.Path); err == nil {
		for _, note := range notes {
			if note.Releve == feet[0].N {
				text.Facts(w, "note", words.Note(note))
			}
		}
	} else if ctx.Err() != nil {
		return ctx.Err()
	}
	var rows [][]string
	for _, m := range measure.All() {
		row, kept := []string{words.DisplayOf(m).Title}, false
		for _, values := range byFoot {
			_, has := values[m]
			kept = kept || has
			row = append(row, shown(values, m))
		}
		if kept {
			rows = append(rows, row)
		}
	}
	if rows == nil {
		return nil
	}
	fmt.Fprintln(w)
	text.Table(w, headings, rows)
	fmt.Fprintln(w, "± is the half-width of the 95 % interval of the relevé, the seat of the strip included")
	return nil
}
