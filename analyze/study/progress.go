package study

import (
	"slices"
	"strings"

	"aplomb/analyze/measure"
	"aplomb/analyze/plan"
)

// Made lists the recordings of one visit of a study.
type Made struct {
	Dancer string
	Visit  int    // of the study, from 1
	Name   string // of the visit in the logbook
	Day    string // of the visit, 2026-03-14
	// Recordings are those of the visit in order, with the codes of their shoes.
	Recordings []plan.Recorded
}

// Progress is the progress of a study. Shoes have their labels.
type Progress struct {
	Study    string           `json:"study"`
	Declared string           `json:"declared"`
	Measure  measure.Measure  `json:"measure"`
	Seed     uint64           `json:"seed"`
	Visits   int              `json:"visits_each"`
	Mounting int              `json:"mountings_each"`
	Releves  int              `json:"releves_each"`
	Labels   []string         `json:"labels"` // alphabetical
	Dancers  []DancerProgress `json:"dancers"`
	Complete int              `json:"complete"` // dancers without a missing mounting
	Stop     int              `json:"stop_at"`
	Reached  bool             `json:"stop_reached"`
	Changes  []ChangeRecord   `json:"changes"`
	// Before is the number of recordings from before the day of the declaration.
	Before int `json:"before_declared"`

	Provenance *measure.Provenance `json:"provenance,omitempty"`
}

// DancerProgress is the progress of one dancer.
type DancerProgress struct {
	Row      int             `json:"row"`
	Dancer   string          `json:"dancer,omitempty"` // "" where erased: the row is to be assigned to another one
	Order    []string        `json:"order"`            // labels
	Visits   []VisitProgress `json:"visits"`
	Complete bool            `json:"complete"`
}

// VisitProgress is the progress of one visit.
type VisitProgress struct {
	Visit   int       `json:"visit"` // of the study, from 1
	Name    string    `json:"logbook_visit,omitempty"`
	Planned int       `json:"planned"` // mountings
	Done    int       `json:"done"`
	Missing []Missing `json:"missing"`
	Notes   []string  `json:"notes"` // deviations from the order, with labels
}

// Missing is a mounting that is not recorded, or has fewer relevés than planned.
type Missing struct {
	Label    string `json:"label"`
	Mounting int    `json:"mounting"`
	Has      string `json:"has,omitempty"` // relevés so far, in words; "" where nothing is recorded
}

// ChangeRecord is the JSON form of a Change.
type ChangeRecord struct {
	Day    string `json:"day"`
	Kind   Kind   `json:"kind"`
	Text   string `json:"text"`
	Reason string `json:"reason,omitempty"`
}

// Follow compares the recordings with the plan.
func (s *Study) Follow(made []Made) Progress {
	p := Progress{
		Study: s.Name, Declared: s.Declared, Measure: s.Measure, Seed: s.Seed, Visits: s.Visits, Mounting: s.Mountings, Releves: s.Releves,
		Dancers: []DancerProgress{}, Changes: []ChangeRecord{}, Stop: s.Stop,
	}
	for _, shoe := range s.Shoes {
		p.Labels = append(p.Labels, shoe.Label)
	}
	slices.Sort(p.Labels)
	for i, row := range s.Rows {
		d := DancerProgress{Row: i + 1, Dancer: row.Dancer, Order: s.Labels(row.Order), Complete: true}
		for v := 1; v <= s.Visits; v++ {
			at := slices.IndexFunc(made, func(m Made) bool { return m.Dancer == row.Dancer && m.Visit == v && m.Dancer != "" })
			one := VisitProgress{Visit: v}
			var recordings []plan.Recorded
			if at >= 0 {
				one.Name, recordings = made[at].Name, s.blindedRecordings(made[at].Recordings)
				if made[at].Day < s.Declared {
					p.Before += len(recordings)
				}
			}
			s.followVisit(&one, s.Blinded(s.Plan(i+1, v)), recordings)
			d.Visits = append(d.Visits, one)
			d.Complete = d.Complete && one.Done == one.Planned
		}
		if d.Complete {
			p.Complete++
		}
		p.Dancers = append(p.Dancers, d)
	}
	p.Reached = p.Complete >= s.Stop
	for _, c := range s.Changes {
		p.Changes = append(p.Changes, c.record())
	}
	return p
}

func (c Change) record() ChangeRecord {
	return ChangeRecord{Day: c.Day, Kind: c.Kind, Text: c.Text(), Reason: c.Reason}
}

// blindedRecordings returns recordings with the labels of their shoes. Where the feet
// wear different shoes, the codes are separated by a slash.
func (s *Study) blindedRecordings(made []plan.Recorded) []plan.Recorded {
	made = slices.Clone(made)
	for i := range made {
		made[i].Shoe = strings.Join(s.Labels(strings.Split(made[i].Shoe, " / ")), " / ")
	}
	return made
}

// followVisit sets the progress of a visit from its recordings.
func (s *Study) followVisit(v *VisitProgress, p plan.Plan, made []plan.Recorded) {
	c := p.Follow(made)
	v.Planned, v.Done, v.Missing, v.Notes = len(p.Steps), c.Done(), []Missing{}, []string{}
	for i, step := range p.Steps {
		if c.Steps[i].Done {
			continue
		}
		one := Missing{Label: step.Shoe, Mounting: step.Mounting}
		if len(c.Steps[i].Recordings) > 0 {
			one.Has = c.Steps[i].Count(step.Releves)
		}
		v.Missing = append(v.Missing, one)
	}
	for _, n := range c.Notes {
		v.Notes = append(v.Notes, "recording "+n.Recording+": "+n.Text)
	}
}
