package analyze

import (
	"fmt"
	"math"

	"aplomb/analyze/budget"
	"aplomb/analyze/stats"
	"aplomb/device"
	"aplomb/device/platform"
)

// Sources of uncertainty, in the order in which a budget lists them.
const (
	Placement = "placement" // how the strip was fixed
	Gain      = "gain"      // how the cells' gains differ
	ZeroDrift = "zero drift"
	Grid      = "grid"         // what the reconstruction within the cells leaves
	Filled    = "cells filled" // for want of cells that do not measure
	Noise     = "noise"
	Swaying   = "sway"
	Blur      = "blur" // the edge of contact moves during the hold

	Hysteresis = "hysteresis"
	Creep      = "creep"
)

// Budgeted names the measures that have a budget.
var Budgeted = []string{"over_mm", "medial_mm", "contact_share", "load_n"}

// unrest is how much the means of a hold scatter because the dancer moves and
// the cells are noisy: standard errors by batch means; NaN where there are too
// few frames to tell.
type unrest struct {
	copMM platform.Point
	loadN float64
	dof   float64
}

// unnoised is what is left of the scatter of a mean once noise, known by itself,
// is taken out of it. Its degrees of freedom are those of the scatter where there
// is no noise and fewer the more of it is noise, since the variance that is left
// is as uncertain as the whole (½·(u/Δu)²: JCGM 100:2008, G.4.2 and E.4.3).
func unnoised(scatter, noise, dof float64) stats.Component {
	u := less(scatter, noise)
	left := u / scatter
	if u == 0 {
		return stats.Component{DOF: dof}
	}
	return stats.Component{U: u, DOF: dof * left * left * left * left}
}

// budgets lists the sources of uncertainty of a hold's measures.
func (g *foot) budgets(m *Measures, family string, spread spread, unrest unrest) map[string]budget.Budget {
	all := make(map[string]budget.Budget, len(Budgeted))
	for _, name := range Budgeted {
		noise := spread.noise[name]
		all[name] = budget.Of(
			g.placement(m.Seat[name]),
			budget.Line{
				Source: Gain, Type: budget.B, Distribution: budget.Normal,
				Basis:     gainBasis(&g.strip.Calibration),
				Component: stats.Component{U: m.Gain[name].U(), DOF: m.Gain[name].DOF()},
			},
			zeroDrift(m.Zero, name),
			budget.Line{
				Source: Grid, Type: budget.B, Distribution: budget.Normal,
				Basis:     fmt.Sprintf("what reconstruction leaves of a simulated map explained as %s", family),
				Component: stats.Component{U: m.Grid[name], DOF: math.Inf(1)},
			},
			filled(m.Fill, name),
			budget.Line{
				Source: Noise, Type: budget.A, Distribution: budget.Normal,
				Basis:     "noise of the unloaded cells, averaged over the hold",
				Component: stats.Component{U: noise.U(), DOF: noise.DOF()},
			},
			budget.Line{
				Source: Swaying, Type: budget.A, Distribution: budget.Normal,
				Basis:     "the means of ten parts of the hold scatter, less the noise",
				Component: unnoised(unrest.of(name, spread.lean), noise.U(), unrest.dof),
			},
			blur(m.Blur[name]),
			remembered(Hysteresis, "the largest either way that its calibration found", m.Hysteresis, name),
			remembered(Creep, creepBasis(&g.strip.Calibration), m.Creep, name),
		)
	}
	return all
}

// filled is what doing without one more cell beside each lost one changes.
func filled(u map[string]float64, name string) budget.Line {
	l := budget.Line{
		Source: Filled, Type: budget.B, Distribution: budget.Normal,
		Basis:     "how measures change without one more cell beside each that does not measure",
		Component: stats.Component{U: u[name], DOF: math.Inf(1)},
	}
	if len(u) == 0 {
		l.Basis = "every cell measures"
	}
	return l
}

