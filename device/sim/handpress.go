package sim

import (
	"cmp"
	"math"
	"slices"
	"strconv"

	"aplomb/device"
	"aplomb/device/platform"
)

// handPress is one pad press of one foot in a Session. Times are in s from the first frame.
type handPress struct {
	rocking
	start, end    float64
	before, after Seat // the seats in the first and in the second half
	ground        ground
}

const (
	pressRampS = 0.3 // in which the hand takes up and gives away the load of a press, s
	shoeOnS    = 3.0 // from the first presses to the first rise: she puts the shoes on, s
	// betweenPressesS is from the end of a foot's press to the beginning of the other's, s.
	betweenPressesS = 2.0
)

// at returns load and centre of pressure, mm, at t seconds, what is pressed on, and where the
// strip lies.
func (p *handPress) at(t float64, outline platform.Polygon) (loadN float64, cop platform.Point, on ground, seat Seat) {
	part := (t - p.start) / (p.end - p.start)
	loadN, cop = p.rocking.at(part, outline)
	loadN *= smooth(min(1, (t-p.start)/pressRampS)) * smooth(min(1, (p.end-t)/pressRampS))
	if seat = p.before; part >= 0.5 {
		seat = p.after
	}
	return loadN, cop, p.ground, seat
}

// press returns the pad press of the foot at t seconds, nil where there is none.
func (a *footState) press(t float64) *handPress {
	for i := range a.presses {
		if p := &a.presses[i]; t > p.start && t < p.end {
			return p
		}
	}
	return nil
}

// addPresses draws where the strips lie, the pad presses of each foot in turn and, where
// their number is given, all rises.
func (s *Session) addPresses(setup *Setup) {
	d := s.dance
	t := d.begin
	for _, a := range s.feet {
		if a == nil {
			continue
		}
		seat := setup.drawSeat(a.foot)
		if setup.Press.Maps > 0 {
			seat = a.addPress(setup, setup.Press, seat, t)
			d.begin = a.presses[0].end + shoeOnS
			t = a.presses[0].end + betweenPressesS
		}
		a.seat = setup.moved(a.foot, seat, "before the rises")
	}
	if d.dancer.Rises == 0 {
		return
	}
	d.rise(d.dancer.Rises - 1) // draws all of them
	if setup.SecondPress.Maps == 0 {
		return
	}
	t = d.end()
	for _, a := range s.feet {
		if a == nil {
			continue
		}
		a.addPress(setup, setup.SecondPress, setup.moved(a.foot, a.seat, "after the rises"), t)
		d.last = a.presses[len(a.presses)-1].end
		t = d.last + betweenPressesS
	}
}

// addPress adds a pad press, beginning at t, to a foot and returns the seat of the strip
// after it.
func (a *footState) addPress(s *Setup, plan PadPress, seat Seat, t float64) Seat {
	f := s.Feet[a.foot]
	g := stream(s.Seed, "press", f.Strip.Name, f.Shoe.Code, s.Mounting, strconv.Itoa(len(a.presses)+1))
	p := handPress{
		rocking: newRocking(plan, g), start: t, end: t + float64(plan.Maps)/plan.RateHz,
		before: seat, after: seat, ground: onPad,
	}
	if plan.BareHand {
		p.ground = byHand
	}
	if plan.SlipMM != 0 {
		p.after = seat.slipped(plan.SlipMM, g)
	}
	a.presses = append(a.presses, p)
	return p.after
}

// moved draws the seat of a foot's strip after a movement according to the physics.
func (s *Setup) moved(foot device.Foot, seat Seat, when string) Seat {
	f := s.Feet[foot]
	return seat.moved(f.Physics, stream(s.Seed, "move", f.Strip.Name, f.Shoe.Code, s.Mounting, when))
}

// Presses returns the pad presses of the session in the order of time, those to come included.
func (s *Session) Presses() []PressTruth {
	var all []PressTruth
	for _, a := range s.feet {
		if a == nil {
			continue
		}
		for i, p := range a.presses {
			all = append(all, PressTruth{Press: i + 1, Foot: a.foot, StartS: p.start, EndS: p.end, Seat: p.before})
		}
	}
	slices.SortFunc(all, func(a, b PressTruth) int { return cmp.Compare(a.StartS, b.StartS) })
	return all
}

// PressEvents returns the pad presses as the events with which a recording marks them.
func (s *Session) PressEvents() []device.Event {
	var all []device.Event
	for _, p := range s.Presses() {
		all = append(all, device.Event{
			TimeNS: s.start.UnixNano() + int64(math.Round(1e9*p.EndS)), Foot: p.Foot, Kind: device.Press, LengthS: p.EndS - p.StartS,
		})
	}
	return all
}
