package correction

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"aplomb/device"
)

// Remark is a person's remark on a recording, made afterwards: what they saw, how the
// dancer found the shoe, and whether the recording is used. It does not affect
// measurements.
type Remark struct {
	Saw      []string `json:"saw,omitempty"`      // such as Sickles
	Note     string   `json:"note,omitempty"`     // in words
	Comfort  int      `json:"comfort,omitempty"`  // 1 bad to 5 good; 0 where unknown
	Pinches  []string `json:"pinches,omitempty"`  // where, such as big toe
	Pain     *int     `json:"pain,omitempty"`     // 0 to 10; nil where unknown
	Decision string   `json:"decision,omitempty"` // one of Decisions; "" without a decision
}

// Observations of a dancer and her shoe, for Remark.Saw.
const (
	Sickles   = "sickles" // the foot rolls towards the little toe
	Sinks     = "sinks"   // the foot goes down into the box
	BoxBulges = "box bulges"
	HeelLoose = "heel loose"
)

// Decisions about a recording: it is used, even with fewer relevés than planned; its step
// of the plan is repeated; or it is discarded. A recording of the last two is kept, and
// is used in no comparison.
const (
	Use     = "use"
	Repeat  = "repeat"
	Discard = "discard"
)

// Decisions are the decisions about a recording.
var Decisions = [...]string{Use, Repeat, Discard}

// Rejected reports whether the decision is that the recording is not used.
func (r Remark) Rejected() bool { return r.Decision == Repeat || r.Decision == Discard }

// Empty reports whether r has no content.
func (r Remark) Empty() bool {
	return len(r.Saw) == 0 && r.Note == "" && r.Comfort == 0 && len(r.Pinches) == 0 && r.Pain == nil && r.Decision == ""
}

// with returns r with the content of a later remark replacing its own.
func (r Remark) with(later Remark) Remark {
	if later.Saw != nil {
		r.Saw = later.Saw
	}
	if later.Note != "" {
		r.Note = later.Note
	}
	if later.Comfort != 0 {
		r.Comfort = later.Comfort
	}
	if later.Pinches != nil {
		r.Pinches = later.Pinches
	}
	if later.Pain != nil {
		r.Pain = later.Pain
	}
	if later.Decision != "" {
		r.Decision = later.Decision
	}
	return r
}

// CheckNote returns an error where a remark cannot have that note.
func CheckNote(note string) error {
	if !utf8.ValidString(note) || utf8.RuneCountInString(note) > device.MaxText || strings.ContainsFunc(note, unprintable) {
		return fmt.Errorf("one line of at most %d characters", device.MaxText)
	}
	return nil
}

func (r Remark) check() error {
	for _, text := range append(append([]string{r.Note}, r.Saw...), r.Pinches...) {
		if err := CheckNote(text); err != nil {
			return fmt.Errorf("remark %.40q: %w", text, err)
		}
	}
	switch {
	case r.Comfort < 0 || r.Comfort > 5:
		return fmt.Errorf("comfort %d: 1 (bad) to 5 (good), 0 where nobody asked", r.Comfort)
	case r.Pain != nil && (*r.Pain < 0 || *r.Pain > 10):
		return fmt.Errorf("pain %d: 0 (none) to 10", *r.Pain)
	case r.Decision != "" && !slices.Contains(Decisions[:], r.Decision):
		return fmt.Errorf("decision %.40q: use, repeat or discard", r.Decision)
	case r.Empty():
		return errors.New("a remark that says nothing")
	}
	return nil
}

// OnlyRemark reports whether an entry is a remark and corrects nothing.
func (e Entry) OnlyRemark() bool {
	remark := e.Remark
	e.Remark = nil
	return remark != nil && !e.Says()
}

// Remark returns all remarks on the recording combined; later ones replace earlier ones.
// Undo does not affect remarks.
func (h *History) Remark() (all Remark) {
	for _, e := range h.Entries {
		if e.Remark != nil {
			all = all.with(*e.Remark)
		}
	}
	return all
}
