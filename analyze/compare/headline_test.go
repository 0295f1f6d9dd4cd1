package compare

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/analyze/measure"
)

// at returns four relevés around a place along over, mm.
func at(over float64) []float64 { return []float64{over - 0.2, over, over + 0.2, over + 0.1} }

// place returns a day of a shoe, given the places of its load, mm.
func place(code string, left, right, medial, seatSD float64) day {
	return day{shoe: shoe(code), mounting: code, left: at(left), right: at(right), medial: medial, seatSD: seatSD}
}

// Headlines in typical outcomes of a fitting. The kern reaches 4 mm to the front and to
// the back and 6.7 mm to the sides. The expected texts were written before the code.
func TestHeadline(t *testing.T) {
	const sure = 0.2 // seat, mm: nothing is left open
	over := func(code string) day { return place(code, 0, 0, 0, sure) }
	back := func(code string) day { return place(code, -8, -8, 0, sure) }
	open := func(code string) day { return place(code, -2, -2, 0, 1) }
	leftOnly := func(d day) day { d.right = nil; return d }
	on := func(support string, d day) day { d.support = support; return d }
	twelve := func() (days []day) {
		for _, code := range strings.Split("ABCDEFGHIJK", "") {
			days = append(days, back(code))
		}
		return append(days, over("L"))
	}
	unsure := func(codes string) (days []day) {
		for _, code := range strings.Split(codes, "") {
			days = append(days, place(code, -6, -6, 0, 1))
		}
		return days
	}
	for _, c := range []struct {
		situation string
		days      []day
		pain      bool
		want      string
	}{
		// Two shoes.
		{"one is over", []day{back("A"), over("B")}, false,
			"Over the box on both feet in B, behind in A."},
		{"one is over, one foot", []day{leftOnly(back("A")), leftOnly(over("B"))}, false,
			"Over the box on the left foot in B, behind in A."},
		{"too far over", []day{place("A", 8, 8, 0, sure), over("B")}, false,
			"Over the box on both feet in B, too far over in A."},
		{"towards one side", []day{place("A", 0, 0, 12, sure), over("B")}, false,
			"Over the box on both feet in B, towards the big-toe side in A."},
		{"both axes missed", []day{place("A", -6, -6, -9, sure), over("B")}, false,
			"Over the box on both feet in B, behind and towards the little-toe side in A."},
		{"feet differ, one shoe wins", []day{place("A", -8, 0, 0, sure), over("B")}, false,
			"Over the box on both feet in B; in A over the box on the right foot and behind on the left."},
		{"feet disagree", []day{place("A", -8, 0, 0, sure), place("B", 0, -8, 0, sure)}, false,
			"In A over the box on the right foot and behind on the left; in B over the box on the left foot and behind on the right. " +
				"On the left foot B is better than A, on the right foot A is better than B."},
		{"over on one foot, nearer on the other", []day{place("A", -9, -9, 0, sure), place("B", 0, -6, 0, sure)}, false,
			"In B over the box on the left foot and behind on the right; behind on both feet in A. On the right foot B is nearer than A."},
		{"all over", []day{over("A"), over("B")}, false,
			"Over the box on both feet in A and B. These numbers do not choose between A and B."},
		{"nobody over, one nearer", []day{place("A", -9, -9, 0, sure), place("B", -6, -6, 0, sure)}, false,
			"Over the box in neither shoe: behind on both feet in A and B. On both feet B is nearer than A."},
		{"nobody over, not told apart", []day{place("A", -8, -8, 0, 1), place("B", -6, -6, 0, 1)}, false,
			"Over the box in neither shoe: behind on both feet in A and B. B cannot be told from A yet: 3 more mountings of each would."},
		{"nobody over, hardly to be told apart", []day{place("A", -8, -8, 0, 1), place("B", -7.9, -7.9, 0, 1)}, false,
			"Over the box in neither shoe: behind on both feet in A and B. B cannot be told from A: even 8 mountings of each would not do."},
		{"nobody over, different sides", []day{back("A"), place("B", 8, 8, 0, sure)}, false,
			"Over the box in neither shoe: behind on both feet in A, too far over in B. " +
				"A and B miss the kern differently, and these numbers do not choose between them."},
		{"one open, the other behind", []day{back("A"), open("B")}, false,
			"Behind on both feet in A; B is too close to call: one more mounting would decide."},
		{"both open", []day{open("A"), open("B")}, false,
			"Too close to call on both feet in A and B: one more mounting of each would decide."},
		{"open on one foot", []day{back("A"), place("B", 0, -2, 0, 1)}, false,
			"In B over the box on the left foot and too close to call on the right; behind on both feet in A. B is too close to call on the right foot: one more mounting would decide."},
		{"verdicts differ, the difference is not clear among six", append(unsure("ACDEF"), place("B", 0, 0, 0, 1)), false,
			"Over the box on both feet in B, behind in A, C, D and 2 others; " +
				"the difference between B and each of A, C, D and 2 others is not clear yet: one more mounting of each would make it clear."},
		{"nearer than one on both feet, than another on one", []day{place("A", -9, -9, 0, sure), place("B", -9, -6, 0, sure), place("C", -6, -6, 0, sure)}, false,
			"Over the box in none of the shoes: behind on both feet in A, B and C. On both feet C is nearer than A; on the left foot C is nearer than B. " +
				"On the right foot B cannot be told from C: even 8 mountings of each would not do."},
		// Three shoes and more.
		{"winner, loser and what is open", []day{back("A"), over("B"), open("C")}, false,
			"Over the box on both feet in B, behind in A; C cannot be told from B yet: one more mounting of each would."},
		{"two are over", []day{back("A"), over("B"), over("C")}, false,
			"Over the box on both feet in B and C, behind in A. These numbers do not choose between B and C."},
		{"nobody over, the nearest of three", []day{place("A", -9, -9, 0, sure), place("B", -8.9, -9, 0, sure), place("C", -6, -6, 0, sure)}, false,
			"Over the box in none of the shoes: behind on both feet in A, B and C. On both feet C is nearer than A and B."},
		{"nothing measured in one", []day{back("A"), over("B"), {shoe: shoe("C"), mounting: "C", left: []float64{}, right: []float64{}}}, false,
			"Over the box on both feet in B, behind in A. Nothing was measured in C."},
		{"open on the foot that is compared", []day{leftOnly(over("A")), place("B", -2, 0, 0, 1)}, false,
			"Over the box on the left foot in A; in B over the box on the right foot and too close to call on the left. " +
				"On the left foot B cannot be told from A yet: one more mounting of each would."},
		{"open under other conditions", []day{on("barre", back("A")), on("none", open("B"))}, false,
			"Behind on both feet in A. A and B were worn under different conditions (support) and are not compared. B is too close to call: one more mounting would decide."},
		{"alike on one foot, the other is measured in one", []day{leftOnly(over("A")), place("B", 0, -8, 0, sure)}, false,
			"Over the box on the left foot in A; in B over the box on the left foot and behind on the right. " +
				"On the left foot these numbers do not choose between A and B."},
		{"one foot of one shoe", []day{leftOnly(back("A")), over("B")}, false,
			"Over the box on both feet in B; behind on the left foot in A."},
		{"twelve", twelve(), false,
			"Over the box on both feet in L, behind in A, B, C and 8 others."},
		// One shoe.
		{"one shoe, over", []day{over("A")}, false,
			"In shoe A the load sits over the box on both feet."},
		{"one shoe, behind", []day{back("A")}, false,
			"In shoe A the load sits behind the kern (pulled back) on both feet."},
		{"one shoe, both axes missed", []day{leftOnly(place("A", -6, 0, -9, sure))}, false,
			"In shoe A the load sits behind the kern and towards the little-toe side on the left foot."},
		{"one shoe, feet differ", []day{place("A", -8, 0, 0, sure)}, false,
			"In shoe A the load sits over the box on the right foot and behind the kern (pulled back) on the left."},
		{"one shoe, open", []day{open("A")}, false,
			"In shoe A it is too close to call on both feet whether the load sits over the box: one more mounting would decide."},
		{"one shoe, open on one foot", []day{place("A", 0, -2, 0, 1)}, false,
			"In shoe A the load sits over the box on the left foot and is too close to call on the right: one more mounting would decide."},
		// What else a fitting can end with.
		{"one relevé", []day{{shoe: shoe("A"), mounting: "A", left: []float64{-8}, right: []float64{-8}}, over("B")}, false,
			"Over the box on both feet in B. A single relevé does not tell where the load sits in A: more relevés would."},
		{"one relevé in one shoe", []day{{shoe: shoe("A"), mounting: "A", left: []float64{-8}}}, false,
			"A single relevé does not tell where the load sits in A: more relevés would."},
		{"no measured relevé", []day{{shoe: shoe("A"), mounting: "A", left: []float64{}}}, false,
			"No relevé could be measured."},
		{"pain", []day{back("A"), over("B"), open("C")}, true,
			"Over the box on both feet in B, behind in A; C cannot be told from B. " + Stop},
		{"pain in one shoe", []day{open("A")}, true,
			"In shoe A it is too close to call on both feet whether the load sits over the box. " + Stop},
		{"pain before the first relevé", []day{{shoe: shoe("A"), mounting: "A", left: []float64{}}}, true,
			"No relevé could be measured. " + Stop},
		{"changed conditions", []day{on("barre", back("A")), on("none", over("B"))}, false,
			"Over the box on both feet in B, behind in A. A and B were worn under different conditions (support) and are not compared."},
		{"one shoe under two conditions", []day{on("barre", over("A")), on("none", back("A"))}, false,
			"Over the box on both feet in A (support barre), behind in A (support none). Different conditions (support) are not compared."},
	} {
		t.Run(c.situation, func(t *testing.T) {
			got := headlineOf(t, c.pain, c.days...)
			assert.Equal(t, c.want, got.Answer)
			assertParts(t, got)
		})
	}
}

