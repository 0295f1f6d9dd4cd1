package analyze

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"aplomb/analyze/internal/parallel"
	"aplomb/analyze/measure"
	"aplomb/analyze/seat"
	"aplomb/analyze/stats"
	"aplomb/device"
)

// maxSeatPresses is the largest number of maps of a pad press from which the seat of a
// strip is estimated. Of more maps an evenly spaced subset is used, because all of them
// would take longer without improving the estimate.
const maxSeatPresses = 30

// mounted is one foot of a recording, with the input for estimating the seat of its
// strip.
type mounted struct {
	*Prepared
	foot  device.Foot
	input seat.Input
}

// findSeats estimates the seat of every strip in recordings that are analyzed together,
// and sets it for measuring. A foot without evidence of its seat keeps that of the
// profile.
func findSeats(ctx context.Context, all []*Prepared) error {
	var shoes [][]mounted // by physical shoe
	index := map[string]int{}
	for _, p := range all {
		for _, f := range device.Feet {
			in, ok := p.seatInput(f)
			if !ok {
				continue
			}
			key := physicalShoe(p.meta.Dancer, p.meta.Sides[f], f)
			i, known := index[key]
			if !known {
				i = len(shoes)
				index[key], shoes = i, append(shoes, nil)
			}
			shoes[i] = append(shoes[i], mounted{p, f, in})
		}
	}
	err := parallel.Each(ctx, len(shoes), func(i int) {
		inputs := make([]seat.Input, len(shoes[i]))
		for k, m := range shoes[i] {
			inputs[k] = m.input
		}
		for k, found := range seat.FindTogether(inputs) {
			shoes[i][k].take(&found, shoes[i])
		}
	})
	for _, p := range all {
		for _, f := range device.Feet {
			if s := p.seats[f]; len(p.presses[f]) > 0 && s.Evidence != measure.EvidencePress && s.PressRefused == "" {
				s.PressRefused = cmp.Or(p.presses[f][0].Refused, measure.SeatRefusal(seat.FewMaps))
			}
		}
	}
	return err
}

// physicalShoe identifies the physical shoe that a strip is fixed under: by dancer,
// description and mark, whatever foot wears it, or by the foot where it has no mark.
// Shoes of a pair are mostly straight, so that dancers swap them. The bearing outline's
// growth against the ruler's outline is symmetric, so it applies on the other foot too,
// where medial is the other side. Padding is no part of the platform.
func physicalShoe(dancer string, side *device.Side, f device.Foot) string {
	shoe := *side.Shoe
	shoe.Padding = ""
	which := f.String()
	if side.Mark != 0 {
		which = fmt.Sprint("mark ", side.Mark)
	}
	return strings.Join([]string{dancer, which, device.TOML(&shoe)}, "\n")
}

// seatInput returns the input for estimating a strip's seat from the recording of a foot.
// ok is false where the recording has no evidence of it, where the zeros of the cells are
// not known, or where the profile states the seat as exact.
func (r *recorded) seatInput(f device.Foot) (in seat.Input, ok bool) {
	at, l := r.instruments[f], r.logs[f]
	if l == nil || at.Strip.Mount.SeatSDMM == 0 || !l.Unloaded && len(at.Strip.Calibration.ZeroCounts) == 0 {
		return in, false
	}
	in = seat.Input{Strip: at.Strip, Outline: at.Grid.Outline, GainSD: at.Strip.Calibration.GainSD}
	if len(at.Lost) > 0 {
		in.Lost = make([]bool, at.Strip.Cells())
		for _, l := range at.Lost {
			in.Lost[l.K] = true
		}
	}
	for i, press := range r.usablePresses(f) {
		maps := thinned(at.SeatMaps([]measure.Press{*press}, nil), maxSeatPresses)
		for k := range maps {
			maps[k].Press = i
		}
		in.Maps = append(in.Maps, maps...)
	}
	in.Maps = append(in.Maps, at.SeatMaps(nil, r.holds[f])...)
	return in, len(in.Maps) > 0
}

// usablePresses returns the pad presses of a foot from which its seat can be estimated.
func (r *recorded) usablePresses(f device.Foot) (usable []*measure.Press) {
	for i := range r.presses[f] {
		if p := &r.presses[f][i]; p.Refused == "" {
			usable = append(usable, p)
		}
	}
	return usable
}

// refusePress sets the reason why the first usable press of a foot, or the later ones,
// were not used for the seat.
func (r *recorded) refusePress(f device.Foot, found *seat.Seat) {
	for i, p := range r.usablePresses(f) {
		if min(i, 1) == found.LeftOutPress {
			p.Refused = measure.SeatRefusal(found.LeftOut)
		}
	}
}

// chi2Of99 is the 99 % point of χ² with 2 degrees of freedom: -2·ln 0.01.
const chi2Of99 = 9.2103

