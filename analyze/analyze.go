package analyze

import (
	"cmp"
	"context"
	"fmt"
	"path/filepath"
	"sync"

	"aplomb/analyze/hold"
	"aplomb/analyze/internal/parallel"
	"aplomb/analyze/measure"
	"aplomb/analyze/provenance"
	"aplomb/device"
)

// Options of an analysis.
type Options struct {
	Software   measure.Software // for the provenance
	KeepTrace  bool             // keep Result.Traces, for pictures of load against time
	KeepBudget bool             // keep the budgets of holds
	AtProfile  bool             // measure at the seats of the strips' profiles, without estimating others
}

// File analyzes the recording at path by itself. It ends with the error of ctx when
// ctx is done. A recording without a usable frame is an error; lesser faults are
// warnings in the result.
func File(ctx context.Context, path string, opt Options) (*measure.Result, error) {
	p, err := Prepare(ctx, path)
	if err != nil {
		return nil, err
	}
	results, err := Together(ctx, []*Prepared{p}, opt)
	if err != nil {
		return nil, err
	}
	return results[0], nil
}

// Prepared is a recording with its pad presses and the holds of its relevés, before
// they are measured.
type Prepared struct {
	path string
	recorded
}

// Prepare reads the recording at path, and finds its pad presses and the holds of its
// relevés with the strips at the seats of their profiles. Its errors are those of File.
func Prepare(ctx context.Context, path string) (*Prepared, error) {
	r, err := read(ctx, path)
	if err != nil {
		return nil, err
	}
	r.paired = r.pairPulses(r.findPresses(r.findPulses()))
	for _, f := range device.Feet {
		if r.logs[f] == nil {
			continue
		}
		r.seats[f] = assumedSeat(r.instruments[f].Strip)
		for i := range r.presses[f] {
			r.instruments[f].PressMaps(&r.presses[f][i], r.logs[f])
		}
	}
	r.findHolds()
	return &Prepared{path, *r}, nil
}

// Together measures recordings that are analyzed jointly: the bearing outline of a
// physical shoe is estimated from all recordings in which it is worn, on either foot
// where it has a mark, otherwise on one foot. It modifies the recordings, which must not
// be used afterwards. The results are in the order of the recordings.
func Together(ctx context.Context, all []*Prepared, opt Options) ([]*measure.Result, error) {
	if !opt.AtProfile {
		if err := findSeats(ctx, all); err != nil {
			return nil, err
		}
	}
	results, errs := make([]*measure.Result, len(all)), make([]error, len(all))
	err := parallel.Each(ctx, len(all), func(i int) { results[i], errs[i] = all[i].result(ctx, all[i].path, opt) })
	if err = cmp.Or(err, cmp.Or(errs...)); err != nil {
		return nil, err
	}
	return results, nil
}

// result measures the prepared recording at path, with the strips at the seats that were
// found.
func (r *recorded) result(ctx context.Context, path string, opt Options) (*measure.Result, error) {
	result := r.describe(opt)
	var hashing sync.WaitGroup
	var unhashed error
	hashing.Go(func() { result.Provenance, unhashed = r.provenance(ctx, path, opt) })
	result.Warnings = append(result.Warnings, r.recordingWarnings()...)
	var err error
	result.Releves, err = r.measure(ctx, opt)
	hashing.Wait()
	if unhashed != nil {
		return nil, unhashed
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	r.addNotes(result)
	return result, nil
}

// describe returns a result with everything but the relevés: the recording, the
// platforms, the seats and the counts of frames.
func (r *recorded) describe(opt Options) *measure.Result {
	result := &measure.Result{
		Recording: measure.Recording{File: r.file, Dancer: r.meta.Dancer, Feedback: r.meta.Feedback},
		Settings:  Settings(opt.Software.Version),
		Warnings:  []measure.Warning{},
		Texts:     []string{},
		Meta:      r.meta,
		Events:    r.events,
		Presses:   r.presses,
	}
	for _, f := range device.Feet {
		l, in := r.logs[f], r.instruments[f]
		if l == nil {
			continue
		}
		side := r.meta.Sides[f]
		result.Recording.Shoes.Set(f, side.Shoe.Code)
		result.Recording.Mountings.Set(f, side.Mounting)
		if side.Mark != 0 {
			result.Recording.Marks.Set(f, side.Mark)
		}
		if side.Padding != "" {
			result.Recording.Paddings.Set(f, side.Padding)
		}
		if side.Fixing != "" {
			result.Recording.Fixings.Set(f, side.Fixing)
		}
		result.Recording.Feet.Set(f, footLog(l))
		result.Platforms.Set(f, measure.Platform{AreaMM2: in.Grid.Area, Kern: in.Grid.Kern, Covered: in.Covered, Outline: in.Grid.Outline})
		result.Seats.Set(f, *r.seats[f])
		result.Unloaded[f] = l.Unloaded
		if opt.KeepTrace {
			result.Traces[f] = l.Samples
		}
	}
	return result
}

// provenance returns the provenance of the numbers. It reads the file once more,
// for its hash.
func (r *recorded) provenance(ctx context.Context, path string, opt Options) (*measure.Provenance, error) {
	sum, _, err := provenance.SHA256(ctx, path)
	if err != nil {
		return nil, err
	}
	p := provenance.New(opt.Software, Settings(opt.Software.Version))
	in := measure.Input{ID: r.id, File: r.file, SHA256: sum}
	if r.correction != nil {
		in.Correction, in.CorrectionSHA256 = filepath.Base(r.correction.Path), r.correction.SHA256
	}
	provenance.Add(p, in, r.meta.Sides)
	return p, nil
}

// measure measures every relevé. It keeps budgets only where opt asks for them.
func (r *recorded) measure(ctx context.Context, opt Options) ([]measure.Releve, error) {
	paired, holds := r.paired, r.holds
	var typical [2]*hold.Typical
	for _, f := range device.Feet {
		if r.logs[f] != nil {
			typical[f] = r.instruments[f].Typical(paired.withoutDiscarded(f, holds[f]))
		}
	}
	releves := paired.list(holds)
	err := parallel.Each(ctx, len(releves), func(i int) {
		one := &releves[i]
		if one.Status == measure.Aborted {
			return
		}
		f, pair := one.Foot, paired.pairs[one.N-1]
		in, h := r.instruments[f], holds[f][index(pair, f)]
		one.Hold, one.Warnings = in.Measure(h, typical[f])
		for w := range one.Warnings {
			one.Warnings[w].Foot, one.Warnings[w].Releve = f.String(), one.N
		}
		if one.FeetUp == 2 {
			one.LoadShare = loadShare(r.logs, h.Pulse, paired.pulses[f.Other()][index(pair, f.Other())])
		}
		if !opt.KeepBudget {
			one.Budget = nil
		}
	})
	return releves, err
}
