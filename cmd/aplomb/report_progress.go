package main

import (
	"errors"
	"fmt"
	"io"
	"slices"

	"github.com/spf13/cobra"

	"aplomb/analyze"
	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/analyze/provenance"
	"aplomb/analyze/track"
	"aplomb/plots/report"
)

// writeProgress writes the progress sheet of files, or of a dancer in the logbook.
func writeProgress(cmd *cobra.Command, from *chosen, args []string, path string) error {
	switch {
	case from.visit != "":
		return misused("--visit %s: a progress sheet is over visits", from.visit)
	case len(args) == 0 && from.dancer == "":
		return misused("--sheet progress: of which dancer? Say --dancer CODE too")
	case len(args) == 0:
		return from.book.with(func(l *logbook.Logbook) error {
			return typedWrong(progressInBook(cmd, l, following{dancer: from.dancer, shoe: from.shoe}, path))
		})
	}
	results, err := analyzeAll(cmd, &picked{paths: args}, analyze.Options{})
	if err != nil {
		return err
	}
	return saveProgress(path, results)
}

// progressInBook writes the progress sheet of a dancer from what the logbook
// keeps: visits with their pain and marked as baseline, and other dancers, who
// tell how well measures repeat where this one is there too seldom.
func progressInBook(cmd *cobra.Command, l *logbook.Logbook, of following, path string) error {
	var d report.ProgressData
	for _, of.measure = range report.ProgressMeasures {
		t, err := of.follow(l)
		if errors.Is(err, logbook.ErrNotMeasured) && of.measure != report.ProgressMeasures[0] {
			continue // the load share of one foot
		}
		if err != nil {
			return err
		}
		if len(d.FollowUps) == 0 {
			d.Dancer, d.Watched = t.dancer.Code, t.dancer.Watched
			d.Visits = progressVisits(t)
			printWarnings(cmd.ErrOrStderr(), t.leftOut)
		}
		d.FollowUps = append(d.FollowUps, t.FollowUp)
		d.Provenance = provenance.Joined(d.Provenance, t.Provenance)
	}
	return writeBeside(path, func(w io.Writer) error { return report.WriteProgress(w, d) })
}

// progressVisits returns the visits that something was measured in, and those
// with pain.
func progressVisits(t tracked) (visits []report.Visit) {
	for _, v := range t.visits {
		measured := slices.ContainsFunc(t.Series, func(s track.Series) bool {
			return slices.ContainsFunc(s.Points, func(p track.Point) bool { return p.Visit == v.Name() })
		})
		if measured || v.PainBefore != nil || v.PainAfter != nil {
			visits = append(visits, report.Visit{
				Name: v.Name(), Day: v.Day.Time(), Support: v.Support, Rise: v.Rise, Position: v.Position, Floor: v.Floor,
				PainBefore: v.PainBefore, PainAfter: v.PainAfter, MassKG: v.MassKG, Notice: v.Advice(),
			})
		}
	}
	return visits
}

// saveProgress writes the progress sheet of what recordings of one dancer gave.
// A visit is a day, unless the recordings say which visit they were made in.
func saveProgress(path string, results []*measure.Result) error {
	results = slices.Clone(results)
	slices.SortStableFunc(results, func(a, b *measure.Result) int { return a.Meta.Started.Compare(b.Meta.Started) })
	d := report.ProgressData{Provenance: provenance.Of(results)}
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
	for _, m := range report.ProgressMeasures {
		rows := track.Rows(m, results)
		if len(rows) == 0 {
			continue // the load share of one foot
		}
		f, err := track.Follow(m, d.Dancer, rows)
		if err != nil {
			return err
		}
		d.FollowUps = append(d.FollowUps, f)
	}
	return writeBeside(path, func(w io.Writer) error { return report.WriteProgress(w, d) })
}
