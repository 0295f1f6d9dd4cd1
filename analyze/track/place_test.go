package track_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/analyze/measure"
	"aplomb/analyze/track"
	"aplomb/analyze/verdict"
	"aplomb/device/platform"
)

// The verdict of a visit is that of verdict.Judge with the smaller degrees of freedom;
// there is none if the uncertainty of one axis is not known.
func TestJudge(t *testing.T) {
	kern := platform.Rectangle(12, 8)
	point := func(mean, u, dof float64) track.Point {
		return track.Point{Mean: mean, OfMean: &track.Uncertainty{U: u, DOF: measure.DOF(dof)}}
	}
	for _, c := range []struct {
		over, medial track.Point
		dof          float64
		want         measure.Verdict
	}{
		{point(0, 1, 0), point(0, 1, 0), math.Inf(1), measure.OverTheBox},
		{point(-8, 1, 30), point(0, 1, 12), 12, measure.PulledBack},
		{point(-6.2, 1, 0), point(0, 1, 0), math.Inf(1), measure.PulledBack}, // 2.2 standard deviations behind
		{point(-6.2, 1, 3), point(0, 1, 0), 3, measure.TooCloseToCall},
	} {
		v, inside, misses := track.Judge(kern, c.over, c.medial)
		assert.Equal(t, c.want, v)
		wantV, wantInside, wantMisses := verdict.Judge(kern, platform.Point{c.medial.Mean, c.over.Mean}, platform.Point{1, 1}, c.dof)
		assert.Equal(t, []any{wantV, wantInside, wantMisses}, []any{v, inside, misses})
	}
	for _, c := range [][2]track.Point{{point(0, 1, 9), {}}, {{}, point(0, 1, 9)}} {
		v, _, _ := track.Judge(kern, c[0], c[1])
		assert.Empty(t, v)
	}
	v, _, _ := track.Judge(nil, point(0, 1, 9), point(0, 1, 9))
	assert.Empty(t, v)
}
