package plots

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// A text of a legend that is wider than a narrow page is broken after its semicolon.
func TestLegendBreaksALongText(t *testing.T) {
	theme := DefaultTheme()
	s := theme.small()
	l := legend{{14, nil, "a dot; a ring round it"}}
	assert.Len(t, l.lines(s, 14+legendGap+s.width("a dot; a ring round it")+1), 1)
	broken := l.lines(s, 14+legendGap+s.width("a ring round it")+1)
	assert.Len(t, broken, 2)
	assert.Equal(t, "a dot;", broken[0][0].text)
	assert.Equal(t, "a ring round it", broken[1][0].text)
}

// Shares that hardly differ leave room for their intervals.
func TestEqualSharesHaveRoomForIntervals(t *testing.T) {
	even := 50.0
	p := TrendPanel{Equal: &even, Segments: []TrendSegment{{Points: []TrendPoint{{Value: 50.1, CI95: &[2]float64{48.1, 52.1}}}}}}
	r := p.valueRange()
	assert.LessOrEqual(t, r.lo, 48.1)
	assert.GreaterOrEqual(t, r.hi, 52.1)
}
