package measure

import "aplomb/device/correction"

// ShoesOn is the note that the guided recording writes once the shoes are on. No person
// has said it.
const ShoesOn = "shoes on, strips tugged at, slack looked at"

// Note is a note written during a recording.
type Note struct {
	TimeS  float64 `json:"time_s"` // s since the first frame
	Text   string  `json:"text"`
	Releve int     `json:"releve,omitempty"` // n of the last relevé that had begun by then; absent before the first
	During bool    `json:"during,omitempty"` // that relevé had not ended
}

// Remark is a remark made after the recording, see package correction.
type Remark = correction.Remark

// Pain of 10 from which a visit is to stop, and the increase of pain within a visit from
// which it is to stop. Both are our own cautious default, without a published source.
const (
	StopAtPain = 4
	StopAtRise = 2
)

// Visit contains statements about a visit by the dancer and the fitter. Unknown fields
// have their zero value.
type Visit struct {
	Name       string       `json:"visit,omitempty"`
	PainBefore *int         `json:"pain_before,omitempty"` // 0 to 10
	PainAfter  *int         `json:"pain_after,omitempty"`
	PainWhere  string       `json:"pain_where,omitempty"` // before the first rise, by foot and site
	Stop       string       `json:"stop,omitempty"`       // the advice to stop because of pain, in words
	WarmUp     string       `json:"warm_up,omitempty"`    // whether the dancer was warmed up: yes, no
	MaxRises   int          `json:"max_rises,omitempty"`  // a limit of the dancer's clinician
	SingleLeg  PerFoot[int] `json:"single_leg,omitzero"`  // rises on one leg that the dancer managed
	Choice     string       `json:"choice,omitempty"`     // the shoe that the fitter chose
	ChoiceWhy  string       `json:"choice_why,omitempty"`
	Note       string       `json:"note,omitempty"`
}
