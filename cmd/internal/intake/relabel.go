package intake

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/software"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
	"aplomb/device/correction"
	"aplomb/device/recording"
)

// Relabel is a correction entered by the user. Of Setup, only fields for which Given
// returns true were entered.
type Relabel struct {
	Setup
	Given       func(flag string) bool
	NewMounting bool // the strips were taken off before this recording, contrary to its metadata
	SwapFeet    bool // the lines of the two strips were exchanged
	Undo        bool // the recorded metadata are in force again
	Now         time.Time
}

// labels are the flags for metadata of a recording.
var labels = [...]string{
	"dancer", "visit", "shoe", "left-shoe", "right-shoe", "support", "rise", "position", "floor", "feedback", "mass-kg",
	"marks", "padding", "fixing", "same-mounting-as", "new-mounting", "swap-feet",
}

// Check returns a usage error for a contradictory correction.
func (s *Relabel) Check() error {
	for _, flag := range labels {
		if s.Undo && s.Given(flag) && flag != "dancer" && flag != "visit" {
			return usage.Errorf("--undo stands alone: what was recorded counts then, and --%s would change it", flag)
		}
	}
	if s.NewMounting && s.SameMounting != "" {
		return usage.Errorf("--new-mounting and --same-mounting-as: a mounting is new or that of another recording, not both")
	}
	return s.checkWords()
}

// Recording corrects a recording of the logbook, and returns it before and after.
func (s *Relabel) Recording(ctx context.Context, l *logbook.Logbook, r logbook.Recording) (logbook.Recording, error) {
	e, err := s.entry(ctx, r.Path)
	if err != nil {
		return r, err
	}
	e.Dancer, e.Visit = nil, nil // those of the visit
	visit, err := s.visit(l, r)
	if err != nil {
		return r, err
	}
	return l.Relabel(ctx, r.ID, visit, e)
}

// visit returns the visit that a recording of the logbook moves to, 0 where it stays in
// its visit.
func (s *Relabel) visit(l *logbook.Logbook, r logbook.Recording) (id int64, err error) {
	if !s.Given("dancer") && !s.Given("visit") {
		return 0, nil
	}
	dancer := r.Dancer
	if s.Given("dancer") {
		d, err := lookup.Dancer(l, s.Dancer)
		if err != nil {
			return 0, err
		}
		dancer = d.Code
	}
	var v logbook.Visit
	if s.Given("visit") {
		if v, err = lookup.Visit(l, dancer, s.Visit, s.Now); err != nil {
			return 0, err
		}
	} else {
		all, err := l.Visits(dancer)
		if err != nil {
			return 0, err
		}
		all = slices.DeleteFunc(all, func(v logbook.Visit) bool { return v.Day != r.Day })
		switch len(all) {
		case 0:
			return 0, fmt.Errorf("dancer %s has no visit on %s: aplomb visit add --dancer %s --date %s adds one, or --visit names another", dancer, r.Day, text.Quoted(dancer), r.Day)
		case 1:
			v = all[0]
		default:
			return 0, usage.Errorf("dancer %s has %d visits on %s: --visit says which one", dancer, len(all), r.Day)
		}
	}
	if v.ID == r.VisitID && !s.Undo {
		return 0, nil
	}
	return v.ID, nil
}

// File corrects the recording in a file outside the logbook. It returns the resulting
// correction, nil where nothing changes.
func (s *Relabel) File(ctx context.Context, path string) (*recording.Corrected, error) {
	e, err := s.entry(ctx, path)
	if err != nil || !e.Says() {
		return nil, err
	}
	c, err := recording.PrepareCorrection(ctx, path, "", e)
	if err != nil {
		return nil, err
	}
	return c, c.Write()
}

// entry returns the entry of a correction for the recording at path: the values entered
// that differ from those in force.
func (s *Relabel) entry(ctx context.Context, path string) (e correction.Entry, err error) {
	e.At, e.Software = s.Now.UTC(), "aplomb "+software.This().String()
	r, err := recording.Open(ctx, path)
	if err != nil {
		return e, err
	}
	defer r.Close()
	c := r.Correction()
	if s.Undo {
		e.Undo = c != nil && len(c.Entries) > 0 && !c.Entries[len(c.Entries)-1].Undo
		return e, nil
	}
	before, now := r.Meta(), r.Meta()
	for f, side := range now.Sides {
		if side != nil {
			corrected := *side
			now.Sides[f] = &corrected
		}
	}
	if err := s.say(ctx, &now); err != nil {
		return e, err
	}
	differ(&e.Dancer, before.Dancer, now.Dancer)
	differ(&e.Visit, before.Visit, now.Visit)
	differ(&e.Support, before.Support, now.Support)
	differ(&e.Rise, before.Rise, now.Rise)
	differ(&e.Position, before.Position, now.Position)
	differ(&e.Floor, before.Floor, now.Floor)
	differ(&e.Feedback, before.Feedback, now.Feedback)
	differ(&e.MassKG, before.MassKG, now.MassKG)
	for _, f := range device.Feet {
		b, n := before.Sides[f], now.Sides[f]
		if b == nil {
			continue
		}
		var side correction.Side
		differ(&side.Shoe, device.TOML(b.Shoe), device.TOML(n.Shoe))
		differ(&side.Mark, b.Mark, n.Mark)
		differ(&side.Padding, b.Padding, n.Padding)
		differ(&side.Mounting, b.Mounting, n.Mounting)
		differ(&side.Fixing, b.Fixing, n.Fixing)
		if side != (correction.Side{}) {
			*e.Side(f) = side
		}
	}
	if s.Given("swap-feet") {
		differ(&e.FeetSwapped, c != nil && c.FeetSwapped(), s.SwapFeet)
	}
	return e, nil
}

