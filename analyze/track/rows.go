package track

import (
	"time"

	"aplomb/analyze/budget"
	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/analyze/sensor"
	"aplomb/device"
)

// Rows returns the values of a measure in recordings, for users without a logbook. The
// visit is that of the recording's metadata, or else its day (UTC); none is marked as
// baseline. Practice with live feedback is left out.
func Rows(m measure.Measure, results []*measure.Result) (rows []Row) {
	for _, r := range results {
		if r.Meta.Feedback == device.FeedbackLive {
			continue
		}
		var contents [2]string
		for f, side := range r.Meta.Sides {
			if side != nil {
				contents[f] = sensor.Content(side.Strip)
			}
		}
		for i := range r.Releves {
			one := &r.Releves[i]
			side := r.Meta.Sides[one.Foot]
			if !one.Counts() || side == nil {
				continue
			}
			v, ok := one.Value(m)
			if !ok {
				continue
			}
			row := Row{
				Dancer: r.Meta.Dancer, Visit: VisitOf(r), Recording: r.Recording.File, At: r.Meta.Started,
				Foot: one.Foot, Shoe: side.Shoe.Code, Version: device.TOML(side.Shoe), Make: MakeOf(side.Shoe), Hours: side.Shoe.HoursWorn, Strip: side.Strip.Name,
				Mounting: side.Mounting, Support: r.Meta.Support, Rise: r.Meta.Rise, N: one.N, Value: v,
				Also: Also{r.Meta.Position, r.Meta.Floor, side.Fixing, r.Meta.Feedback, side.Worn().Padding, side.Mark},
			}
			if p := r.Platforms.Of(one.Foot); p != nil {
				row.Kern = p.Kern
			}
			row.USeat, row.Evidence = mounting.Seat(one.Hold, m)
			_, row.SeatDOF, _ = mounting.SeatU(one.Hold, m)
			strip := sensor.Of(one.Hold, m)
			row.Sensor, row.Content = &strip, contents[one.Foot]
			if u, dof := budget.OfMeasure(one.Hold, m); u != nil {
				row.U, row.DOF = *u, float64(dof)
			}
			rows = append(rows, row)
		}
	}
	return rows
}

// VisitOf returns the name of the visit of a recording.
func VisitOf(r *measure.Result) string {
	if r.Meta.Visit != "" {
		return r.Meta.Visit
	}
	return r.Meta.Started.UTC().Format(time.DateOnly)
}

// BodyWeight returns a load, N, as a share of the weight of a dancer of massKG.
func BodyWeight(loadN, massKG float64) float64 {
	return loadN / (massKG * device.StandardGravity)
}
