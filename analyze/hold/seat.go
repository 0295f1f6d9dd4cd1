package hold

import (
	"fmt"
	"maps"
	"math"

	"aplomb/analyze/measure"
	"aplomb/analyze/seat"
	"aplomb/analyze/stats"
	"aplomb/device/platform"
)

// Seat is the source of uncertainty of the strip's seat: where it lies under the
// platform in one mounting.
const Seat measure.Source = "seat"

// fromSeat returns the uncertainty of each measure due to the seat: that of the seat that
// was found, or else that of a mounting according to the strip's profile.
func fromSeat(in *Instrument, t *Typical) effectOf {
	e := measure.Effect{Source: Seat, Type: measure.TypeB, Distribution: measure.Normal, Common: measure.OfMounting}
	if in.seat != nil {
		return in.fromFoundSeat(e, t)
	}
	mount := in.Strip.Mount
	e.Evidence, e.Basis = measure.EvidenceAssumed, fmt.Sprintf("a mounting repeats to %.3g mm: our assumption", mount.SeatSDMM)
	if mount.SeatMountings > 0 {
		e.Type, e.Basis = measure.TypeA, fmt.Sprintf("a mounting repeats to %.3g mm, measured in %d mountings", mount.SeatSDMM, mount.SeatMountings)
	}
	e.U = in.seatSensitivity(t, platform.Point{mount.SeatSDMM, mount.SeatSDMM}, measure.DOF(mount.SeatDOF()))
	return constantEffect(e)
}

// fromFoundSeat returns the uncertainty due to a seat that was found, without the part in
// fromOutline. For the contact share it is that of the fit.
func (in *Instrument) fromFoundSeat(e measure.Effect, t *Typical) effectOf {
	switch {
	case in.seat.Evidence == seat.FromPress:
		e.Evidence, e.Basis = measure.EvidencePress, "found from the pad press"
		if in.seat.UsedHolds {
			e.Basis += " and the holds"
		}
	default:
		e.Evidence, e.Basis = measure.EvidenceHolds, "found from the holds"
	}
	sd := in.seatSD(t.full.CoP)
	for i, common := range in.seat.Common {
		sd[i] = without(sd[i], common)
	}
	typical := in.seatSensitivity(t, sd, measure.Unlimited)
	return func(h *Hold, _ *holdResult) measure.Effect {
		e := e
		e.U = maps.Clone(typical)
		if c := h.contact(); c != nil {
			outline := in.outlineOfContact(h)
			e.U[measure.ContactShare] = measure.StandardUncertainty{U: without(c.U, outline), DOF: measure.Unlimited}
			half := stats.Interval95(0, 1, math.Inf(1)).Hi
			e.Sides = map[measure.Measure][2]float64{
				measure.ContactShare: {without((c.Share-c.Lo)/half, outline), without((c.Hi-c.Share)/half, outline)},
			}
		}
		return e
	}
}

// without returns the standard uncertainty that remains when an independent part is
// removed from u.
func without(u, part float64) float64 { return math.Sqrt(max(0, u*u-part*part)) }

// seatSD returns the standard deviations, mm along medial and over, of a point of the
// strip at the position at, mm, due to the uncertainty of the seat that was found (JCGM
// 100:2008, 5.2.2).
func (in *Instrument) seatSD(at platform.Point) (sd platform.Point) {
	d := platform.Point{at[0] - in.seat.Offset[0], at[1] - in.seat.Offset[1]}
	perDegree := platform.Point{-d[1] * math.Pi / 180, d[0] * math.Pi / 180}
	cov := &in.seat.Cov
	for i, r := range perDegree {
		sd[i] = math.Sqrt(cov[i][i] + 2*r*cov[i][2] + r*r*cov[2][2])
	}
	return sd
}

// seatSensitivity returns how much each measure of the typical hold changes when the seat
// of the strip is off by one standard deviation: along each axis the larger change of
// both directions, then the root of the sum of squares over the axes. The centre of
// pressure changes by exactly that distance; contact and thirds are computed from the
// same readings at another position under the outline. Load does not depend on the seat.
func (in *Instrument) seatSensitivity(t *Typical, sd platform.Point, dof measure.DOF) map[measure.Measure]measure.StandardUncertainty {
	all := map[measure.Measure]measure.StandardUncertainty{}
	for _, m := range locatedMeasures {
		all[m] = measure.StandardUncertainty{DOF: dof}
	}
	if sd == (platform.Point{}) {
		return all
	}
	offs := [4]platform.Point{{sd[0], 0}, {-sd[0], 0}, {0, sd[1]}, {0, -sd[1]}} // both directions along medial, then along over
	var seated [len(offs)]measure.Hold
	for i, off := range offs {
		to := platform.Point{t.full.CoP[0] + off[0], t.full.CoP[1] + off[1]}
		in.locate(&seated[i], in.Grid.ShiftSeat(off).ReconstructFrom(t.full, t.pressure, t.noise), to, t.hold.LoadN)
	}
	for _, m := range locatedMeasures {
		u := 0.0
		for axis := range 2 {
			one, other := change(m, &seated[2*axis], t.hold), change(m, &seated[2*axis+1], t.hold)
			u = math.Hypot(u, max(math.Abs(one), math.Abs(other)))
		}
		all[m] = measure.StandardUncertainty{U: u, DOF: dof}
	}
	return all
}