func headlineOf(t require.TestingT, pain bool, days ...day) *Comparison {
	var results []*measure.Result
	for i, d := range days {
		results = append(results, d.result(i))
	}
	c, err := Results(results, Options{Earlier: exactly(), Pain: pain})
	require.NoError(t, err)
	_, err = json.Marshal(c)
	require.NoError(t, err)
	return c
}

// assertParts fails unless the parts of a headline add up to its text.
func assertParts(t require.TestingT, c *Comparison) {
	assert.True(t, strings.HasPrefix(c.Answer, c.Parts.Verdicts), c.Answer)
	sits := 0
	for _, g := range c.Parts.Sittings {
		sits += len(g.Shoes)
		in := c.Answer // where its verdicts are open on all feet
		for _, f := range g.Feet {
			if f != nil && (f.Single || f.Verdict != measure.TooCloseToCall) {
				in = c.Parts.Verdicts
			}
		}
		assert.Contains(t, in, g.Shoes[0])
	}
	assert.Equal(t, c.Parts.Verdicts != "", sits > 0, c.Answer)
	for _, b := range c.Parts.Better {
		assert.NotEmpty(t, b.Than)
		assert.NotEmpty(t, b.Feet)
	}
	rest := strings.ToLower(strings.TrimSuffix(strings.TrimPrefix(c.Answer, c.Parts.Verdicts), Stop))
	for _, known := range c.Parts.Known {
		assert.Contains(t, strings.ToLower(c.Answer), strings.ToLower(known))
		rest = strings.Replace(rest, strings.ToLower(known), "", 1)
	}
	if c.Parts.Verdicts != "" {
		assert.Equal(t, len(c.Parts.Open) > 0, strings.Trim(rest, " .;:") != "", "%s\nleaves %q", c.Answer, rest)
	}
	for _, o := range c.Parts.Open {
		assert.NotEmpty(t, o.Shoes)
		assert.Equal(t, o.Kind == NotJudged, o.Front == "")
		assert.Contains(t, c.Answer, strings.TrimSuffix(strings.TrimPrefix(o.Feet, "on "), " foot"))
		for _, shoe := range o.Shoes[:min(len(o.Shoes), mostNamed-1)] {
			assert.Contains(t, c.Answer, shoe)
		}
	}
}

