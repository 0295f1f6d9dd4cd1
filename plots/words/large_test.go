package words_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/analyze/measure"
	"aplomb/plots/words"
)

// Words of a large screen are capitals, and the sentences beside them ask for nothing.
func TestLarge(t *testing.T) {
	for _, c := range []struct {
		verdict     measure.Verdict
		medialMM    float64
		large, says string
	}{
		{measure.OverTheBox, 0, "OVER", "the load is over the box"},
		{measure.PulledBack, 0, "BACK", "the load is towards the back"},
		{measure.TooFarOver, 0, "FORWARD", "the load is towards the front"},
		{measure.ToTheSide, -5, "LITTLE TOE", "the load is towards the little toe"},
		{measure.ToTheSide, 5, "BIG TOE", "the load is towards the big toe"},
		{measure.TooCloseToCall, 0, "TOO CLOSE", "the load is at the edge of the kern, too close to call"},
		{"", 0, "", ""},
	} {
		assert.Equal(t, c.large, words.Large(c.verdict, c.medialMM))
		assert.Equal(t, c.says, words.LoadAt(c.verdict, c.medialMM))
	}
}
