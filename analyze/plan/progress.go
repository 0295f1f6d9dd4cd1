package plan

// Recorded is one recording of the visit that was planned.
type Recorded struct {
	Name     string // name of the recording
	Shoe     string // code; both codes where the feet wore different shoes
	Mounting string // name of the mounting, "" where it has none
	Releves  int    // measured relevés on a foot; below 0 where they are not known
}

// Progress is a plan with the recordings made so far.
type Progress struct {
	Plan  Plan
	Steps []StepProgress // by step
	Notes []Note         // deviations from the plan
	Next  int            // the next step; len(Plan.Steps) where the plan is done
}

// StepProgress is what was recorded for a step.
type StepProgress struct {
	Recordings []string
	Releves    int // measured relevés; below 0 where they are not known for a recording
}

// Note is a deviation of a recording from the plan.
type Note struct {
	Recording string
	Text      string
}

// Follow assigns the recordings of a visit, in order, to the steps of the plan. A
// recording counts for the first open step of its shoe, even if another step was
// next or it has fewer relevés than planned. A recording with shoe and mounting
// of the previous one belongs to the same step.
func (p Plan) Follow(done []Recorded) Progress {
	c := Progress{Plan: p, Steps: make([]StepProgress, len(p.Steps))}
	at := -1 // step of the previous recording
	for i, r := range done {
		sameStep := i > 0 && at >= 0 && r.Mounting != "" && r.Mounting == done[i-1].Mounting && r.Shoe == done[i-1].Shoe
		if !sameStep {
			next := c.first("")
			at = c.first(r.Shoe)
			switch {
			case at == len(p.Steps):
				c.note(r, p.unplanned(r.Shoe))
				at = -1
			case at != next:
				c.note(r, p.outOfOrder(at, next))
			}
		}
		if at >= 0 {
			c.Steps[at].add(r)
		}
	}
	for i, t := range c.Steps {
		if planned := p.Steps[i].Releves; len(t.Recordings) > 0 && t.Releves >= 0 && t.Releves < planned {
			c.Notes = append(c.Notes, Note{t.Recordings[len(t.Recordings)-1], tooFew(t.Releves, planned)})
		}
	}
	c.Next = c.first("")
	return c
}

// first returns the first step of a shoe without a recording, of any shoe where
// shoe is ""; len(Plan.Steps) where there is none.
func (c *Progress) first(shoe string) int {
	for i, s := range c.Plan.Steps {
		if len(c.Steps[i].Recordings) == 0 && (shoe == "" || s.Shoe == shoe) {
			return i
		}
	}
	return len(c.Plan.Steps)
}

// note adds a note about a recording.
func (c *Progress) note(r Recorded, text string) { c.Notes = append(c.Notes, Note{r.Name, text}) }

// add adds a recording.
func (t *StepProgress) add(r Recorded) {
	t.Recordings = append(t.Recordings, r.Name)
	if t.Releves < 0 || r.Releves < 0 {
		t.Releves = -1
		return
	}
	t.Releves += r.Releves
}

// Done returns the number of steps with a recording.
func (c Progress) Done() (n int) {
	for _, t := range c.Steps {
		if len(t.Recordings) > 0 {
			n++
		}
	}
	return n
}
