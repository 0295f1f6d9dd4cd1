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
		verdict                 measure.Verdict
		misses                  []measure.Direction
		medialMM                float64
		text, short, sits, kern string
	}{
		{measure.OverTheBox, nil, 0, "over the box", "over the box", "sits over the box", "over the box"},
		{measure.PulledBack, nil, 0, "behind (pulled back)", "behind", "sits behind the kern (pulled back)", "behind the kern"},
		{measure.PulledBack, both[:1], -1, "behind (pulled back)", "behind", "sits behind the kern (pulled back)", "behind the kern"},
		{measure.TooFarOver, nil, 0, "too far over", "too far over", "sits in front of the kern (too far over)", "in front of the kern"},
		{measure.ToTheSide, nil, -3, "to the little-toe side", "little-toe side", "sits towards the little-toe side", "beside the kern"},
		{measure.ToTheSide, nil, 3, "to the big-toe side", "big-toe side", "sits towards the big-toe side", "beside the kern"},
		{measure.PulledBack, both, -3, "behind and towards the little-toe side", "behind, little-toe side",
			"sits behind the kern and towards the little-toe side", "behind the kern and towards the little-toe side"},
		{measure.ToTheSide, front, 3, "too far over and towards the big-toe side", "too far over, big-toe side",
			"sits in front of the kern and towards the big-toe side", "in front of the kern and towards the big-toe side"},
		{measure.TooCloseToCall, nil, 3, "too close to call", "too close to call", "sits too close to the kern's edge to call", "too close to call"},
		{"of_a_later_version", nil, 3, "of_a_later_version", "of_a_later_version", "sits of_a_later_version", "of_a_later_version"},
	} {
		assert.Equal(t, c.text, verdict.Text(c.verdict, c.misses, c.medialMM))
		assert.Equal(t, c.short, verdict.ShortText(c.verdict, c.misses, c.medialMM))
		assert.Equal(t, c.sits, verdict.Sits(c.verdict, c.misses, c.medialMM))
		assert.Equal(t, c.kern, verdict.AgainstKern(c.verdict, c.misses, c.medialMM))
	}
}

// The phrase is that of a table without its brackets, so a verdict has one wording.
func TestPhrase(t *testing.T) {
	for want, misses := range map[string][]measure.Direction{
		"behind": {measure.Behind}, "too far over": {measure.InFront}, "towards the big-toe side": {measure.BigToeSide},
		"behind and towards the little-toe side": {measure.Behind, measure.LittleToeSide},
	} {
		assert.Equal(t, want, verdict.Phrase(measure.PulledBack, misses, 0))
	}
	assert.Equal(t, "over the box", verdict.Phrase(measure.OverTheBox, nil, 0))
	assert.Equal(t, "too close to call", verdict.Phrase(measure.TooCloseToCall, nil, 0))
}
