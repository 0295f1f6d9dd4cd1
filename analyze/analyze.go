package analyze

import (
	"fmt"
	"path/filepath"
	"runtime"
	"sync"
	"sync/atomic"

	"aplomb/analyze/field"
	"aplomb/analyze/releve"
	"aplomb/analyze/trace"
	"aplomb/device"
	"aplomb/device/recording"
	"aplomb/device/wire"
)

// Options of an analysis.
type Options struct {
	Version    string // of the software, for Settings
	KeepTrace  bool   // keep Result.Traces, for pictures of load against time
	KeepBudget bool   // keep Measures.Budget
}

// File analyzes the recording at path. A recording without a usable frame is
// an error; everything less is a warning in the result.
func File(path string, opt Options) (*Result, error) {
	src, err := recording.Open(path)
	if err != nil {
		return nil, err
	}
	defer src.Close()
	meta := src.Meta()
	feet := newFeet(&meta)
	logs, err := traced(path, src, feet)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	if logs[device.Left] == nil && logs[device.Right] == nil {
		return nil, fmt.Errorf("%s: no frame in it: nothing to analyze; record again", path)
	}
	r := &Result{
		Recording: Recording{File: filepath.Base(path), Dancer: meta.Dancer},
		Settings:  settings(opt.Version),
		Releves:   []Releve{},
		Warnings:  []string{},
		Meta:      meta,
		Events:    src.Events(),
	}
	if missing := src.Missing(); missing != "" {
		r.warn("the recording is not whole: %s", missing)
	}
	for _, f := range device.Feet {
		if feet[f] == nil {
			continue
		}
		if logs[f] == nil {
			r.warn("%s: no frame arrived from strip %s", f, feet[f].strip.Name)
			continue
		}
		r.describe(f, feet[f], logs[f])
	}
	r.measure(feet, logs)
	if !opt.KeepBudget {
		for _, one := range r.Releves {
			if one.Measures != nil {
				one.Budget = nil
			}
		}
	}
	if opt.KeepTrace {
		for i, l := range logs {
			if l != nil {
				r.Traces[i] = l.Samples
			}
		}
	}
	return r, nil
}

// foot is the geometry of one foot: the strip as its profile places it.
type foot struct {
	strip   *device.Strip
	curve   *device.Curve
	covered float64 // share of the outline under the strip
	grid    *field.Grid
	weights []field.Weight // of grid, per kPa
	lost    []lost         // cells that the grid does without
}

func newFeet(meta *device.Metadata) (feet [2]*foot) {
	for i, side := range meta.Sides {
		if side == nil {
			continue
		}
		outline := side.Shoe.Outline()
		f := &foot{strip: side.Strip, curve: side.Strip.Curve(), covered: side.Strip.Covers(outline), grid: field.New(side.Strip, outline)}
		f.weights = f.grid.Weights()
		feet[i] = f
	}
	return feet
}

// traced runs over the frames of the recording at path, which src reads: once,
// or again where it came to light that cells are not to be believed, or that the
// zeros with which a strip was read are not good enough.
func traced(path string, src *recording.Reader, feet [2]*foot) (logs [2]*trace.Log, err error) {
	strips := strips(src, feet)
	startsLoaded := [2]bool{}
	for {
		ahead := device.ReadAhead(src)
		watched := watch(ahead, feet)
		logs, err = trace.Run(watched, strips)
		ahead.Close()
		if err != nil {
			return logs, err
		}
		again := false
		for i, l := range logs {
			if l == nil {
				continue
			}
			if feet[i].lose(watched.cells[i]) {
				strips[i].Grid = feet[i].grid
				again = true
			}
			l.StartsLoaded = l.StartsLoaded || startsLoaded[i]
			if l.Again != nil {
				startsLoaded[i] = l.StartsLoaded
				strips[i].Track = l.Again
				again = true
			}
		}
		if !again {
			return logs, nil
		}
		next, err := recording.Open(path)
		if err != nil {
			return logs, err
		}
		defer next.Close()
		src = next
	}
}

// strips says what the trace needs to know of each foot.
func strips(src *recording.Reader, feet [2]*foot) (strips [2]*trace.Strip) {
	for i, f := range feet {
		if f != nil {
			side := src.Meta().Sides[i]
			strips[i] = &trace.Strip{
				Grid:        f.grid,
				Curve:       f.curve,
				SaturatesAt: f.strip.SaturatesAt,
				SizeHint:    src.Count(device.Foot(i)),
				Zero:        f.strip.Calibration.ZeroCounts,
			}
			if side.Clock == "strip" { // otherwise arrival is all the time there is
				strips[i].Sending = wire.Sending{Format: wire.ParseFormat(side.Format), Baud: side.Baud}
			}
		}
	}
	return strips
}

func (r *Result) warn(format string, args ...any) {
	r.Warnings = append(r.Warnings, fmt.Sprintf(format, args...))
}