// pressMove returns how far a strip moved from its first pad press to a later one.
func pressMove(shift *seat.Shift) *measure.Move {
	const usual = seat.DefaultMoveSDMM * seat.DefaultMoveSDMM
	medial, over := shift.Medial, shift.Over
	chi2 := medial.Value*medial.Value/(medial.SD*medial.SD+usual) + over.Value*over.Value/(over.SD*over.SD+usual)
	return &measure.Move{
		Medial: estimate(medial.Value, medial.SD, math.Inf(1)), Over: estimate(over.Value, over.SD, math.Inf(1)),
		Beyond: chi2 > chi2Of99,
	}
}

// take sets the seat at which the foot is measured. together are the mountings of the
// same shoe.
func (m *mounted) take(found *seat.Seat, together []mounted) {
	f := m.foot
	m.seats[f] = seatReport(&m.input, found)
	if found.LeftOut != "" {
		m.refusePress(f, found)
	}
	m.instruments[f] = m.instruments[f].At(found)
	if found.Evidence == seat.Assumed {
		return
	}
	m.seats[f].Outline.Conflict = found.OutlineConflict
	for _, i := range found.OutlineFrom {
		m.seats[f].Outline.From = append(m.seats[f].Outline.From, cmp.Or(together[i].id, together[i].file)) // a damaged recording has no id
	}
	m.instruments[f].Reseat(m.logs[f].Samples)
	i := len(m.input.Maps)
	for _, h := range slices.Backward(m.holds[f]) {
		if h == nil {
			continue
		}
		i--
		if found.CoPs[i].LoadN == 0 {
			continue
		}
		var contact *seat.Contact
		if found.Contacts != nil {
			contact = &found.Contacts[i]
		}
		h.Found(found.CoPs[i], contact)
	}
}

// assumedSeat returns the seat that the profile of a strip states.
func assumedSeat(strip *device.Strip) *measure.Seat {
	m := strip.Mount
	return &measure.Seat{
		Evidence: measure.EvidenceAssumed,
		Medial:   estimate(m.OffsetMM[0], m.SeatSDMM, m.SeatDOF()),
		Over:     estimate(m.OffsetMM[1], m.SeatSDMM, m.SeatDOF()),
		Rotation: estimate(m.RotationDeg, seat.RotationSDDeg, math.Inf(1)),
	}
}

// seatReport returns the description of a seat in a result.
func seatReport(in *seat.Input, found *seat.Seat) *measure.Seat {
	report := assumedSeat(in.Strip)
	report.BeyondProfile, report.Moved = found.PriorConflict, found.Moved
	for _, refused := range found.Refused {
		switch refused.Evidence {
		case seat.FromPress:
			report.PressRefused = measure.SeatRefusal(refused.Reason)
		case seat.FromHolds:
			report.HoldsRefused = measure.SeatRefusal(refused.Reason)
		}
	}
	sd := func(i int) float64 { return math.Sqrt(found.Cov[i][i]) }
	if found.Evidence == seat.Assumed {
		if found.PriorConflict {
			report.Medial, report.Over = estimate(found.Offset[0], sd(0), math.Inf(1)), estimate(found.Offset[1], sd(1), math.Inf(1))
		}
		return report
	}
	report.Evidence = measure.EvidenceHolds
	if found.Evidence == seat.FromPress {
		report.Evidence = measure.EvidencePress
	}
	for _, m := range in.Maps {
		switch {
		case m.Kind == seat.Press && found.Evidence == seat.FromPress:
			if found.LeftOut == "" || min(m.Press, 1) != found.LeftOutPress {
				report.Presses++
			}
		case m.Kind == seat.Hold && found.UsedHolds:
			report.Holds++
		}
	}
	report.Medial = estimate(found.Offset[0], sd(0), math.Inf(1))
	report.Over = estimate(found.Offset[1], sd(1), math.Inf(1))
	report.Rotation = estimate(found.RotationDeg, sd(2), math.Inf(1))
	if found.Shift != nil {
		report.BetweenPresses = pressMove(found.Shift)
	}
	value := func(v seat.Value) measure.Estimate { return estimate(v.Value, v.SD, math.Inf(1)) }
	report.Outline = &measure.BearingOutline{
		HalfWidth: value(found.Outline.HalfWidth), HalfDepth: value(found.Outline.HalfDepth),
		FrontRadius: value(found.Outline.FrontRadius), BackRadius: value(found.Outline.BackRadius),
	}
	return report
}

// estimate returns a value with its standard uncertainty u and 95 % interval.
func estimate(value, u, dof float64) measure.Estimate {
	ci := stats.Interval95(value, u, dof)
	return measure.Estimate{Value: value, U: u, CI95: [2]float64{ci.Lo, ci.Hi}}
}

// thinned returns at most n elements of all, evenly spaced.
func thinned[T any](all []T, n int) []T {
	if len(all) <= n {
		return all
	}
	chosen := make([]T, n)
	for i := range chosen {
		chosen[i] = all[i*len(all)/n]
	}
	return chosen
}
