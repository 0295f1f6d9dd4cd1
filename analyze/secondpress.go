package analyze

import (
	"math"

	"aplomb/analyze/measure"
	"aplomb/analyze/seat"
	"aplomb/device"
)

// pressMaps returns the maps of the pad presses of a foot from which its seat is found,
// and sets how far the strip may have moved. in has no maps yet.
func (r *recorded) pressMaps(f device.Foot, in *seat.Input) (maps []seat.Map) {
	var presses []*measure.Press
	var each [][]seat.Map
	for i := range r.presses[f] {
		if p := &r.presses[f][i]; p.Refused == "" {
			presses, each = append(presses, p), append(each, r.instruments[f].SeatMaps([]measure.Press{*p}, nil))
		}
	}
	c := comparePresses(*in, each)
	for i, p := range presses {
		p.Refused = c.refused[i]
		if c.used[i] {
			maps = append(maps, each[i]...)
		}
	}
	r.seats[f].BetweenPresses, in.MoveSDMM = c.move, c.moveSDMM
	return maps
}

// comparison is what the pad presses of one mounting show side by side.
type comparison struct {
	used     []bool                // by press: it has a part in the seat
	refused  []measure.SeatRefusal // by press: why it shows no seat where another shows one
	move     *measure.Move         // from the first press that shows a seat to the last; nil without two
	moveSDMM float64               // as in seat.Input; 0 where nothing is known of it
}

// comparePresses finds the seat of every pad press of a mounting by itself, where there
// are two or more, and marks the maps of later ones that are used. in lacks maps.
//
// The holds come between the first press and the last, and the mean of the two is at
// most half of their difference away from either. They do not show what the strip moved
// and moved back; half of the usual assumption stays for that. Where the strip moved
// further than a strip is assumed to, one seat cannot explain both presses: the first
// counts, and its standard uncertainty is all of the difference.
func comparePresses(in seat.Input, presses [][]seat.Map) comparison {
	c := comparison{used: make([]bool, len(presses)), refused: make([]measure.SeatRefusal, len(presses))}
	for i := range c.used {
		c.used[i] = true
	}
	if len(presses) < 2 {
		return c
	}
	var shown []int
	seats := make([]seat.Seat, len(presses))
	for i, maps := range presses {
		in.Maps = thinned(maps, maxSeatPresses)
		if seats[i] = seat.Find(in); seats[i].Evidence == seat.FromPress {
			shown = append(shown, i)
		}
	}
	if len(shown) == 0 {
		return c // together they may show what none of them does
	}
	for i := range seats {
		if c.used[i] = seats[i].Evidence == seat.FromPress; !c.used[i] {
			c.refused[i] = pressRefusal(&seats[i])
		}
	}
	if len(shown) < 2 {
		return c
	}
	c.move = between(&seats[shown[0]], &seats[shown[len(shown)-1]])
	apart := math.Sqrt((c.move.Medial.Value*c.move.Medial.Value + c.move.Over.Value*c.move.Over.Value) / 2)
	if c.moveSDMM = math.Hypot(apart/2, seat.DefaultMoveSDMM/2); c.move.Beyond {
		c.moveSDMM = apart
		for _, i := range shown[1:] {
			c.used[i] = false
		}
	}
	for _, i := range shown[1:] {
		for k := range presses[i] {
			presses[i][k].Press = 1
		}
	}
	return c
}

// pressRefusal returns why pad presses do not show a seat; few maps where nothing else
// is said.
func pressRefusal(found *seat.Seat) measure.SeatRefusal {
	for _, refused := range found.Refused {
		if refused.Evidence == seat.FromPress {
			return measure.SeatRefusal(refused.Reason)
		}
	}
	return measure.SeatRefusal(seat.FewMaps)
}

// chi2Of99 is the 99 % point of χ² with 2 degrees of freedom: -2·ln 0.01.
const chi2Of99 = 9.2103

// between returns how far a strip moved from the seat in one pad press to that in
// another. Their uncertainties count as independent, which is too much: the model's
// error and the gains are common to both.
func between(first, last *seat.Seat) *measure.Move {
	move, chi2 := &measure.Move{}, 0.0
	for axis, e := range []*measure.Estimate{&move.Medial, &move.Over} {
		variance := first.Cov[axis][axis] + last.Cov[axis][axis]
		*e = estimate(last.Offset[axis]-first.Offset[axis], math.Sqrt(variance), math.Inf(1))
		chi2 += e.Value * e.Value / (variance + seat.DefaultMoveSDMM*seat.DefaultMoveSDMM)
	}
	move.Beyond = chi2 > chi2Of99
	return move
}
