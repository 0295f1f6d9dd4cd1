package words_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/analyze/measure"
	"aplomb/plots/words"
)

// Words of a large screen are capitals, and the sentences beside them request no action.
func TestLarge(t *testing.T) {
	for _, c := range []struct {
		verdict     measure.Verdict
		misses      []measure.Direction
		medialMM    float64
		large, says string
	}{
		{measure.OverTheBox, nil, 0, "OVER", "the load is over the box"},
		{measure.PulledBack, nil, 0, "BACK", "the load is towards the back"},
		{measure.TooFarOver, nil, 0, "FORWARD", "the load is towards the front"},
		{measure.ToTheSide, nil, -5, "LITTLE TOE", "the load is towards the little toe"},
		{measure.ToTheSide, nil, 5, "BIG TOE", "the load is towards the big toe"},
		{measure.PulledBack, []measure.Direction{measure.Behind, measure.LittleToeSide}, -5, "BACK", "the load is towards the back and the little toe"},
		{measure.TooCloseToCall, nil, 0, "EDGE", "the load is at the edge of the target, too close to call"},
		{"", nil, 0, "", ""},
	} {
		assert.Equal(t, c.large, words.Large(c.verdict, c.medialMM))
		assert.Equal(t, c.says, words.LoadAt(c.verdict, c.misses, c.medialMM))
	}
}

// Beyond the kern on both axes there are two large words.
func TestLargeOnBothAxes(t *testing.T) {
	for _, c := range []struct {
		verdict measure.Verdict
		misses  []measure.Direction
		want    string
	}{
		{measure.PulledBack, []measure.Direction{measure.Behind, measure.LittleToeSide}, "BACK + LITTLE TOE"},
		{measure.ToTheSide, []measure.Direction{measure.InFront, measure.BigToeSide}, "FORWARD + BIG TOE"},
		{measure.PulledBack, []measure.Direction{measure.Behind}, "BACK"},
		{measure.OverTheBox, nil, "OVER"},
		{measure.TooCloseToCall, nil, "EDGE"},
		{"", nil, ""},
	} {
		assert.Equal(t, c.want, words.LargeVerdict(c.verdict, c.misses, 0))
	}
}
