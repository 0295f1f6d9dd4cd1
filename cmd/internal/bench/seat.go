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

// Mounting is the measured position of one mounting of the strip: by presses on one
// point, or else by the seats estimated from the pad presses of its recordings.
type Mounting struct {
	Name    string
	Presses []platform.Point // [medial, over], mm
	Seats   []platform.Point // [medial, over] of the strip's centre, mm
	UMM     []platform.Point // standard uncertainties of Seats
}

// Mean returns the mean of the seats, or of the presses where there are no seats.
func (m Mounting) Mean() platform.Point {
	if len(m.Seats) > 0 {
		return mean(m.Seats)
	}
	return mean(m.Presses)
}

func mean(all []platform.Point) (mean platform.Point) {
	for _, p := range all {
		mean[0], mean[1] = mean[0]+p[0]/float64(len(all)), mean[1]+p[1]/float64(len(all))
	}
	return mean
}

// Seat determines the repeatability of mounting from several mountings. Either all have
// seats or none has.
func Seat(mountings []Mounting) (calibrate.SeatRepeatability, error) {
	var presses [][]platform.Point
	var seats, u []platform.Point
	for _, m := range mountings {
		presses = append(presses, m.Presses)
		if len(m.Seats) > 0 {
			seats, u = append(seats, mean(m.Seats)), append(u, mean(m.UMM))
		}
	}
	if len(seats) > 0 {
		return calibrate.SeatFromFound(seats, u)
	}
	return calibrate.SeatFromMountings(presses)
}

// RecordedMountings returns mountings from recordings; several recordings of one mounting
// are combined. Where the seats of all can be estimated from their pad presses, these are
// used; where that is possible for none, the centres of pressure of presses are used,
// where each measured relevé is one press.
func (b *Bench) RecordedMountings(paths []string) (all []Mounting, err error) {
	foot := b.Strip.Foot
	index := map[string]int{} // by the mounting's name in the recording
	var first *device.Side
	with, without := "", "" // files with a seat from a press, and without
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
		at, known := index[side.Mounting]
		if !known {
			at = len(all)
			index[side.Mounting], all = at, append(all, Mounting{Name: r.Recording.File})
		}
		m := &all[at]
		if s := r.Seats.Of(foot); s != nil && s.Evidence == measure.EvidencePress {
			with = path
			m.Seats, m.UMM = append(m.Seats, platform.Point{s.Medial.Value, s.Over.Value}), append(m.UMM, platform.Point{s.Medial.U, s.Over.U})
			continue
		}
		without = path
		// Holds of a weight are no evidence of the seat, which is what the presses are to show.
		if m.Presses, err = b.recordedPresses(m.Presses, path); err != nil {
			return nil, err
		}
	}
	if with != "" && without != "" {
		return nil, fmt.Errorf("%s: no pad press in it shows the seat, as in %s: press in every mounting, or name only recordings of one kind", without, with)
	}
	return all, nil
}

// recordedPresses adds to presses the places of the relevés of the recording at path.
func (b *Bench) recordedPresses(presses []platform.Point, path string) ([]platform.Point, error) {
	r, err := analyze.File(b.ctx, path, analyze.Options{Software: software.Provenance(), AtProfile: true})
	if err != nil {
		return nil, err
	}
	n := len(presses)
	for _, one := range r.Releves {
		if one.Foot == b.Strip.Foot && one.Status == measure.Measured && !one.Discarded {
			presses = append(presses, platform.Point{one.MedialMM, one.OverMM})
		}
	}
	if len(presses) == n {
		return nil, fmt.Errorf("%s: no press in it that was held for half a second", path)
	}
	return presses, nil
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
			r, err := b.port.loaded(fmt.Sprintf("Press %d of %d: lift the weight, put it on the known place. "+whenSettled, p+1, presses), loadFor)
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
