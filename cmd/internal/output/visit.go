package output

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/text"
	"aplomb/plots/words"
)

// LastFirst sorts visits, the last one first.
func LastFirst(visits []logbook.Visit) []logbook.Visit {
	slices.SortStableFunc(visits, func(a, b logbook.Visit) int { return strings.Compare(string(a.Day), string(b.Day)) })
	slices.Reverse(visits)
	return visits
}

// Visits prints a table of visits with the shoes that were worn: visits of a dancer,
// or of any dancer where dancer is "".
func Visits(w io.Writer, l *logbook.Logbook, dancer string, visits []logbook.Visit) error {
	made, err := l.Recordings(logbook.Filter{Dancer: dancer})
	if err != nil {
		return err
	}
	in := map[int64][]logbook.Recording{}
	for _, r := range made {
		in[r.VisitID] = append(in[r.VisitID], r)
	}
	headings := []string{"visit", "", "recordings", "shoes", "pain", "note"}
	if dancer == "" {
		headings = slices.Insert(headings, 1, "dancer")
	}
	var rows [][]string
	for _, v := range visits {
		row := []string{v.Name(), baseline(v), strconv.Itoa(len(in[v.ID])), strings.Join(shoesIn(in[v.ID]), ", "), painWords(v), v.Note}
		if dancer == "" {
			row = slices.Insert(row, 1, v.Dancer)
		}
		rows = append(rows, row)
	}
	text.Table(w, headings, rows)
	return nil
}

func baseline(v logbook.Visit) string {
	if v.Baseline {
		return "baseline"
	}
	return ""
}

// painWords returns the pain before and after a visit, "" where unknown.
func painWords(v logbook.Visit) string {
	level := func(p *int) string {
		if p == nil {
			return "?"
		}
		return strconv.Itoa(*p)
	}
	if v.PainBefore == nil && v.PainAfter == nil {
		return ""
	}
	return level(v.PainBefore) + " to " + level(v.PainAfter)
}

// atMost writes a limit, "" where there is none.
func atMost(limit int) string {
	if limit == 0 {
		return ""
	}
	return strconv.Itoa(limit)
}

// shoesIn returns the codes of the shoes worn in recordings, in order of wearing.
func shoesIn(recordings []logbook.Recording) (codes []string) {
	for _, r := range recordings {
		for _, foot := range r.Feet {
			if foot != nil && !slices.Contains(codes, foot.Shoe) {
				codes = append(codes, foot.Shoe)
			}
		}
	}
	return codes
}

// Visit prints the data of a visit, and the advice to stop where there is any.
func Visit(w io.Writer, v logbook.Visit) {
	Stop(w, v.Advice())
	fmt.Fprintf(w, "visit %s of dancer %s\n", v.Name(), v.Dancer)
	text.Facts(w, "support", v.Support, "rise", v.Rise, "position", v.Position, "floor", v.Floor,
		"body mass", text.Known(v.MassKG, "kg"), "pain before", words.OfTen(v.PainBefore), "pain after", words.OfTen(v.PainAfter),
		"pain, where", logbook.FormatPains(v.PainWhere), "warmed up", v.WarmUp, "most rises", atMost(v.MaxRises), "one-leg rises", words.SingleLeg(v.Record().SingleLeg),
		"choice", v.Choice, "why", v.ChoiceWhy, "baseline", map[bool]string{true: "yes"}[v.Baseline], "note", v.Note)
}

// VisitWithRecordings prints a visit with its recordings and its plan.
func VisitWithRecordings(w io.Writer, l *logbook.Logbook, v logbook.Visit) error {
	Visit(w, v)
	made, err := l.Recordings(logbook.Filter{VisitID: v.ID})
	if err != nil {
		return err
	}
	fmt.Fprintln(w)
	if len(made) == 0 {
		fmt.Fprintln(w, "nothing was recorded in it yet")
	} else if err := listRecordings(w, l, made); err != nil {
		return err
	}
	return printPlan(w, l, v)
}

// listRecordings prints a table of the recordings of a visit in the order in which
// they were made.
func listRecordings(w io.Writer, l *logbook.Logbook, made []logbook.Recording) error {
	mounted := mountings(made)
	var rows [][]string
	for i, r := range made {
		n, err := MeasuredBy(l, r)
		if err != nil {
			return err
		}
		rows = append(rows, []string{
			strconv.FormatInt(r.ID, 10), r.Started.Local().Format("15:04"),
			text.EachFoot(r, func(f *logbook.RecordedFoot) string { return f.Shoe }),
			mounted[i], text.EachFoot(r, func(f *logbook.RecordedFoot) string { return f.Strip }), n,
		})
	}
	headings := []string{"recording", "began", "shoe", "mounting", "strips", "measured"}
	if slices.ContainsFunc(made, func(r logbook.Recording) bool { return r.Remark.Decision != "" }) {
		headings = append(headings, "decided")
		for i, r := range made {
			rows[i] = append(rows[i], r.Remark.Decision)
		}
	}
	text.Table(w, headings, rows)
	return nil
}

// mountings returns the number of each recording's mounting among those under its
// shoe, "?" where the recording does not name its mounting.
func mountings(made []logbook.Recording) (numbers []string) {
	seen := map[string][]string{}
	for _, r := range made {
		done := logbook.Recorded(r, nil)
		if done.Mounting == "" {
			numbers = append(numbers, "?")
			continue
		}
		i := slices.Index(seen[done.Shoe], done.Mounting)
		if i < 0 {
			i = len(seen[done.Shoe])
			seen[done.Shoe] = append(seen[done.Shoe], done.Mounting)
		}
		numbers = append(numbers, strconv.Itoa(i+1))
	}
	return numbers
}

// MeasuredBy returns in words how many relevés of a recording were measured, and
// whether the measures are stale.
func MeasuredBy(l *logbook.Logbook, r logbook.Recording) (string, error) {
	if r.Measures == logbook.NotMeasured {
		return "not yet", nil
	}
	releves, err := l.Releves(r.ID)
	if err != nil {
		return "", err
	}
	said := words.Count(logbook.CountMeasured(releves), "relevé", "relevés")
	if r.Measures == logbook.Stale {
		said += ", stale"
	}
	return said, nil
}
