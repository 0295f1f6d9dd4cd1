package advise

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/analyze/verdict"
	"aplomb/device"
	"aplomb/device/correction"
	"aplomb/device/platform"
)

// known returns a mean whose standard uncertainty has unlimited degrees of freedom.
func known(mean, u float64) compare.Summary {
	return compare.Summary{N: 5, Mean: mean, U: u, CI95: &[2]float64{mean - 1.96*u, mean + 1.96*u}}
}

// foot returns a shoe on a foot whose kern is a rhombus with half-diagonals of 6.67 and
// 4 mm.
func foot(f device.Foot, medial, over, u, share, peakKPa float64) compare.ShoeFoot {
	outline := platform.Polygon{{-20, -12}, {20, -12}, {20, 12}, {-20, 12}}
	s := compare.ShoeFoot{
		Shoe: "A", Foot: f, N: 5,
		Platform: measure.Platform{Outline: outline, Kern: outline.Kern(), AreaMM2: outline.Area()},
		Measures: map[measure.Measure]compare.Summary{
			measure.Over: known(over, u), measure.Medial: known(medial, u), measure.ContactShare: known(share, 0.02),
			measure.PeakPressure: known(peakKPa, 20), measure.Load: known(480, 1), measure.BackThird: known(0.5, 0.01),
		},
	}
	s.Verdict, s.PInside, s.Misses = verdict.Judge(s.Platform.Kern, platform.Point{medial, over}, platform.Point{u, u}, math.Inf(1))
	return s
}

func next(t assert.TestingT, seen Observations, shoes ...compare.ShoeFoot) *Advice {
	a, err := Next(&compare.Comparison{Shoes: shoes}, "", seen)
	assert.NoError(t, err)
	return a
}

// The cases cover every pattern and the patterns that the measures leave undecided. 480 N
// on 960 mm² is a mean pressure of 500 kPa.
func TestPatterns(t *testing.T) {
	for _, c := range []struct {
		name                   string
		medial, over, u, share float64
		peak                   float64
		seen                   Observations
		want                   Pattern
		first                  string
		open                   string
	}{
		{"behind, small patch", 0, -8, 0.5, 0.4, 2000, Observations{}, Behind, "A higher crown, if this one is low for the foot.", ""},
		{"behind, low crown seen", 0, -8, 0.5, 0.4, 2000, Observations{LowCrown: true}, Behind, "A higher crown: this one was seen to be low for the foot.", ""},
		{"behind, bulging", 0, -8, 0.5, 0.4, 2000, Observations{Bulging: true}, BehindBulging, "A wider platform.", ""},
		{"behind, whole platform", 0, -8, 0.5, 0.97, 900, Observations{}, BehindWhole, "The shank: softer, three-quarter or harder can each be right; try both ways.", ""},
		{"behind, whole or not", 0, -8, 0.5, 0.91, 900, Observations{}, Behind, "A higher crown, if this one is low for the foot.", "whether the whole platform carries load"},
		{"behind and to the little toe", -4, -8, 0.2, 0.4, 2000, Observations{}, BehindLittleToe, "A higher crown, if this one is low for the foot.", ""},
		{"to the little toe and behind", -14, -3, 0.5, 0.4, 2000, Observations{}, BehindLittleToe, "A higher crown, if this one is low for the foot.", ""},
		{"to the little toe", -12, 2, 0.5, 0.4, 2000, Observations{}, LittleToe, "The wings: their height on the side that gives way.", ""},
		{"to the little toe, perhaps behind", -12, -0.2, 0.5, 0.4, 2000, Observations{}, LittleToe, "The wings: their height on the side that gives way.", "whether the load is behind"},
		{"to the big toe", 12, -0.5, 0.5, 0.4, 2000, Observations{}, BigToe, "The wings: their height on the side that gives way.", ""},
		{"too far over", 0, 8, 0.5, 0.4, 2000, Observations{}, TooFarOver, "A stronger shank.", ""},
		{"small patch", 0, 0, 0.5, 0.5, 1500, Observations{}, SmallPatch, "Check whether the platform is flat, or worn, before trying shoes.", ""},
		{"small patch without a peak", 0, 0, 0.5, 0.5, 1000, Observations{}, Fine, "", ""},
		{"over the box", 0, 0, 0.5, 0.95, 700, Observations{}, Fine, "", ""},
		{"too close to call", 0, -4, 1, 0.8, 900, Observations{Bulging: true}, Undecided, "", "too close to call: measure more"},
	} {
		a := next(t, c.seen, foot(device.Left, c.medial, c.over, c.u, c.share, c.peak))
		require.Len(t, a.Findings, 1, c.name)
		f := a.Findings[0]
		assert.Equal(t, c.want, f.Pattern, c.name)
		if c.first == "" {
			assert.Empty(t, f.Options, c.name)
		} else {
			assert.Equal(t, c.first, f.Options[0].Text, c.name)
		}
		assert.Contains(t, strings.Join(f.Open, " "), c.open, c.name)
		assert.Equal(t, c.open == "", len(f.Open) == 0, c.name)
	}
}

