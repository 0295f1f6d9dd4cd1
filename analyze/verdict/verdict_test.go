package verdict_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
	"aplomb/analyze/verdict"
	"aplomb/device/platform"
)

// box is a kern with sides along the axes, for which the mass of a normal
// distribution is a product of two differences of its distribution function.
const halfWidth, halfDepth = 6.0, 4.0

var box = platform.Rectangle(2*halfWidth, 2*halfDepth)

func inBox(at, u platform.Point) float64 {
	phi := func(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }
	within := func(half, at, u float64) float64 { return phi((half-at)/u) - phi((-half-at)/u) }
	return within(halfWidth, at[0], u[0]) * within(halfDepth, at[1], u[1])
}

// beyond returns the probability that a normally distributed place lies beyond half on
// the side of its mean.
func beyond(half, at, u float64) float64 {
	return math.Erfc((half-math.Abs(at))/u/math.Sqrt2) / 2
}

func TestVerdicts(t *testing.T) {
	for _, c := range []struct {
		name  string
		at, u platform.Point
		want  measure.Verdict
	}{
		{"at the centre", platform.Point{0, 0}, platform.Point{1, 1}, measure.OverTheBox},
		{"sure, near the edge", platform.Point{5.8, 3.8}, platform.Point{0.05, 0.05}, measure.OverTheBox},
		{"at the centre, quite unsure", platform.Point{0, 0}, platform.Point{4, 4}, measure.TooCloseToCall},
		{"on the edge", platform.Point{0, -4}, platform.Point{1, 1}, measure.TooCloseToCall},
		{"behind", platform.Point{1, -8}, platform.Point{1, 1}, measure.PulledBack},
		{"in front", platform.Point{-1, 8}, platform.Point{1, 1}, measure.TooFarOver},
		{"towards the big toe", platform.Point{10, 0}, platform.Point{1, 1}, measure.ToTheSide},
		{"towards the little toe", platform.Point{-10, 1}, platform.Point{1, 1}, measure.ToTheSide},
		// Farther to the side in mm, but less so for the size of the kern.
		{"behind and to the side", platform.Point{9, -7}, platform.Point{1, 1}, measure.PulledBack},
		{"to the side and behind", platform.Point{9, -5.9}, platform.Point{1, 1}, measure.ToTheSide},
		{"certain", platform.Point{0, -4.1}, platform.Point{}, measure.PulledBack},
	} {
		verdict, inside, _ := verdict.Judge(box, c.at, c.u, math.Inf(1))
		assert.Equal(t, c.want, verdict, c.name)
		if c.u != (platform.Point{}) {
			assert.InDelta(t, inBox(c.at, c.u), inside, 1e-12, c.name)
		}
	}
}

// The verdict changes where the closed form passes 0.95 and 0.05.
func TestVerdictTurnsAtItsLimits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := platform.Point{rapid.Float64Range(-12, 12).Draw(t, "medial"), rapid.Float64Range(-9, 9).Draw(t, "over")}
		u := platform.Point{rapid.Float64Range(0.05, 3).Draw(t, "u medial"), rapid.Float64Range(0.05, 3).Draw(t, "u over")}
		verdict, inside, _ := verdict.Judge(box, at, u, math.Inf(1))
		want := inBox(at, u)
		if math.Abs(inside-want) > 1e-11 {
			t.Fatalf("p_inside %v, want %v", inside, want)
		}
		medially, lengthwise := beyond(halfWidth, at[0], u[0]), beyond(halfDepth, at[1], u[1])
		if math.Abs(medially-0.95) < 1e-9 || math.Abs(lengthwise-0.95) < 1e-9 {
			t.Skip("on the limit")
		}
		sideways := math.Abs(at[0])/halfWidth > math.Abs(at[1])/halfDepth
		if (medially > 0.95) != (lengthwise > 0.95) {
			sideways = medially > 0.95
		}
		expected := measure.TooCloseToCall
		switch {
		case math.Abs(want-0.95) < 1e-9 || math.Abs(want-0.05) < 1e-9:
			t.Skip("on the limit")
		case want > 0.95:
			expected = measure.OverTheBox
		case want > 0.05:
		case sideways:
			expected = measure.ToTheSide
		case at[1] < 0:
			expected = measure.PulledBack
		default:
			expected = measure.TooFarOver
		}
		if verdict != expected {
			t.Fatalf("%s, want %s", verdict, expected)
		}
	})
}

