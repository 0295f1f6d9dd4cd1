package compare

import (
	"math"
	"slices"

	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/analyze/sensor"
	"aplomb/analyze/stats"
)

// sample holds the values of one measure over a set of relevés, with their mean and the
// sources of its uncertainty.
type sample struct {
	groups [][]float64 // values by mounting

	n          int
	mean       float64
	scatter    float64 // standard deviation of relevés, see scatterOf
	scatterDOF float64 // 0 where it is not known
	seatSD     float64 // standard deviation of the measure due to one mounting
	seatDOF    float64
	seatSides  [2]float64     // the same below and above the mean
	effect     mounting.Share // other differences between mountings
	mountings  float64        // effective number, 1/Σ(nₖ/n)² with nₖ relevés in mounting k
	days       mounting.Share // differences between visits beyond that; 0 where all are of one visit
	visits     float64        // effective number
	visit      string         // the only one; "" with several
	sensor     sensor.Mean
	proportion bool // within 0 to 1
}

// newSample returns the sample of values by mounting, groups[mounting][relevé];
// no group is empty.
func newSample(groups [][]float64, seatSD, seatDOF float64) sample {
	s := sample{groups: groups, visits: 1, seatSD: seatSD, seatDOF: seatDOF, seatSides: [2]float64{seatSD, seatSD}}
	sum, squares := 0.0, 0.0
	for _, g := range groups {
		s.n += len(g)
		squares += float64(len(g) * len(g))
		for _, v := range g {
			sum += v
		}
	}
	s.mean = sum / float64(s.n)
	s.mountings = float64(s.n*s.n) / squares
	s.scatter, s.scatterDOF = scatterOf(groups, s.n)
	return s
}

// sample returns the sample of a measure; ok is false where no relevé has a
// value.
func (p *pool) sample(m measure.Measure) (s sample, ok bool) {
	groups := make([][]float64, p.mountings)
	var with []*measure.Hold
	var visits []string
	for i, r := range p.releves {
		if v, ok := r.Value(m); ok {
			groups[p.mounting[i]] = append(groups[p.mounting[i]], v)
			with = append(with, r.Hold)
			visits = append(visits, p.visit[i])
		}
	}
	groups = nonEmpty(groups)
	if len(groups) == 0 {
		return s, false
	}
	n, seatSD, seatDOF := float64(len(with)), 0.0, math.Inf(1)
	strip := sensor.NewMean(p.contents...)
	var sides [2]float64
	for _, h := range with {
		u, dof, both := mounting.SeatU(h, m)
		seatSD, seatDOF = seatSD+u/n, min(seatDOF, dof)
		sides[0], sides[1] = sides[0]+both[0]/n, sides[1]+both[1]/n
		strip.Add(sensor.Of(h, m), n)
	}
	s = newSample(groups, seatSD, seatDOF)
	s.sensor, s.seatSides, s.proportion = strip, sides, m.Describe().Proportion
	s.effect, s.days = p.effects[m].Share(s.mean), p.days[m].Share(s.mean)
	s.visits, s.visit = effectiveVisits(visits)
	return s, true
}

// nonEmpty removes empty groups.
func nonEmpty(groups [][]float64) [][]float64 {
	return slices.DeleteFunc(groups, func(g []float64) bool { return len(g) == 0 })
}

// scatterOf returns the standard deviation of relevés within mountings, pooled over
// mountings, and its degrees of freedom. Where every mounting has one relevé it is the
// standard deviation between mountings, which includes that of mounting and is too large
// rather than too small. A single relevé gives 0 and 0.
func scatterOf(groups [][]float64, n int) (sd, dof float64) {
	if n == len(groups) {
		groups = [][]float64{slices.Concat(groups...)}
	}
	ss := 0.0
	for i, m := range means(groups) {
		for _, v := range groups[i] {
			ss += (v - m) * (v - m)
		}
		dof += float64(len(groups[i]) - 1)
	}
	if dof == 0 {
		return 0, 0
	}
	return math.Sqrt(ss / dof), dof
}

// means returns the mean of each group.
func means(groups [][]float64) []float64 {
	out := make([]float64, len(groups))
	for i, g := range groups {
		for _, v := range g {
			out[i] += v / float64(len(g))
		}
	}
	return out
}

// dancer returns the standard uncertainty of the mean due to the scatter of relevés. seat
// returns that due to the seat of the strip, and mounting that due to all differences
// between mountings and, where there are several, between visits.
func (s sample) dancer() stats.Component {
	return stats.Component{U: s.scatter / math.Sqrt(float64(s.n)), DOF: s.scatterDOF}
}

func (s sample) seat() stats.Component {
	return stats.Component{U: s.seatSD / math.Sqrt(s.mountings), DOF: s.seatDOF}
}

func (s sample) mounting() stats.Component {
	return s.days.Times(1 / s.visits).With(s.effect.Times(1 / s.mountings).With(s.seat()))
}

// summary summarises the sample. The two sides of the interval differ where the
// mounting's effect is not symmetric, and a proportion's interval stays within 0 to 1.
func (s sample) summary() Summary {
	parts := append(s.sensor.Components(), s.dancer(), s.mounting())
	out := Summary{N: s.n, Mean: s.mean, U: stats.Combined(parts...)}
	if s.scatterDOF > 0 {
		sd := s.scatter
		out.SD = &sd
		out.DOF = finiteDOF(stats.EffectiveDOF(parts...))
		var half [2]float64
		for i, seatSD := range s.seatSides {
			if i == 1 && seatSD == s.seatSides[0] {
				half[1] = half[0]
				continue
			}
			s.seatSD = seatSD
			parts[len(parts)-1] = s.mounting()
			half[i] = stats.Interval95(0, stats.Combined(parts...), stats.EffectiveDOF(parts...)).Hi
		}
		out.CI95 = &[2]float64{s.mean - half[0], s.mean + half[1]}
		if s.proportion {
			out.CI95[0], out.CI95[1] = max(0, out.CI95[0]), min(1, out.CI95[1])
		}
	}
	return out
}

// extended returns the sample with more relevés in its mountings or, where mountings is not
// 0, with at least that number of mountings, the added ones with the mean number of relevés
// of the present ones, rounded. Mean and standard deviations stay the same.
func (s sample) extended(releves, mountings int) sample {
	added := max(0, mountings-len(s.groups))
	if mountings > 0 {
		each := int(math.Round(float64(s.n) / float64(len(s.groups))))
		releves = added * each
		s.mountings = float64((s.n+releves)*(s.n+releves)) / (float64(s.n*s.n)/s.mountings + float64(added*each*each))
		if s.n > len(s.groups) { // the scatter is that within mountings
			s.scatterDOF -= float64(added)
		}
	}
	s.n += releves
	s.scatterDOF += float64(releves)
	return s
}

// extendedContrast returns the contrast of two extended samples.
func extendedContrast(from, to sample, releves, mountings int) contrast {
	return contrastOf(from.extended(releves, mountings), to.extended(releves, mountings))
}

// interval returns the 95 % interval of an estimate.
func interval(estimate, u, dof float64) *[2]float64 {
	i := stats.Interval95(estimate, u, dof)
	return &[2]float64{i.Lo, i.Hi}
}

// finiteDOF returns nil for unlimited degrees of freedom, which JSON cannot
// represent.
func finiteDOF(dof float64) *float64 {
	if math.IsInf(dof, 0) || math.IsNaN(dof) {
		return nil
	}
	return &dof
}
