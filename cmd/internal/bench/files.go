package bench

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"aplomb/device"
	"aplomb/device/recording"
	"aplomb/device/wire"
)

// read takes the readings of a step from its file, a recording or CSV.
func (b *Bench) read(path string) (Readings, error) {
	r, onHost, err := b.load(path)
	if err == nil && len(r.Frames) == 0 {
		err = fmt.Errorf("%s: no frame of the %s foot in it", path, b.Strip.Foot)
	}
	if err != nil {
		return r, err
	}
	// The clock of a CSV file may begin anew in every file.
	if shift := b.last + 1 - r.TimeS[0]; !onHost && shift > 1 {
		for i := range r.TimeS {
			r.TimeS[i] += shift
		}
	}
	b.last = r.TimeS[len(r.TimeS)-1]
	return r, nil
}

// load reads the frames of a file. onHost says that their times are those of the
// host's clock, which all files share. Errors name the file.
func (b *Bench) load(path string) (r Readings, onHost bool, err error) {
	if strings.HasSuffix(strings.ToLower(path), ".csv") {
		csv, err := wire.OpenCSV(b.ctx, path, b.Strip, 0)
		if err != nil {
			return r, false, err
		}
		defer csv.Close()
		err = b.addFrames(&r, csv, false)
		return r, false, err
	}
	made, err := recording.Open(b.ctx, path)
	if err != nil {
		return r, true, err
	}
	defer made.Close()
	m := made.Meta()
	if err = b.checkStrip(&m); err == nil {
		b.Taken = m.Started
		err = b.addFrames(&r, made, true)
	}
	if err == nil && made.Damaged() != "" && made.ID() == "" { // a calibration needs all of its steps
		err = fmt.Errorf("%s: copy it again", made.Damaged())
	}
	if err != nil {
		err = fmt.Errorf("%s: %w", path, err)
	}
	return r, true, err
}

// addFrames adds the frames of the strip's foot to r.
func (b *Bench) addFrames(r *Readings, src device.Source, onHost bool) error {
	var f device.Frame
	var startS float64
	for {
		err := src.Next(&f)
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err == nil && f.Foot != b.Strip.Foot {
			continue
		}
		if err == nil {
			if len(r.Frames) == 0 && onHost {
				startS = float64(f.ArrivalNS)/1e9 - float64(f.TimeUS)/1e6
			}
			err = r.add(&f, startS)
		}
		if err != nil {
			return err
		}
	}
}

// checkStrip returns an error for a recording that was not made with the bench's
// strip.
func (b *Bench) checkStrip(m *device.Metadata) error {
	side, s := m.Sides[b.Strip.Foot], b.Strip
	switch {
	case side == nil:
		return fmt.Errorf("it has no %s foot, and strip %s is for that", s.Foot, s.Name)
	case side.Strip.Name != s.Name:
		return fmt.Errorf("it was recorded with strip %s, not %s: name the right recording, or the right profile with --strip", side.Strip.Name, s.Name)
	case side.Strip.Rows != s.Rows || side.Strip.Cols != s.Cols || side.Strip.Scan != s.Scan || side.Strip.FirstCell != s.FirstCell:
		return fmt.Errorf("strip %s had another grid then than %s says", s.Name, b.Profile.Name)
	}
	return nil
}
