package history

import (
	"errors"
	"fmt"
	"slices"

	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/analyze/provenance"
	"aplomb/analyze/track"
	"aplomb/plots/report"
)

// Progress returns the data of the progress sheet for the dancer and the shoe of the
// query: every measure of the sheet over all visits, with their pain. leftOut lists the
// recordings that are not included.
func (o Query) Progress(l *logbook.Logbook) (d report.ProgressData, leftOut []string, err error) {
	d.Ruler = true // the logbook keeps no bearing outline
	for _, o.Measure = range report.ProgressMeasures {
		h, err := o.Follow(l)
		if errors.Is(err, logbook.ErrNotMeasured) && o.Measure != report.ProgressMeasures[0] {
			continue // the load share of one foot
		}
		if err != nil {
			return d, nil, err
		}
		if len(d.FollowUps) == 0 {
			d.Dancer, d.Watched, d.Visits, leftOut = h.Entry.Code, h.Entry.Watched, progressVisits(h), h.LeftOut
		}
		d.FollowUps = append(d.FollowUps, h.FollowUp)
		d.Provenance = provenance.Joined(d.Provenance, h.Provenance)
	}
	if d.Provenance != nil {
		d.Provenance.Agreements, err = l.Agreements("")
	}
	return d, leftOut, err
}

// progressVisits returns the visits in which something was measured, and those
// with pain.
func progressVisits(h History) (visits []report.Visit) {
	for _, v := range h.Visits {
		measured := slices.ContainsFunc(h.Series, func(s track.Series) bool {
			return slices.ContainsFunc(s.Points, func(p track.Point) bool { return p.Visit == v.Name() })
		})
		if measured || v.PainBefore != nil || v.PainAfter != nil {
			visits = append(visits, report.Visit{
				Name: v.Name(), Day: v.Day.Time(), Support: v.Support, Rise: v.Rise, Position: v.Position, Floor: v.Floor,
				PainBefore: v.PainBefore, PainAfter: v.PainAfter, MassKG: v.MassKG, Notice: v.Stop(),
				SingleLeg: v.Record().SingleLeg, Choice: v.Choice, Note: v.Note,
			})
		}
	}
	return visits
}

// ProgressOf returns the data of the progress sheet for results of one dancer. A visit is
// a day, unless the recordings name their visit.
func ProgressOf(results []*measure.Result) (d report.ProgressData, err error) {
	results = slices.Clone(results)
	slices.SortStableFunc(results, func(a, b *measure.Result) int { return a.Meta.Started.Compare(b.Meta.Started) })
	d.Provenance = provenance.Of(results)
	for i, r := range results {
		if i > 0 && r.Meta.Dancer != d.Dancer {
			return d, fmt.Errorf("%s: of dancer %q, an earlier recording of %q: one dancer a progress sheet", r.Recording.File, r.Meta.Dancer, d.Dancer)
		}
		d.Dancer = r.Meta.Dancer
		name := track.VisitOf(r)
		if n := len(d.Visits); n == 0 || d.Visits[n-1].Name != name {
			d.Visits = append(d.Visits, report.Visit{
				Name: name, Day: r.Meta.Started.UTC(), Support: r.Meta.Support, Rise: r.Meta.Rise,
				Position: r.Meta.Position, Floor: r.Meta.Floor, MassKG: r.Meta.MassKG,
			})
		}
		if said := r.Remark; said != nil && said.Pain != nil {
			v := &d.Visits[len(d.Visits)-1]
			if v.PainAfter != nil && *v.PainAfter > *said.Pain {
				continue // a later recording with less pain does not cancel a stop
			}
			v.PainAfter, v.Notice = said.Pain, logbook.Visit{PainAfter: said.Pain}.Stop()
		}
	}
	for _, m := range report.ProgressMeasures {
		rows := track.Rows(m, results)
		if len(rows) == 0 {
			continue // the load share of one foot
		}
		f, err := track.Follow(m, d.Dancer, rows)
		if err != nil {
			return d, err
		}
		d.FollowUps = append(d.FollowUps, f)
	}
	return d, nil
}
