// Package bench guides a user through the calibration of a strip. Each step is a load on
// the strip, and its readings come from the serial port or from a file.
package bench

import (
	"context"
	"fmt"
	"io"
	"time"

	"aplomb/analyze/calibrate"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/text"
	"aplomb/device"
)

// Bench is a strip that is being calibrated.
type Bench struct {
	Strip    *device.Strip
	Profile  lookup.Profile // the strip's stored profile
	ZeroFile string         // a file of the strip unloaded; "" for the zero in the profile
	Taken    time.Time      // when the readings were taken

	ctx  context.Context
	out  io.Writer // for prompts and warnings
	port *port     // nil where readings come from files
	last float64   // time of the last frame of the step before, s
}

// FromFiles returns a bench at which every step is a file. It writes warnings to
// out.
func FromFiles(ctx context.Context, p lookup.Profile, out io.Writer) (*Bench, error) {
	s, err := p.Read()
	if err != nil {
		return nil, err
	}
	return &Bench{Strip: s, Profile: p, Taken: time.Now(), ctx: ctx, out: out}, nil
}

// AtPort returns a bench that reads the strip at a serial port and prompts the user for
// each load; person is nil without a user at a terminal. The caller closes it.
func AtPort(ctx context.Context, p lookup.Profile, out io.Writer, person *console.Person, name string, baud int) (*Bench, error) {
	b, err := FromFiles(ctx, p, out)
	if err != nil {
		return nil, err
	}
	b.port, err = openPort(ctx, b.Strip, out, name, baud)
	if err != nil {
		return nil, err
	}
	if person != nil {
		b.port.answers = person.Lines
	}
	return b, nil
}

// Close closes the port.
func (b *Bench) Close() error {
	if b.port == nil {
		return nil
	}
	return b.port.close()
}

// AtPort reports whether readings come from the strip's port.
func (b *Bench) AtPort() bool { return b.port != nil }

// CheckIntact returns an error for a calibration that was edited by hand, to which
// nothing can be added, and where CheckWritable does. It is called before any work is
// done.
func (b *Bench) CheckIntact() error {
	if err := b.Strip.Calibration.Intact(b.Strip); err != nil {
		return fmt.Errorf("%s: %w: take all but kpa_per_count out of [calibration], and begin with aplomb strip zero", b.Profile.Name, err)
	}
	return b.CheckWritable()
}

// CheckWritable returns an error where the result cannot be written into the profile's
// file because of its layout.
func (b *Bench) CheckWritable() error {
	trial := *b.Strip
	trial.Calibration.ValidDays++
	trial.Mount.SeatSDMM++
	_, err := b.Profile.Replace(&trial)
	return err
}

// Outcome applies change to a copy of the strip and returns the function that
// writes the copy into the profile.
func (b *Bench) Outcome(change func(*device.Strip) error) (write func() error, err error) {
	changed := *b.Strip
	if err := change(&changed); err != nil {
		return nil, err
	}
	return b.Profile.Replace(&changed)
}

// Resign signs a calibration whose date stays, because the curve, to which the
// date belongs, was not measured again.
func Resign(s *device.Strip) {
	if s.Calibration.Measured() {
		s.Calibration.SetHash(s)
	}
}

// SignToday gives a calibration the day of the readings and signs it.
func (b *Bench) SignToday(s *device.Strip) {
	s.Calibration.Date = device.DateOf(b.Taken)
	s.Calibration.SetHash(s)
}

// Unloaded reads the strip with nothing on it, from its port or from a file.
func (b *Bench) Unloaded(file string) (calibrate.Zero, error) {
	var r Readings
	var err error
	if b.port != nil {
		r, err = b.port.still(takeOff)
	} else {
		r, err = b.read(file)
	}
	if err != nil {
		return calibrate.Zero{}, err
	}
	return calibrate.Unloaded(r.Frames, b.Strip.SaturatesAt)
}

// zero returns what each cell reads unloaded, counts: from a step at the port,
// from the file of one, or from the profile.
func (b *Bench) zero(prompt string) ([]float64, error) {
	var z calibrate.Zero
	switch {
	case b.port != nil:
		r, err := b.port.still(prompt)
		if err != nil {
			return nil, err
		}
		if z, err = calibrate.Unloaded(r.Frames, b.Strip.SaturatesAt); err != nil {
			return nil, err
		}
		b.port.zero = z.Level
	case b.ZeroFile != "":
		r, err := b.read(b.ZeroFile)
		if err != nil {
			return nil, err
		}
		if z, err = calibrate.Unloaded(r.Frames, b.Strip.SaturatesAt); err != nil {
			return nil, fmt.Errorf("%s: %w", b.ZeroFile, err)
		}
	case len(b.Strip.Calibration.ZeroCounts) > 0:
		return b.Strip.Calibration.ZeroCounts, nil
	default:
		return nil, fmt.Errorf("%s has no zero: run aplomb strip zero first, or name a file of the strip unloaded with --zero", b.Profile.Name)
	}
	text.Warnings(b.out, z.Warnings)
	return z.Level, nil
}

// takeOff is the prompt with which the zero is read.
const takeOff = "Take everything off the strip, let go of it, and press Enter."

// loaded returns the readings of a load, from the step's file or from the port. At
// the port the load stays on for the time long.
func (b *Bench) loaded(s Step, prompt string, long time.Duration) (Readings, error) {
	if b.port != nil {
		return b.port.loaded(prompt, long)
	}
	return b.read(s.File)
}
