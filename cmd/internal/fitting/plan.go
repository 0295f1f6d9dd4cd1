package fitting

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"aplomb/analyze/logbook"
	"aplomb/analyze/plan"
	"aplomb/cmd/internal/ask"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/text"
	"aplomb/device"
)

// Durations of the parts of a fitting. They are our own assumptions, which were not
// measured.
const (
	perMounting = 100 * time.Second // fixing, pressing, putting on, questions
	perReleve   = 8 * time.Second
	before      = time.Minute
)

// Designs of the two plans.
const (
	quickMountings, quickReleves = 1, 3
	fullMountings, fullReleves   = 2, 5
)

// MostShoes is the largest number of shoes in one fitting: each has a key of one digit.
const MostShoes = 9

// errTooMany means that more shoes are named than that.
var errTooMany = fmt.Errorf("at most %d shoes in one fitting", MostShoes)

// CheckShoes returns an error where shoes with these codes cannot be tried in one fitting.
func CheckShoes(codes []string) error {
	if len(codes) > MostShoes {
		return errTooMany
	}
	for i, code := range codes {
		if err := device.CheckCode(code); err != nil {
			return fmt.Errorf("shoe: %w", err)
		}
		if slices.ContainsFunc(codes[:i], func(other string) bool { return strings.EqualFold(other, code) }) {
			return fmt.Errorf("shoe %s is named twice: name every shoe once", code)
		}
	}
	return nil
}

// plan continues the plan of the visit, or makes one.
func (f *Fitting) plan(ctx context.Context) error {
	if f.Study != nil {
		return f.planStudy(ctx)
	}
	var open plan.Progress
	err := f.Folder.With(func(l *logbook.Logbook) (err error) {
		open, err = l.PlanProgress(f.visit.ID)
		return err
	})
	switch {
	case errors.Is(err, logbook.ErrNotFound):
		return f.newPlan(ctx)
	case err != nil:
		return err
	case open.Next == len(open.Steps) || len(f.Shoes) > 0 && !sameShoes(f.Shoes, open.Plan.Shoes):
		return f.newPlan(ctx)
	}
	f.Person.Tell(fmt.Sprintf("Going on with the plan of today, %d of %d steps done.", open.Done(), len(open.Steps)))
	return nil
}

// sameShoes reports whether all shoes are among those of a plan.
func sameShoes(shoes, planned []string) bool {
	for _, s := range shoes {
		if !slices.ContainsFunc(planned, func(p string) bool { return strings.EqualFold(p, s) }) {
			return false
		}
	}
	return true
}

// newPlan asks for the shoes, prints the detectable difference, and stores the plan.
func (f *Fitting) newPlan(ctx context.Context) error {
	if err := f.askShoes(ctx); err != nil {
		return err
	}
	mountings, releves := quickMountings, quickReleves
	if f.Full {
		mountings, releves = fullMountings, fullReleves
	}
	if f.Mountings > 0 {
		mountings = f.Mountings
	}
	if f.Releves > 0 {
		releves = f.Releves
	}
	made, err := plan.Mirrored(f.Shoes, mountings, releves, f.Seed)
	if err != nil {
		return err
	}
	made.Feet = [2]bool{true, true}
	var noise plan.Noise
	err = f.Folder.With(func(l *logbook.Logbook) (err error) {
		noise, err = l.NoiseOver(f.dancer.Code)
		return err
	})
	if err != nil {
		return err
	}
	q := ask.Question{Text: "Begin?", Options: []ask.Option{{Key: "y", Label: "yes"}, {Key: "n", Label: "no, not now"}}, Notes: f.describePlan(made, noise)}
	answer, err := f.Person.Ask(ctx, q)
	if err != nil {
		return err
	}
	if answer == "n" {
		return errLeft
	}
	return f.Folder.With(func(l *logbook.Logbook) error { return l.PutPlan(f.visit.ID, made) })
}

