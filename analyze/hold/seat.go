package hold

import (
	"fmt"
	"math"

	"aplomb/analyze/measure"
	"aplomb/device/platform"
)

// Placement is the source of uncertainty of the strip's seat: where it lies against
// the platform in one mounting.
const Placement measure.Source = "placement"

// fromSeat returns how much each measure of the typical hold changes when the seat
// of the strip is off by one standard deviation: along each axis the larger of the
// changes in both directions, then the root of the sum of squares over the axes.
// The centre of pressure changes by exactly that distance; contact and thirds are
// found from the same readings at another place under the outline. Load does not
// depend on the seat.
func fromSeat(in *Instrument, t *Typical) effectOf {
	mount := in.Strip.Mount
	e := measure.Effect{
		Source: Placement, Type: measure.TypeB, Distribution: measure.Normal, Common: measure.OfMounting,
		Basis: fmt.Sprintf("a mounting repeats to %.3g mm: our assumption", mount.SeatSDMM),
		U:     map[measure.Measure]measure.StandardUncertainty{},
	}
	if mount.SeatMountings > 0 {
		e.Type, e.Basis = measure.TypeA, fmt.Sprintf("a mounting repeats to %.3g mm, measured in %d mountings", mount.SeatSDMM, mount.SeatMountings)
	}
	sd, dof := mount.SeatSDMM, measure.DOF(mount.SeatDOF())
	for _, m := range locatedMeasures {
		e.U[m] = measure.StandardUncertainty{DOF: dof}
	}
	if sd == 0 {
		return constantEffect(e)
	}
	offs := [4]platform.Point{{sd, 0}, {-sd, 0}, {0, sd}, {0, -sd}} // along medial either way, then along over
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
		e.U[m] = measure.StandardUncertainty{U: u, DOF: dof}
	}
	return constantEffect(e)
}
