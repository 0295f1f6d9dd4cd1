package fitting_test

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/analyze/provenance"
	"aplomb/cmd/internal/ask"
	"aplomb/cmd/internal/fitting"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/software"
	"aplomb/device"
	"aplomb/device/recording"
)

// person answers questions from queues by the beginning of the question, and otherwise
// takes what is marked.
type person struct {
	answers map[string][]string
	told    []string
}

func (p *person) Tell(lines ...string) { p.told = append(p.told, lines...) }

func (p *person) Ask(_ context.Context, q ask.Question) (string, error) {
	p.told = append(append(p.told, q.Notes...), q.Text)
	for begins, queue := range p.answers {
		if strings.HasPrefix(q.Text, begins) && len(queue) > 0 {
			p.answers[begins] = queue[1:]
			if queue[0] == "<" {
				return "", ask.ErrBack
			}
			return queue[0], nil
		}
	}
	if len(q.Options) > 0 && !q.Several {
		return q.Options[q.Marked].Key, nil
	}
	return q.Answer, nil
}

// said reports whether the person was shown a text, with any line breaks.
func (p *person) said(text string) bool {
	return strings.Contains(strings.ReplaceAll(strings.Join(p.told, "\n"), "\n", " "), text)
}

// stage makes recordings of which a test says what was measured in them.
type stage struct {
	t        *testing.T
	f        *fitting.Fitting
	now      time.Time
	releves  [][3]int // of the next recordings: measured left, right, aborted; nothing kept where the first is below 0
	asked    []fitting.Recording
	answered bool
}

var began = time.Date(2026, 3, 14, 10, 0, 0, 0, time.UTC)

// begin returns a fitting in a logbook with the shoes A, B and C.
func begin(t *testing.T, p *person, o fitting.Options) (*fitting.Fitting, *stage) {
	folder := &lookup.Folder{Named: filepath.Join(t.TempDir(), "book")}
	s := &stage{t: t, now: began}
	require.NoError(t, folder.BeginWith(t.Output(), func(l *logbook.Logbook) error {
		for _, code := range []string{"A", "B", "C"} {
			if err := l.AddShoe(logbook.Shoe{Shoe: worn(code)}); err != nil {
				return err
			}
		}
		return nil
	}))
	return s.again(p, folder, o), s
}

// again returns a fitting in a logbook after a restart of the program.
func (s *stage) again(p *person, folder *lookup.Folder, o fitting.Options) *fitting.Fitting {
	s.f = &fitting.Fitting{
		Options: o, Person: p, Out: s.t.Output(), Folder: folder, Now: func() time.Time { return s.now }, Software: "aplomb test",
		Record: s.record, Rest: func(context.Context, time.Duration) error { return nil },
		TakeIn:  func(context.Context) error { return nil },
		Answer:  func(context.Context, logbook.Visit) error { s.answered = true; return nil },
		Relabel: func(context.Context, logbook.Recording, string) error { return nil },
	}
	return s.f
}

func worn(code string) device.Shoe {
	return device.Shoe{Code: code, PlatformMM: [2]float64{36, 22}, OutlineExponent: 2.5}
}

func (s *stage) record(_ context.Context, r fitting.Recording) (made fitting.Made, err error) {
	s.asked = append(s.asked, r)
	n := [3]int{r.Press.Releves, r.Press.Releves, 0}
	if len(s.releves) > 0 {
		n, s.releves = s.releves[0], s.releves[1:]
	}
	if n[0] < 0 {
		return made, nil
	}
	s.now = s.now.Add(time.Minute)
	m := device.Metadata{Dancer: r.Setup.Dancer, Visit: r.Setup.Visit.Name(), Feedback: r.Setup.Feedback, Started: s.now}
	for _, f := range device.Feet {
		shoe := worn(r.Setup.Shoe)
		m.Sides[f] = &device.Side{
			Strip: &device.Strip{
				Name: strings.ToUpper(f.String()[:1]) + "-01", Foot: f, Rows: 2, Cols: 3, PitchMM: [2]float64{12, 11}, CellMM: [2]float64{12, 11}, ADCBits: 12, SaturatesAt: 4095,
				FirstCell: "back-lateral", Scan: "rows", Mount: device.Mount{SeatSDMM: 1}, Calibration: device.Calibration{KPaPerCount: 0.75, GainSD: 0.03},
			},
			Shoe: &shoe, Mounting: s.now.String(), Clock: "strip", Format: "binary",
		}
	}
	result := &measure.Result{Provenance: provenance.New(software.Provenance(), measure.Settings{})}
	for f, count := range n[:2] {
		for i := range count + n[2] {
			one := measure.Releve{N: i + 1, Foot: device.Foot(f), FeetUp: 2, Status: measure.Measured, Hold: &measure.Hold{Verdict: measure.OverTheBox}}
			if i >= count {
				one.Status, one.Hold = measure.Aborted, nil
			}
			result.Releves = append(result.Releves, one)
		}
	}
	err = s.f.Folder.With(func(l *logbook.Logbook) error {
		path := l.NewRecordingPath(s.now)
		w, err := recording.CreateDirect(path, m)
		if err != nil {
			return err
		}
		for i := range 4 {
			f := device.Frame{Foot: device.Foot(i % 2), Seq: int64(i / 2), TimeUS: uint64(i / 2 * 10_000), ArrivalNS: s.now.UnixNano() + int64(i), Counts: make([]uint16, 6)}
			if err := w.Write(&f); err != nil {
				return err
			}
		}
		if err := w.Close(); err != nil {
			return err
		}
		if made.Recording, err = l.AddRecording(s.t.Context(), path, r.Setup.Visit.ID); err != nil {
			return err
		}
		made.Result = result
		return l.PutMeasures(made.Recording.ID, result)
	})
	return made, err
}

