package correction

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"aplomb/device"
)

const (
	// format is the version of the format that doc.go describes.
	format = 1
	// Ending is the suffix of the name of a correction file, after the id.
	Ending = ".correction.json"
	// MaxBytes bounds the size of a correction file.
	MaxBytes = 64 << 10
	// maxMassKG bounds a body mass, kg, as aplomb logbook relabel does.
	maxMassKG = 300
)

// Name returns the name of the file that corrects the recording with that id.
func Name(id string) string { return id + Ending }

// IsName reports whether a file of that name is a correction, and of which recording.
func IsName(name string) (id string, is bool) { return strings.CutSuffix(name, Ending) }

// History is the content of a correction file.
type History struct {
	Format  int       `json:"format"`
	ID      string    `json:"id"`      // of the recording
	Started time.Time `json:"started"` // as the recording has it
	Entries []Entry   `json:"corrections"`
}

// Entry is one correction. A field that is nil changes nothing.
type Entry struct {
	At          time.Time `json:"at"`
	Software    string    `json:"software,omitempty"` // the program that wrote it, with its version
	Undo        bool      `json:"undo,omitempty"`     // withdraws all entries before it; other fields are not set
	Dancer      *string   `json:"dancer,omitempty"`
	Visit       *string   `json:"visit,omitempty"`
	Support     *string   `json:"support,omitempty"`
	Rise        *string   `json:"rise,omitempty"`
	Position    *string   `json:"position,omitempty"`
	Floor       *string   `json:"floor,omitempty"`
	Feedback    *string   `json:"feedback,omitempty"`
	MassKG      *float64  `json:"mass_kg,omitempty"`
	FeetSwapped *bool     `json:"feet_swapped,omitempty"`
	Remark      *Remark   `json:"remark,omitempty"`
	Left        *Side     `json:"left,omitempty"`
	Right       *Side     `json:"right,omitempty"`
}

// Side corrects the metadata of one foot.
type Side struct {
	Shoe     *string `json:"shoe,omitempty"` // TOML, see device.ParseShoe
	Mark     *int    `json:"mark,omitempty"`
	Padding  *string `json:"padding,omitempty"`
	Mounting *string `json:"mounting,omitempty"`
	Fixing   *string `json:"fixing,omitempty"`
}

// Side returns the correction of a foot, and creates it where there is none.
func (e *Entry) Side(f device.Foot) *Side {
	side := &e.Left
	if f == device.Right {
		side = &e.Right
	}
	if *side == nil {
		*side = &Side{}
	}
	return *side
}

// sides returns the corrections of the feet by device.Foot, nil where there is none.
func (e *Entry) sides() [2]*Side { return [2]*Side{e.Left, e.Right} }

// New returns the history of a recording without corrections.
func New(id string, started time.Time) *History {
	return &History{Format: format, ID: id, Started: started.UTC()}
}

// Parse reads a correction file. Its errors are one line and do not name the file.
func Parse(data []byte) (*History, error) {
	if len(data) > MaxBytes {
		return nil, fmt.Errorf("a correction has at most %d KiB", MaxBytes>>10)
	}
	var version struct {
		Format int `json:"format"`
	}
	if err := json.Unmarshal(data, &version); err != nil {
		return nil, fmt.Errorf("not a correction: %w", err)
	}
	if version.Format > format {
		return nil, fmt.Errorf("written in version %d of the format, this program reads up to %d: use a newer one", version.Format, format)
	}
	h := &History{}
	in := json.NewDecoder(bytes.NewReader(data))
	in.DisallowUnknownFields()
	if err := in.Decode(h); err != nil {
		return nil, fmt.Errorf("not a correction: %w", err)
	}
	return h, h.check()
}

// Encode returns the history as the content of its file.
func (h *History) Encode() ([]byte, error) {
	if err := h.check(); err != nil {
		return nil, err
	}
	var b bytes.Buffer
	out := json.NewEncoder(&b)
	out.SetEscapeHTML(false)
	out.SetIndent("", "  ")
	if err := out.Encode(h); err != nil {
		return nil, err
	}
	if b.Len() > MaxBytes {
		return nil, fmt.Errorf("its corrections would have %d KiB, the limit is %d: give the shoe an outline with fewer points", b.Len()>>10, MaxBytes>>10)
	}
	return b.Bytes(), nil
}

// Add returns the history with one more entry.
func (h *History) Add(e Entry) *History {
	longer := *h
	longer.Entries = append(h.Entries[:len(h.Entries):len(h.Entries)], e)
	return &longer
}

// check returns the first fault of h.
func (h *History) check() error {
	switch {
	case h.Format != format:
		return fmt.Errorf("format %d: write %d", h.Format, format)
	case h.ID == "" || strings.ContainsFunc(h.ID, func(r rune) bool { return (r < 'a' || r > 'z') && (r < '0' || r > '9') }):
		return fmt.Errorf("id %.40q is not that of a recording", h.ID)
	}
	for i := range h.Entries {
		if err := h.Entries[i].check(); err != nil {
			return fmt.Errorf("correction %d: %w", i+1, err)
		}
	}
	return nil
}