func TestOneReleveIsNotEnough(t *testing.T) {
	s := foot(device.Left, 0, -8, 0.5, 0.4, 2000)
	over := s.Measures[measure.Over]
	over.CI95 = nil
	s.N, s.Measures[measure.Over] = 1, over
	f := next(t, Observations{}, s).Findings[0]
	assert.Equal(t, Undecided, f.Pattern)
	assert.Equal(t, []string{"one relevé does not tell: measure more before changing anything"}, f.Open)
}

func TestBetweenFeet(t *testing.T) {
	left, right := foot(device.Left, 0, -8, 0.5, 0.4, 2000), foot(device.Right, 0, 0, 0.5, 0.95, 700)
	a := next(t, Observations{}, left, right)
	require.Len(t, a.Findings, 3)
	assert.Equal(t, OneFoot, a.Findings[2].Pattern)
	assert.Nil(t, a.Findings[2].Foot)
	assert.Equal(t, "left is behind the kern, right is over the box", a.Findings[2].Saw)
	assert.Contains(t, a.Findings[2].Options[2].Text, "a question for a clinician")

	same := foot(device.Left, 0, 0, 0.5, 0.95, 700)
	same.Measures[measure.LoadShare] = known(0.38, 0.02)
	a = next(t, Observations{}, same, right)
	require.Len(t, a.Findings, 3)
	assert.Equal(t, "the left foot carries 38 % of the load", a.Findings[2].Saw)
	same.Measures[measure.LoadShare] = known(0.44, 0.02)
	assert.Len(t, next(t, Observations{}, same, right).Findings, 2, "too close to call")
	open := foot(device.Left, 0, -4, 1, 0.8, 900)
	assert.Len(t, next(t, Observations{}, open, right).Findings, 2, "a foot that cannot be judged is not one foot only")
}

func TestPainEndsAdvice(t *testing.T) {
	a := next(t, Observations{Pain: true}, foot(device.Left, 0, -8, 0.5, 0.4, 2000))
	assert.Equal(t, []string{"There is pain: stop here, and have the dancer's clinician look at it."}, a.Notices)
	assert.NotNil(t, a.Findings, "JSON has a list")
	assert.Empty(t, a.Findings)
	assert.Empty(t, a.Answer)

	assert.Equal(t, []string{"Stop: pain is 5 of 10."}, next(t, Observations{Pain: true, Stop: "Stop: pain is 5 of 10."}).Notices)

	nothing, err := Next(&compare.Comparison{}, "", Observations{Pain: true})
	require.NoError(t, err, "it stops whatever was measured")
	assert.Equal(t, a.Notices, nothing.Notices)
}

