package sim

import (
	"math"

	"aplomb/device/platform"
)

// Bearing is the part of a platform that can carry load: where at least one pad
// press out of seventeen puts more than the threshold on it. These presses are of
// BearingLoadN, one with the centre of pressure at the origin and 16 all round at
// BearingReach of the way to the outline.
type Bearing struct {
	AreaMM2              float64
	HalfWidth, HalfDepth float64        // half the extent along each axis through the origin, mm
	Centre               platform.Point // middle of those two extents, mm
}

// Presses by which Bearing is defined.
const (
	BearingLoadN = 100.0
	BearingReach = 0.8
)

// Bearing returns the part of the platform that pad presses can load with more
// than a threshold in kPa. The error wraps ErrReach.
func (s *Surface) Bearing(pad Bed, thresholdKPa float64) (Bearing, error) {
	const round = 16
	poses := make([]Pose, 0, round+1)
	pose := Pose{}
	for i := -1; i < round; i++ {
		at := platform.Point{}
		if i >= 0 {
			sin, cos := math.Sincos(2 * math.Pi * float64(i) / round)
			r := BearingReach * s.shape.Outline.Reach(platform.Point{cos, sin})
			at = platform.Point{r * cos, r * sin}
		}
		im, err := s.Press(pad, BearingLoadN, at, pose)
		if err != nil {
			return Bearing{}, err
		}
		pose = im.Pose
		poses = append(poses, pose)
	}
	// The deepest of the poses at each point.
	deepest := func(m, o float64) (depth float64, p Pose) {
		depth = math.Inf(-1)
		for _, q := range poses {
			if d := q.DepthMM + q.TiltMedial*m + q.TiltOver*o; d > depth {
				depth, p = d, q
			}
		}
		return depth, p
	}
	limit := pad.depth(thresholdKPa)
	b := Bearing{AreaMM2: s.areaAbove(func(q *point) (float64, float64, float64) {
		d, p := deepest(q.m, q.o)
		return d - q.gap, p.TiltMedial - q.slopeM, p.TiltOver - q.slopeO
	}, limit)}
	extent := func(out platform.Point) float64 {
		const fine = 0.01 // mm
		r := s.shape.Outline.Reach(out)
		for ; r > 0; r -= fine {
			q := platform.Point{r * out[0], r * out[1]}
			if d, _ := deepest(q[0], q[1]); d-s.Gap(q) > limit {
				break
			}
		}
		return r
	}
	left, right := extent(platform.Point{-1, 0}), extent(platform.Point{1, 0})
	back, front := extent(platform.Point{0, -1}), extent(platform.Point{0, 1})
	b.HalfWidth, b.HalfDepth = (left+right)/2, (back+front)/2
	b.Centre = platform.Point{(right - left) / 2, (front - back) / 2}
	return b, nil
}
