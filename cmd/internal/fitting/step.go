package fitting

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"aplomb/analyze/live"
	"aplomb/analyze/logbook"
	"aplomb/analyze/plan"
	"aplomb/cmd/internal/ask"
	"aplomb/cmd/internal/capture"
	"aplomb/cmd/internal/text"
	"aplomb/device"
	"aplomb/device/correction"
	"aplomb/plots/words"
)

// steps guides through the steps of the plan until it is done.
func (f *Fitting) steps(ctx context.Context) error {
	for {
		c, rises, err := f.progress()
		if err != nil || c.Next == len(c.Steps) {
			return err
		}
		if most := f.visit.MaxRises; most > 0 && rises+c.Plan.Releves > most {
			f.Person.Tell(text.Wrap(fmt.Sprintf("%d rises so far: the next step would pass the limit of %d. The plan ends here, %d of %d steps done.", rises, most, c.Done(), len(c.Steps))))
			return nil
		}
		if err := f.step(ctx, c, rises); err != nil {
			if errors.Is(err, errFinished) {
				return nil
			}
			return err
		}
	}
}

// errFinished is returned where the fitter wants the answer although steps of the plan
// are open.
var errFinished = errors.New("finished")

// progress returns the progress of the plan, and the number of rises in the visit,
// including aborted and discarded ones.
func (f *Fitting) progress() (c plan.Progress, rises int, err error) {
	err = f.Folder.With(func(l *logbook.Logbook) error {
		if c, err = l.PlanProgressNamed(f.visit.ID, f.name); err != nil {
			return err
		}
		rises, err = l.RisesOfVisit(f.visit.ID)
		return err
	})
	return c, rises, err
}

// Choices before a step.
var beforeStep = []ask.Option{
	{Key: "g", Label: "go: both strips are fixed"},
	{Key: "u", Label: "undo the last recording, or correct its shoe"},
	{Key: "k", Label: "skip this shoe"},
	{Key: "m", Label: "one more shoe"},
	{Key: "t", Label: "practice: seen live, in no comparison"},
	{Key: "f", Label: "finish: the answer with what there is"},
	{Key: "p", Label: "pain: stop"},
	{Key: "q", Label: "leave; the fitting can go on later"},
}

// step guides through one step, or does what the fitter chooses instead.
func (f *Fitting) step(ctx context.Context, c plan.Progress, rises int) error {
	s := c.Plan.Steps[c.Next]
	notes := []string{"", text.Wrap(fmt.Sprintf("Step %d of %d, %s so far, about %s to go. %s", c.Next+1, len(c.Steps), words.Count(rises, "rise", "rises"), words.Count(minutes(timeLeft(c)), "minute", "minutes"), mount(s)))}
	begun := c.Steps[c.Next]
	options := beforeStep
	if f.Study != nil {
		options = inStudy(options)
	}
	if len(begun.Recordings) > 0 {
		notes = append(notes, text.Wrap(fmt.Sprintf("Shoe %s has %s.", s.Shoe, begun.Count(s.Releves))))
		options = append(slices.Clone(options), ask.Option{Key: "c", Label: "go on in that mounting, the strips were not taken off"})
	}
	answer, err := f.Person.Ask(ctx, ask.Question{Text: "Shoe " + s.Shoe + ":", Notes: notes, Options: options})
	if errors.Is(err, ask.ErrBack) {
		answer, err = "u", nil
	}
	if err != nil {
		return err
	}
	switch answer {
	case "u":
		return f.undo(ctx)
	case "k":
		return f.changePlan(func(steps []plan.Step) []plan.Step {
			return slices.DeleteFunc(steps, func(one plan.Step) bool { return one.Shoe == s.Shoe })
		}, fmt.Sprintf("Shoe %s is skipped; m takes it up again.", s.Shoe))
	case "m":
		return f.oneMore(ctx, c.Plan)
	case "t":
		return f.practise(ctx, s)
	case "p":
		return f.painNow(ctx, 1)
	case "f":
		return errFinished
	case "q":
		return errLeft
	}
	others, err := f.others(c.Plan, s.Shoe)
	if err != nil {
		return err
	}
	same := ""
	if answer == "c" {
		same = begun.Recordings[len(begun.Recordings)-1]
	} else if is, err := f.readCode(ctx, s.Shoe, others); err != nil || !is {
		return err
	}
	if s.Rest && len(begun.Recordings) == 0 {
		if err := f.Rest(ctx, plan.RestTime); err != nil {
			return err
		}
	}
	return f.record(ctx, c, same, shoesOf(others))
}