// visit returns the visit of the fitting.
func (s *stage) visit() (v logbook.Visit) {
	require.NoError(s.t, s.f.Folder.With(func(l *logbook.Logbook) error {
		all, err := l.Visits("D7")
		if err == nil {
			v = all[len(all)-1]
		}
		return err
	}))
	return v
}

var quick = fitting.Options{Dancer: "D7", Shoes: []string{"A", "B"}}

// shoes lists the shoes of the recordings made.
func (s *stage) shoes() (codes string) {
	for _, r := range s.asked {
		codes += r.Setup.Shoe
	}
	return codes
}

func TestWholeFitting(t *testing.T) {
	p := &person{answers: map[string][]string{"Which shoe": {"2"}, "Why?": {"lands quietly"}, "Pain after": {"1"}}}
	f, s := begin(t, p, quick)
	require.NoError(t, f.Run(t.Context()))
	assert.Len(t, s.asked, 2)
	assert.True(t, s.answered)
	v := s.visit()
	assert.NotEmpty(t, v.Choice)
	assert.Equal(t, "lands quietly", v.ChoiceWhy)
	assert.Equal(t, 1, *v.PainAfter)
	assert.Equal(t, "barre", v.Support)
	assert.True(t, p.said("2 mountings of the strips, 3 relevés each: 6 rises, about"))
	assert.True(t, p.said("This is the quick plan"))

	twice := quick
	twice.Mountings = 2
	p = &person{answers: map[string][]string{"Begin?": {"n"}}}
	f, _ = begin(t, p, twice)
	require.NoError(t, f.Run(t.Context()))
	assert.True(t, p.said("4 mountings of the strips"))
	assert.False(t, p.said("This is the quick plan"), "each shoe is mounted as often as in the full one")
}

// A step is repeated until it is done: after no recording, one foot only, no measured
// relevé, or an answer to repeat or discard it.
func TestStepIsAskedForAgain(t *testing.T) {
	for name, c := range map[string]struct {
		releves [][3]int
		decide  []string
	}{
		"nothing kept":     {[][3]int{{-1}}, nil},
		"one foot":         {[][3]int{{3, 0, 0}}, nil},
		"nothing measured": {[][3]int{{0, 0, 2}}, nil},
		"repeated":         {nil, []string{"r"}},
		"discarded":        {nil, []string{"d"}},
	} {
		t.Run(name, func(t *testing.T) {
			p := &person{answers: map[string][]string{"This recording": c.decide}}
			f, s := begin(t, p, quick)
			s.releves = c.releves
			require.NoError(t, f.Run(t.Context()))
			assert.Len(t, s.asked, 3)
			assert.Equal(t, s.asked[0].Setup.Shoe, s.asked[1].Setup.Shoe)
		})
	}
	p := &person{answers: map[string][]string{"This recording": {"u"}}}
	f, s := begin(t, p, quick)
	s.releves = [][3]int{{3, 1, 0}}
	require.NoError(t, f.Run(t.Context()))
	assert.Len(t, s.asked, 2, "what there is is used")
}

