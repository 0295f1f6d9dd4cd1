package main

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"aplomb/analyze/logbook"
	"aplomb/device"
	"aplomb/device/recording"
)

// readStrips returns the strips that were named, or else the logbook's, if it has
// just one for each of the feet.
func (s *setup) readStrips(ctx context.Context, feet [2]bool) (strips []*device.Strip, err error) {
	if len(s.strips) == 0 {
		return s.onlyStrips(feet)
	}
	for _, typed := range s.strips {
		var strip *device.Strip
		if isFile(typed) {
			strip, err = device.ReadStrip(ctx, typed)
		} else {
			err = s.lookUp("strip", typed, func(l *logbook.Logbook) error {
				kept, err := l.Strip(typed)
				strip = &kept.Strip
				return listed(err, "aplomb strip list")
			})
		}
		if err != nil {
			return nil, err
		}
		strips = append(strips, strip)
	}
	return strips, nil
}

func (s *setup) onlyStrips(feet [2]bool) (strips []*device.Strip, err error) {
	missing := func(why string) error { return misused("--strip STRIP is missing: %s", why) }
	if dir, err := s.book.dir(); err != nil || !logbook.Exists(dir) {
		return nil, missing("the profile of the strip under each foot")
	}
	err = s.book.with(func(l *logbook.Logbook) error {
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

func (s *setup) shoeOf(ctx context.Context, f device.Foot) (shoe *device.Shoe, err error) {
	typed := s.leftShoe
	if f == device.Right {
		typed = s.rightShoe
	}
	if typed == "" {
		typed = s.shoe
	}
	if typed == "" {
		return nil, misused("no shoe for the %s foot: --shoe SHOE, or --%s-shoe SHOE", f, f)
	}
	if isFile(typed) {
		return device.ReadShoe(ctx, typed)
	}
	err = s.lookUp("shoe", typed, func(l *logbook.Logbook) error {
		kept, err := l.Shoe(typed)
		shoe = &kept.Shoe
		return listed(err, "aplomb shoe list")
	})
	return shoe, err
}

// lookUp looks a thing up in the logbook, since there is no file of that name.
func (s *setup) lookUp(what, typed string, do func(*logbook.Logbook) error) error {
	if dir, err := s.book.dir(); err != nil || !logbook.Exists(dir) {
		return fmt.Errorf("%s %s: there is no such file, and no logbook to look it up in: is the name right?", what, typed)
	}
	return typedWrong(s.book.with(do))
}

// keepMounting takes over the mountings of an earlier recording, where strip
// and shoe are the same.
func (s *setup) keepMounting(ctx context.Context, m *device.Metadata) error {
	if s.sameMounting == "" {
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
			return misused("--same-mounting-as %s: it has no %s foot", s.sameMounting, f)
		case then.Strip.Name != now.Strip.Name || then.Shoe.Code != now.Shoe.Code:
			return misused("--same-mounting-as %s: there the %s foot had strip %s under shoe %s, now %s under %s",
				s.sameMounting, f, then.Strip.Name, then.Shoe.Code, now.Strip.Name, now.Shoe.Code)
		}
		now.Mounting = then.Mounting
	}
	return nil
}

// earlier returns the file of the recording that --same-mounting-as names. The
// last one is that of the whole logbook: whoever came since had the strip too.
func (s *setup) earlier() (path string, err error) {
	typed := s.sameMounting
	_, notNumber := strconv.ParseInt(typed, 10, 64)
	if typed != "last" && notNumber != nil || isFile(typed) {
		return typed, nil
	}
	err = s.lookUp("--same-mounting-as", typed, func(l *logbook.Logbook) error {
		if typed != "last" {
			r, err := recordingNumbered(l, typed)
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
