package output

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/analyze/track"
	"aplomb/cmd/internal/history"
	"aplomb/cmd/internal/text"
	"aplomb/plots/words"
)

// Worn prints the series of a follow-up against the hours of wear.
func Worn(w io.Writer, t history.History) {
	Stop(w, t.Stop)
	fmt.Fprintf(w, "%s of dancer %s by hours worn\n", words.DisplayOf(t.Measure).Title, t.Dancer)
	for _, s := range t.Series {
		fmt.Fprintf(w, "\n%s\n", headingOf(s))
		points := slices.Clone(s.Points)
		slices.SortStableFunc(points, func(a, b track.Point) int { return cmp.Compare(a.Hours, b.Hours) })
		var rows [][]string
		for _, p := range points {
			interval := ""
			if p.OfMean != nil {
				interval = words.DisplayOf(t.Measure).Interval(p.OfMean.CI95)
			}
			rows = append(rows, []string{strconv.FormatFloat(p.Hours, 'g', 4, 64), valueOf(t.Measure, s.Side)(p.Mean), interval, p.Visit})
		}
		text.Table(w, []string{"hours worn", "mean", "95 % interval", "visit"}, rows)
		fmt.Fprintln(w, text.Wrap(s.Wear.Text(t.Measure)))
	}
}

// valueOf returns the function that writes values of a series.
func valueOf(m measure.Measure, side track.Side) func(float64) string {
	show := words.DisplayOf(m)
	if side == track.Between {
		return func(v float64) string { return show.Difference(v, nil) }
	}
	return show.Value
}

// History prints the series of a follow-up, and the pain of the visits.
func History(w io.Writer, t history.History) {
	Stop(w, t.Stop)
	fmt.Fprintf(w, "%s of dancer %s", words.DisplayOf(t.Measure).Title, t.Dancer)
	if t.Entry.Watched != "" {
		fmt.Fprintf(w, ", %s side watched", t.Entry.Watched)
	}
	fmt.Fprintln(w)
	for i, s := range t.Series {
		fmt.Fprintf(w, "\n%s\n", headingOf(s))
		printPoints(w, t.Measure, s)
		// A text that is the same for all series is printed once.
		if said := s.RepeatText(t.Measure); i+1 == len(t.Series) || said != t.Series[i+1].RepeatText(t.Measure) {
			fmt.Fprintln(w, text.Wrap(said))
		}
		printFatigue(w, t.Measure, s)
	}
	printPain(w, t.Visits)
	if len(t.Warnings) > 0 {
		fmt.Fprintln(w)
	}
	Warnings(w, t.Warnings)
	fmt.Fprintln(w, "\naplomb show NUMBER says more of a recording.")
}

// headingOf names a series by side, shoe and conditions.
func headingOf(s track.Series) string {
	side := strings.Replace(string(s.Side), " - ", " − ", 1)
	if s.Side == track.Left || s.Side == track.Right {
		side += " foot"
	}
	said := []string{side, "shoe " + s.Shoe}
	if s.Support != "" {
		said = append(said, "support "+s.Support)
	}
	if s.Rise != "" {
		said = append(said, "rise "+s.Rise)
	}
	return strings.Join(said, ", ")
}

func printPoints(w io.Writer, of measure.Measure, s track.Series) {
	show := words.DisplayOf(of)
	value := valueOf(of, s.Side)
	var rows [][]string
	for _, p := range s.Points {
		change, said := "", string(p.Wording)
		if p.Change != nil {
			var ci *[2]float64
			if p.OfChange != nil {
				ci = &p.OfChange.CI95
			}
			change = show.Difference(*p.Change, ci)
		}
		if p.Reference {
			said = "reference"
		}
		if p.Baseline {
			said = strings.TrimPrefix(said+", baseline", ", ")
		}
		rows = append(rows, []string{
			p.Visit, value(p.Mean), change, said, strconv.Itoa(p.N), strconv.Itoa(p.Mountings), strings.Join(p.Recordings, ", "),
		})
	}
	text.Table(w, []string{"visit", "mean", "change (95 %)", "", "relevés", "mountings", "recordings"}, rows)
	for _, p := range s.Points {
		for _, flag := range p.Flags {
			fmt.Fprintln(w, text.Wrap(p.Visit+": "+string(flag)))
		}
	}
}

// printFatigue prints the slopes within sets of relevés, for visits that have them.
func printFatigue(w io.Writer, of measure.Measure, s track.Series) {
	var rows [][]string
	for _, p := range s.Points {
		if p.Fatigue != nil {
			slope, interval, wording := p.Fatigue.Parts(of)
			rows = append(rows, []string{p.Visit, slope, interval, wording})
		}
	}
	if len(rows) > 0 {
		text.Table(w, []string{"visit", "a relevé, within a set", "95 % interval", ""}, rows)
	}
}

// printPain prints the pain of the visits in which it was recorded.
func printPain(w io.Writer, visits []logbook.Visit) {
	var rows [][]string
	for _, v := range visits {
		if v.PainBefore != nil || v.PainAfter != nil {
			row := []string{v.Name(), cmp.Or(words.OfTen(v.PainBefore), "?"), cmp.Or(words.OfTen(v.PainAfter), "?")}
			if v.Stop() != "" {
				row[2] += ": stop"
			}
			rows = append(rows, row)
		}
	}
	if len(rows) == 0 {
		return
	}
	fmt.Fprintln(w)
	text.Table(w, []string{"visit", "pain before", "pain after"}, rows)
}
