package output

import (
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"aplomb/analyze/agreement"
	"aplomb/analyze/measure"
	"aplomb/cmd/internal/text"
	"aplomb/plots/words"
)

// simulatedReference is the caution about an agreement with a simulated reference.
const simulatedReference = "The reference is simulated: this says nothing about a physical strip."

// Agreement prints the agreement of a strip with a reference instrument.
func Agreement(w io.Writer, r *agreement.Report) {
	against := r.Reference.File
	if r.Reference.Instrument != "" {
		against = r.Reference.Instrument + " (" + r.Reference.File + ")"
	}
	fmt.Fprintln(w, text.Wrap(fmt.Sprintf("%s foot, strip %s, against %s on %s", r.Foot, r.Strip, against, r.Day)))
	if r.Simulated {
		fmt.Fprintln(w, simulatedReference)
	}
	var brief []string
	var holds, frames, own, errors [][]string
	for i := range r.Measures {
		c := &r.Measures[i]
		d := words.DisplayOf(c.Measure)
		if c.Holds != nil {
			brief = append(brief, d.Label+" "+words.Agreed(measure.Agreed{Measure: c.Measure, Bias: c.Holds.Bias, Lower: c.Holds.Lower, Upper: c.Holds.Upper}))
			holds = append(holds, limitRows(d, c.Holds)...)
			own = append(own, append([]string{d.Label, fmt.Sprintf("%d of %d", c.Inside, len(c.Pairs))}, slopeOf(c.Slope)...))
		}
		if c.Frame != nil {
			frames = append(frames, limitRows(d, c.Frame)...)
		}
		if c.RMSHolds != nil || c.RMSMotion != nil {
			errors = append(errors, []string{d.Label, fineOrDash(d, c.RMSHolds), fineOrDash(d, c.RMSMotion), fineOrDash(d, c.ClockMotion)})
		}
	}
	if len(brief) > 0 {
		fmt.Fprintln(w, text.Wrap("Of "+words.Count(r.Holds(), "hold", "holds")+", strip less reference, bias ± half of the width between the limits of agreement: "+strings.Join(brief, ", ")+"."))
	}
	fmt.Fprintln(w, text.Wrap(clockLine(&r.Clock)))
	fmt.Fprintln(w, text.Wrap(fmt.Sprintf("Frames under load: %d in %s, %d of them in motion.",
		r.Frames.Compared, words.Count(r.Frames.Loads, "load", "loads"), r.Frames.Motion)))
	table := func(headings []string, rows [][]string) {
		if len(rows) > 0 {
			fmt.Fprintln(w)
			text.Table(w, headings, rows)
		}
	}
	table([]string{"a hold", "bias", "95 % interval", "limits", "95 % interval"}, holds)
	table([]string{"a hold", "within the strip's own interval", "slope", "95 % interval"}, own)
	table([]string{"a frame", "bias", "95 % interval", "limits", "95 % interval"}, frames)
	table([]string{"error, rms", "in holds", "in motion", "by the clocks alone"}, errors)
	for i := range r.Measures {
		c := &r.Measures[i]
		d := words.DisplayOf(c.Measure)
		var rows [][]string
		for _, b := range c.Bins {
			rows = append(rows, []string{d.Interval([2]float64{b.From, b.To}) + " " + d.Unit, strconv.Itoa(b.Frames), d.Fine(b.Bias), d.Fine(b.RMS)})
		}
		table([]string{d.Label + " by the reference", "frames", "bias", "rms"}, rows)
	}
	if len(r.Refused) > 0 || len(r.Warnings) > 0 {
		fmt.Fprintln(w)
	}
	for _, no := range r.Refused {
		printRefused(w, []measure.Refusal{no})
	}
	for _, said := range r.Warnings {
		fmt.Fprintln(w, text.Wrap("warning: "+said))
	}
}

// clockLine describes the synchronisation of the clocks.
func clockLine(c *agreement.Clock) string {
	by := "a common time that was named"
	if c.By == "taps" {
		by = fmt.Sprintf("%d taps that both saw (strip %d, reference %d)", c.Taps, c.TapsStrip, c.TapsReference)
	}
	said := fmt.Sprintf("Clocks: by %s. The reference's clock shows %s s at the recording's beginning", by, words.Number(c.OffsetS, 3))
	if !c.RateAssumed {
		said += fmt.Sprintf(" and runs faster by %s in a million", words.Number(c.RatePPM, 0))
	}
	if c.ResidualS != nil {
		said += fmt.Sprintf(", residual %s ms", words.Number(1000**c.ResidualS, 1))
	}
	return said + fmt.Sprintf("; standard uncertainty %s ms or less.", words.Number(1000*c.US, 1))
}

// limitRows returns a row with the bias and the lower limit of agreement, and one with the
// upper limit.
func limitRows(d words.Display, l *agreement.Limits) [][]string {
	return [][]string{
		{d.Label, d.Fine(l.Bias), d.FineInterval(l.BiasCI), d.Fine(l.Lower), d.FineInterval(l.LowCI)},
		{"", "", "", d.Fine(l.Upper), d.FineInterval(l.UpCI)},
	}
}

// slopeOf writes a slope and its interval.
func slopeOf(s *agreement.Slope) []string {
	if s == nil {
		return []string{"–", "–"}
	}
	return []string{words.Number(s.Value, 3), words.Number(s.CI95[0], 3) + " to " + words.Number(s.CI95[1], 3)}
}

func fineOrDash(d words.Display, v *float64) string {
	if v == nil {
		return "–"
	}
	return d.Fine(*v)
}

// Agreements prints the agreements of a strip with reference instruments, the newest
// last.
func Agreements(w io.Writer, all []measure.Agreement) {
	if len(all) == 0 {
		return
	}
	var rows [][]string
	for _, a := range all[max(0, len(all)-checksShown):] {
		row := []string{a.Day.Format(time.DateOnly), strconv.Itoa(a.Version), a.Instrument, "–", "–", "–"}
		if a.Simulated {
			row[2] = strings.TrimPrefix(a.Instrument+", simulated", ", ")
		}
		for _, m := range a.Measures {
			switch m.Measure {
			case measure.Over:
				row[3] = words.Agreed(m)
			case measure.Medial:
				row[4] = words.Agreed(m)
			case measure.Load:
				row[5] = words.Agreed(m)
			}
		}
		rows = append(rows, row)
	}
	fmt.Fprintln(w)
	text.Table(w, []string{"agreed", "version", "with", "over", "medial", "load"}, rows)
	if n := len(all) - len(rows); n > 0 {
		fmt.Fprintf(w, "and %s before\n", words.Count(n, "agreement", "agreements"))
	}
}
