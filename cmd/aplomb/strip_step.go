package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"aplomb/analyze/calibrate"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/device/recording"
	"aplomb/device/wire"
)

// step is one thing to do with a strip, as it was typed: WHAT, or WHAT=FILE.
type step struct{ what, file string }

// steps reads them, and refuses a mixture of files to come and files at hand.
func (w *workshop) steps(args []string) ([]step, error) {
	var all []step
	for _, a := range args {
		s := cutStep(a)
		switch {
		case w.guide == nil && s.file == "":
			return nil, misused("%s: name the file of it, as in %s=load.csv, or the strip's --port", a, s.what)
		case w.guide != nil && a != s.what:
			return nil, misused("%s: with --port the steps are read from the strip: name no files", a)
		}
		all = append(all, s)
	}
	return all, nil
}

// weight reads 5kg, 50N or 5000g.
func weight(text string) (float64, calibrate.Unit, error) {
	number := strings.TrimRight(text, "kgN")
	unit := calibrate.Unit(text[len(number):])
	v, err := strconv.ParseFloat(number, 64)
	switch {
	case unit == "":
		return 0, "", misused("%q: a weight with its unit, such as 5kg, 50N or 5000g", text)
	case err != nil || unit.Newtons() == 0 || !(v >= 0) || math.IsInf(v, 0):
		return 0, "", misused("%q is no weight: write it as 5kg, 50N or 5000g", text)
	}
	return v, unit, nil
}

// weightAt reads 5kg@-10,2.5: a weight and the place it is put on.
func weightAt(text string) (loadN float64, at platform.Point, err error) {
	load, place, there := strings.Cut(text, "@")
	if !there {
		return 0, at, misused("%q: a weight and the millimetres from the strip's middle towards the big toe and the front, such as 5kg@-10,2.5", text)
	}
	v, unit, err := weight(load)
	if err != nil {
		return 0, at, err
	}
	at, err = pair(place, ",")
	if err != nil {
		return 0, at, misused("%q: no place after the @: millimetres from the strip's middle towards the big toe and the front, such as -10,2.5", text)
	}
	return v * unit.Newtons(), at, nil
}

// pair reads two numbers.
func pair(text, between string) (p [2]float64, err error) {
	a, b, _ := strings.Cut(text, between)
	for i, part := range []string{a, b} {
		if p[i], err = strconv.ParseFloat(part, 64); err != nil || math.IsNaN(p[i]) || math.IsInf(p[i], 0) {
			return p, fmt.Errorf("%q: two numbers with %s between", text, between)
		}
	}
	return p, nil
}

// take is what a strip read during one step.
type take struct {
	timeS  []float64
	frames [][]uint16
}

// mostReadings bounds the readings that a step is kept in.
const mostReadings = 64 << 20

func (t *take) add(f *device.Frame, startS float64) error {
	if (len(t.frames)+1)*len(f.Counts) > mostReadings {
		return fmt.Errorf("more than %d frames: cut out the part that matters", len(t.frames))
	}
	t.timeS = append(t.timeS, startS+float64(f.TimeUS)/1e6)
	t.frames = append(t.frames, append([]uint16(nil), f.Counts...))
	return nil
}

// read takes a step from its file, which may be a recording or CSV.
func (w *workshop) read(path string) (take, error) {
	t, onHost, err := w.load(w.cmd.Context(), path)
	if err == nil && len(t.frames) == 0 {
		err = fmt.Errorf("%s: no frame of the %s foot in it", path, w.strip.Foot)
	}
	if err != nil {
		return t, err
	}
	// The clock of a CSV file may begin anew in every file.
	if shift := w.last + 1 - t.timeS[0]; !onHost && shift > 1 {
		for i := range t.timeS {
			t.timeS[i] += shift
		}
	}
	w.last = t.timeS[len(t.timeS)-1]
	return t, nil
}

// load reads the frames of a file, which its errors name; onHost says that its
// times are those of the host's clock, and not only since something.
func (w *workshop) load(ctx context.Context, path string) (t take, onHost bool, err error) {
	if strings.HasSuffix(strings.ToLower(path), ".csv") {
		csv, err := wire.OpenCSV(ctx, path, w.strip, 0)
		if err != nil {
			return t, false, err
		}
		defer csv.Close()
		err = w.loadFrames(&t, csv, false)
		return t, false, err
	}
	r, err := recording.Open(ctx, path)
	if err != nil {
		return t, false, err
	}
	defer r.Close()
	m := r.Meta()
	if err = w.same(&m); err == nil {
		w.taken = m.Started
		err = w.loadFrames(&t, r, true)
	}
	if err != nil {
		err = fmt.Errorf("%s: %w", path, err)
	}
	return t, true, err
}

// loadFrames adds the frames of the strip's foot to t.
func (w *workshop) loadFrames(t *take, src device.Source, onHost bool) error {
	var f device.Frame
	var startS float64
	for {
		err := src.Next(&f)
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err == nil && f.Foot != w.strip.Foot {
			continue
		}
		if err == nil {
			if len(t.frames) == 0 && onHost {
				startS = float64(f.ArrivalNS)/1e9 - float64(f.TimeUS)/1e6
			}
			err = t.add(&f, startS)
		}
		if err != nil {
			return err
		}
	}
}

// same refuses a recording that was not made with this strip.
func (w *workshop) same(m *device.Metadata) error {
	side := m.Sides[w.strip.Foot]
	switch {
	case side == nil:
		return fmt.Errorf("it has no %s foot, and strip %s is for that", w.strip.Foot, w.strip.Name)
	case side.Strip.Name != w.strip.Name:
		return fmt.Errorf("it was recorded with strip %s, not %s: name the right recording, or the right profile with --strip", side.Strip.Name, w.strip.Name)
	case side.Strip.Rows != w.strip.Rows || side.Strip.Cols != w.strip.Cols || side.Strip.Scan != w.strip.Scan || side.Strip.FirstCell != w.strip.FirstCell:
		return fmt.Errorf("strip %s had another grid then than %s says", w.strip.Name, w.kept.name)
	}
	return nil
}

// zero is what the strip reads unloaded: from a step at the port, from the file
// of one, or from the profile.
func (w *workshop) zero(prompt string) ([]float64, error) {
	switch {
	case w.guide != nil:
		t, err := w.guide.still(prompt)
		if err != nil {
			return nil, err
		}
		z, err := calibrate.Unloaded(t.frames, w.strip.SaturatesAt)
		if err != nil {
			return nil, err
		}
		printWarnings(w.cmd.ErrOrStderr(), z.Warnings)
		w.guide.zero = z.Level
		return z.Level, nil
	case w.zeroFile != "":
		t, err := w.read(w.zeroFile)
		if err != nil {
			return nil, err
		}
		z, err := calibrate.Unloaded(t.frames, w.strip.SaturatesAt)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", w.zeroFile, err)
		}
		printWarnings(w.cmd.ErrOrStderr(), z.Warnings)
		return z.Level, nil
	case len(w.strip.Calibration.ZeroCounts) > 0:
		return w.strip.Calibration.ZeroCounts, nil
	}
	return nil, fmt.Errorf("%s has no zero: run aplomb strip zero first, or name a file of the strip unloaded with --zero", w.kept.name)
}

// of names a step in an error: by its file, or by its number.
func (s step) of(i int) string {
	if s.file != "" {
		return s.file
	}
	return fmt.Sprintf("step %d (%s)", i+1, s.what)
}

// cutStep parts what is to be done from the file of it.
func cutStep(arg string) step {
	what, file, _ := strings.Cut(arg, "=")
	return step{what, file}
}