// Each axis is judged by itself: a place 2.4 standard uncertainties beyond an edge lies
// beyond it with a probability of 95 % by Student's t with 3 degrees of freedom, a place
// 2.3 beyond it does not (R 4.2: qt(0.95, 3) = 2.353363); by the normal distribution 1.65
// are enough and 1.64 are not (qnorm(0.95) = 1.644854).
func TestEachAxisByItself(t *testing.T) {
	const u = 0.1
	unlimited := math.Inf(1)
	for _, c := range []struct {
		name         string
		medial, over float64 // standard uncertainties beyond the edges
		dof          float64
		sides        platform.Point
		want         []measure.Direction
	}{
		{"behind", -40, 2.4, 3, platform.Point{-1, -1}, []measure.Direction{measure.Behind}},
		{"behind and beside", 2.4, 2.4, 3, platform.Point{-1, -1}, []measure.Direction{measure.Behind, measure.LittleToeSide}},
		{"behind, perhaps beside", 2.3, 2.4, 3, platform.Point{-1, -1}, []measure.Direction{measure.Behind}},
		{"beside, perhaps behind", 2.4, 2.3, 3, platform.Point{1, -1}, []measure.Direction{measure.BigToeSide}},
		{"many degrees of freedom", 1.65, 1.65, unlimited, platform.Point{1, 1}, []measure.Direction{measure.InFront, measure.BigToeSide}},
		{"many degrees of freedom, one axis", 1.65, 1.64, unlimited, platform.Point{1, 1}, []measure.Direction{measure.BigToeSide}},
		{"each perhaps, together outside", 1.2, 1.2, unlimited, platform.Point{1, -1}, nil},
	} {
		at := platform.Point{c.sides[0] * (halfWidth + u*c.medial), c.sides[1] * (halfDepth + u*c.over)}
		v, _, misses := verdict.Judge(box, at, platform.Point{u, u}, c.dof)
		assert.Equal(t, c.want, misses, c.name)
		assert.Contains(t, []measure.Verdict{measure.PulledBack, measure.TooFarOver, measure.ToTheSide}, v, c.name)
		if len(misses) == 1 {
			assert.Equal(t, verdict.Directions(v, nil, at[0]), misses, "%s: the verdict names the axis that misses", c.name)
		}
	}
}

// Few degrees of freedom leave the verdict open where many decide it: 2 standard
// uncertainties inside the edge, Student's t with 3 degrees of freedom lies outside with
// a probability of 7 %, the normal distribution with 2.3 % (scipy 1.10: stats.t.sf(2, 3)
// = 0.0697, stats.norm.sf(2) = 0.0228).
func TestFewDegreesOfFreedom(t *testing.T) {
	at, u := platform.Point{0, -halfDepth + 0.2}, platform.Point{0.1, 0.1}
	v, inside, _ := verdict.Judge(box, at, u, 3)
	assert.Equal(t, measure.TooCloseToCall, v)
	assert.InDelta(t, 1-0.0697, inside, 3e-4)
	v, inside, _ = verdict.Judge(box, at, u, math.Inf(1))
	assert.Equal(t, measure.OverTheBox, v)
	assert.InDelta(t, 1-0.0228, inside, 1e-4)
}

// If the 95 % region of a place lies inside the kern, the verdict is over the box: a
// picture of the region does not contradict the verdict.
func TestRegionInsideTheKernIsOverTheBox(t *testing.T) {
	inside := 0
	rapid.Check(t, func(t *rapid.T) {
		dof := rapid.Float64Range(2, 100).Draw(t, "degrees of freedom")
		u := platform.Point{rapid.Float64Range(0.05, 1.5).Draw(t, "u medial"), rapid.Float64Range(0.05, 1).Draw(t, "u over")}
		unit := stats.MeanEllipse95([2]float64{1, 1}, dof).SemiMajor
		at := platform.Point{rapid.Float64Range(-halfWidth, halfWidth).Draw(t, "medial"), rapid.Float64Range(-halfDepth, halfDepth).Draw(t, "over")}
		if math.Abs(at[0])+unit*u[0] > 0.999*halfWidth || math.Abs(at[1])+unit*u[1] > 0.999*halfDepth {
			return
		}
		inside++
		v, p, _ := verdict.Judge(box, at, u, dof)
		assert.Equal(t, measure.OverTheBox, v, "probability %v", p)
	})
	assert.Positive(t, inside)
}