// For any measures the headline has at most three sentences, names every shoe, and calls
// none better or nearer without a clear difference.
func TestHeadlineProperties(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var days []day
		codes := strings.Split("ABC", "")[:rapid.IntRange(1, 3).Draw(rt, "shoes")]
		for _, code := range codes {
			d := place(code, rapid.Float64Range(-9, 9).Draw(rt, "left"), rapid.Float64Range(-9, 9).Draw(rt, "right"),
				rapid.Float64Range(-9, 9).Draw(rt, "medial"), rapid.Float64Range(0.1, 2).Draw(rt, "seat"))
			if rapid.Bool().Draw(rt, "one foot") {
				d.right = nil
			}
			days = append(days, d)
		}
		c := headlineOf(rt, false, days...)
		assertParts(rt, c)
		assert.LessOrEqual(rt, strings.Count(c.Answer, "."), 3, c.Answer)
		assert.True(rt, strings.HasSuffix(c.Answer, "."), c.Answer)
		for _, code := range codes {
			assert.Regexp(rt, `\b`+code+`\b`, c.Answer)
		}
		if strings.Contains(c.Answer, "nearer") || strings.Contains(c.Answer, "better") {
			clear := false
			for i := range codes {
				base := headlineOf(rt, false, append([]day{days[i]}, slices.Delete(slices.Clone(days), i, i+1)...)...)
				for _, d := range base.Differences {
					clear = clear || d.Wording == Clear && (d.Measure == measure.Over || d.Measure == measure.Medial)
				}
			}
			assert.True(rt, clear, c.Answer)
		}
		assert.NotContains(rt, headlineOf(rt, true, days...).Answer, "would")
	})
}

// The scatter of a single relevé is not known, so nothing says where the load sits in its
// shoe: the finding, as the answer, says that it is one relevé.
func TestFindingOfSingleReleve(t *testing.T) {
	for _, over := range []float64{0, -8} {
		c := of(t, day{shoe: shoe("A"), mounting: "A", left: []float64{over}, seatSD: 0.2}, place("B", 0, 0, 0, 0.2))
		assert.Contains(t, c.Answer, "A single relevé does not tell where the load sits in A")
		assert.Contains(t, c.Findings[0], "in A the load sits, in a single relevé, ")
	}
}

// A sentence that begins with a shoe has its code as it is spelled.
func TestHeadlineKeepsTheSpellingOfCodes(t *testing.T) {
	c := of(t, place("b", -9, -9, 0, 0.2), place("é", -8, -8, 0, 1), place("a", -6, -6, 0, 1))
	assert.Contains(t, c.Answer, "in b, é and a. é cannot be told from b")
}

// A headline says of no shoe that it stands.
func TestNoHeadlineSaysThatAShoeStands(t *testing.T) {
	c := of(t, place("A", -8, 8, 0, 0.2), place("B", 0, 0, 12, 0.2))
	assert.NotContains(t, c.Why, "stands")
}
