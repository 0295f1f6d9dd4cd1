package correction

import (
	"fmt"
	"strconv"
	"time"

	"aplomb/device"
)

// Change is one value that a correction changes.
type Change struct {
	What     string // such as left shoe
	From, To string // "" where unknown
}

// String returns the change in one line, such as "left shoe A → B".
func (c Change) String() string {
	return c.What + " " + orNothing(c.From) + " → " + orNothing(c.To)
}

func orNothing(said string) string {
	if said == "" {
		return "(not stated)"
	}
	return said
}

// Step is one entry of a history with its changes.
type Step struct {
	At      time.Time
	Undo    bool
	Changes []Change // none where the entry repeats the former values
}

// Steps returns the changes that each entry of h makes to the recorded metadata.
func (h *History) Steps(recorded device.Metadata) ([]Step, error) {
	var all []Step
	before, part := recorded, *h
	for i, e := range h.Entries {
		if e.OnlyRemark() {
			continue
		}
		swapped := part.swappedBefore(i)
		part.Entries = h.Entries[:i+1]
		now, err := part.Apply(recorded)
		if err != nil {
			return nil, err
		}
		all = append(all, Step{e.At, e.Undo, changes(before, now, swapped, part.FeetSwapped())})
		before = now
	}
	return all, nil
}

func (h History) swappedBefore(n int) bool {
	h.Entries = h.Entries[:min(n, len(h.Entries))]
	return h.FeetSwapped()
}

// Changes returns the changes that all corrections of h together make to the recorded
// metadata; none where they were undone or repeat it.
func (h *History) Changes(recorded device.Metadata) ([]Change, error) {
	now, err := h.Apply(recorded)
	if err != nil {
		return nil, err
	}
	return changes(recorded, now, false, h.FeetSwapped()), nil
}

// At returns the time of the last entry.
func (h *History) At() time.Time {
	if len(h.Entries) == 0 {
		return time.Time{}
	}
	return h.Entries[len(h.Entries)-1].At
}

func changes(before, now device.Metadata, wasSwapped, isSwapped bool) (all []Change) {
	add := func(what, from, to string) {
		if from != to {
			all = append(all, Change{what, from, to})
		}
	}
	add("dancer", before.Dancer, now.Dancer)
	add("visit", before.Visit, now.Visit)
	for _, f := range device.Feet {
		b, n := before.Sides[f], now.Sides[f]
		if b == nil || n == nil {
			continue
		}
		name := f.String() + " "
		from, to := b.Shoe.Code, n.Shoe.Code
		if from == to && device.TOML(b.Shoe) != device.TOML(n.Shoe) {
			to += " (described otherwise)"
		}
		add(name+"shoe", from, to)
		add(name+"mark", number(float64(b.Mark)), number(float64(n.Mark)))
		add(name+"padding", b.Padding, n.Padding)
		add(name+"mounting", b.Mounting, n.Mounting)
		add(name+"fixing", b.Fixing, n.Fixing)
	}
	add("support", before.Support, now.Support)
	add("rise", before.Rise, now.Rise)
	add("position", before.Position, now.Position)
	add("floor", before.Floor, now.Floor)
	add("feedback", before.Feedback, now.Feedback)
	add("body mass", kilograms(before.MassKG), kilograms(now.MassKG))
	add("feet", feet(wasSwapped), feet(isSwapped))
	return all
}

func feet(swapped bool) string {
	if swapped {
		return "exchanged"
	}
	return "as recorded"
}

func kilograms(kg float64) string {
	if kg == 0 {
		return ""
	}
	return number(kg) + " kg"
}

// number returns n as a person writes it, "" for 0.
func number(n float64) string {
	if n == 0 {
		return ""
	}
	return strconv.FormatFloat(n, 'f', -1, 64)
}

// Mentions reports whether an entry of h names a dancer for whom is returns true.
func (h *History) Mentions(is func(dancer string) bool) bool {
	for _, e := range h.Entries {
		if e.Dancer != nil && is(*e.Dancer) {
			return true
		}
	}
	return false
}

// String describes in one line what a step changed and when.
func (s Step) String() string {
	said := s.At.Local().Format("2006-01-02 15:04") + ": "
	if s.Undo {
		said += "undone, what was recorded counts again"
	}
	for i, c := range s.Changes {
		if i > 0 || s.Undo {
			said += "; "
		}
		said += c.String()
	}
	if !s.Undo && len(s.Changes) == 0 {
		return fmt.Sprint(said, "nothing else than before")
	}
	return said
}