// The ring agrees with the verdict: over the box only if the ring lies wholly inside the
// kern, and outside whenever it lies wholly outside. The kern is that of a platform of 38
// × 23 mm.
func TestRingShowsTheVerdict(t *testing.T) {
	kern := platform.Superellipse(38, 23, 2.8).Kern()
	rapid.Check(t, func(t *rapid.T) {
		at := platform.Point{rapid.Float64Range(-9, 9).Draw(t, "medial"), rapid.Float64Range(-7, 7).Draw(t, "over")}
		u := platform.Point{rapid.Float64Range(0.05, 1.5).Draw(t, "u medial"), rapid.Float64Range(0.05, 1.5).Draw(t, "u over")}
		dof := rapid.Float64Range(2, 100).Draw(t, "degrees of freedom")
		v, p, _ := verdict.Judge(kern, at, u, dof)
		switch of := readRing(kern, at, verdict.Ring(u, dof), 1e-3); {
		case v == measure.OverTheBox:
			assert.NotEqual(t, outside, of, "probability %v", p)
			assert.NotEqual(t, across, readRing(kern, at, verdict.Ring(u, dof), -1e-3), "probability %v", p)
		case v == measure.TooCloseToCall:
			assert.NotEqual(t, outside, of, "probability %v", p)
		default:
			assert.NotEqual(t, inside, of, "probability %v", p)
		}
	})
}

// The test counts how often the ring, read as inside, across or outside, agrees with the
// verdict, over places uniformly distributed about the kern with standard uncertainties
// of 0.2 to 1 mm and 3 to 30 degrees of freedom. The bound is below the logged share.
func TestShareOfRingsThatReadAsTheVerdict(t *testing.T) {
	kern := platform.Superellipse(38, 23, 2.8).Kern()
	draws := rand.New(rand.NewPCG(1, 2))
	const n = 500
	alike, insideOpen, acrossOutside := 0, 0, 0
	for range n {
		at := platform.Point{18*draws.Float64() - 9, 14*draws.Float64() - 7}
		u := platform.Point{0.2 + 0.8*draws.Float64(), 0.2 + 0.8*draws.Float64()}
		dof := 3 + 27*draws.Float64()
		v, _, _ := verdict.Judge(kern, at, u, dof)
		switch of := readRing(kern, at, verdict.Ring(u, dof), 0); {
		case of == inside && v == measure.OverTheBox, of == across && v == measure.TooCloseToCall, of == outside && v != measure.OverTheBox && v != measure.TooCloseToCall:
			alike++
		case of == inside && v == measure.TooCloseToCall:
			insideOpen++
		case of == across && v != measure.OverTheBox:
			acrossOutside++
		default:
			t.Errorf("a ring %s is judged %s", of, v)
		}
	}
	t.Logf("of %d rings %d read as the verdict; %d inside are too close to call, %d across are outside", n, alike, insideOpen, acrossOutside)
	assert.Greater(t, alike, n*9/10)
}

// How a ring lies against the kern.
const inside, across, outside = "inside", "across", "outside"

// readRing returns the position of an ellipse relative to the kern. Its half-widths are
// increased by the fraction more. In units of the half-widths the ellipse is a circle
// with a radius of 1.
func readRing(kern platform.Polygon, at, half platform.Point, more float64) string {
	scaled := make(platform.Polygon, len(kern))
	for i, p := range kern {
		scaled[i] = platform.Point{(p[0] - at[0]) / half[0] / (1 + more), (p[1] - at[1]) / half[1] / (1 + more)}
	}
	switch centre := (platform.Point{}); {
	case math.Abs(scaled.EdgeDistance(centre)) < 1:
		return across
	case scaled.Contains(centre):
		return inside
	}
	return outside
}
