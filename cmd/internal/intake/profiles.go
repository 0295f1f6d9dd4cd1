package intake

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
	"aplomb/device/recording"
)

// Sides reads the strip and the shoe of each foot, and sets no other fields. feet has the
// same meaning as in Metadata.
func (s *Setup) Sides(ctx context.Context, feet [2]bool) (sides [2]*device.Side, err error) {
	if s.known != nil {
		for f, side := range s.known {
			if side != nil {
				sides[f] = &device.Side{Strip: side.Strip, Shoe: side.Shoe}
			}
		}
		return sides, nil
	}
	strips, err := s.readStrips(ctx, feet)
	if err != nil {
		return sides, err
	}
	for _, strip := range strips {
		if other := sides[strip.Foot]; other != nil {
			return sides, usage.Errorf("--strip %s: it is for the %s foot, and so is strip %s", strip.Name, strip.Foot, other.Strip.Name)
		}
		shoe, err := s.shoeOf(ctx, strip.Foot)
		if err != nil {
			return sides, err
		}
		sides[strip.Foot] = &device.Side{Strip: strip, Shoe: shoe}
	}
	for f, typed := range [2]string{s.LeftShoe, s.RightShoe} {
		if typed != "" && sides[f] == nil {
			return sides, usage.Errorf("--%s-shoe %s: no --strip for the %s foot", device.Foot(f), typed, device.Foot(f))
		}
	}
	return sides, nil
}

// Candidates returns the strips that may be plugged in: those given, or else all of the
// logbook.
func (s *Setup) Candidates(ctx context.Context) (strips []*device.Strip, err error) {
	switch {
	case len(s.Strips) > 0:
		strips, err = s.readStrips(ctx, [2]bool{})
	case s.Logbook.Exists():
		err = s.Logbook.With(func(l *logbook.Logbook) error {
			all, err := l.Strips()
			for _, kept := range all {
				strips = append(strips, &kept.Strip)
			}
			return err
		})
	}
	if err == nil && len(strips) == 0 {
		err = usage.Errorf("--strip STRIP is missing: the profile of the strip under each foot (aplomb strip new puts one into the logbook)")
	}
	return strips, err
}

// CheckShoes returns the error with which the shoes of strips would be refused. It is
// called before searching for the strips.
func (s *Setup) CheckShoes(ctx context.Context, strips []*device.Strip) error {
	for _, strip := range strips {
		if _, err := s.shoeOf(ctx, strip.Foot); err != nil {
			return err
		}
	}
	return nil
}

// UseStrips sets the strips of the recording to those found on ports.
func (s *Setup) UseStrips(found [2]*device.Strip) {
	s.found = []*device.Strip{}
	for _, strip := range found {
		if strip != nil {
			s.found = append(s.found, strip)
		}
	}
}

// UseSides sets strips and shoes of the recording to those already read by Sides.
func (s *Setup) UseSides(known [2]*device.Side) { s.known = &known }

// readStrips returns the strips that were found, those that were named, or else the
// logbook's where it has just one for each of the feet.
func (s *Setup) readStrips(ctx context.Context, feet [2]bool) (strips []*device.Strip, err error) {
	if s.found != nil {
		return s.found, nil
	}
	if len(s.Strips) == 0 {
		return s.onlyStrips(feet)
	}
	for _, typed := range s.Strips {
		var strip *device.Strip
		if lookup.IsFile(typed) {
			strip, err = device.ReadStrip(ctx, typed)
		} else {
			err = s.lookUp("strip", typed, func(l *logbook.Logbook) error {
				kept, err := l.Strip(typed)
				strip = &kept.Strip
				return lookup.Hint(err, "aplomb strip list")
			})
		}
		if err != nil {
			return nil, err
		}
		strips = append(strips, strip)
	}
	return strips, nil
}

// onlyStrips returns the logbook's strips for the feet, of which there has to be one
// for each.
func (s *Setup) onlyStrips(feet [2]bool) (strips []*device.Strip, err error) {
	missing := func(why string) error { return usage.Errorf("--strip STRIP is missing: %s", why) }
	if !s.Logbook.Exists() {
		return nil, missing("the profile of the strip under each foot")
	}
	err = s.Logbook.With(func(l *logbook.Logbook) error {
		all, err := l.Strips()
		if err != nil {
			return err
		}
		of := [2][]string{}
		for _, kept := range all {
			of[kept.Foot] = append(of[kept.Foot], kept.Name)
			if feet[kept.Foot] || feet == [2]bool{} {
				strips = append(strips, &kept.Strip)
			}
		}
		for _, f := range device.Feet {
			switch {
			case feet[f] && len(of[f]) == 0:
				return missing(fmt.Sprintf("the logbook has none for the %s foot (aplomb strip add puts one there)", f))
			case feet[f] && len(of[f]) > 1:
				return missing(fmt.Sprintf("the logbook has several for the %s foot: %s", f, strings.Join(of[f], ", ")))
			}
		}
		if feet == [2]bool{} && len(strips) != 1 {
			return missing("the strip under each foot; or say the foot with --left or --right")
		}
		return nil
	})
	return strips, err
}