// placement is what fixing the strip anew would change.
func (g *foot) placement(u float64) budget.Line {
	mount := g.strip.Mount
	l := budget.Line{
		Source: Placement, Type: budget.B, Distribution: budget.Normal,
		Basis:     fmt.Sprintf("a mounting repeats to %.3g mm: our assumption", mount.SeatSDMM),
		Component: stats.Component{U: u, DOF: mount.SeatDOF()},
	}
	if mount.SeatMountings > 0 {
		l.Type, l.Basis = budget.A, fmt.Sprintf("a mounting repeats to %.3g mm, measured in %d mountings", mount.SeatSDMM, mount.SeatMountings)
	}
	return l
}

// zeroDrift takes the zero of the hold to lie anywhere between the one with which
// it was measured, which is that before the load, and the one after: the mean
// square distance from the one is a third of the square of their difference.
// Where the zero was strong enough in its wandering for the straight line from
// before to after, it was measured with the one on its way, and is taken to lie
// as far from that as the one after does.
func zeroDrift(change map[string]float64, name string) budget.Line {
	l := budget.Line{
		Source: ZeroDrift, Type: budget.B, Distribution: budget.Rectangular,
		Basis:     "what the zeros moved from before the load to after it",
		Component: stats.Component{U: budget.UniformWithin(change[name]), DOF: math.Inf(1)},
	}
	if change == nil {
		l.Basis = "not known: the strip was not unloaded after it"
	}
	return l
}

// blurred bounds what a mean map makes of a contact whose edge moves: the edge
// it shows is somewhere in the stretch that the true one swept, which is as far
// as contact answers to a standard deviation of the sway.
func (m *Measures) blurred(lean platform.Point) map[string]float64 {
	if m.Sway == nil {
		return nil
	}
	return map[string]float64{"contact_share": math.Hypot(lean[0]*m.Sway.SDMedialMM, lean[1]*m.Sway.SDOverMM)}
}

func blur(bound float64) budget.Line {
	return budget.Line{
		Source: Blur, Type: budget.B, Distribution: budget.Rectangular,
		Basis:     "contact is that of the mean map, whose edge lies within what one standard deviation of sway sweeps",
		Component: stats.Component{U: budget.UniformWithin(bound), DOF: math.Inf(1)},
	}
}

// creepBasis says what is left of creep.
func creepBasis(c *device.Calibration) string {
	switch {
	case !takenOut(c):
		return "one decade of time more or less under load than when it was calibrated"
	case c.UCreep == 0:
		return "all that was taken out for it"
	}
	return fmt.Sprintf("taken out, to the %.2g %% a decade to which its calibration knows it", 100*c.UCreep)
}

// remembered is what the strip's memory of its load bounds. It is taken to be
// alike in all cells, which come under load together, so that it changes how
// much load there is and not where.
func remembered(source, basis string, most map[string]float64, name string) budget.Line {
	if most["load_n"] == 0 {
		basis = "not known: its calibration does not say"
	}
	return budget.Line{
		Source: source, Type: budget.B, Distribution: budget.Rectangular, Basis: basis,
		Component: stats.Component{U: budget.UniformWithin(most[name]), DOF: math.Inf(1)},
	}
}

// of is the standard error of a measure's mean; the contact share follows the
// centre of pressure as the platform leans.
func (s unrest) of(name string, lean platform.Point) float64 {
	switch name {
	case "over_mm":
		return s.copMM[1]
	case "medial_mm":
		return s.copMM[0]
	case "contact_share":
		return math.Hypot(lean[0]*s.copMM[0], lean[1]*s.copMM[1])
	}
	return s.loadN
}

// less takes the part known by itself out of a standard uncertainty that
// includes it; 0 where that could not be told, as from a handful of frames.
func less(all, known float64) float64 {
	if !(all > known) {
		return 0
	}
	return math.Sqrt(all*all - known*known)
}

// gainBasis says where what is known of the cells' gains comes from.
func gainBasis(c *device.Calibration) string {
	if c.Measured() {
		return fmt.Sprintf("gains of the cells differ by %.3g %%, as its calibration found", 100*c.GainSD)
	}
	return fmt.Sprintf("gains of the cells differ by %.3g %%: our assumption", 100*c.GainSD)
}
