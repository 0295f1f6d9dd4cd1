package bench

import (
	"fmt"

	"aplomb/analyze/calibrate"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
)

// CheckGainSteps returns a usage error unless the steps that were typed are all
// even presses, or all passes of a roller.
func CheckGainSteps(args []string) error {
	presses, passes := 0, 0
	for _, a := range args {
		switch s := cutStep(a); s.What {
		case "press":
			presses++
		case "forward", "backward":
			passes++
		default:
			return usage.Errorf("%q: a step is %s, as in press=p1.csv", a, text.Either("press", "forward", "backward"))
		}
	}
	switch {
	case len(args) == 0:
		return usage.Errorf("name the steps: press at least three times, or forward and backward at least twice each")
	case passes > 0 && presses > 0:
		return usage.Errorf("press together with forward or backward: gains come from presses or from passes of a roller, not from both")
	}
	return nil
}

// Gains finds how the cells differ, from even presses or from passes of a roller.
func (b *Bench) Gains(args []string) (calibrate.Gains, error) {
	steps, err := b.steps(args)
	if err != nil {
		return calibrate.Gains{}, err
	}
	zero, err := b.zero(takeOff)
	if err != nil {
		return calibrate.Gains{}, err
	}
	if steps[0].What == "press" {
		return b.pressGains(steps, zero)
	}
	return b.rollerGains(steps, zero)
}

func (b *Bench) pressGains(steps []Step, zero []float64) (calibrate.Gains, error) {
	var presses [][]float64
	for i, s := range steps {
		r, err := b.loaded(s, fmt.Sprintf("Press %d of %d: press the whole strip evenly, each time at another pressure. "+whenSettled, i+1, len(steps)), loadFor)
		if err != nil {
			return calibrate.Gains{}, err
		}
		mean, _, err := calibrate.Settled(r.TimeS, r.Frames, zero, b.Strip.SaturatesAt)
		if err != nil {
			return calibrate.Gains{}, fmt.Errorf("%s: %w", s.name(i), err)
		}
		presses = append(presses, mean)
	}
	return calibrate.Uniform(presses)
}

func (b *Bench) rollerGains(steps []Step, zero []float64) (calibrate.Gains, error) {
	way := map[string]string{"forward": "from back to front", "backward": "from front to back"}
	var passes []calibrate.Pass
	for i, s := range steps {
		var r Readings
		var err error
		if b.port != nil {
			r, err = b.port.passed(fmt.Sprintf("Pass %d of %d: roll over the whole strip once, %s, at a steady speed; then press Enter.", i+1, len(steps), way[s.What]))
		} else {
			r, err = b.read(s.File)
		}
		if err != nil {
			return calibrate.Gains{}, err
		}
		if err = calibrate.Unsaturated(r.Frames, b.Strip.SaturatesAt); err == nil {
			var impulse []float64
			impulse, err = calibrate.Roll(r.TimeS, r.Frames, zero)
			passes = append(passes, calibrate.Pass{Backward: s.What == "backward", Impulse: impulse})
		}
		if err != nil {
			return calibrate.Gains{}, fmt.Errorf("%s: %w", s.name(i), err)
		}
	}
	return calibrate.Rolled(passes)
}