// others returns the shoes of a plan other than the next one.
func (f *Fitting) others(p plan.Plan, due string) (others []other, err error) {
	err = f.Folder.With(func(l *logbook.Logbook) error {
		named, err := l.Shoe(f.code(due))
		if err != nil {
			return err
		}
		for _, shown := range p.Shoes {
			one, err := l.Shoe(f.code(shown))
			if err != nil {
				return err
			}
			if one.Code == named.Code {
				continue
			}
			twin := true
			for i := range one.PlatformMM {
				twin = twin && math.Abs(one.PlatformMM[i]-named.PlatformMM[i]) < live.TwinMM
			}
			one.Code = shown
			others = append(others, other{one.Shoe, twin})
		}
		return nil
	})
	return others, err
}

// other is a shoe that may be confused with the next one.
type other struct {
	device.Shoe
	twin bool // its platform is so similar to that of the next shoe that a press may not distinguish them
}

// shoesOf returns the shoes of others.
func shoesOf(others []other) (shoes []device.Shoe) {
	for _, o := range others {
		shoes = append(shoes, o.Shoe)
	}
	return shoes
}

// readCode asks for the code on the shoe where a press may not distinguish it from
// another shoe of the plan. It returns whether it is the next one.
func (f *Fitting) readCode(ctx context.Context, due string, others []other) (is bool, err error) {
	options := []ask.Option{{Key: "y", Label: due}}
	for _, o := range others {
		if o.twin {
			options = append(options, ask.Option{Key: strconv.Itoa(len(options)), Label: o.Code})
		}
	}
	if len(options) == 1 {
		return true, nil
	}
	answer, err := f.Person.Ask(ctx, ask.Question{
		Text: "Which code is marked on both shoes?", Options: options,
		Notes: []string{text.Wrap("The platforms of these shoes are so much alike that the press may not tell them apart.")},
	})
	switch {
	case errors.Is(err, ask.ErrBack):
		return false, nil
	case err != nil || answer == "y":
		return err == nil, err
	}
	f.Person.Tell(text.Wrap(fmt.Sprintf("Shoe %s is due: take that one, or skip it.", due)))
	return false, nil
}

// timeLeft returns the approximate duration of the remaining steps of a plan.
func timeLeft(c plan.Progress) time.Duration {
	var open []plan.Step
	for i, s := range c.Plan.Steps {
		if !c.Steps[i].Done {
			open = append(open, s)
		}
	}
	return length(open)
}

// mount describes how to mount the strips for a step. The shoe stays off the foot until
// the platform has been pressed.
func mount(s plan.Step) string {
	switch {
	case s.SameShoe:
		return fmt.Sprintf("Take the strips off %s and fix them anew, shoes off the feet.", s.Shoe)
	case s.Mounting > 1:
		return fmt.Sprintf("Fix the strips under %s once more, shoes off the feet.", s.Shoe)
	}
	return fmt.Sprintf("Fix the strips under %s, shoes off the feet.", s.Shoe)
}

// record makes the recording of the next step and asks about it.
func (f *Fitting) record(ctx context.Context, c plan.Progress, same string, others []device.Shoe) error {
	s := c.Plan.Steps[c.Next]
	made, err := f.Record(ctx, Recording{
		Setup: Setup{Dancer: f.dancer.Code, Shoe: f.code(s.Shoe), Visit: f.visit, SameMounting: same, Feedback: f.feedback()},
		Title: fmt.Sprintf("%s, step %d of %d, shoe %s", f.dancer.Code, c.Next+1, len(c.Steps), s.Shoe),
		Press: capture.PressOptions{Ask: !f.NoPress && same == "", Guided: true, Releves: s.Releves, Watched: f.watched(), Others: others, Called: s.Shoe},
	})
	if err != nil {
		return err
	}
	if made.Result == nil {
		f.Person.Tell("Nothing was kept: the step is asked for again.")
		return nil
	}
	f.Person.Tell(checkLine(made))
	return f.remark(ctx, made.Recording)
}

// practise makes a recording in which the dancer sees live where the load is. It is
// stored and its rises count, but it is in no comparison and no step of the plan.
func (f *Fitting) practise(ctx context.Context, s plan.Step) error {
	made, err := f.Record(ctx, Recording{
		Setup: Setup{Dancer: f.dancer.Code, Shoe: s.Shoe, Visit: f.visit, Feedback: device.FeedbackLive},
		Title: fmt.Sprintf("%s, practice, shoe %s", f.dancer.Code, s.Shoe),
		Press: capture.PressOptions{Ask: !f.NoPress, Guided: true, Releves: s.Releves, Watched: f.watched()},
	})
	switch {
	case err != nil:
		return err
	case made.Result == nil:
		f.Person.Tell("Nothing was kept.")
		return nil
	}
	f.Person.Tell(checkLine(made), text.Wrap("That was practice: it is kept and enters no comparison."))
	return f.painNow(ctx, logbook.StopAtPain)
}

