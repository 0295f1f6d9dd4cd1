package fitting_test

import (
	"bytes"
	"context"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/analyze/study"
	"aplomb/cmd/internal/ask"
	"aplomb/cmd/internal/fitting"
)

// listener is a person who also keeps what the options of questions say.
type listener struct{ *person }

func (p listener) Ask(ctx context.Context, q ask.Question) (string, error) {
	for _, o := range q.Options {
		p.told = append(p.told, o.Key+" "+o.Label)
	}
	return p.person.Ask(ctx, q)
}

// A fitting of a study follows the order of its row and shows labels: no action of the
// fitter reveals the code of a shoe. It gives no answer, and the dancer sees nothing.
func TestFittingOfAStudyIsBlinded(t *testing.T) {
	p := &person{answers: map[string][]string{"Shoe ": {"g", "u", "g", "g"}, "Recording ": {"1"}, "Which code": {"y", "1"}}}
	f, s := begin(t, p, fitting.Options{Dancer: "D7"})
	declared, err := study.New(study.Study{
		Name: "spring", Declared: "2026-03-01", Seed: 2, Measure: measure.Over, Feet: [2]bool{true, true}, Visits: 2, Mountings: 1, Releves: 3, Stop: 1,
	}, []string{"D7"}, []string{"A", "B", "C"}, []string{"P", "Q", "R"}, func(string) bool { return false })
	require.NoError(t, err)
	err = f.Folder.With(func(l *logbook.Logbook) error {
		require.NoError(t, l.AddDancer(logbook.Dancer{Code: "D7"}))
		return l.AddStudy(declared)
	})
	require.NoError(t, err)
	var out bytes.Buffer
	lead := func() error {
		f.Study, f.Person, f.Out = &declared, listener{p}, &out
		f.Prepare = func(context.Context, logbook.Visit) { s.answered = true }
		return f.Run(t.Context())
	}
	s.releves = [][3]int{{3, 3, 0}, {2, 3, 0}}
	record := f.Record
	f.Record = func(ctx context.Context, r fitting.Recording) (fitting.Made, error) {
		if len(s.asked) == 0 {
			err := f.Folder.With(func(l *logbook.Logbook) error { return l.RemoveStudy("spring") })
			assert.ErrorIs(t, err, logbook.ErrBegun, "what is recorded would be in no study")
		}
		return record(ctx, r)
	}
	require.NoError(t, lead())
	var order []string
	for _, r := range s.asked {
		order = append(order, r.Setup.Shoe)
		assert.Equal(t, "none", r.Setup.Feedback)
		assert.Equal(t, declared.Label(r.Setup.Shoe), r.Press.Called)
		assert.Contains(t, r.Title, "shoe "+declared.Label(r.Setup.Shoe))
		for _, o := range r.Press.Others {
			assert.Contains(t, []string{"P", "Q", "R"}, o.Code)
		}
	}
	want := declared.Rows[0].Order
	assert.Equal(t, []string{want[0], want[1], want[1], want[2]}, order, "the step with too few relevés is repeated")
	assert.False(t, s.answered)
	assert.Contains(t, out.String(), "Visit 1 of dancer D7 in study spring: 3 of 3 steps are recorded.")
	said := strings.Join(p.told, "\n") + out.String()
	assert.NotRegexp(t, regexp.MustCompile(`\b[ABC]\b`), said)
	for _, code := range []string{"P", "Q", "R"} {
		assert.Regexp(t, `\bshoe `+code+`\b`, said)
	}
	assert.NotContains(t, said, "one more shoe")
	assert.NotContains(t, said, "practice: seen live")

	// Another study on the same day has a visit of its own, and the first one is found again.
	other := declared
	other.Name = "autumn"
	require.NoError(t, f.Folder.With(func(l *logbook.Logbook) error { return l.AddStudy(other) }))
	for _, one := range []study.Study{other, declared} {
		s.asked, p.answers = nil, map[string][]string{"Shoe ": {"g"}}
		f = s.again(p, f.Folder, fitting.Options{Dancer: "D7"})
		f.Study, f.Person, f.Out = &one, listener{p}, &out
		require.NoError(t, f.Run(t.Context()))
		assert.Equal(t, one.Name == "autumn", len(s.asked) == 3, one.Name)
	}

	// A study that is declared anew under its name during the questions is not followed.
	s.asked, s.now = nil, s.now.AddDate(0, 0, 7)
	former := declared
	former.Seed++
	f = s.again(p, f.Folder, fitting.Options{Dancer: "D7"})
	f.Study, f.Person, f.Out = &former, listener{p}, &out
	assert.ErrorIs(t, f.Run(t.Context()), logbook.ErrChanged)
	assert.Empty(t, s.asked)

	// The next visit runs in reverse; after the last there is none.
	p.answers = map[string][]string{"Shoe ": {"g"}}
	f = s.again(p, f.Folder, fitting.Options{Dancer: "D7"})
	require.NoError(t, lead())
	require.Len(t, s.asked, 3)
	assert.Equal(t, []string{want[2], want[1], want[0]}, []string{s.asked[0].Setup.Shoe, s.asked[1].Setup.Shoe, s.asked[2].Setup.Shoe})
	s.now = s.now.Add(24 * time.Hour)
	f = s.again(p, f.Folder, fitting.Options{Dancer: "D7"})
	assert.ErrorIs(t, lead(), fitting.ErrStudyDone)
	err = f.Folder.With(func(l *logbook.Logbook) error {
		visits, err := l.StudyVisits("spring")
		require.Len(t, visits, 2)
		all, e := l.Visits("D7")
		require.NoError(t, e)
		assert.Len(t, all, 3, "no visit is begun that the studies do not have")
		return err
	})
	require.NoError(t, err)
}
