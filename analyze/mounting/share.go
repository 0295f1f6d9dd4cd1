package mounting

import (
	"math"

	"aplomb/analyze/stats"
)

// Share is the contribution of a mounting effect to the variance of a mean or of a
// difference of means, with its term of the Welch-Satterthwaite formula, see Effect.Term.
type Share struct{ Variance, Term float64 }

// Times returns the share of a mean in which the effect has this weight.
func (s Share) Times(weight float64) Share {
	return Share{s.Variance * weight, s.Term * weight * weight}
}

// Plus returns the share of a sum of two means. Both shares must be from the same
// estimate.
func (s Share) Plus(o Share) Share {
	return Share{s.Variance + o.Variance, math.Pow(math.Sqrt(s.Term)+math.Sqrt(o.Term), 2)}
}

// With returns the component of one mounting's effect together with that of its seat.
// They are one component, because the effect may be 0 and still have a term.
func (s Share) With(seat stats.Component) stats.Component {
	u := math.Sqrt(seat.U*seat.U + s.Variance)
	term := s.Term
	if seat.U > 0 {
		term += math.Pow(seat.U, 4) / seat.DOF
	}
	c := stats.Component{U: u, DOF: math.Inf(1)}
	if term > 0 {
		c.DOF = math.Pow(u, 4) / term
	}
	return c
}
