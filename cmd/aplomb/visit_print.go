package main

import (
	"io"
	"strconv"
	"strings"

	"aplomb/device/logbook"
)

// printVisits lists visits with the shoes that were worn.
func printVisits(w io.Writer, l *logbook.Logbook, visits []logbook.Visit) error {
	var rows [][]string
	for _, v := range visits {
		recordings, err := l.Recordings(logbook.Filter{VisitID: v.ID})
		if err != nil {
			return err
		}
		rows = append(rows, []string{v.Name(), baseline(v), strconv.Itoa(len(recordings)), strings.Join(shoesIn(recordings), ", "), painWords(v), v.Note})
	}
	table(w, []string{"visit", "", "recordings", "shoes", "pain", "note"}, rows)
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

// shoesIn returns the codes of the shoes worn in recordings, in order of wearing.
func shoesIn(recordings []logbook.Recording) (codes []string) {
	seen := map[string]bool{}
	for _, r := range recordings {
		for _, foot := range r.Feet {
			if foot != nil && !seen[foot.Shoe] {
				seen[foot.Shoe] = true
				codes = append(codes, foot.Shoe)
			}
		}
	}
	return codes
}