// Says reports whether e has any content, including undo.
func (e Entry) Says() bool {
	e.At, e.Software = time.Time{}, ""
	return e != Entry{}
}

func (e *Entry) check() error {
	said := *e
	said.Undo = false
	if e.Undo && said.Says() {
		return errors.New("undo stands alone")
	}
	texts := []struct {
		name string
		text *string
	}{
		{"software", &e.Software}, {"dancer", e.Dancer}, {"visit", e.Visit}, {"support", e.Support}, {"rise", e.Rise}, {"position", e.Position},
		{"floor", e.Floor}, {"feedback", e.Feedback},
	}
	for _, s := range e.sides() {
		if s == nil {
			continue
		}
		if s.Mark != nil && (*s.Mark < 0 || *s.Mark > 2) {
			return fmt.Errorf("mark %d: the shoes of a pair are marked 1 and 2", *s.Mark)
		}
		texts = append(texts, []struct {
			name string
			text *string
		}{{"padding", s.Padding}, {"mounting", s.Mounting}, {"fixing", s.Fixing}}...)
	}
	for _, t := range texts {
		if t.text == nil {
			continue
		}
		if !utf8.ValidString(*t.text) || utf8.RuneCountInString(*t.text) > device.MaxText || strings.ContainsFunc(*t.text, unprintable) {
			return fmt.Errorf("%s %.40q: one line of at most %d characters", t.name, *t.text, device.MaxText)
		}
	}
	if e.Remark != nil {
		if err := e.Remark.check(); err != nil {
			return err
		}
	}
	if e.MassKG != nil && !(*e.MassKG >= 0 && *e.MassKG <= maxMassKG) {
		return fmt.Errorf("mass_kg %v: a body mass, up to %d kg", *e.MassKG, maxMassKG)
	}
	return nil
}

// unprintable reports whether r is a control character or changes the direction in which
// a text is shown.
func unprintable(r rune) bool { return unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r) }

// Apply returns the metadata of a recording with all corrections of h. It does not modify
// recorded or anything that it refers to.
func (h *History) Apply(recorded device.Metadata) (device.Metadata, error) {
	m := recorded
	for i := range h.Entries {
		e := &h.Entries[i]
		if e.Undo {
			m = recorded
			continue
		}
		var err error
		if m, err = e.apply(m); err != nil {
			return recorded, fmt.Errorf("correction %d: %w", i+1, err)
		}
	}
	if h.FeetSwapped() {
		l, r := m.Sides[device.Left], m.Sides[device.Right]
		if l == nil || r == nil || l.Strip.Cells() != r.Strip.Cells() {
			return recorded, errors.New("feet_swapped: the feet of a recording can be exchanged where it has both, with as many cells under each")
		}
		// These fields describe the transmission of the frames, and stay with the frames.
		left, right := *l, *r
		left.Clock, left.Format, left.Baud = r.Clock, r.Format, r.Baud
		right.Clock, right.Format, right.Baud = l.Clock, l.Format, l.Baud
		m.Sides = [2]*device.Side{&left, &right}
	}
	return m, m.Check()
}

// FeetSwapped reports whether frames and events of the left foot are those of the
// right one and the other way round.
func (h *History) FeetSwapped() (swapped bool) {
	for i := range h.Entries {
		switch e := &h.Entries[i]; {
		case e.Undo:
			swapped = false
		case e.FeetSwapped != nil:
			swapped = *e.FeetSwapped
		}
	}
	return swapped
}

// apply returns m with the values of e in place of those of m.
func (e *Entry) apply(m device.Metadata) (device.Metadata, error) {
	put(&m.Dancer, e.Dancer)
	put(&m.Visit, e.Visit)
	put(&m.Support, e.Support)
	put(&m.Rise, e.Rise)
	put(&m.Position, e.Position)
	put(&m.Floor, e.Floor)
	put(&m.Feedback, e.Feedback)
	put(&m.MassKG, e.MassKG)
	for f, s := range e.sides() {
		if s == nil {
			continue
		}
		foot := device.Foot(f)
		if m.Sides[f] == nil {
			return m, fmt.Errorf("the recording has no %s foot", foot)
		}
		side := *m.Sides[f]
		put(&side.Mark, s.Mark)
		put(&side.Padding, s.Padding)
		put(&side.Mounting, s.Mounting)
		put(&side.Fixing, s.Fixing)
		if s.Shoe != nil {
			var err error
			if side.Shoe, err = device.ParseShoe("shoe of the "+foot.String()+" foot", []byte(*s.Shoe)); err != nil {
				return m, err
			}
		}
		m.Sides[f] = &side
	}
	return m, nil
}

// put sets to where a correction has a value.
func put[T any](to *T, said *T) {
	if said != nil {
		*to = *said
	}
}