// watched returns which feet are injured or being watched, by device.Foot.
func (f *Fitting) watched() (feet [2]bool) {
	for _, foot := range device.Feet {
		feet[foot] = f.dancer.Watched == foot.String()
	}
	return feet
}

// checkLine returns the check of a recording in one line.
func checkLine(made Made) string {
	counted := [2]int{}
	aborted, discarded := 0, 0
	for _, r := range made.Result.Releves {
		switch {
		case r.Counts():
			counted[r.Foot]++
		case r.Discarded:
			discarded++
		default:
			aborted++
		}
	}
	said := fmt.Sprintf("Recording %d: left %s, right %s", made.Recording.ID, words.Count(counted[0], "relevé", "relevés"), words.Count(counted[1], "relevé", "relevés"))
	if discarded > 0 {
		said += ", " + words.Count(discarded, "foot's rise", "feet's rises") + " discarded"
	}
	if aborted > 0 {
		said += ", " + words.Count(aborted, "foot's rise", "feet's rises") + " aborted"
	}
	if made.Checked != "" {
		said += "; " + made.Checked
	}
	return text.Wrap(said + ".")
}

// Observations of a relevé, and where a shoe pinches: common practice in the trade.
var (
	sights = []ask.Option{
		{Key: "s", Label: correction.Sickles}, {Key: "k", Label: correction.Sinks}, {Key: "x", Label: correction.BoxBulges}, {Key: "h", Label: correction.HeelLoose},
	}
	pinches = []ask.Option{
		{Key: "t", Label: "big toe"}, {Key: "l", Label: "little toe"}, {Key: "c", Label: "top of the box"}, {Key: "w", Label: "wings"}, {Key: "h", Label: "heel"},
	}
	comforts = []ask.Option{
		{Key: "1", Label: "1 bad"}, {Key: "2", Label: "2"}, {Key: "3", Label: "3 fair"}, {Key: "4", Label: "4"}, {Key: "5", Label: "5 good"},
	}
)

// labels returns the labels of the chosen options.
func labels(options []ask.Option, keys string) (names []string) {
	for _, o := range options {
		if slices.Contains(strings.Split(keys, ","), o.Key) {
			names = append(names, o.Label)
		}
	}
	return names
}

// remark asks for observations, the comfort of the shoe and pain, and whether to use the
// recording.
func (f *Fitting) remark(ctx context.Context, made logbook.Recording) error {
	var remark correction.Remark
	c, _, err := f.progress()
	if err != nil {
		return err
	}
	decide := ask.Question{Text: "This recording:", Options: []ask.Option{{Key: "u", Label: "use"}, {Key: "r", Label: "repeat the step"}, {Key: "d", Label: "discard"}}}
	for _, n := range c.Notes {
		if n.Recording == strconv.FormatInt(made.ID, 10) {
			decide.Notes, decide.Marked = []string{text.Wrap("Recording " + n.Recording + ": " + n.Text + ".")}, 1
		}
	}
	always := func(q ask.Question) func() (ask.Question, bool) {
		return func() (ask.Question, bool) { return q, true }
	}
	err = ask.Series(ctx, f.Person, []ask.Step{
		{Question: always(ask.Question{Text: "What did you see?", Options: append(slices.Clone(sights), ask.Option{Key: "n", Label: "a note in words"}), Several: true}), Take: func(a string) error {
			remark.Saw = labels(sights, a)
			remark.Note = map[bool]string{true: "?"}[slices.Contains(strings.Split(a, ","), "n")]
			return nil
		}},
		{Question: func() (ask.Question, bool) {
			return ask.Question{Text: "Your note, without a name:"}, remark.Note != ""
		}, Take: func(a string) error {
			remark.Note = a
			return correction.CheckNote(a)
		}},
		{Question: always(ask.Question{Text: "How comfortable is it, for the dancer?", Options: comforts, Marked: 2}), Take: func(a string) error {
			remark.Comfort = int(a[0] - '0')
			return nil
		}},
		{Question: always(ask.Question{Text: "Where does it pinch?", Options: pinches, Several: true}), Take: func(a string) error {
			remark.Pinches = labels(pinches, a)
			return nil
		}},
		{Question: always(painNow()), Take: func(a string) error {
			remark.Pain = level(a)
			return nil
		}},
		{Question: always(decide), Take: func(a string) error {
			remark.Decision = map[string]string{"u": correction.Use, "r": correction.Repeat, "d": correction.Discard}[a]
			return nil
		}},
	})
	if errors.Is(err, ask.ErrBack) {
		err = f.remark(ctx, made)
	}
	if err != nil {
		return err
	}
	if remark.Note == "?" {
		remark.Note = ""
	}
	f.visit.PainAfter = remark.Pain
	err = f.Folder.With(func(l *logbook.Logbook) error { return l.AddRemark(ctx, made.ID, f.Now(), f.Software, remark) })
	if err = errors.Join(err, f.keep()); err != nil {
		return err
	}
	if f.stops() {
		return ErrStopped
	}
	return nil
}

