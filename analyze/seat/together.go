package seat

import "math"

// FindTogether estimates the seats of several mountings of one physical shoe,
// whose bearing outline their presses show together; out[i] is the seat of in[i].
// The outline by the ruler is the same in all. Every mounting is found with the
// outline that the presses of the others show, as [Input.Known], combined with what
// its own Known says where it has one. A mounting whose own press contradicts
// the others is found without them, see [Seat.OutlineConflict]. The order of
// the mountings has no part in the result. Without presses in other mountings a
// seat is that of [Find].
func FindTogether(in []Input) []Seat {
	alone := make([]presses, len(in))
	shapes := make([]*shape, len(in))
	for i, one := range in {
		one.Known = nil // it would be counted with every mounting
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

// combineOutlines is the bearing outline that presses of several mountings show:
// for each quantity the mean weighted by the inverse of the variances. Each fit
// contains the prior of an outline, which counts once here; known stands in its
// place unless it is nil. Where the mountings scatter by more than their variances
// say, these grow by the Birge ratio (χ² ÷ degrees of freedom).
// The model's error comes last, as it is the same in all of them.
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
		// Without the priors that the fits contain.
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

// contradicts says whether half-width and half-depth of a press differ from those
// of an outline by more than both claim (χ² with 3 degrees of freedom above its
// 99.9 % point; there are 2, which asks for a little more).
func contradicts(press *found, o *Outline) bool {
	sum := 0.0
	for i, v := range map[int]Value{width: o.HalfWidth, depth: o.HalfDepth} {
		d := press.v[i] - v.Value
		sum += d * d / (press.cov[i][i] + pressError.ofOutline(i, press.scale) + v.SD*v.SD)
	}
	return sum > conflict3
}
