package capture

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"aplomb/analyze/check"
	"aplomb/analyze/live"
	"aplomb/analyze/measure"
	"aplomb/analyze/seat"
	"aplomb/device"
	"aplomb/plots/words"
)

// PressOptions specify how a recording asks for pad presses.
type PressOptions struct {
	Ask     bool    // request one at the beginning
	Watched [2]bool // by device.Foot, whether the foot is injured or being watched
	Releves int     // planned number, after which a second press is offered; 0 without a plan
	Guided  bool    // part of a guided fitting, until every foot has Releves
	// Others are shoes that may be under the strips by mistake. Each press is compared
	// with their platforms too.
	Others []device.Shoe
	Called string // name of the recording's shoe; "" for its code
	Worn   func() // called in a guided fitting when the user confirms that the shoes are on; may be nil
}

// presses handles the pad presses of a recording: it follows the current step, excludes
// presses from the relevés, and makes their events.
type presses struct {
	PressOptions
	meta       *device.Metadata
	watch      *live.Follower
	step       *live.PadPress // nil while none is going on
	opened     bool           // the step has had a frame
	state      live.PressState
	events     []device.Event
	unreported []live.Press // presses whose result has not been reported yet

	doubt [2]string // by device.Foot, why another shoe may be under the strip; "" without a doubt

	offered bool // a second press
	told    bool // how to press a platform has been explained

	over    func()       // called when a step has ended; may be nil
	doubted func()       // called when a press fits another shoe better
	say     func(string) // what has happened
	prompt  func(string) // what is to be done now; the live view shows it anyway
	again   string       // how the user requests a press; "" where that is not possible
}

// begin begins a press of every platform with the next frame.
func (p *presses) begin() {
	if p.step == nil {
		p.step, p.opened, p.state = live.NewPadPress(p.meta), false, live.PressState{}
	}
}

// frame processes a frame that the Follower has taken.
func (p *presses) frame(f *device.Frame) {
	p.reportSettled()
	if p.step == nil {
		return
	}
	if !p.opened {
		p.opened = true
		p.watch.OpenPress(f.ArrivalNS)
		p.prompt("pad press: leave the strips without load for a second")
	}
	p.keep(p.step.Update(f.ArrivalNS, p.watch.Readings()))
	p.reportSettled()
	p.tell()
}

// offer offers a second press once, after the last planned relevé or after the first one
// without a plan.
func (p *presses) offer() {
	n := p.watch.Count()
	if p.offered || p.again == "" || n < max(1, p.Releves) {
		return
	}
	p.offered = true
	after := "after the last relevé"
	if p.Releves > 0 {
		after = words.Count(n, "relevé", "relevés") + " as planned"
	}
	p.say(after + ", " + p.again + " asks for a second pad press: did the strip move?")
}

// keep makes events of presses.
func (p *presses) keep(made []live.Press) {
	for _, one := range made {
		p.watch.AddPress(one)
		p.events = append(p.events, device.Event{
			TimeNS: one.ToNS, Foot: one.Foot, Kind: device.Press, LengthS: float64(one.ToNS-one.FromNS) / 1e9,
		})
		if one.Foot != device.NoFoot {
			p.unreported = append(p.unreported, one)
		}
	}
}

// reportSettled reports the result of every press, once the load has ceased.
func (p *presses) reportSettled() {
	p.unreported = slices.DeleteFunc(p.unreported, func(one live.Press) bool {
		settled := p.watch.Settled(one.Foot)
		if settled {
			p.reportPress(one)
		}
		return settled
	})
}

// keptText returns the message that a press was recorded.
func keptText(one live.Press) string {
	if one.Edges.All() {
		return fmt.Sprintf("%s: pad press kept, all edges loaded", one.Foot)
	}
	return fmt.Sprintf("%s: pad press kept, without %s", one.Foot, words.ListEdges(one.Edges.Missing()))
}

// reportPress reports the result of a press of a foot. Later relevés are shown at the seat
// estimated from it.
func (p *presses) reportPress(one live.Press) {
	kept := keptText(one)
	if p.watch.Seated(one.Foot) && p.watch.Count() > 0 {
		p.say(kept) // the analysis compares it with the first
		return
	}
	found, ok := p.watch.FindSeat(one)
	if ok {
		p.doubtShoe(one, found)
	}
	switch {
	case !ok:
		p.say(kept)
	case len(found.Refused) > 0 && found.Evidence != seat.FromPress:
		text, remedy := check.PressRefused(one.Foot, measure.SeatRefusal(found.Refused[0].Reason))
		p.say(kept + ", but it does not show where the strip lies: " + text)
		if p.again != "" {
			remedy = p.again + ": " + remedy
		}
		p.say(fmt.Sprintf("%s: %s", one.Foot, remedy))
	case found.Evidence != seat.FromPress: // without a map
		p.say(kept)
	case found.PriorConflict:
		mount := p.meta.Sides[one.Foot].Strip.Mount
		off := math.Hypot(found.Offset[0]-mount.OffsetMM[0], found.Offset[1]-mount.OffsetMM[1])
		p.say(fmt.Sprintf("%s; the strip lies %s mm from where its profile says", kept, words.Number(off, 1)))
	default:
		p.say(kept + "; it shows where the strip lies")
	}
}