// changePlan changes the remaining steps of the plan.
func (f *Fitting) changePlan(change func([]plan.Step) []plan.Step, said string) error {
	c, _, err := f.progress()
	if err != nil {
		return err
	}
	var done, open []plan.Step
	for i, s := range c.Plan.Steps {
		if c.Steps[i].Done {
			done = append(done, s)
		} else {
			open = append(open, s)
		}
	}
	p := plan.FromSteps(c.Plan.Seed, append(done, change(open)...))
	p.Feet = c.Plan.Feet
	for i := range p.Steps {
		p.Steps[i].Shoe = f.code(p.Steps[i].Shoe)
	}
	if len(p.Steps) == 0 {
		f.Person.Tell("It is the only shoe of the plan: m adds another one first.")
		return nil
	}
	err = f.Folder.With(func(l *logbook.Logbook) error { return l.PutPlan(f.visit.ID, p) })
	if err == nil {
		f.Person.Tell(said)
	}
	return err
}

// oneMore adds a shoe to the end of the plan.
func (f *Fitting) oneMore(ctx context.Context, p plan.Plan) error {
	if len(p.Shoes) >= MostShoes {
		f.Person.Tell(fmt.Sprintf("There are %d shoes already: skip one first.", len(p.Shoes)))
		return nil
	}
	f.Shoes = nil
	if err := f.askShoes(ctx); err != nil {
		if errors.Is(err, ask.ErrBack) {
			return nil
		}
		return err
	}
	if len(p.Shoes)+len(f.Shoes) > MostShoes {
		f.Person.Tell(errTooMany.Error())
		return nil
	}
	return f.changePlan(func(open []plan.Step) []plan.Step {
		for _, code := range f.Shoes {
			worn := 0
			for _, s := range p.Steps {
				if s.Shoe == code {
					worn++
				}
			}
			open = append(open, plan.Step{Shoe: code, Mounting: worn + 1, Releves: p.Releves})
		}
		return open
	}, fmt.Sprintf("Added at the end: %s.", strings.Join(f.Shoes, ", ")))
}

// painNow asks for the present pain, stores it, and stops where it reaches a limit of the
// logbook or most: a fitter who chose to stop because of pain stops at any.
func (f *Fitting) painNow(ctx context.Context, most int) error {
	answer, err := f.Person.Ask(ctx, painNow())
	if errors.Is(err, ask.ErrBack) {
		return nil
	}
	if err != nil {
		return err
	}
	f.visit.PainAfter = level(answer)
	if err := f.keep(); err != nil {
		return err
	}
	if f.stops() || *f.visit.PainAfter >= most {
		return ErrStopped
	}
	return nil
}

// undo asks what was wrong with the last recording of the visit and corrects it: it is
// not used, it is used after all, or another shoe was worn.
func (f *Fitting) undo(ctx context.Context) error {
	var last logbook.Recording
	var c plan.Progress
	err := f.Folder.With(func(l *logbook.Logbook) (err error) {
		made, err := l.Recordings(logbook.Filter{VisitID: f.visit.ID})
		if err != nil {
			return err
		}
		if len(made) > 0 {
			last = made[len(made)-1]
		}
		c, err = l.PlanProgressNamed(f.visit.ID, f.name)
		return err
	})
	if err != nil {
		return err
	}
	if last.ID == 0 {
		f.Person.Tell("There is nothing to undo: nothing was recorded yet.")
		return nil
	}
	options := []ask.Option{{Key: "n", Label: "nothing"}, {Key: "d", Label: "do not use it"}, {Key: "u", Label: "use it"}}
	for i, code := range c.Plan.Shoes {
		options = append(options, ask.Option{Key: strconv.Itoa(i + 1), Label: "it was shoe " + code})
	}
	answer, err := f.Person.Ask(ctx, ask.Question{Text: fmt.Sprintf("Recording %d, shoe %s:", last.ID, f.shoesOfRecording(last)), Options: options})
	if errors.Is(err, ask.ErrBack) {
		return nil
	}
	if err != nil || answer == "n" {
		return err
	}
	switch answer {
	case "d", "u":
		decision := map[string]string{"d": correction.Discard, "u": correction.Use}[answer]
		return f.Folder.With(func(l *logbook.Logbook) error {
			return l.AddRemark(ctx, last.ID, f.Now(), f.Software, correction.Remark{Decision: decision})
		})
	}
	return f.Relabel(ctx, last, f.code(c.Plan.Shoes[answer[0]-'1']))
}