// shoeOf returns the shoe on a foot.
func (s *Setup) shoeOf(ctx context.Context, f device.Foot) (shoe *device.Shoe, err error) {
	typed := s.LeftShoe
	if f == device.Right {
		typed = s.RightShoe
	}
	if typed == "" {
		typed = s.Shoe
	}
	if typed == "" {
		return nil, usage.Errorf("no shoe for the %s foot: --shoe SHOE, or --%s-shoe SHOE", f, f)
	}
	if lookup.IsFile(typed) {
		return device.ReadShoe(ctx, typed)
	}
	err = s.lookUp("shoe", typed, func(l *logbook.Logbook) error {
		kept, err := l.Shoe(typed)
		shoe = &kept.Shoe
		return lookup.Hint(err, "aplomb shoe list")
	})
	return shoe, err
}

// lookUp calls do with the logbook, to find a shoe or a strip whose name is not
// that of a file.
func (s *Setup) lookUp(what, typed string, do func(*logbook.Logbook) error) error {
	if !s.Logbook.Exists() {
		return fmt.Errorf("%s %s: there is no such file, and no logbook to look it up in: is the name right?", what, typed)
	}
	return s.Logbook.With(do)
}

// keepMounting copies the mountings from the recording named by SameMounting, and marks,
// padding and fixing where they were not given. Strip, shoe and mark of each foot must be
// the same in both.
func (s *Setup) keepMounting(ctx context.Context, m *device.Metadata) error {
	if s.SameMounting == "" {
		return nil
	}
	path, err := s.earlier()
	if err != nil {
		return err
	}
	r, err := recording.Open(ctx, path)
	if err != nil {
		return err
	}
	defer r.Close()
	before := r.Meta()
	for _, f := range device.Feet {
		now, then := m.Sides[f], before.Sides[f]
		switch {
		case now == nil:
			continue
		case then == nil:
			return usage.Errorf("--same-mounting-as %s: it has no %s foot", s.SameMounting, f)
		case then.Strip.Name != now.Strip.Name || then.Shoe.Code != now.Shoe.Code:
			return usage.Errorf("--same-mounting-as %s: there the %s foot had strip %s under shoe %s, now %s under %s",
				s.SameMounting, f, then.Strip.Name, then.Shoe.Code, now.Strip.Name, now.Shoe.Code)
		}
		if now.Fixing != "" && then.Fixing != "" && now.Fixing != then.Fixing {
			return usage.Errorf("--fixing %s: the %s strip has not been taken off since --same-mounting-as %s, which says %s",
				text.Quoted(now.Fixing), f, s.SameMounting, then.Fixing)
		}
		if now.Mark != 0 && then.Mark != 0 && now.Mark != then.Mark {
			return usage.Errorf("--marks %s: the %s strip has not been taken off since --same-mounting-as %s, where it is under the shoe with mark %d",
				s.Marks, f, s.SameMounting, then.Mark)
		}
		now.Mark, now.Padding = cmp.Or(now.Mark, then.Mark), cmp.Or(now.Padding, then.Padding)
		now.Mounting, now.Fixing = then.Mounting, cmp.Or(now.Fixing, then.Fixing)
	}
	return checkMarks(m)
}

// earlier returns the file of the recording that SameMounting names. "last" is the
// last recording in the logbook of any dancer, because nobody may have used the
// strip since.
func (s *Setup) earlier() (path string, err error) {
	typed := s.SameMounting
	_, notNumber := strconv.ParseInt(typed, 10, 64)
	if typed != "last" && notNumber != nil || lookup.IsFile(typed) {
		return typed, nil
	}
	err = s.lookUp("--same-mounting-as", typed, func(l *logbook.Logbook) error {
		if typed != "last" {
			r, err := lookup.Recording(l, typed)
			path = r.Path
			return err
		}
		all, err := l.Recordings(logbook.Filter{})
		if err == nil && len(all) == 0 {
			err = errors.New("--same-mounting-as last: there is no recording in the logbook yet")
		}
		if err != nil {
			return err
		}
		path = all[len(all)-1].Path
		return nil
	})
	return path, err
}