// A new dancer is asked about consent, and one key leaves it open; a dancer in the
// logbook is not asked. The dancer is added after the answer.
func TestConsentOfANewDancer(t *testing.T) {
	for key, want := range map[string]logbook.Dancer{
		"n": {Code: "D7"},
		"s": {Code: "D7", Consent: logbook.ConsentStudy, ConsentDay: "2026-03-14"},
		"h": {Code: "D7", Consent: logbook.ConsentSharing, ConsentDay: "2026-03-14"},
	} {
		p := &person{answers: map[string][]string{"What does the dancer agree to?": {"<", key, "unasked"}, "Pain now": {"4"}}}
		f, s := begin(t, p, quick)
		assert.ErrorIs(t, f.Run(t.Context()), fitting.ErrStopped)
		require.NoError(t, f.Folder.With(func(l *logbook.Logbook) error {
			d, err := l.Dancer("D7")
			assert.Equal(t, want, d)
			return err
		}))
		assert.ErrorIs(t, s.again(p, f.Folder, quick).Run(t.Context()), fitting.ErrStopped)
		assert.Equal(t, []string{"unasked"}, p.answers["What does the dancer agree to?"])
	}
	p := &person{answers: map[string][]string{"Pain now": {"4"}}}
	f, _ := begin(t, p, fitting.Options{Dancer: "Firstname Lastname", Shoes: []string{"A"}})
	assert.ErrorIs(t, f.Run(t.Context()), fitting.ErrStopped)
	assert.True(t, p.said(`dancer "Firstname Lastname" reads like a name`))
}

func TestPainStops(t *testing.T) {
	p := &person{answers: map[string][]string{"Pain now": {"4"}, "On which": {"l"}, "Where": {"h"}}}
	f, s := begin(t, p, quick)
	assert.ErrorIs(t, f.Run(t.Context()), fitting.ErrStopped)
	assert.Empty(t, s.asked, "nobody rises")
	assert.Equal(t, []logbook.Pain{{Foot: device.Left, Site: "heel", Level: 4}}, s.visit().PainWhere)
	assert.True(t, p.said("Hand over to the dancer's clinician"))
	f = s.again(p, f.Folder, quick)
	assert.ErrorIs(t, f.Run(t.Context()), fitting.ErrStopped, "and starting it once more changes nothing")

	p = &person{answers: map[string][]string{"Pain now": {"0", "2"}}}
	f, s = begin(t, p, quick)
	assert.ErrorIs(t, f.Run(t.Context()), fitting.ErrStopped, "an increase of 2 in the first step")
	assert.Len(t, s.asked, 1)
	assert.False(t, s.answered)
	assert.Equal(t, 2, *s.visit().PainAfter)

	for _, pain := range []string{"x", "1"} { // who chose to stop stops at any pain
		p = &person{answers: map[string][]string{"Shoe ": {"p"}, "Pain now": {"0", pain}}}
		f, s = begin(t, p, quick)
		assert.ErrorIs(t, f.Run(t.Context()), fitting.ErrStopped)
		assert.Empty(t, s.asked)
	}
	p = &person{answers: map[string][]string{"Shoe ": {"p"}, "Pain now": {"0", "0"}}}
	f, s = begin(t, p, quick)
	assert.NoError(t, f.Run(t.Context()))
	assert.NotEmpty(t, s.asked, "no pain after all")
}

// Every rise counts against the limit, aborted ones too.
func TestLimitOfRises(t *testing.T) {
	o := quick
	o.MaxRises = 8
	p := &person{}
	f, s := begin(t, p, o)
	s.releves = [][3]int{{3, 3, 3}}
	require.NoError(t, f.Run(t.Context()))
	assert.Len(t, s.asked, 1)
	assert.True(t, p.said("6 rises so far: the next step would pass the limit of 8."))
	assert.True(t, s.answered, "what there is is answered")
}

// The fitter can get the answer from the recordings so far if the plan cannot be
// finished.
func TestFinishedBeforeThePlan(t *testing.T) {
	o := quick
	o.MaxRises = 5
	p := &person{answers: map[string][]string{"Shoe ": {"g", "f"}}}
	f, s := begin(t, p, quick)
	require.NoError(t, f.Run(t.Context()))
	assert.Len(t, s.asked, 1)
	assert.True(t, s.answered)
	assert.True(t, p.said("Step 1 of 2, 0 rises so far, about 5 minutes to go."))
	assert.True(t, p.said("Step 2 of 2, 3 rises so far, about 3 minutes to go."))

	p = &person{}
	f, _ = begin(t, p, o)
	require.NoError(t, f.Run(t.Context()))
	assert.True(t, p.said("The limit of 5 rises ends it after 1 of 2 steps."))
}

