package mounting

import (
	"fmt"
	"math"
	"time"

	"aplomb/analyze/measure"
	"aplomb/device"
)

// Rows returns the values of every measure in recordings. The visit is that of the
// recording's metadata, or else its day (UTC).
func Rows(results []*measure.Result) (rows []Row) {
	for _, r := range results {
		groups := groupsOf(r)
		for i := range r.Releves {
			one := &r.Releves[i]
			side := r.Meta.Sides[one.Foot]
			if !one.Counts() || side == nil {
				continue
			}
			for _, m := range measure.All() {
				v, ok := one.Value(m)
				if !ok || m == measure.LoadShare && one.Foot == device.Right && one.FeetUp == 2 {
					continue // load share is one number for both feet
				}
				row := Row{
					Dancer: r.Recording.Dancer, Recording: r.Recording.File, Group: groups[one.Foot], Mounting: side.Mounting, Measure: m, Value: v,
				}
				row.SeatU, row.Evidence = Seat(one.Hold, m)
				rows = append(rows, row)
			}
		}
	}
	return rows
}

// groupsOf returns the group of each foot of a recording.
func groupsOf(r *measure.Result) (groups [2]string) {
	visit := r.Meta.Visit
	if visit == "" {
		visit = r.Meta.Started.UTC().Format(time.DateOnly)
	}
	for _, f := range device.Feet {
		if side := r.Meta.Sides[f]; side != nil {
			groups[f] = fmt.Sprintf("%s, mark %d, %s, %q, %s", device.TOML(side.Worn()), side.Mark, f, measure.ConditionsOf(&r.Meta, f), visit)
		}
	}
	return groups
}

// Seat returns the part of the standard uncertainty of a measure of a hold that is
// independent between mountings, and the evidence from which the seat was found.
func Seat(h *measure.Hold, m measure.Measure) (u float64, from measure.Evidence) {
	for i := range h.Effects {
		if e := &h.Effects[i]; e.Evidence != "" {
			from = e.Evidence
		}
	}
	u, _, _ = SeatU(h, m)
	return u, from
}

// SeatU returns the standard uncertainty of a measure of a hold due to mounting the strip
// again, its degrees of freedom, and the standard deviations below and above the value,
// which differ where the distribution is not symmetric.
func SeatU(h *measure.Hold, m measure.Measure) (u, dof float64, sides [2]float64) {
	dof = math.Inf(1)
	for i := range h.Effects {
		e := &h.Effects[i]
		one, ok := e.U[m]
		if e.Common != measure.OfMounting || IsBound(e) || !ok {
			continue
		}
		u, dof = math.Hypot(u, one.U), min(dof, float64(one.DOF))
		both, ok := e.Sides[m]
		if !ok {
			both = [2]float64{one.U, one.U}
		}
		sides[0], sides[1] = math.Hypot(sides[0], both[0]), math.Hypot(sides[1], both[1])
	}
	return u, dof, sides
}

// IsBound reports whether an effect of a mounting is only known by its bound, such as the
// load that a platform bears beyond the strip. It has the same sign in every mounting, so
// it does not average out over them.
func IsBound(e *measure.Effect) bool {
	return e.Common == measure.OfMounting && e.Distribution == measure.Rectangular
}
