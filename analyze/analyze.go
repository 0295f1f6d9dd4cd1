package analyze

import (
	"context"
	"fmt"

	"aplomb/analyze/hold"
	"aplomb/analyze/measure"
	"aplomb/device"
)

// Options of an analysis.
type Options struct {
	Version    string // of the software, for Settings
	KeepTrace  bool   // keep Result.Traces, for pictures of load against time
	KeepBudget bool   // keep the budgets of holds
}

// File analyzes the recording at path. It ends with the error of ctx when ctx is
// done. A recording without a usable frame is an error; everything less is a
// warning in the result.
func File(ctx context.Context, path string, opt Options) (*measure.Result, error) {
	r, err := read(ctx, path)
	if err != nil {
		return nil, err
	}
	result := r.describe(opt)
	rises := r.findRises()
	holds := r.findHolds(rises)
	result.Warnings = append(result.Warnings, r.recordingWarnings(rises, holds)...)
	if result.Releves, err = r.measure(ctx, rises, holds, opt); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return result, nil
}

// describe says which recording a result is of, what the dancer stood on and
// what arrived from each strip.
func (r *recorded) describe(opt Options) *measure.Result {
	result := &measure.Result{
		Recording: measure.Recording{File: r.file, Dancer: r.meta.Dancer},
		Settings:  settings(opt.Version),
		Warnings:  []measure.Warning{},
		Texts:     []string{},
		Meta:      r.meta,
		Events:    r.events,
	}
	for _, f := range device.Feet {
		l, in := r.logs[f], r.instruments[f]
		if l == nil {
			continue
		}
		side := r.meta.Sides[f]
		result.Recording.Shoes.Set(f, side.Shoe.Code)
		result.Recording.Mountings.Set(f, side.Mounting)
		result.Recording.Feet.Set(f, footLog(l))
		result.Platforms.Set(f, measure.Platform{AreaMM2: in.Grid.Area, Kern: in.Grid.Kern, Covered: in.Covered, Outline: in.Grid.Outline})
		result.Unloaded[f] = l.Unloaded
		if opt.KeepTrace {
			result.Traces[f] = l.Samples
		}
	}
	return result
}

// measure measures every relevé. Budgets are dropped unless they were asked for.
func (r *recorded) measure(ctx context.Context, rises *rises, holds [2][]*hold.Hold, opt Options) ([]measure.Releve, error) {
	var typical [2]*hold.Typical
	for _, f := range device.Feet {
		if r.logs[f] != nil {
			typical[f] = r.instruments[f].Typical(rises.counted(f, holds[f]))
		}
	}
	releves := rises.list(holds)
	err := inParallel(ctx, len(releves), func(i int) {
		one := &releves[i]
		if one.Status == measure.Aborted {
			return
		}
		f, pair := one.Foot, rises.pairs[one.N-1]
		in, h := r.instruments[f], holds[f][index(pair, f)]
		one.Hold, one.Warnings = in.Measure(h, typical[f])
		for w := range one.Warnings {
			one.Warnings[w].Foot, one.Warnings[w].Releve = f.String(), one.N
		}
		if one.FeetUp == 2 {
			one.LoadShare = loadShare(r.logs, h.Pulse, rises.pulses[f.Other()][index(pair, f.Other())])
		}
		if !opt.KeepBudget {
			one.Budget = nil
		}
	})
	return releves, err
}
