package report

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
)

// The headlines of the fitting sheet are tested in the situations of TestHeadline of
// package compare.
func TestPlainHeadline(t *testing.T) {
	over, open := &compare.FootSits{Verdict: measure.OverTheBox}, &compare.FootSits{Verdict: measure.TooCloseToCall}
	single := &compare.FootSits{Verdict: measure.TooCloseToCall, Single: true}
	to := func(v measure.Verdict, d ...measure.Direction) *compare.FootSits {
		return &compare.FootSits{Verdict: v, Directions: d}
	}
	back, front := to(measure.PulledBack, measure.Behind), to(measure.TooFarOver, measure.InFront)
	little, big := to(measure.ToTheSide, measure.LittleToeSide), to(measure.ToTheSide, measure.BigToeSide)
	corner := to(measure.PulledBack, measure.Behind, measure.LittleToeSide)
	in := func(shoes string, left, right *compare.FootSits) compare.Sitting {
		return compare.Sitting{Shoes: strings.Split(shoes, ""), Feet: [2]*compare.FootSits{left, right}}
	}
	for _, c := range []struct {
		situation string
		groups    []compare.Sitting
		want      string
	}{
		{"one is over", []compare.Sitting{in("B", over, over), in("A", back, back)}, "In B the weight is in the right place on both feet (over the box). In A it is too far back (behind)."},
		{"one is over, one foot", []compare.Sitting{in("B", over, nil), in("A", back, nil)}, "In B the weight is in the right place on the left foot (over the box). In A it is too far back (behind)."},
		{"too far over", []compare.Sitting{in("B", over, over), in("A", front, front)}, "In B the weight is in the right place on both feet (over the box). In A it is too far forward (too far over)."},
		{"towards one side", []compare.Sitting{in("B", over, over), in("A", big, big)}, "In B the weight is in the right place on both feet (over the box). In A it is too far towards the big toe."},
		{"both axes missed", []compare.Sitting{in("B", over, over), in("A", corner, corner)}, "In B the weight is in the right place on both feet (over the box). In A it is too far back and towards the little toe."},
		{"feet differ, one shoe wins", []compare.Sitting{in("B", over, over), in("A", back, over)}, "In B the weight is in the right place on both feet (over the box). In A it is in the right place on the right foot and too far back on the left foot (behind)."},
		{"feet disagree", []compare.Sitting{in("A", back, over), in("B", over, back)},
			"In A the weight is in the right place on the right foot (over the box) and too far back on the left foot (behind). In B it is in the right place on the left foot and too far back on the right foot."},
		{"all over", []compare.Sitting{in("AB", over, over)}, "In A and B the weight is in the right place on both feet (over the box)."},
		{"nobody over", []compare.Sitting{in("AB", back, back)}, "In A and B the weight is too far back on both feet (behind)."},
		{"nobody over, different sides", []compare.Sitting{in("A", back, back), in("B", little, little)}, "In A the weight is too far back on both feet (behind). In B it is too far towards the little toe."},
		{"open on one foot", []compare.Sitting{in("B", over, open), in("A", back, back)},
			"In B the weight is in the right place on the left foot (over the box); on the right foot that is not yet sure. In A it is too far back on both feet (behind)."},
		{"open in one shoe", []compare.Sitting{in("B", over, over), in("A", back, back), in("CD", open, open)},
			"In B the weight is in the right place on both feet (over the box). In A it is too far back (behind). In C and D its place is not yet sure."},
		{"open in one shoe, on one foot", []compare.Sitting{in("B", over, over), in("A", nil, open)},
			"In B the weight is in the right place on both feet (over the box). In A its place is not yet sure on the right foot."},
		{"both open", []compare.Sitting{in("AB", open, open)}, "In A and B it is not yet sure whether the weight is in the right place on both feet."},
		{"one relevé on one foot", []compare.Sitting{in("A", single, over)}, "In A the weight is in the right place on the right foot (over the box); on the left foot that is not yet sure."},
		{"open and one relevé", []compare.Sitting{in("A", open, single)}, "In A it is not yet sure whether the weight is in the right place on both feet."},
		{"one relevé", []compare.Sitting{in("A", single, single)}, "In A a single rise onto pointe does not tell where the weight is on both feet."},
		{"twelve", []compare.Sitting{in("L", over, over), in("ABCDEFGHIJK", back, back)}, "In L the weight is in the right place on both feet (over the box). In A, B, C and 8 others it is too far back (behind)."},
		{"one foot of one shoe", []compare.Sitting{in("B", over, over), in("A", back, nil)}, "In B the weight is in the right place on both feet (over the box). In A it is too far back on the left foot (behind)."},
		{"nothing measured", nil, ""},
	} {
		assert.Equal(t, c.want, strings.Join(plainHeadline(c.groups), " "), c.situation)
	}
}
