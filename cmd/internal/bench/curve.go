package bench

import (
	"fmt"
	"math"

	"aplomb/analyze/calibrate"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
	"aplomb/device/platform"
)

// Pad is the stiff pad that weights are put on.
type Pad struct {
	Size, At string  // as they are typed, mm: 20x20 and 5,-2.5; Size is "" where the pad covers all cells
	AreaMM2  float64 // of a pad that covers all cells; 0 where Size is given
}

// under finds which cells the pad lies on, and its area.
func (p Pad) under(s *device.Strip, l *calibrate.Loading) error {
	switch {
	case (p.Size == "") == (p.AreaMM2 == 0):
		return usage.Errorf("say what the weights are put on: --pad-mm WIDTHxDEPTH, or --area-mm2 AREA where it covers all cells")
	case p.AreaMM2 != 0:
		if !(p.AreaMM2 > 0) || math.IsInf(p.AreaMM2, 0) {
			return usage.Errorf("--area-mm2 %v: above 0", p.AreaMM2)
		}
		l.AreaMM2 = p.AreaMM2
		if err := calibrate.CoversAll(s, p.AreaMM2); err != nil {
			return fmt.Errorf("%w (--pad-mm and --pad-at)", err)
		}
		return nil
	}
	size, err := ParsePair(p.Size, "x")
	if err != nil || !(size[0] > 0 && size[1] > 0) {
		return usage.Errorf("--pad-mm %q: width and depth in mm, such as 20x20", p.Size)
	}
	at, err := ParsePair(p.At, ",")
	if err != nil {
		return usage.Errorf("--pad-at %q: millimetres from the strip's middle towards the big toe and the front, such as 5,-2.5", p.At)
	}
	l.AreaMM2 = size[0] * size[1]
	l.Under, err = calibrate.UnderPad(s, platform.Point(at), size)
	return err
}

// place describes where the pad lies.
func (p Pad) place() string {
	if p.Size == "" {
		return "over all cells"
	}
	return fmt.Sprintf("of %s mm, its middle at [%s] mm from that of the strip", p.Size, p.At)
}

// Curve finds the curve from counts to kPa from known weights on a pad. relLoadSD
// is the relative standard uncertainty of weights and area.
func (b *Bench) Curve(args []string, p Pad, relLoadSD float64) (l calibrate.Loading, r calibrate.CurveResult, err error) {
	l = calibrate.Loading{
		Gains: b.Strip.Calibration.Gains, FullCounts: b.Strip.SaturatesAt, RelLoadSD: relLoadSD,
		Before: calibrate.CurveOf(&b.Strip.Calibration),
	}
	if err := p.under(b.Strip, &l); err != nil {
		return l, r, err
	}
	if err := b.weigh(&l, args, p); err != nil {
		return l, r, err
	}
	r, err = calibrate.Calibrate(l)
	if err == nil && len(l.Gains) == 0 {
		r.Warnings = append(r.Warnings, "the profile has no gains: cells are assumed to be alike; run aplomb strip gains first")
	}
	return l, r, err
}

// weigh takes the steps of a loading.
func (b *Bench) weigh(l *calibrate.Loading, args []string, p Pad) error {
	steps, err := b.steps(args)
	if err != nil {
		return err
	}
	heaviest := 0.0
	for i, s := range steps {
		v, unit, err := ParseWeight(s.What)
		if err != nil {
			return err
		}
		if i > 0 && unit != l.Unit {
			return usage.Errorf("%s after weights in %s: give all in one unit", s.What, l.Unit)
		}
		l.Unit, heaviest = unit, max(heaviest, v)
		l.Steps = append(l.Steps, calibrate.LoadStep{Weight: v})
	}
	if err := l.Plausible(); err != nil { // before anybody has lifted a weight
		return err
	}
	l.Zero, err = b.zero(fmt.Sprintf("Lay the pad %s, with no weight on it, and press Enter.", p.place()))
	if err != nil {
		return err
	}
	b.last = math.Inf(-1)
	for i, s := range steps {
		long, wait := loadFor, ""
		if l.Steps[i].Weight == heaviest {
			long, wait = creepFor, " This one stays on for longer."
		}
		r, err := b.loaded(s, fmt.Sprintf("Step %d of %d: %s in all on the pad.%s "+whenSettled, i+1, len(steps), s.What, wait), long)
		if err != nil {
			return err
		}
		l.Steps[i].TimeS, l.Steps[i].Frames = r.TimeS, r.Frames
		l.Steps[i].OnS = calibrate.LoadChangedAt(r.TimeS, r.Frames, l.Zero)
	}
	return nil
}
