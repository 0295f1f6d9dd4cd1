package stats

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// TQuantile returns the p-quantile of Student's t distribution (JCGM 100:2008,
// annex G). dof need not be whole and may be +Inf, which gives the normal distribution.
// With 0 degrees of freedom the quantile is ±Inf. It is NaN for p outside [0, 1],
// for negative dof and for NaN.
func TQuantile(p, dof float64) float64 {
	switch {
	case !(p >= 0 && p <= 1) || !(dof >= 0):
		return math.NaN()
	case p == 0.5:
		return 0
	case p == 0 || p == 1 || dof == 0:
		return math.Inf(sign(p - 0.5))
	}
	if z := distuv.UnitNormal.Quantile(p); dof > 100*max(1, z*z) {
		return fromNormal(z, dof)
	}
	return distuv.StudentsT{Sigma: 1, Nu: dof}.Quantile(p)
}

// fromNormal returns the quantile of Student's t distribution at the probability at which
// the normal distribution has z, by its expansion about z (Abramowitz & Stegun 26.7.5).
// Where dof exceeds 100 and 100·z² the relative error is below 1e-11.
func fromNormal(z, dof float64) float64 {
	y := z * z
	return z + z/dof*((y+1)/4+
		1/dof*(((5*y+16)*y+3)/96+
			1/dof*((((3*y+19)*y+17)*y-15)/384+
				1/dof*(((((79*y+776)*y+1482)*y-1920)*y-945)/92160))))
}

// Interval is a range of values, Lo ≤ Hi.
type Interval struct{ Lo, Hi float64 }

// Contains reports whether x lies in the interval, ends included. It is false
// where x or an end is NaN.
func (i Interval) Contains(x float64) bool { return i.Lo <= x && x <= i.Hi }

// Interval95 returns the two-sided 95 % interval of an estimate with standard
// uncertainty u and dof degrees of freedom, estimate ± t(0.975, dof)·u (JCGM
// 100:2008, G.6.4). With u = 0 it is the estimate itself for any dof; with dof = 0
// it is the whole line. It is NaN where u is negative or an argument is NaN.
func Interval95(estimate, u, dof float64) Interval {
	if u == 0 && !math.IsNaN(dof) {
		return Interval{estimate, estimate}
	}
	if !(u >= 0) {
		return Interval{math.NaN(), math.NaN()}
	}
	half := TQuantile(0.975, dof) * u
	return Interval{estimate - half, estimate + half}
}

// TwoSided returns the two-sided p-value of t: the probability that Student's t
// with dof degrees of freedom lies at |t| or further from 0. dof may be +Inf. It is
// NaN where an argument is NaN.
func TwoSided(t, dof float64) float64 {
	if math.IsNaN(t) || math.IsNaN(dof) {
		return math.NaN()
	}
	t = -math.Abs(t)
	if dof > 1e12 {
		return 2 * distuv.UnitNormal.CDF(t)
	}
	return 2 * distuv.StudentsT{Sigma: 1, Nu: dof}.CDF(t)
}

func sign(x float64) int {
	if x < 0 {
		return -1
	}
	return 1
}
