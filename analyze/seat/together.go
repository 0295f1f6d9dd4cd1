package seat

import "math"

// FindTogether estimates the seats of several mountings of one physical shoe; out[i] is
// the seat of in[i]. All have the same outline by the ruler. Each mounting is fitted with
// the bearing outline estimated from the presses of the others, as [Input.Known],
// combined with its own Known where that is set. A mounting whose own press contradicts
// the others is fitted without them, see [Seat.OutlineConflict]. The result does not
// depend on the order of the mountings. Without presses in other mountings a seat is that
// of [Find].
func FindTogether(in []Input) []Seat {
	alone := make([]presses, len(in))
	shapes := make([]*shape, len(in))
	for i, one := range in {
		one.Known = nil // otherwise it would count once for every mounting
		shapes[i] = newShape(one.Outline)
		alone[i] = findPresses(one, shapes[i])
	}
	seats := make([]Seat, len(in))
	for i, one := range in {
		var others []*found
		var from []int
		for j, p := range alone {
			if j != i && p.first != nil {
				others, from = append(others, p.first), append(from, j)
			}
		}
		if len(others) == 0 && one.Known == nil {
			seats[i] = find(one, shapes[i], alone[i])
			continue
		}
		conflict := false
		if len(others) > 0 {
			known := combineOutlines(others, one.Known)
			if conflict = alone[i].first != nil && contradicts(alone[i].first, known); conflict {
				from = nil
			} else {
				one.Known = known
			}
		}
		seats[i] = find(one, shapes[i], findPresses(one, shapes[i]))
		seats[i].OutlineFrom, seats[i].OutlineConflict = from, conflict
	}
	return seats
}

// combineOutlines returns the bearing outline estimated from presses of several
// mountings: for each quantity the mean weighted by the inverse of the variances. Each
// fit contains the prior of an outline, which must count only once; known, where it is
// not nil, replaces that prior. Where the mountings scatter by more than their variances,
// these are multiplied by χ² ÷ degrees of freedom (the square of the Birge ratio). The
// model's error is added last, because all mountings have it in common.
func combineOutlines(fits []*found, known *Outline) *Outline {
	var out Outline
	for k, v := range out.values() {
		i := width + k
		prior := Value{priorMean[i], priorSD[i]}
		if known != nil {
			prior = *known.values()[k]
		}
		var weight, sum float64
		for _, f := range fits {
			weight += 1 / f.cov[i][i]
			sum += f.v[i] / f.cov[i][i]
		}
		chi2 := 0.0
		for _, f := range fits {
			d := f.v[i] - sum/weight
			chi2 += d * d / f.cov[i][i]
		}
		birge := max(1, chi2/max(1, float64(len(fits)-1)))
		// The fits without the prior that each contains.
		p := 1 / (priorSD[i] * priorSD[i])
		sum = (sum - float64(len(fits))*p*priorMean[i]) / birge
		weight = max(0, weight-float64(len(fits))*p) / birge
		p = 1 / (prior.SD * prior.SD)
		sum += p * prior.Value
		weight += p
		variance := 1 / weight
		for _, f := range fits {
			variance += pressError.ofOutline(i, f.scale) / float64(len(fits))
		}
		*v = Value{sum / weight, math.Sqrt(variance)}
	}
	return &out
}

// contradicts reports whether half-width and half-depth of a press differ from those of
// an outline by more than the uncertainties of both allow: χ² above the 99.9 % point for
// 3 degrees of freedom, which is slightly stricter than that for the 2 that there are.
func contradicts(press *found, o *Outline) bool {
	sum := 0.0
	for i, v := range map[int]Value{width: o.HalfWidth, depth: o.HalfDepth} {
		d := press.v[i] - v.Value
		sum += d * d / (press.cov[i][i] + pressError.ofOutline(i, press.scale) + v.SD*v.SD)
	}
	return sum > conflict3
}