// A shoe over the box on both feet, with no observations, gets no options.
func TestNothingToChange(t *testing.T) {
	left, right := foot(device.Left, 0, 0, 0.5, 0.95, 700), foot(device.Right, 0, 0, 0.5, 0.95, 700)
	a := next(t, Observations{}, left, right)
	assert.Equal(t, "The measurement gives no reason to change anything.", a.Answer)
	assert.Equal(t, []string{"Pressure shows where load sits, not what the ankle or the foot does."}, a.Notices)
	assert.Empty(t, next(t, Observations{HeelLoose: true}, left, right).Answer)
	assert.Empty(t, next(t, Observations{}, left, foot(device.Right, 0, -4, 1, 0.8, 900)).Answer, "too close to call")
}

// A place that changes within the hold by clearly more than a millimetre chooses options
// for sinking in addition to those of the place.
func TestSinking(t *testing.T) {
	for _, c := range []struct {
		name      string
		measure   measure.Measure
		change, u float64
		saw       string
	}{
		{"back", measure.OverChange, -2, 0.3, "left foot: the load moves within the hold (change of over −2.0 mm), as where a foot sinks into the box"},
		{"forward", measure.PeakOverChange, 2, 0.3, "left foot: the load moves within the hold (change of the peak's over +2.0 mm), as where a foot sinks into the box"},
		{"aside", measure.PeakMedialChange, 2, 0.3, "left foot: the load moves within the hold (change of the peak's medial +2.0 mm), as where a foot sinks into the box"},
		{"perhaps", measure.OverChange, -1.4, 0.3, ""},
		{"a little", measure.OverChange, -0.8, 0.1, ""},
	} {
		s := foot(device.Left, 0, -8, 0.5, 0.4, 2000)
		s.Measures[c.measure] = known(c.change, c.u)
		a := next(t, Observations{}, s)
		assert.Equal(t, Behind, a.Findings[0].Pattern, c.name)
		if c.saw == "" {
			assert.Len(t, a.Findings, 1, c.name)
			continue
		}
		require.Len(t, a.Findings, 2, c.name)
		assert.Equal(t, Sinks, a.Findings[1].Pattern, c.name)
		assert.Equal(t, c.saw, a.Findings[1].Saw, c.name)
		assert.NotEmpty(t, a.Findings[1].Options, c.name)
		assert.Len(t, next(t, Observations{Sinks: true}, s).Findings, 2, "measured and seen is one pattern")
	}
}

// Observations in the recordings of a shoe choose options for that shoe alone.
func TestObservationsChooseOptions(t *testing.T) {
	for sight, want := range map[string]Pattern{
		correction.Sinks: Sinks, correction.Sickles: Sickles, correction.BoxBulges: Bulges, correction.HeelLoose: HeelLoose,
	} {
		s := foot(device.Left, 0, 0, 0.5, 0.95, 700)
		s.Shoe = "A#2"
		a := next(t, Observations{Saw: map[string][]string{"A": {sight, "blue"}, "B": {correction.Sickles}}}, s)
		require.Len(t, a.Findings, 2, sight)
		assert.Equal(t, want, a.Findings[1].Pattern)
		assert.Nil(t, a.Findings[1].Foot, "nobody said of which foot")
		assert.Contains(t, a.Findings[1].Saw, "seen by eye")
		assert.NotEmpty(t, a.Findings[1].Options)
		assert.Contains(t, strings.Join(a.Notices, " "), "common practice")
	}
	behind := next(t, Observations{Saw: map[string][]string{"A": {correction.BoxBulges}}}, foot(device.Left, 0, -8, 0.5, 0.4, 2000))
	require.Len(t, behind.Findings, 1, "it is part of the pattern behind the kern")
	assert.Equal(t, BehindBulging, behind.Findings[0].Pattern)
}

// tried returns a shoe that differs from A in the given properties, with its difference
// in a measure of the left foot.
func tried(to string, m measure.Measure, difference, half float64, properties ...compare.Property) compare.Change {
	d := compare.Difference{Foot: device.Left, Measure: m, From: "A", To: to, Difference: difference,
		CI95: &[2]float64{difference - half, difference + half}, Wording: compare.CouldBeChance}
	if d.CI95[0] > 0 || d.CI95[1] < 0 {
		d.Wording = compare.Clear
	}
	return compare.Change{From: "A", To: to, Properties: properties, Moved: []compare.Difference{d}}
}

