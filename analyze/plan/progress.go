package plan

// Recorded is one recording made in the visit that is planned.
type Recorded struct {
	Name     string // of the recording
	Shoe     string // both named where the feet wore different ones
	Mounting string // "" where nothing says it was the same as another
	Releves  int    // measured on a foot; below 0 where that is not known
}

// Course is how far a plan has come.
type Progress struct {
	Plan  Plan
	Steps []StepProgress // by step
	Notes []Note         // what went otherwise than planned
	Next  int            // the step that comes next; len(Plan.Steps) where the plan is done
}

// Taken is what was recorded for a step, nothing where its Recordings are none.
type StepProgress struct {
	Recordings []string
	Releves    int // below 0 where that is not known of one
}

// Note says about a recording what went otherwise than planned.
type Note struct {
	Recording string
	Text      string
}

// Follow sets the recordings of a visit, in order, against the plan. Each counts
// for the first step of its shoe that is still to come, whether or not that is
// the one that was next, and whether or not it has as many relevés as planned.
// One in the same shoe and mounting as the recording before it belongs to the
// same step.
func (p Plan) Follow(done []Recorded) Progress {
	c := Progress{Plan: p, Steps: make([]StepProgress, len(p.Steps))}
	at := -1 // the step of the recording before
	for i, r := range done {
		again := i > 0 && at >= 0 && r.Mounting != "" && r.Mounting == done[i-1].Mounting && r.Shoe == done[i-1].Shoe
		if !again {
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

// first returns the first step of a shoe, of any shoe where it is "", for which
// nothing was recorded; len(Plan.Steps) where there is none.
func (c *Progress) first(shoe string) int {
	for i, s := range c.Plan.Steps {
		if len(c.Steps[i].Recordings) == 0 && (shoe == "" || s.Shoe == shoe) {
			return i
		}
	}
	return len(c.Plan.Steps)
}

func (c *Progress) note(r Recorded, text string) { c.Notes = append(c.Notes, Note{r.Name, text}) }

func (t *StepProgress) add(r Recorded) {
	t.Recordings = append(t.Recordings, r.Name)
	if t.Releves < 0 || r.Releves < 0 {
		t.Releves = -1
		return
	}
	t.Releves += r.Releves
}

// Done returns for how many steps something was recorded.
func (c Progress) Done() (n int) {
	for _, t := range c.Steps {
		if len(t.Recordings) > 0 {
			n++
		}
	}
	return n
}
