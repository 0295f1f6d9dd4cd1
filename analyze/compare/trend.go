package compare

import (
	"cmp"
	"math"
	"slices"
	"time"

	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
	"aplomb/device"
)

// visitPause is the smallest pause between recordings that separates two visits. After it
// the dancer is no longer warm or tired. It is our own choice.
const visitPause = 6 * time.Hour

// trendMeasures are the measures for which a trend over the visit is computed. Only that
// of a declared measure is tested.
var trendMeasures = []measure.Measure{measure.Over, measure.SwaySpeed}

// visitTrends returns the trends of both feet.
func visitTrends(results []*measure.Result, pools []*pool, labels []string) []VisitTrend {
	var out []VisitTrend
	for _, f := range device.Feet {
		at := releveOrders(results, f)
		for _, m := range trendMeasures {
			if d, ok := visitTrend(pools, labels, f, m, at); ok {
				out = append(out, d)
			}
		}
	}
	wordTrends(out)
	return out
}

// wordTrends sets the wording of the trends of declared measures, with p-values
// adjusted by Holm over measures and feet.
func wordTrends(trends []VisitTrend) {
	var tested family[int]
	for i, d := range trends {
		if d.Measure.Describe().Kind == measure.Declared {
			tested.add(i, d.pValue())
		}
	}
	for i, adjusted := range tested.adjusted() {
		trends[i].Wording = CouldBeChance
		if adjusted <= clearUpTo {
			trends[i].Wording = Clear
		}
	}
}

// pValue returns the two-sided p-value of the t-test that corresponds to the 95 %
// interval.
func (d VisitTrend) pValue() float64 {
	dof := math.Inf(1)
	if d.DOF != nil {
		dof = *d.DOF
	}
	return stats.TwoSided(d.PerReleve/d.U, dof)
}

// releveOrder is the position of a relevé in time.
type releveOrder struct {
	visit int
	order float64 // from 1, among the relevés of its foot in the visit
}

// releveID identifies a relevé by the number of its recording and its n.
type releveID [2]int

// releveOrders numbers the relevés of a foot in the order in which they were made.
// Relevés that could not be measured count, because they tire the dancer as well.
func releveOrders(results []*measure.Result, f device.Foot) map[releveID]releveOrder {
	recordings := make([]int, len(results))
	for i := range recordings {
		recordings[i] = i
	}
	slices.SortStableFunc(recordings, func(a, b int) int {
		return results[a].Meta.Started.Compare(results[b].Meta.Started)
	})
	at := map[releveID]releveOrder{}
	var now releveOrder
	var last time.Time
	for _, i := range recordings {
		started := results[i].Meta.Started
		if !last.IsZero() && started.Sub(last) > visitPause {
			now = releveOrder{visit: now.visit + 1}
		}
		last = started
		releves := slices.Clone(results[i].Releves)
		slices.SortStableFunc(releves, func(a, b measure.Releve) int { return cmp.Compare(a.N, b.N) })
		for _, r := range releves {
			if r.Foot == f {
				now.order++
				at[releveID{i, r.N}] = now
			}
		}
	}
	return at
}

// visitTrend returns the trend of one measure of one foot; ok is false where it
// is not defined.
func visitTrend(pools []*pool, labels []string, f device.Foot, m measure.Measure, at map[releveID]releveOrder) (d VisitTrend, ok bool) {
	d = VisitTrend{Foot: f, Measure: m}
	var groups []stats.Group
	type key struct {
		pool  *pool
		visit int
	}
	index := map[key]int{}
	var block stats.Component // of one mounting
	sum, n := map[string]float64{}, map[string]float64{}
	for _, p := range pools {
		s, has := p.sample(m)
		if p.foot != f || !has {
			continue
		}
		if one := s.effect.With(stats.Component{U: s.seatSD, DOF: s.seatDOF}); one.U > block.U {
			block = one
		}
		for i, r := range p.releves {
			v, has := r.Value(m)
			if !has {
				continue
			}
			order := at[releveID{p.source[i], r.N}]
			k := key{p, order.visit}
			j, known := index[k]
			if !known {
				j = len(groups)
				index[k] = j
				groups = append(groups, stats.Group{})
			}
			groups[j].X = append(groups[j].X, order.order)
			groups[j].Y = append(groups[j].Y, v)
			groups[j].Block = append(groups[j].Block, p.mounting[i])
			sum[p.label] += order.order
			n[p.label]++
		}
	}
	t := stats.CommonSlope(groups, block.U, block.DOF)
	if !(t.U > 0) { // nothing scatters, which shows no precision
		return d, false
	}
	for _, p := range at {
		d.Releves = max(d.Releves, int(p.order))
	}
	d.N, d.PerReleve, d.U, d.DOF = t.N, t.Slope, t.U, finiteDOF(t.DOF)
	d.CI95 = interval(t.Slope, t.U, t.DOF)
	for _, to := range labels[1:] {
		if n[labels[0]] > 0 && n[to] > 0 {
			d.Effects = append(d.Effects, TrendEffect{To: to, Difference: t.Slope * (sum[to]/n[to] - sum[labels[0]]/n[labels[0]])})
		}
	}
	return d, true
}

// warning returns a warning of a clear trend with its largest effect on a
// difference from the first shoe.
func (d VisitTrend) warning(first string) measure.Warning {
	v := measure.Values{Shoe: first, Measure: d.Measure, PerReleve: d.PerReleve, Interval: d.CI95}
	for _, one := range d.Effects {
		if math.Abs(one.Difference) > math.Abs(v.Difference) {
			v.To, v.Difference = one.To, one.Difference
		}
	}
	return measure.Warn(measure.Trend, v).On(d.Foot)
}
