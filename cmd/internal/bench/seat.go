package bench

import (
	"fmt"

	"aplomb/analyze"
	"aplomb/analyze/calibrate"
	"aplomb/analyze/measure"
	"aplomb/cmd/internal/software"
	"aplomb/device"
	"aplomb/device/platform"
)

// Mounting is where presses on one place were read in one mounting of the strip.
type Mounting struct {
	Name    string
	Presses []platform.Point // [medial, over], mm
}

// Mean is the mean place of the presses.
func (m Mounting) Mean() (mean platform.Point) {
	for _, p := range m.Presses {
		mean[0], mean[1] = mean[0]+p[0]/float64(len(m.Presses)), mean[1]+p[1]/float64(len(m.Presses))
	}
	return mean
}

// Seat finds from presses in several mountings how well a mounting repeats.
func Seat(mountings []Mounting) (calibrate.SeatRepeatability, error) {
	places := make([][]platform.Point, len(mountings))
	for i, m := range mountings {
		places[i] = m.Presses
	}
	return calibrate.SeatFromMountings(places)
}

// RecordedMountings takes the places of presses from recordings, each press a
// relevé that was measured; several recordings of one mounting count as one.
func (b *Bench) RecordedMountings(paths []string) (all []Mounting, err error) {
	foot := b.Strip.Foot
	index := map[string]int{} // by the mounting's name in the recording
	var first *device.Side
	for _, path := range paths {
		r, err := analyze.File(b.ctx, path, analyze.Options{Software: software.Provenance()})
		if err != nil {
			return nil, err
		}
		if err := b.checkStrip(&r.Meta); err != nil {
			return nil, fmt.Errorf("%s: %w", path, err)
		}
		side := r.Meta.Sides[foot]
		if first == nil {
			first = side
		}
		switch before, now := first.Strip.Mount, side.Strip.Mount; {
		case side.Shoe.Code != first.Shoe.Code:
			return nil, fmt.Errorf("%s: shoe %s, before it was %s: mount the strip under one shoe for this", path, side.Shoe.Code, first.Shoe.Code)
		case before.OffsetMM != now.OffsetMM || before.RotationDeg != now.RotationDeg:
			return nil, fmt.Errorf("%s: the profile had another offset or rotation than in %s: places do not compare", path, paths[0])
		}
		m, known := index[side.Mounting]
		if !known {
			m = len(all)
			index[side.Mounting], all = m, append(all, Mounting{Name: r.Recording.File})
		}
		n := len(all[m].Presses)
		for _, one := range r.Releves {
			if one.Foot == foot && one.Status == measure.Measured && !one.Discarded {
				all[m].Presses = append(all[m].Presses, platform.Point{one.MedialMM, one.OverMM})
			}
		}
		if len(all[m].Presses) == n {
			return nil, fmt.Errorf("%s: no press in it that was held for half a second", path)
		}
	}
	return all, nil
}

// GuidedMountings asks the person for presses in a number of mountings. Places are
// relative to the strip, which differ from places on the shoe by the same offset in
// all mountings.
func (b *Bench) GuidedMountings(mountings, presses int) ([]Mounting, error) {
	all := make([]Mounting, mountings)
	for m := range all {
		all[m].Name = fmt.Sprintf("mounting %d", m+1)
		if _, err := b.zero(fmt.Sprintf("Mounting %d of %d: fix the strip under the shoe anew, nothing on it, and press Enter.", m+1, mountings)); err != nil {
			return nil, err
		}
		for p := range presses {
			r, err := b.port.loaded(fmt.Sprintf("Press %d of %d: lift the weight, put it on the known place; when it has settled, press Enter.", p+1, presses), loadFor)
			if err != nil {
				return nil, err
			}
			mean, n, err := calibrate.Settled(r.TimeS, r.Frames, b.port.zero, b.Strip.SaturatesAt)
			if err != nil {
				return nil, err
			}
			_, at := calibrate.LoadAndCoP(b.Strip, mean, n)
			all[m].Presses = append(all[m].Presses, at)
		}
	}
	return all, nil
}
