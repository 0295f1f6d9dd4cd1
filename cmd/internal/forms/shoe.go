package forms

import (
	"cmp"
	"context"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
	"aplomb/device/drawing"
)

// Shoe is the form of a shoe, with the files from which its platform is read.
type Shoe struct {
	Form[logbook.Shoe]
	Unit    text.Unit // of lengths without one
	File    string    // a shoe file with the whole description; "" for none
	Outline string    // a file of the traced outline; "" for none
	Scale   string    // the length of one unit of Outline; "" for that in the file
	Mirror  bool      // in Outline the big toe is on the left
	Owner   *string   // code of the dancer, "" for nobody; nil where it was not typed
}

// NewShoe returns the form of a shoe.
func NewShoe() *Shoe {
	f := &Shoe{Unit: "mm"}
	f.add("platform", "`WIDTHxDEPTH` of the platform, such as 36x22 or, with --unit inch, \"1 7/16 x 7/8\"", nil, func(s *logbook.Shoe, v string) (err error) {
		s.PlatformMM, err = device.ParseSize(v, string(f.Unit))
		s.OutlineMM = nil
		return err
	})
	f.add("shape", "`SHAPE` of the platform: "+text.ShapeHelp, text.ShapeNames(), func(s *logbook.Shoe, v string) (err error) {
		s.OutlineExponent, err = text.ParseShape(v)
		return err
	})
	f.word("box", "`WORD` for the box", device.Boxes[:], func(s *logbook.Shoe) *string { return &s.Box })
	f.length("crown", "`HEIGHT` of the profile", func(s *logbook.Shoe) *float64 { return &s.CrownMM })
	crown := &f.Fields[len(f.Fields)-1]
	set := crown.Set
	crown.Set = func(s *logbook.Shoe, v string) error { return cmp.Or(set(s, v), device.CheckCrown(s.CrownMM)) }
	f.word("shank", "`STRENGTH` of the shank", device.Shanks[:], func(s *logbook.Shoe) *string { return &s.Shank })
	f.word("shank-length", "`LENGTH` of the shank", device.ShankLengths[:], func(s *logbook.Shoe) *string { return &s.ShankLength })
	f.text("padding", "`WHAT` is in it, such as gel", func(s *logbook.Shoe) *string { return &s.Padding })
	f.length("vamp", "`LENGTH` from the front of the platform to the throat", func(s *logbook.Shoe) *float64 { return &s.VampMM })
	f.length("wings", "`LENGTH` from the platform to the top of the wings", func(s *logbook.Shoe) *float64 { return &s.WingsMM })
	f.number("hours", "`HOURS` worn so far", func(s *logbook.Shoe) *float64 { return &s.HoursWorn })
	return f
}

// length adds a field that takes a length, mm; without one it is 0.
func (f *Shoe) length(name, usage string, of func(*logbook.Shoe) *float64) {
	f.add(name, usage, nil, func(s *logbook.Shoe, v string) (err error) {
		*of(s) = 0
		if v != "" {
			*of(s), err = device.ParseLength(v, string(f.Unit))
		}
		return err
	})
}

// Any reports whether anything was typed that changes a shoe.
func (f *Shoe) Any() bool {
	return f.Form.Any() || f.File != "" || f.Outline != "" || f.Owner != nil
}

// Shaped reports whether the platform was typed: its size, a shoe file or an
// outline.
func (f *Shoe) Shaped() bool { return f.Has("platform") || f.File != "" || f.Outline != "" }

// Apply sets in s what was typed. renamed is the code in a shoe file where it
// differs from that of s.
func (f *Shoe) Apply(ctx context.Context, s *logbook.Shoe) (renamed string, err error) {
	switch {
	case f.Outline != "" && f.Has("platform", "shape"):
		return "", usage.Errorf("--outline %s says what --platform and --shape do: one or the other", f.Outline)
	case f.Outline == "" && (f.Scale != "" || f.Mirror):
		return "", usage.Errorf("--scale and --mirror are for --outline FILE")
	}
	if f.File != "" {
		if renamed, err = f.fromFile(ctx, s); err != nil {
			return "", err
		}
	}
	if f.Outline != "" {
		if err := f.trace(ctx, s); err != nil {
			return "", err
		}
	}
	if len(s.OutlineMM) > 0 && f.Has("shape") && !f.Has("platform") {
		return "", usage.Errorf("--shape: the outline of shoe %s was traced: --platform WIDTHxDEPTH takes its place", s.Code)
	}
	if f.Owner != nil {
		s.Owner = *f.Owner
	}
	if err := f.Form.Apply(s); err != nil {
		return "", err
	}
	if len(s.OutlineMM) == 0 && s.OutlineExponent == 0 {
		s.OutlineExponent = text.DefaultShape
	}
	return renamed, nil
}

// fromFile makes s the shoe in the file, and keeps its code.
func (f *Shoe) fromFile(ctx context.Context, s *logbook.Shoe) (renamed string, err error) {
	read, err := device.ReadShoe(ctx, f.File)
	if err != nil {
		return "", err
	}
	if read.Code != s.Code {
		renamed = read.Code
	}
	read.Code = s.Code
	s.Shoe = *read
	return renamed, nil
}

// trace takes the outline from the file.
func (f *Shoe) trace(ctx context.Context, s *logbook.Shoe) error {
	opt := drawing.Options{Mirror: f.Mirror}
	if f.Scale != "" {
		mm, err := device.ParseLength(f.Scale, string(f.Unit))
		if err != nil || mm == 0 {
			return usage.Errorf("--scale %q: the length of one unit of %s, such as 0.1 or 1in", f.Scale, f.Outline)
		}
		opt.ScaleMM = mm
	}
	outline, err := drawing.Read(ctx, f.Outline, opt)
	if err != nil {
		return err
	}
	s.PlatformMM, s.OutlineExponent, s.OutlineMM = [2]float64{}, 0, nil
	for _, p := range outline {
		s.OutlineMM = append(s.OutlineMM, p)
	}
	return nil
}
