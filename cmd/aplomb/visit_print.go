package main

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"aplomb/analyze/kept"
	"aplomb/analyze/logbook"
	"aplomb/plots/words"
)

// lastFirst sorts visits, the last one first.
func lastFirst(visits []logbook.Visit) []logbook.Visit {
	slices.SortStableFunc(visits, func(a, b logbook.Visit) int { return strings.Compare(string(a.Day), string(b.Day)) })
	slices.Reverse(visits)
	return visits
}

// listVisits lists visits with the shoes that were worn: those of a dancer, or
// of any where dancer is "".
func listVisits(w io.Writer, l *logbook.Logbook, dancer string, visits []logbook.Visit) error {
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
	table(w, headings, rows)
	return nil
}

func baseline(v logbook.Visit) string {
	if v.Baseline {
		return "baseline"
	}
	return ""
}

// painWords says pain before and after, "" where nobody asked.
func painWords(v logbook.Visit) string {
	said := func(p *int) string {
		if p == nil {
			return "?"
		}
		return strconv.Itoa(*p)
	}
	if v.PainBefore == nil && v.PainAfter == nil {
		return ""
	}
	return said(v.PainBefore) + " to " + said(v.PainAfter)
}

// ofTen says how much pain, "" where nobody asked.
func ofTen(pain *int) string {
	if pain == nil {
		return ""
	}
	return strconv.Itoa(*pain) + " of 10"
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

// printVisit says what is known of a visit, and at the end to stop where that is due.
func printVisit(w io.Writer, v logbook.Visit) {
	fmt.Fprintf(w, "visit %s of dancer %s\n", v.Name(), v.Dancer)
	facts(w, "support", v.Support, "rise", v.Rise, "position", v.Position, "floor", v.Floor,
		"body mass", known(v.MassKG, "kg"), "pain before", ofTen(v.PainBefore), "pain after", ofTen(v.PainAfter), "baseline", map[bool]string{true: "yes"}[v.Baseline], "note", v.Note)
	printStop(w, v)
}

// showVisit prints a visit with its recordings and its plan.
func showVisit(w io.Writer, l *logbook.Logbook, v logbook.Visit) error {
	printVisit(w, v)
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
	return showPlan(w, l, v, made)
}

// listRecordings lists the recordings of one visit in the order they were made.
func listRecordings(w io.Writer, l *logbook.Logbook, made []logbook.Recording) error {
	mounted := mountings(made)
	var rows [][]string
	for i, r := range made {
		n, err := measuredWords(l, r)
		if err != nil {
			return err
		}
		rows = append(rows, []string{
			strconv.FormatInt(r.ID, 10), r.Started.Local().Format("15:04"),
			eachSide(r, func(f *logbook.RecordedFoot) string { return f.Shoe }),
			mounted[i], eachSide(r, func(f *logbook.RecordedFoot) string { return f.Strip }), n,
		})
	}
	table(w, []string{"recording", "began", "shoe", "mounting", "strips", "measured"}, rows)
	return nil
}

// eachSide says something of both feet, once where it is the same.
func eachSide(r logbook.Recording, of func(*logbook.RecordedFoot) string) string {
	var said []string
	for _, f := range r.Feet {
		if f != nil && !slices.Contains(said, of(f)) {
			said = append(said, of(f))
		}
	}
	return strings.Join(said, " / ")
}

// mountings numbers the mountings under each shoe; "?" where nothing says
// whether it was the same as another.
func mountings(made []logbook.Recording) (numbers []string) {
	seen := map[string][]string{}
	for _, r := range made {
		done := kept.Recorded(r, nil)
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

// measuredWords says how many relevés of a recording were measured, and by what.
func measuredWords(l *logbook.Logbook, r logbook.Recording) (string, error) {
	if r.Measured == "" {
		return "not yet", nil
	}
	releves, err := l.Releves(r.ID)
	if err != nil {
		return "", err
	}
	said := words.Count(kept.Risen(releves), "relevé", "relevés")
	if r.Measured != version {
		said += ", by version " + r.Measured
	}
	return said, nil
}
