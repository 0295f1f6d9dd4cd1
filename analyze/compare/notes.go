package compare

import (
	"slices"

	"aplomb/analyze/measure"
)

// addNotes adds the notes and remarks about the recordings, and the records of their
// visits.
func (c *Comparison) addNotes(results []*measure.Result) {
	for _, r := range results {
		if len(r.Notes) > 0 || r.Remark != nil {
			c.Observations = append(c.Observations, Observation{Recording: r.Recording.File, Shoes: r.Recording.Shoes, Notes: r.Notes, Remark: r.Remark})
		}
		if v := r.Visit; v != nil && !slices.ContainsFunc(c.VisitRecords, func(o measure.Visit) bool { return o.Name == v.Name }) {
			c.VisitRecords = append(c.VisitRecords, *v)
		}
	}
}
