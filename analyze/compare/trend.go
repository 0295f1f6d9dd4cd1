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

// newVisit is the pause between recordings from which on the dancer has come
// again, and is neither as warm nor as tired as before.
const visitPause = 6 * time.Hour

// drifting are the measures in which warming up or tiring is looked for: the
// primary one, and how steady the dancer stands.
var trendMeasures = []measure.Measure{measure.Over, measure.SwaySpeed}

// Drift says whether a measure runs off over a visit, whatever the shoe: the
// slope that the relevés of all shoes have in common against their order on
// that foot, every shoe with a level of its own.
type VisitTrend struct {
	Foot      device.Foot     `json:"foot"`
	Measure   measure.Measure `json:"measure"`
	N         int             `json:"n"`
	Releves   int             `json:"releves"`    // of this foot in the longest visit, those not measured included
	PerReleve float64         `json:"per_releve"` // slope
	U         float64         `json:"u"`          // of the slope; mounting included
	DOF       *float64        `json:"dof,omitempty"`
	CI95      *[2]float64     `json:"ci95,omitempty"`
	Wording   Wording         `json:"wording"`
	Effects   []TrendEffect   `json:"makes,omitempty"` // of each shoe against the first
}

// Made is what a drift alone would make of the difference between two shoes,
// because one came later than the other.
type TrendEffect struct {
	To         string  `json:"to"`
	Difference float64 `json:"difference"`
}

// drifts looks for drift on both feet.
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
	return out
}

// place is where a relevé comes.
type releveOrder struct {
	visit int
	order float64 // from 1, among the relevés of its foot in the visit
}

// releveID is a relevé's recording, by number, and its n.
type releveID [2]int

// orderOf numbers the relevés of a foot in the order in which they were made,
// those included that could not be measured: they tire as well.
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

func visitTrend(pools []*pool, labels []string, f device.Foot, m measure.Measure, at map[releveID]releveOrder) (d VisitTrend, ok bool) {
	d = VisitTrend{Foot: f, Measure: m}
	var series []stats.Group
	type key struct {
		pool  *pool
		visit int
	}
	index := map[key]int{}
	seat, seatDOF := 0.0, math.Inf(1)
	sum, n := map[string]float64{}, map[string]float64{}
	for _, p := range pools {
		s, has := p.sample(m)
		if p.foot != f || !has {
			continue
		}
		seat, seatDOF = math.Max(seat, s.seatSD), min(seatDOF, s.seatDOF)
		for i, r := range p.releves {
			v, has := r.Value(m)
			if !has {
				continue
			}
			place := at[releveID{p.source[i], r.N}]
			k := key{p, place.visit}
			j, known := index[k]
			if !known {
				j = len(series)
				index[k] = j
				series = append(series, stats.Group{})
			}
			series[j].X = append(series[j].X, place.order)
			series[j].Y = append(series[j].Y, v)
			series[j].Block = append(series[j].Block, p.mounting[i])
			sum[p.label] += place.order
			n[p.label]++
		}
	}
	t := stats.CommonSlope(series, seat, seatDOF)
	if math.IsNaN(t.U) {
		return d, false
	}
	for _, p := range at {
		d.Releves = max(d.Releves, int(p.order))
	}
	d.N, d.PerReleve, d.U, d.DOF, d.Wording = t.N, t.Slope, t.U, finiteDOF(t.DOF), CouldBeChance
	d.CI95 = interval(t.Slope, t.U, t.DOF)
	if excludesZero(d.CI95) {
		d.Wording = Clear
	}
	for _, to := range labels[1:] {
		if n[labels[0]] > 0 && n[to] > 0 {
			d.Effects = append(d.Effects, TrendEffect{To: to, Difference: t.Slope * (sum[to]/n[to] - sum[labels[0]]/n[labels[0]])})
		}
	}
	return d, true
}

// warning warns of a clear drift, with the most that it makes of a difference
// from the first shoe.
func (d VisitTrend) warning(first string) measure.Warning {
	v := measure.Values{Shoe: first, Measure: d.Measure, PerReleve: d.PerReleve, Interval: d.CI95}
	for _, one := range d.Effects {
		if abs(one.Difference) > abs(v.Difference) {
			v.To, v.Difference = one.To, one.Difference
		}
	}
	return measure.Warn(measure.Trend, v).On(d.Foot)
}
