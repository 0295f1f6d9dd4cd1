package main

import (
	"fmt"
	"io"
	"slices"

	"aplomb/analyze"
	"aplomb/analyze/track"
	"aplomb/plots/report"
)

// saveProgress writes the progress sheet of what recordings of one dancer gave.
// A visit is a day, unless the recordings say which visit they were made in.
func saveProgress(path string, results []*analyze.Result) error {
	results = slices.Clone(results)
	slices.SortStableFunc(results, func(a, b *analyze.Result) int { return a.Meta.Started.Compare(b.Meta.Started) })
	d := report.ProgressData{Version: version}
	for i, r := range results {
		if i > 0 && r.Meta.Dancer != d.Dancer {
			return fmt.Errorf("%s: of dancer %q, an earlier recording of %q: one dancer a progress sheet", r.Recording.File, r.Meta.Dancer, d.Dancer)
		}
		d.Dancer = r.Meta.Dancer
		name := track.VisitOf(r)
		if n := len(d.Visits); n > 0 && d.Visits[n-1].Name == name {
			continue
		}
		d.Visits = append(d.Visits, report.Visit{
			Name: name, Day: r.Meta.Started.UTC(), Support: r.Meta.Support, Rise: r.Meta.Rise,
			Position: r.Meta.Position, Floor: r.Meta.Floor, MassKG: r.Meta.MassKG,
		})
	}
	for _, measure := range report.ProgressMeasures {
		rows := track.Rows(measure, results)
		if len(rows) == 0 {
			continue // the load share of one foot
		}
		f, err := track.Follow(measure, d.Dancer, rows)
		if err != nil {
			return err
		}
		d.FollowUps = append(d.FollowUps, f)
	}
	return writeBeside(path, func(w io.Writer) error { return report.WriteProgress(w, d) })
}