func TestWhatTheShoesHaveShown(t *testing.T) {
	crown := compare.Property{Name: compare.Crown, From: "24.0", To: "28.0", By: 4}
	lower := compare.Property{Name: compare.Crown, From: "24.0", To: "20.0", By: -4}
	width := compare.Property{Name: compare.PlatformWidth, From: "36.0", To: "40.0", By: 4}
	square := compare.Property{Name: compare.Box, From: "tapered", To: "square", By: 2}
	softer := compare.Property{Name: compare.Shank, From: "medium", To: "soft", By: -1}
	const crownText, wideText, squareText = "A higher crown, if this one is low for the foot.", "A wider platform.", "A squarer box, less tapered."
	shankText := texts["shank"].text

	for _, c := range []struct {
		name   string
		tried  []compare.Change
		want   []string
		scores []int
	}{
		{"nothing tried", nil, []string{crownText, wideText, squareText, shankText}, []int{0, 0, 0, 0}},
		{"a squarer box moved it", []compare.Change{tried("B", measure.Over, 3, 1, square)},
			[]string{squareText, crownText, wideText, shankText}, []int{2, 0, 0, 0}},
		{"a higher crown did nothing", []compare.Change{tried("B", measure.Over, 0.2, 1, crown)},
			[]string{wideText, squareText, shankText, crownText}, []int{0, 0, 0, -1}},
		{"too little to say what a higher crown did", []compare.Change{tried("B", measure.Over, 0.2, 5, crown)},
			[]string{crownText, wideText, squareText, shankText}, []int{0, 0, 0, 0}},
		{"a lower crown moved it back", []compare.Change{tried("B", measure.Over, -3, 1, lower)},
			[]string{crownText, wideText, squareText, shankText}, []int{2, 0, 0, 0}},
		{"a higher crown moved it back", []compare.Change{tried("B", measure.Over, -3, 1, crown)},
			[]string{wideText, squareText, shankText, crownText}, []int{0, 0, 0, -2}},
		{"width and box together", []compare.Change{tried("B", measure.Over, 3, 1, width, square)},
			[]string{crownText, wideText, squareText, shankText}, []int{0, 0, 0, 0}},
		{"a softer shank moved it back: a harder one may move it forward", []compare.Change{tried("B", measure.Over, -3, 1, softer)},
			[]string{shankText, crownText, wideText, squareText}, []int{1, 0, 0, 0}},
		{"two shoes that agree", []compare.Change{tried("B", measure.Over, 3, 1, crown), tried("C", measure.Over, 2, 1, width), tried("D", measure.Over, 2, 1, width)},
			[]string{wideText, crownText, squareText, shankText}, []int{4, 2, 0, 0}},
		{"another measure", []compare.Change{tried("B", measure.PeakPressure, 300, 1, width)},
			[]string{crownText, wideText, squareText, shankText}, []int{0, 0, 0, 0}},
	} {
		a, err := Next(&compare.Comparison{Shoes: []compare.ShoeFoot{foot(device.Left, 0, -8, 0.5, 0.4, 2000)}, Changes: c.tried}, "A", Observations{})
		require.NoError(t, err)
		var got []string
		var scores []int
		for _, o := range a.Findings[0].Options {
			got, scores = append(got, o.Text), append(scores, o.Score)
		}
		assert.Equal(t, c.want, got, c.name)
		assert.Equal(t, c.scores, scores, c.name)
	}

	because := evidence(tried("B", measure.Over, 3, 1, crown), []compare.Property{crown}, tried("B", measure.Over, 3, 1, crown).Moved[0], nil)
	assert.Equal(t, "A to B: crown (mm) 24.0 to 28.0, and nothing else that was entered; over moved by +3.0 mm: clear", because)
}