// doubtShoe reports that the platform of another shoe fits a press better than that of
// the shoe named in the recording, for which the seat was estimated.
func (p *presses) doubtShoe(one live.Press, found seat.Seat) {
	named := math.Inf(1) // deviation of its platform, mm
	if found.Evidence == seat.FromPress {
		named = live.OutlineOff(found)
	}
	p.doubt[one.Foot] = ""
	if named <= live.DoubtMM {
		return // none can be better by that
	}
	other, least := "", math.Inf(1)
	for _, shoe := range p.Others {
		if off, ok := p.watch.PressOff(one, shoe.Outline()); ok && off < least {
			other, least = shoe.Code, off
		}
	}
	if other == "" || named-least <= live.DoubtMM {
		return
	}
	code := cmp.Or(p.Called, p.meta.Sides[one.Foot].Shoe.Code)
	p.doubt[one.Foot] = words.OtherShoe(one.Foot, code, other)
	p.say(p.doubt[one.Foot])
	if p.again != "" {
		p.say(words.OtherShoeThen(code, p.again))
	}
	p.doubted()
}

// tell reports changes of the step, and closes it when it has ended.
func (p *presses) tell() {
	last, s := p.state, p.step.State()
	p.state = s
	if s.Outcome != live.PressOpen {
		p.reportOutcome(s)
		return
	}
	if s.Wrong && (!last.Wrong || last.Phase == live.PressOther && s.Phase != live.PressOther) {
		p.prompt(words.PressOther(s.Foot, p.meta.Sides[s.Foot.Other()].Strip))
	}
	asked := s.Phase == live.PressAsked && (last.Phase != live.PressAsked || last.Foot != s.Foot)
	switch {
	case asked:
		p.prompt(words.PressAsk(s.Foot))
		if !p.told {
			p.told = true
			p.prompt(words.PressHow())
		}
		if p.Watched[s.Foot] {
			p.prompt(words.PressWatched(s.Foot))
		}
	case s.Phase == live.PressBoth && last.Phase != live.PressBoth:
		p.prompt(words.PressBoth(s.Foot))
	case s.Phase == live.PressLetGo && last.Phase != live.PressLetGo:
		p.prompt(fmt.Sprintf("%s: every edge is loaded: let go", s.Foot))
	case s.Phase == live.PressRocked && s.Edges != last.Edges && s.Edges.Count() > 0:
		p.prompt(fmt.Sprintf("%s: %s loaded; %s", s.Foot, words.ListEdges(s.Edges.Loaded()), words.PressToGo(s.Edges)))
	}
}

// reportOutcome reports how the step has ended and closes it.
func (p *presses) reportOutcome(s live.PressState) {
	left, again := feetOf(p.step.Remaining()), ""
	if p.again != "" {
		again = "; " + p.again + " asks for it again"
	}
	switch s.Outcome {
	case live.PressDone:
		p.prompt("the pad press is done: the relevés can begin")
	case live.PressSkipped:
		p.say(fmt.Sprintf("%s: pad press skipped%s", left, again))
	case live.PressStoodOn:
		p.say(fmt.Sprintf("%s: no pad press, because someone stands on the strips%s", left, again))
	case live.PressTimedOut:
		p.say(fmt.Sprintf("%s: no pad press for %d minutes: no longer asked for%s", left, int(live.PressLimitS)/60, again))
	}
	p.watch.ClosePress()
	p.step = nil
	if p.over != nil {
		p.over()
	}
}

// feetOf lists feet.
func feetOf(feet []device.Foot) string {
	var names []string
	for _, f := range feet {
		names = append(names, f.String())
	}
	return strings.Join(names, " and ")
}

// skip ends the step at the user's request.
func (p *presses) skip() {
	if p.step != nil {
		p.keep(p.step.Skip())
		p.tell()
	}
}

// end ends the step because the recording ends.
func (p *presses) end() []device.Event {
	if p.step != nil {
		p.keep(p.step.Stop())
		p.step = nil
	}
	p.reportSettled()
	for _, one := range p.unreported {
		p.say(keptText(one))
	}
	return p.take()
}

// take returns the events since it was last called.
func (p *presses) take() []device.Event {
	events := p.events
	p.events = nil
	return events
}
