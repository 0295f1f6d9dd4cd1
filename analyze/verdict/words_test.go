package verdict_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/analyze/measure"
	"aplomb/analyze/verdict"
)

func TestWords(t *testing.T) {
	both := []measure.Direction{measure.Behind, measure.LittleToeSide}
	front := []measure.Direction{measure.InFront, measure.BigToeSide}
	for _, c := range []struct {
		verdict                      measure.Verdict
		misses                       []measure.Direction
		medialMM                     float64
		text, short, predicate, kern string
	}{
		{measure.OverTheBox, nil, 0, "over the box", "over the box", "is over the box", "over the box"},
		{measure.PulledBack, nil, 0, "behind (pulled back)", "behind", "stands behind the kern, pulled back", "behind the kern"},
		{measure.PulledBack, both[:1], -1, "behind (pulled back)", "behind", "stands behind the kern, pulled back", "behind the kern"},
		{measure.TooFarOver, nil, 0, "too far over", "too far over", "stands in front of the kern, too far over", "in front of the kern"},
		{measure.ToTheSide, nil, -3, "to the little-toe side", "little-toe side", "loads the little-toe side", "beside the kern"},
		{measure.ToTheSide, nil, 3, "to the big-toe side", "big-toe side", "loads the big-toe side", "beside the kern"},
		{measure.PulledBack, both, -3, "behind and towards the little-toe side", "behind, little-toe side",
			"stands behind the kern and towards the little-toe side", "behind the kern and towards the little-toe side"},
		{measure.ToTheSide, front, 3, "too far over and towards the big-toe side", "too far over, big-toe side",
			"stands in front of the kern and towards the big-toe side", "in front of the kern and towards the big-toe side"},
		{measure.TooCloseToCall, nil, 3, "too close to call", "too close to call", "is too close to the kern's edge to call", "too close to call"},
		{"of_a_later_version", nil, 3, "of_a_later_version", "of_a_later_version", "is of_a_later_version", "of_a_later_version"},
	} {
		assert.Equal(t, c.text, verdict.Text(c.verdict, c.misses, c.medialMM))
		assert.Equal(t, c.short, verdict.ShortText(c.verdict, c.misses, c.medialMM))
		assert.Equal(t, c.predicate, verdict.Predicate(c.verdict, c.misses, c.medialMM))
		assert.Equal(t, c.kern, verdict.AgainstKern(c.verdict, c.misses, c.medialMM))
	}
}
