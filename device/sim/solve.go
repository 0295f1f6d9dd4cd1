package sim

import (
	"errors"
	"fmt"
	"math"

	"aplomb/device/platform"
)

// ErrReach is returned where no pose of the platform carries a load at the given
// position.
var ErrReach = errors.New("the load acts outside the platform")

// Solve finds the pose that carries a load in N at a centre of pressure, mm. It starts from a
// pose near the solution, such as that of the frame before, or from the zero Pose where none
// is known. The error wraps ErrReach.
//
// The pose is the minimum of the energy of bed and load, which is convex. Newton's method
// finds it from any pose as long as every step lowers the energy.
func (s *Sole) Solve(loadN float64, cop platform.Point, from Pose) (Pose, error) {
	if !(loadN > 0) || math.IsInf(loadN, 0) || !s.hullContains(cop) {
		return Pose{}, errReach(loadN, cop)
	}
	mN := 1000 * loadN
	want := [3]float64{mN, mN * cop[0] / s.size, mN * cop[1] / s.size}
	if from != (Pose{}) {
		if x, ok := s.solveFrom(scaled{from.DepthMM, from.TiltMedial * s.size, from.TiltOver * s.size}, want); ok {
			return s.pose(x), nil
		}
	}
	if x, ok := s.solveFrom(s.fullContactGuess(want), want); ok {
		return s.pose(x), nil
	}
	return Pose{}, errReach(loadN, cop)
}

// solveFrom finds the pose for the wanted load and moments, mN, from the pose x.
func (s *Sole) solveFrom(x scaled, want [3]float64) (scaled, bool) {
	at := s.press(s.pose(x))
	for range maxSteps {
		off := [3]float64{want[0] - at.force[0], want[1] - at.force[1], want[2] - at.force[2]}
		dx, ok := solve3(at.stiffness, off)
		if !ok {
			return x, false
		}
		fall, energy := dot(dx, off), at.energy-dot(want, x)
		rounding := 1e-12 * (math.Abs(want[0]*x[0]) + math.Abs(want[1]*x[1]) + math.Abs(want[2]*x[2]))
		next, t := x.plus(dx, 1), 1.0
		there := s.press(s.pose(next))
		for there.stiffness[0][0] == 0 || there.energy-dot(want, next) > energy-1e-4*t*fall+rounding {
			if t /= 2; t < 1e-12 {
				return x, false
			}
			next = x.plus(dx, t)
			there = s.press(s.pose(next))
		}
		x, at = next, there
		// Each step squares the error, so a small one is the last.
		if t == 1 && dot(dx, dx) <= 1e-14*dot(x, x) {
			return x, true
		}
	}
	return x, false
}

// maxSteps bounds the number of steps. It takes 3 or 4 from frame to frame, and some 20 for a
// load at the edge without a pose to start from.
const maxSteps = 200

func errReach(loadN float64, cop platform.Point) error {
	return fmt.Errorf("%w: %.4g N at [%.2f, %.2f] mm", ErrReach, loadN, cop[0], cop[1])
}

// hullContains reports whether a point lies inside the convex hull of the outline. The bed only
// pushes, so the resultant lies within the hull of the points at which it does.
func (s *Sole) hullContains(q platform.Point) bool {
	a := s.hull[len(s.hull)-1]
	for _, b := range s.hull {
		if !((b[0]-a[0])*(q[1]-a[1])-(b[1]-a[1])*(q[0]-a[0]) > 0) {
			return false
		}
		a = b
	}
	return true
}

// fullContactGuess returns the pose for a bed that pulls as well as it pushes.
func (s *Sole) fullContactGuess(want [3]float64) scaled {
	deep := Pose{DepthMM: 1 + s.dome.gap(s.dome.half)}
	r := s.press(deep)
	off := [3]float64{want[0] - r.force[0], want[1] - r.force[1], want[2] - r.force[2]}
	dx, _ := solve3(r.stiffness, off)
	return scaled{deep.DepthMM}.plus(dx, 1)
}

// scaled is a Pose with its tilts multiplied by the size of the Sole, so that all three
// numbers are depths, mm.
type scaled [3]float64

func (x scaled) plus(d [3]float64, t float64) scaled {
	return scaled{x[0] + t*d[0], x[1] + t*d[1], x[2] + t*d[2]}
}

func (s *Sole) pose(x scaled) Pose { return Pose{x[0], x[1] / s.size, x[2] / s.size} }

func dot(a, b [3]float64) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

// solve3 solves a·x = b for a symmetric positive definite a by Cholesky's method. It returns
// false where a is not positive definite.
func solve3(a [3][3]float64, b [3]float64) (x [3]float64, ok bool) {
	var l [3][3]float64
	for i := range 3 {
		for j := range i + 1 {
			v := a[i][j]
			for k := range j {
				v -= l[i][k] * l[j][k]
			}
			if i != j {
				l[i][j] = v / l[j][j]
				continue
			}
			if !(v > 0) {
				return x, false
			}
			l[i][i] = math.Sqrt(v)
		}
	}
	for i := range 3 {
		x[i] = b[i]
		for k := range i {
			x[i] -= l[i][k] * x[k]
		}
		x[i] /= l[i][i]
	}
	for i := 2; i >= 0; i-- {
		for k := i + 1; k < 3; k++ {
			x[i] -= l[k][i] * x[k]
		}
		x[i] /= l[i][i]
	}
	return x, true
}
