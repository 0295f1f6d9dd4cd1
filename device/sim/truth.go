package sim

import (
	"cmp"
	"encoding/json"
	"fmt"
	"io"
	"slices"

	"aplomb/device"
)

// Truth is the true course of one rise of one foot. Times count from the first frame.
type Truth struct {
	N       int         `json:"n"` // number of the rise, from 1, aborted ones included
	Foot    device.Foot `json:"foot"`
	OnsetS  float64     `json:"onset_s"` // when the load passes 10 % of its level on the way up
	EndS    float64     `json:"end_s"`   // when the load passes 7 % of its level on the way down
	Aborted bool        `json:"aborted"`
	Seat    Seat        `json:"seat"` // of the strip
	*Hold               // nil, and absent in JSON, for an aborted rise
}

// Hold holds the true values of a hold, as means over its frames.
type Hold struct {
	HoldStartS float64 `json:"hold_start_s"` // when the load comes within 15 % of its level
	HoldEndS   float64 `json:"hold_end_s"`   // when the load leaves that range
	LoadN      float64 `json:"load_n"`
	OverMM     float64 `json:"over_mm"`
	MedialMM   float64 `json:"medial_mm"`
	// ContactShare is the area of the platform that carries more than the threshold,
	// divided by the bearing area.
	ContactShare float64 `json:"contact_share"`
}

// PressTruth is the true course of one pad press of one foot. Times count from the first
// frame; the platform bears load from StartS to EndS.
type PressTruth struct {
	Press  int         `json:"press"` // number of the press of this foot, from 1
	Foot   device.Foot `json:"foot"`
	StartS float64     `json:"start_s"`
	EndS   float64     `json:"end_s"`
	Seat   Seat        `json:"seat"` // of the strip when the press begins
}

// holdSum sums the true values over the frames of a hold.
type holdSum struct {
	frames                    float64
	load, medial, over, share float64
}

// addToHold adds a frame with load at t seconds to the sums, where it lies in the hold.
func (a *footState) addToHold(t float64, p *footRise) {
	if t < p.heldFrom || t > p.heldTo {
		return
	}
	c := a.under.contact()
	a.sum.frames++
	a.sum.load += c.LoadN
	a.sum.medial += c.CoP[0]
	a.sum.over += c.CoP[1]
	a.sum.share += c.Share
}

// finishRises appends the Truth of the rises that are over.
func (a *footState) finishRises() {
	for n := len(a.truth); n < a.motion.now; n++ {
		r := &a.motion.dance.rises[n]
		p, sum := &r.feet[a.foot], a.sum
		t := Truth{N: n + 1, Foot: a.foot, OnsetS: p.onset(), EndS: p.over(), Aborted: r.aborted, Seat: a.seat}
		if !r.aborted && sum.frames > 0 {
			t.Hold = &Hold{
				HoldStartS: p.heldFrom, HoldEndS: p.heldTo,
				LoadN: sum.load / sum.frames, OverMM: sum.over / sum.frames, MedialMM: sum.medial / sum.frames,
				ContactShare: sum.share / sum.frames,
			}
		}
		a.truth = append(a.truth, t)
		a.sum = holdSum{}
	}
}

// Truth returns the true course of every rise that is over, in the order of the rises and of
// the feet.
func (s *Session) Truth() []Truth {
	var all []Truth
	for _, a := range s.feet {
		if a != nil {
			all = append(all, a.truth...)
		}
	}
	slices.SortStableFunc(all, func(a, b Truth) int { return cmp.Compare(a.N, b.N) })
	return all
}

// WriteTruth writes Presses and Truth as JSON Lines.
func (s *Session) WriteTruth(w io.Writer) error {
	e := json.NewEncoder(w)
	for _, p := range s.Presses() {
		if err := e.Encode(p); err != nil {
			return fmt.Errorf("truth: %w", err)
		}
	}
	for _, t := range s.Truth() {
		if err := e.Encode(t); err != nil {
			return fmt.Errorf("truth: %w", err)
		}
	}
	return nil
}