// describe says what foot f stood on and what arrived from it.
func (r *Result) describe(f device.Foot, g *foot, l *trace.Log) {
	side := r.Meta.Sides[f]
	r.Recording.Shoes.Set(f, side.Shoe.Code)
	r.Recording.Mountings.Set(f, side.Mounting)
	r.Platforms.Set(f, Platform{AreaMM2: g.grid.Area, Kern: g.grid.Kern, Covered: g.covered, Outline: g.grid.Outline})
	counted := FootLog{Frames: l.Frames}
	last := l.Samples[len(l.Samples)-1]
	counted.SpanS = last.T - l.Samples[0].T
	sent := l.Frames
	if l.Lost >= 0 {
		lost := l.Lost // a copy: a pointer into the log would keep all of it
		counted.Lost = &lost
		sent += int(lost)
		if lost > 0 {
			r.warn("%s: %d of %d frames are missing", f, lost, sent)
		}
	}
	if counted.SpanS > 0 {
		counted.RateHz = float64(sent-1) / counted.SpanS
	}
	r.Recording.Feet.Set(f, counted)
	if w := g.coverage(); w != "" {
		r.warn("%s: %s", f, w)
	}
	if side.Clock == "host" {
		r.warn("%s: the strip sends no clock: times are those of arrival at the computer", f)
	}
	for _, w := range side.Strip.CalibrationWarnings(r.Meta.Started) {
		r.warn("%s: %s", f, w)
	}
	if len(g.lost) > 0 {
		var all []int
		for _, one := range g.lost {
			all = append(all, one.k)
		}
		r.warn("%s: cells that do not measure are done without: %s; mend or change strip %s", f, g.named(all), g.strip.Name)
	}
	r.Unloaded[f] = l.Unloaded
	switch {
	case !l.Unloaded && len(g.strip.Calibration.ZeroCounts) > 0:
		r.warn("%s: the strip was never unloaded: its zero is taken to be what it was when calibrated", f)
	case !l.Unloaded:
		r.warn("%s: the strip was never unloaded: its zero is unknown and taken as 0 counts", f)
	case l.StartsLoaded:
		r.warn("%s: the recording begins under load: the zero comes from later", f)
	}
}

// coveredEnough is the share of the outline under the strip from which no warning is due.
const coveredEnough = 0.99

// coverage is the warning that follows every number of a strip that does not
// cover the platform; "" where it does.
func (g *foot) coverage() string {
	if g.covered >= coveredEnough {
		return ""
	}
	return fmt.Sprintf("strip %s covers %.0f %% of the platform: what stands beside it is not measured", g.strip.Name, 100*g.covered)
}

// measure finds the relevés and measures every hold.
func (r *Result) measure(feet [2]*foot, logs [2]*trace.Log) {
	var pulses [2][]releve.Pulse
	for i, l := range logs {
		if l != nil {
			pulses[i] = releve.Find(l.Samples)
		}
	}
	pairs := releve.Pair(pulses[device.Left], pulses[device.Right])
	discarded := r.discards(pairs, pulses, logs)
	var holds [2][]*hold
	var spreads [2]spread
	for _, f := range device.Feet {
		if logs[f] != nil {
			holds[f] = feet[f].holds(logs[f], pulses[f])
			r.beyond(f, feet[f], holds[f])
			spreads[f] = feet[f].spreadOver(counted(holds[f], f, pairs, discarded))
		}
	}
	for n, pair := range pairs {
		index := [2]int{pair.Left, pair.Right}
		up := 2
		if pair.Left < 0 || pair.Right < 0 {
			up = 1
		}
		for _, f := range device.Feet {
			i := index[f]
			if i < 0 {
				continue
			}
			p := pulses[f][i]
			one := Releve{N: n + 1, Foot: f, FeetUp: up, StartS: p.OnsetS, EndS: p.EndS, Status: Measured, Discarded: discarded[n], Warnings: []string{}}
			if holds[f][i] == nil {
				one.Status = Aborted
			}
			r.Releves = append(r.Releves, one)
		}
	}
	inParallel(len(r.Releves), func(i int) {
		one := &r.Releves[i]
		if one.Status == Aborted {
			return
		}
		f, pair := one.Foot, pairs[one.N-1]
		index := [2]int{pair.Left, pair.Right}
		h := holds[f][index[f]]
		one.Measures, one.Warnings = feet[f].measure(h, spreads[f])
		if one.FeetUp == 2 {
			one.LoadShare = loadShare(logs, h.pulse, pulses[f.Other()][index[f.Other()]])
		}
	})
}

// beyond warns of pressures that the strip of foot f was not calibrated at.
func (r *Result) beyond(f device.Foot, g *foot, holds []*hold) {
	frames, beyond := 0, 0
	for _, h := range holds {
		if h != nil {
			frames += h.frames
			beyond += h.beyond
		}
	}
	if beyond > 0 {
		r.warn("%s: pressure beyond the %.0f kPa up to which strip %s was calibrated, in %.2g %% of the frames held (to a tenth of a second)",
			f, g.curve.MostKPa(), g.strip.Name, 100*float64(beyond)/float64(frames))
	}
}

// inParallel does n independent pieces of work on all processors.
func inParallel(n int, work func(i int)) {
	var next atomic.Int64
	var done sync.WaitGroup
	for range runtime.NumCPU() {
		done.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				work(i)
			}
		})
	}
	done.Wait()
}