// differ sets *entry to now if that differs from before.
func differ[T comparable](entry **T, before, now T) {
	if before != now {
		*entry = &now
	}
}

// say sets the values entered in m.
func (s *Relabel) say(ctx context.Context, m *device.Metadata) error {
	for _, c := range []struct {
		flag    string
		to      *string
		instead string
	}{
		{"visit", &m.Visit, s.Visit}, {"support", &m.Support, s.Support}, {"rise", &m.Rise, s.Rise},
		{"position", &m.Position, s.Position}, {"floor", &m.Floor, s.Floor}, {"feedback", &m.Feedback, s.Feedback},
	} {
		if s.Given(c.flag) {
			*c.to = c.instead
		}
	}
	if s.Given("dancer") {
		if m.Dancer != s.Dancer && !s.Given("visit") {
			m.Visit = "" // it was a visit of the other dancer
		}
		m.Dancer = s.Dancer
	}
	if s.Given("mass-kg") {
		m.MassKG = s.MassKG
	}
	for f, side := range m.Sides {
		foot := device.Foot(f)
		alone := foot.String() + "-shoe"
		if side == nil {
			if s.Given(alone) {
				return usage.Errorf("--%s: the recording has no %s foot", alone, foot)
			}
			continue
		}
		if s.Given("shoe") || s.Given(alone) {
			var err error
			if side.Shoe, err = s.shoeOf(ctx, foot); err != nil {
				return err
			}
		}
		if s.Given("fixing") {
			side.Fixing = s.Fixing
		}
		if s.NewMounting {
			side.Mounting = side.Strip.Name + " mounted " + m.Started.UTC().Format(time.RFC3339Nano) + ", corrected " + s.Now.UTC().Format(time.RFC3339Nano)
		}
	}
	if err := s.mark(m); err != nil {
		return err
	}
	if err := s.padAnew(m); err != nil {
		return err
	}
	return s.keepMounting(ctx, m)
}

// padAnew replaces the padding of the feet for which one was entered.
func (s *Relabel) padAnew(m *device.Metadata) error {
	var had [2]string
	for f, side := range m.Sides {
		if side != nil {
			had[f], side.Padding = side.Padding, ""
		}
	}
	if err := s.pad(m); err != nil {
		return err
	}
	for f, side := range m.Sides {
		if side != nil && side.Padding == "" {
			side.Padding = had[f]
		}
	}
	return nil
}

// checkWords returns a usage error for an invalid condition.
func (s *Setup) checkWords() error {
	for _, c := range []struct {
		flag, value string
		allowed     []string
	}{
		{"support", s.Support, logbook.Supports[:]},
		{"rise", s.Rise, logbook.Rises[:]},
		{"feedback", s.Feedback, device.Feedbacks[:]},
	} {
		if c.value != "" && !slices.Contains(c.allowed, c.value) {
			return usage.Errorf("--%s %q: one of %s", c.flag, c.value, strings.Join(c.allowed, ", "))
		}
	}
	for _, c := range [][2]string{{"dancer", s.Dancer}, {"position", s.Position}, {"floor", s.Floor}, {"fixing", s.Fixing}} {
		if !utf8.ValidString(c[1]) || strings.ContainsFunc(c[1], device.IsControl) {
			return usage.Errorf("--%s %.40q: write it as text in UTF-8, without line ends and other control characters", c[0], c[1])
		}
		if err := device.CheckLength(c[1]); err != nil {
			return usage.Errorf("--%s %.40q: %w", c[0], c[1], err)
		}
	}
	if !(s.MassKG >= 0 && s.MassKG <= 300) {
		return usage.Errorf("--mass-kg %v: a body mass, up to 300 kg", s.MassKG)
	}
	return nil
}