// A shoe that differs in several properties is mentioned and is no evidence for any of
// them.
func TestChangedTogether(t *testing.T) {
	crown := compare.Property{Name: compare.Crown, From: "24.0", To: "28.0", By: 4}
	width := compare.Property{Name: compare.PlatformWidth, From: "36.0", To: "40.0", By: 4}
	shank := compare.Property{Name: compare.Shank, From: "medium", To: "soft", By: -1}
	a, err := Next(&compare.Comparison{Shoes: []compare.ShoeFoot{foot(device.Left, 0, -8, 0.5, 0.4, 2000)},
		Changes: []compare.Change{tried("B", measure.Over, 3, 1, crown, width, shank)}}, "A", Observations{})
	require.NoError(t, err)
	for _, o := range a.Findings[0].Options {
		assert.Zero(t, o.Score, o.Text)
	}
	o := a.Findings[0].Options[0]
	assert.Equal(t, []string{"A to B: crown (mm) 24.0 to 28.0, changed together with platform width and shank; over moved by +3.0 mm: clear"}, o.Because)
	assert.Equal(t, []string{"platform width (mm)", "shank"}, o.Together)
}

// Options for the side come after those for over, for any score.
func TestOverComesFirst(t *testing.T) {
	wings := compare.Property{Name: compare.Wings, From: "20.0", To: "25.0", By: 5}
	c := &compare.Comparison{
		Shoes:   []compare.ShoeFoot{foot(device.Left, -4, -8, 0.2, 0.4, 2000)},
		Changes: []compare.Change{tried("B", measure.Medial, 3, 1, wings)},
	}
	a, err := Next(c, "A", Observations{})
	require.NoError(t, err)
	options := a.Findings[0].Options
	assert.Equal(t, texts["wings"].text, options[3].Text)
	assert.Equal(t, scoreHelped, options[3].Score)
	assert.Equal(t, 0, options[0].Score)
}

// For any measures advice states that it is common practice and no diagnosis, is given
// only for a decided verdict, offers more than a shank, and is ordered by score.
func TestAdviceProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := foot(device.Left, rapid.Float64Range(-20, 20).Draw(t, "medial"), rapid.Float64Range(-12, 12).Draw(t, "over"),
			rapid.Float64Range(0.01, 3).Draw(t, "u"), rapid.Float64Range(0, 1).Draw(t, "share"), rapid.Float64Range(100, 4000).Draw(t, "peak"))
		var changes []compare.Change
		for range rapid.IntRange(0, 4).Draw(t, "tried") {
			name := rapid.SampledFrom([]string{compare.Crown, compare.Shank, compare.Box, compare.Wings}).Draw(t, "property")
			m := rapid.SampledFrom([]measure.Measure{measure.Over, measure.Medial, measure.ContactShare}).Draw(t, "measure")
			changes = append(changes, tried("B", m, rapid.Float64Range(-5, 5).Draw(t, "moved"), rapid.Float64Range(0.1, 4).Draw(t, "half"),
				compare.Property{Name: name, From: "x", To: "y", By: rapid.SampledFrom([]float64{-1, 1}).Draw(t, "by")}))
		}
		a, err := Next(&compare.Comparison{Shoes: []compare.ShoeFoot{s}, Changes: changes}, "", Observations{Bulging: rapid.Bool().Draw(t, "bulging")})
		require.NoError(t, err)
		said := strings.Join(a.Notices, " ")
		offered := slices.ContainsFunc(a.Findings, func(f PatternAdvice) bool { return len(f.Options) > 0 })
		assert.Equal(t, offered, strings.Contains(said, "common practice"))
		assert.Equal(t, offered, strings.Contains(said, "not a diagnosis"))
		assert.Equal(t, a.Answer != "", len(a.Findings) == 1 && a.Findings[0].Pattern == Fine)
		f := a.Findings[0]
		assert.Equal(t, f.Pattern == Undecided || f.Pattern == Fine, len(f.Options) == 0)
		if s.Verdict == measure.TooCloseToCall {
			assert.Equal(t, Undecided, f.Pattern)
		}
		if len(f.Options) == 0 {
			return
		}
		assert.Greater(t, len(f.Options), 1)
		first := practice[f.Pattern].countFirst()
		for i, o := range f.Options {
			assert.NotContains(t, o.Text, "A softer")
			if i > 0 && i != first {
				assert.GreaterOrEqual(t, f.Options[i-1].Score, o.Score)
			}
		}
	})
}