// describePlan describes the duration and the detectable difference of a plan.
func (f *Fitting) describePlan(p plan.Plan, noise plan.Noise) (lines []string) {
	rises := len(p.Steps) * p.Releves
	said := fmt.Sprintf("Plan: %s; %d mountings of the strips, %d relevés each: %d rises, about %d minutes.",
		strings.Join(order(p), ", "), len(p.Steps), p.Releves, rises, minutes(before+length(p.Steps)))
	switch most := f.visit.MaxRises; {
	case most > 0 && rises > most:
		said += fmt.Sprintf(" The limit of %d rises ends it after %d of %d steps.", most, most/p.Releves, len(p.Steps))
	case most > 0:
		said += fmt.Sprintf(" The limit is %d rises.", most)
	}
	lines = append(lines, text.Wrap(said))
	if len(p.Shoes) > 1 {
		lines = append(lines, text.Wrap(p.DetectableDifference(noise).Text()), text.Wrap(p.Balance()))
	}
	if !f.Full && p.Mountings < fullMountings {
		lines = append(lines, text.Wrap("This is the quick plan: smaller differences stay undecided. --plan full mounts each shoe twice, in mirrored order."))
	}
	return lines
}

// order lists the shoes of a plan as they are worn.
func order(p plan.Plan) (shoes []string) {
	for _, s := range p.Steps {
		shoes = append(shoes, s.Shoe)
	}
	return shoes
}

// length returns the approximate duration of steps of a plan.
func length(steps []plan.Step) (all time.Duration) {
	for _, s := range steps {
		all += perMounting + time.Duration(s.Releves)*perReleve
		if s.Rest {
			all += plan.RestTime
		}
	}
	return all
}

// minutes rounds a length of time up to minutes.
func minutes(d time.Duration) int { return int(math.Ceil(d.Minutes())) }

// askShoes asks which shoes are tried, and for the description of those that are not in
// the logbook.
func (f *Fitting) askShoes(ctx context.Context) error {
	if len(f.Shoes) == 0 {
		err := ask.Series(ctx, f.Person, []ask.Step{{
			Question: func() (ask.Question, bool) {
				return ask.Question{Text: "Codes of the shoes to try, such as A,B:"}, true
			},
			Take: func(answer string) error {
				f.Shoes = lookup.List(answer)
				if answer == "" {
					return errors.New("at least one")
				}
				return CheckShoes(f.Shoes)
			},
		}})
		if err != nil {
			return err
		}
	}
	for i, code := range f.Shoes {
		var known logbook.Shoe
		err := f.Folder.With(func(l *logbook.Logbook) (err error) {
			known, err = l.Shoe(code)
			return err
		})
		if errors.Is(err, logbook.ErrNotFound) {
			known.Shoe = device.Shoe{Code: code}
			err = f.newShoe(ctx, &known)
		}
		if err != nil {
			return err
		}
		f.Shoes[i] = known.Code
	}
	return nil
}

// newShoe asks for the platform of a shoe, which is required for measuring, and adds the
// shoe. The rest can be entered later.
func (f *Fitting) newShoe(ctx context.Context, s *logbook.Shoe) error {
	if err := device.CheckCode(s.Code); err != nil {
		return err
	}
	f.Person.Tell(fmt.Sprintf("Shoe %s is not in the logbook yet: measure its platform with a ruler.", s.Code))
	err := ask.Series(ctx, f.Person, []ask.Step{
		f.side("Its width in mm, from side to side:", &s.PlatformMM[0]),
		f.side("Its depth in mm, from front to back:", &s.PlatformMM[1]),
		{
			Question: func() (ask.Question, bool) {
				var options []ask.Option
				for i, name := range text.ShapeNames() {
					options = append(options, ask.Option{Key: string(rune('1' + i)), Label: name})
				}
				return ask.Question{Text: "Its shape:", Options: options, Marked: 1}, true
			},
			Take: func(answer string) (err error) {
				s.OutlineExponent, err = text.ParseShape(text.ShapeNames()[answer[0]-'1'])
				return err
			},
		},
	})
	if err != nil {
		return err
	}
	return f.Folder.With(func(l *logbook.Logbook) error { return l.AddShoe(*s) })
}

// side asks for one side of a platform.
func (f *Fitting) side(asks string, mm *float64) ask.Step {
	return ask.Step{
		Question: func() (ask.Question, bool) { return ask.Question{Text: asks, Answer: text.Known(*mm, "")}, true },
		Take: func(answer string) (err error) {
			*mm, err = device.ParseLength(answer, "mm")
			if err == nil && !(*mm >= 8 && *mm <= 80) {
				err = fmt.Errorf("%v mm: a platform has 8 to 80 mm", *mm)
			}
			return err
		},
	}
}
