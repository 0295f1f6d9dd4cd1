package plan

import (
	"slices"

	"aplomb/device"
)

// Recorded is one recording of the visit that was planned.
type Recorded struct {
	Name     string  // name of the recording
	Shoe     string  // code; both codes where the feet wore different shoes
	Mounting string  // name of the mounting, "" where it has none
	Feet     [2]bool // by device.Foot, whether the foot was recorded
	Releves  [2]int  // by device.Foot, measured relevés; below 0 where they are not known
	Decision Decision
}

// Decision is a person's decision about a recording.
type Decision int

const (
	Undecided Decision = iota
	Use                // it counts, even with fewer relevés than planned
	Reject             // it does not count
)

// Progress is a plan with the recordings made so far.
type Progress struct {
	Plan  Plan
	Steps []StepProgress // by step
	Notes []Note         // deviations from the plan
	Next  int            // the next step; len(Plan.Steps) where the plan is done
}

// StepProgress lists what was recorded for a step.
type StepProgress struct {
	Recordings []string // of the last mounting that was recorded for it
	Feet       [2]bool  // the feet that have to be recorded, by device.Foot
	Releves    [2]int   // measured relevés of these recordings, by device.Foot; below 0 where they are not known for one
	Done       bool     // each foot has its relevés, or a person has decided to use what there is
}

// Note is a deviation of a recording from the plan.
type Note struct {
	Recording string
	Text      string
}

// mounted holds consecutive recordings of one mounting.
type mounted struct {
	shoe       string
	recordings []Recorded
	releves    [2]int
	use        bool
}

// Follow assigns the recordings of a visit, in order, to the steps of the plan.
//
// Consecutive recordings with the same shoe and mounting count together, for the first
// open step of their shoe, even if another step was next. The step is done once every
// foot of the plan has as many measured relevés as planned in one mounting, or once a
// person has decided to use one that has fewer. Until then the next mounting of that shoe
// replaces it. A recording without a measured relevé, or one that a person has rejected,
// never counts.
func (p Plan) Follow(done []Recorded) Progress {
	c := Progress{Plan: p, Steps: make([]StepProgress, len(p.Steps))}
	feet := p.feet(done)
	for i := range c.Steps {
		c.Steps[i].Feet = feet
	}
	for _, m := range c.mountings(done) {
		last := m.recordings[len(m.recordings)-1]
		at, next := c.first(m.shoe), c.first("")
		if at == len(p.Steps) {
			c.note(last, p.unplanned(m.shoe))
			continue
		}
		t := &c.Steps[at]
		t.Recordings = nil
		for _, r := range m.recordings {
			t.Recordings = append(t.Recordings, r.Name)
		}
		t.Releves = m.releves
		t.Done = m.use || t.enough(p.Steps[at].Releves)
		switch {
		case !t.Done:
			c.note(last, t.tooFew(p.Steps[at].Releves))
		case at != next:
			c.note(last, p.outOfOrder(at, next))
		}
	}
	c.Next = c.first("")
	return c
}

// feet returns the feet that have to be recorded: those of the plan, else all that were
// recorded.
func (p Plan) feet(done []Recorded) (feet [2]bool) {
	if p.Feet != feet {
		return p.Feet
	}
	for _, r := range done {
		for f, is := range r.Feet {
			feet[f] = feet[f] || is
		}
	}
	return feet
}

// mountings groups recordings by mounting. It notes those that do not count, and leaves
// them out.
func (c *Progress) mountings(done []Recorded) (all []mounted) {
	previous := ""
	for _, r := range done {
		switch {
		case r.Decision == Reject:
			c.note(r, rejected)
			continue
		case !r.measured():
			c.note(r, nothingMeasured)
			continue
		}
		if r.Mounting == "" || r.Mounting != previous || all[len(all)-1].shoe != r.Shoe {
			all = append(all, mounted{shoe: r.Shoe})
		}
		previous = r.Mounting
		m := &all[len(all)-1]
		m.recordings = append(m.recordings, r)
		m.use = m.use || r.Decision == Use
		for f := range m.releves {
			switch {
			case m.releves[f] < 0 || r.Feet[f] && r.Releves[f] < 0:
				m.releves[f] = -1
			case r.Feet[f]:
				m.releves[f] += r.Releves[f]
			}
		}
	}
	return all
}

// measured reports whether a recording has a measured relevé, as far as that is known.
func (r Recorded) measured() bool {
	return slices.ContainsFunc(device.Feet[:], func(f device.Foot) bool { return r.Feet[f] && r.Releves[f] != 0 })
}

// enough reports whether every foot has at least the planned number of relevés, as far as
// the numbers are known.
func (t *StepProgress) enough(planned int) bool {
	for f, is := range t.Feet {
		if is && t.Releves[f] >= 0 && t.Releves[f] < planned {
			return false
		}
	}
	return true
}

// first returns the first step of a shoe that is not done, of any shoe where shoe is "";
// len(Plan.Steps) where there is none.
func (c *Progress) first(shoe string) int {
	for i, s := range c.Plan.Steps {
		if !c.Steps[i].Done && (shoe == "" || s.Shoe == shoe) {
			return i
		}
	}
	return len(c.Plan.Steps)
}

// note adds a note about a recording.
func (c *Progress) note(r Recorded, text string) { c.Notes = append(c.Notes, Note{r.Name, text}) }

// Done returns the number of steps that are done.
func (c Progress) Done() (n int) {
	for _, t := range c.Steps {
		if t.Done {
			n++
		}
	}
	return n
}