func TestEveryOptionHasItsWords(t *testing.T) {
	used := map[string]bool{}
	for pattern, os := range practice {
		assert.NotEmpty(t, os, pattern)
		for _, o := range os {
			used[o.id] = true
			assert.NotEmpty(t, texts[o.id].text, o.id)
			assert.NotEmpty(t, texts[o.id].watch, o.id)
			assert.Equal(t, o.id == "clinician", texts[o.id].sign == "", o.id)
			for _, p := range o.properties {
				assert.NotEmpty(t, compare.PropertyText(p), p)
			}
			later := slices.IndexFunc(os, func(o option) bool { return o.later })
			assert.NotEqual(t, 0, later, "something comes first")
		}
	}
	for id := range texts {
		assert.True(t, used[id], id)
	}
}

// below uses Student's t distribution about the mean, with unlimited degrees of freedom
// the normal distribution.
func TestBelow(t *testing.T) {
	assert.InDelta(t, 0.95, below(known(-1.6448536, 1), 0), 1e-7) // NormalDist().inv_cdf(0.05) of Python's statistics
	dof := 4.0
	m := known(-2.1318468, 1) // F(t) = 1/2 + 3t/(8√a)·(1 − t²/(12a)), a = 1 + t²/4, is 0.95 at 2.1318468
	m.DOF = &dof
	assert.InDelta(t, 0.95, below(m, 0), 1e-7)
	for _, x := range []float64{-4, -2.5, 0, 3} {
		assert.InDelta(t, distuv.StudentsT{Mu: m.Mean, Sigma: m.U, Nu: dof}.CDF(x), below(m, x), 1e-12)
	}
	assert.Equal(t, 1.0, below(known(-1, 0), 0))
	assert.Equal(t, 0.0, below(known(1, 0), 0))
	assert.NotEqual(t, below(compare.Summary{}, 0), below(compare.Summary{}, 0), "nothing known: NaN")
}

func TestNextStartsFromTheBest(t *testing.T) {
	a := foot(device.Left, 0, -8, 0.5, 0.4, 2000)
	b := foot(device.Left, 0, -7, 0.5, 0.4, 2000)
	b.Shoe = "B"
	c := &compare.Comparison{Shoes: []compare.ShoeFoot{a, b}}
	shoe := func() string { n, err := Next(c, "", Observations{}); require.NoError(t, err); return n.Shoe }
	assert.Equal(t, "A", shoe())
	c.Ranking = []compare.RankedShoe{{Place: 1, Shoe: "B"}, {Place: 1, Shoe: "A"}}
	assert.Equal(t, "A", shoe(), "a tie: from the first worn")
	c.Ranking[1].Place = 2
	assert.Equal(t, "B", shoe())
	c.Preferred = "B"
	assert.Equal(t, "B", shoe())
	asked, err := Next(c, "A", Observations{})
	require.NoError(t, err)
	assert.Equal(t, "By these numbers shoe B is better than shoe A, from which this starts as asked.", asked.Notices[0])
	_, err = Next(c, "Z", Observations{})
	assert.ErrorContains(t, err, "shoe Z: not in this comparison")

	// Shoes in first place: the one that is over the box, whichever was worn first.
	c.Preferred, c.Shoes = "", append(c.Shoes, foot(device.Left, 0, 0, 0.5, 0.95, 700), b)
	c.Shoes[2].Shoe = "C"
	c.Ranking = []compare.RankedShoe{{Place: 1, Shoe: "B"}, {Place: 1, Shoe: "C"}, {Place: 3, Shoe: "A"}}
	assert.Equal(t, "C", shoe())
	asked, err = Next(c, "A", Observations{})
	require.NoError(t, err)
	assert.Equal(t, "Shoe A, from which this starts as asked, is not in first place; there are C, B.", asked.Notices[0])
	_, err = Next(&compare.Comparison{}, "", Observations{})
	assert.ErrorContains(t, err, "nothing to go on")
}