// Practice is recorded with live feedback, its rises count, and it is not a step of the
// plan.
func TestPractice(t *testing.T) {
	p := &person{answers: map[string][]string{"Shoe ": {"t"}}}
	f, s := begin(t, p, quick)
	require.NoError(t, f.Run(t.Context()))
	require.Len(t, s.asked, 3)
	assert.Equal(t, device.FeedbackLive, s.asked[0].Setup.Feedback)
	assert.Empty(t, s.asked[1].Setup.Feedback)
	assert.Equal(t, s.asked[0].Setup.Shoe, s.asked[1].Setup.Shoe)
	assert.True(t, p.said("Step 1 of 2, 3 rises so far"))

	p = &person{answers: map[string][]string{"Shoe ": {"t"}, "Pain now": {"0", "5"}}}
	f, s = begin(t, p, quick)
	assert.ErrorIs(t, f.Run(t.Context()), fitting.ErrStopped, "pain stops practice too")
	assert.Len(t, s.asked, 1)
}

// If platforms are alike, the code on the shoe is asked for, and no recording is made in
// a shoe other than the planned one. Otherwise the press, which gets the shoes,
// identifies the shoe.
func TestCodeOfTheShoe(t *testing.T) {
	p := &person{answers: map[string][]string{"Which code": {"1"}}}
	f, s := begin(t, p, quick)
	require.NoError(t, f.Run(t.Context()))
	assert.Len(t, s.asked, 2)
	assert.True(t, p.said("is due: take that one, or skip it."))
	require.Len(t, s.asked[0].Press.Others, 1)
	assert.NotEqual(t, s.asked[0].Setup.Shoe, s.asked[0].Press.Others[0].Code)

	p = &person{}
	f, _ = begin(t, p, fitting.Options{Dancer: "D7", Shoes: []string{"A", "wide"}})
	require.NoError(t, f.Folder.With(func(l *logbook.Logbook) error {
		wide := worn("wide")
		wide.PlatformMM[0] += 4
		return l.AddShoe(logbook.Shoe{Shoe: wide})
	}))
	require.NoError(t, f.Run(t.Context()))
	assert.False(t, p.said("Which code"))
}

// A second fitting of the same dancer is refused while one is running; one of another
// dancer is not.
func TestTwoFittingsAtOnce(t *testing.T) {
	f, s := begin(t, &person{}, quick)
	f.Ready = func(ctx context.Context) error {
		second := *f
		second.Ready = nil
		assert.ErrorContains(t, second.Run(ctx), "a fitting of dancer D7 is under way already (process ")
		second.Dancer = "D8"
		return second.Run(ctx)
	}
	require.NoError(t, f.Run(t.Context()))
	assert.Len(t, s.asked, 4)
	require.NoError(t, s.again(&person{}, f.Folder, quick).Run(t.Context()), "it has ended")
}

// interrupted is a person who presses Ctrl-C where a shoe is to be mounted.
type interrupted struct{ *person }

func (p interrupted) Ask(ctx context.Context, q ask.Question) (string, error) {
	if strings.HasPrefix(q.Text, "Shoe ") {
		return "", context.Canceled
	}
	return p.person.Ask(ctx, q)
}

// Ctrl-C tells how the fitting is continued, if it can be.
func TestCtrlCTellsHowToContinue(t *testing.T) {
	for _, passing := range []bool{false, true} {
		p := &person{}
		f, _ := begin(t, p, quick)
		f.Person, f.Passing, f.Flags = interrupted{p}, passing, " --logbook other"
		require.ErrorIs(t, f.Run(t.Context()), context.Canceled)
		assert.Equal(t, !passing, p.said("The fitting waits: aplomb fitting --logbook other --dancer D7 goes on with it today."))
		assert.Equal(t, passing, p.said(fitting.LogbookRemoved))
	}
}

// An interrupted fitting continues where it was. Shoes are skipped and added, and the
// last recording is undone.
func TestInterruptedFittingContinues(t *testing.T) {
	p := &person{answers: map[string][]string{"Shoe ": {"g", "q"}}}
	f, s := begin(t, p, quick)
	require.NoError(t, f.Run(t.Context()))
	require.Len(t, s.asked, 1)
	assert.True(t, p.said("The fitting waits: aplomb fitting --dancer D7 goes on with it today."))
	first := s.asked[0].Setup.Shoe

	p = &person{answers: map[string][]string{"Shoe ": {"u", "m", "k"}, "Recording 1": {"d"}, "Codes of": {"c"}}}
	f = s.again(p, f.Folder, fitting.Options{Dancer: "d7"})
	require.NoError(t, f.Run(t.Context()))
	assert.True(t, p.said("Going on with the plan of today, 1 of 2 steps done."))
	assert.True(t, p.said(fmt.Sprintf("Shoe %s is skipped", first)), "its recording was undone, so it came first again")
	other := map[string]string{"A": "B", "B": "A"}[first]
	assert.Equal(t, first+other+"C", s.shoes())
}
