package compare

import (
	"math"
	"slices"

	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/analyze/sensor"
	"aplomb/analyze/stats"
	"aplomb/device"
)

// feetDiffs compares left with right in one shoe over the relevés that both feet
// made together, under each set of conditions.
func feetDiffs(pools []*pool, label string) []FeetDiff {
	var out []FeetDiff
	for _, left := range pools {
		if left.label != label || left.foot != device.Left {
			continue
		}
		i := slices.IndexFunc(pools, func(p *pool) bool {
			return p.label == label && p.foot == device.Right && p.conditions == left.conditions
		})
		if i < 0 {
			continue
		}
		for _, m := range measure.All() {
			if m == measure.LoadShare {
				continue // one number for both feet
			}
			if d, ok := feetDiff(left, pools[i], m); ok {
				out = append(out, d)
			}
		}
	}
	return out
}

// feetDiff pairs the relevés of both feet, left − right. The uncertainty contains
// the mounting and the sensor of both strips, because each is under its own shoe.
func feetDiff(left, right *pool, m measure.Measure) (d FeetDiff, ok bool) {
	d = FeetDiff{Shoe: left.label, Conditions: left.conditions, Measure: m}
	groups := make([][]float64, left.mountings)
	var flat []float64
	var with [2][]*measure.Hold
	var visits []string
	partner := map[[2]int]measure.Releve{} // by recording and n
	for i, r := range right.releves {
		partner[[2]int{right.source[i], r.N}] = r
	}
	for i, l := range left.releves {
		r, both := partner[[2]int{left.source[i], l.N}]
		if !both {
			continue
		}
		a, okA := l.Value(m)
		b, okB := r.Value(m)
		if !okA || !okB {
			continue
		}
		d.Pairs = append(d.Pairs, [2]float64{a, b})
		groups[left.mounting[i]] = append(groups[left.mounting[i]], a-b)
		flat = append(flat, a-b)
		with[device.Left], with[device.Right] = append(with[device.Left], l.Hold), append(with[device.Right], r.Hold)
		visits = append(visits, left.visit[i])
		d.Left += a
		d.Right += b
	}
	if len(flat) == 0 {
		return d, false
	}
	n := float64(len(flat))
	d.N, d.Left, d.Right = len(flat), d.Left/n, d.Right/n
	paired := newSample(nonEmpty(groups), 0, math.Inf(1))
	paired.visits, _ = effectiveVisits(visits)
	c := contrast{difference: paired.mean, dancer: []stats.Component{paired.dancer()}, scatterKnown: paired.scatterDOF > 0}
	for f := range with {
		seatSD, seatDOF, strip := 0.0, math.Inf(1), sensor.Mean{}
		for _, one := range with[f] {
			u, dof, _ := mounting.SeatU(one, m)
			seatSD, seatDOF = seatSD+u/n, min(seatDOF, dof)
			strip.Add(sensor.Of(one, m), n)
		}
		c.sensor = append(c.sensor, strip.Components()...) // the strips are independent
		c.seat = append(c.seat, stats.Component{U: seatSD / math.Sqrt(paired.mountings), DOF: seatDOF})
		share := left.effects[m].Share([2]float64{d.Left, d.Right}[f])
		c.effect = c.effect.Plus(share.Times(1 / paired.mountings))
		day := left.days[m].Share([2]float64{d.Left, d.Right}[f])
		c.days = c.days.Plus(day.Times(1 / paired.visits))
	}
	d.Difference = c.difference
	d.contrast = c
	d.U, d.DOF, d.CI95 = c.estimate()
	return d, true
}

// wordFeet sets the wording of the declared measures. The p-values are adjusted by Holm's
// method over the shoes for the primary measure, and over measures and shoes for the
// others.
func wordFeet(all []FeetDiff) {
	var primary, others family[int]
	for i := range all {
		switch d := &all[i]; {
		case d.Measure == measure.Over:
			primary.add(i, d.contrast.pValue())
		case d.Measure.Describe().Kind == measure.Declared:
			others.add(i, d.contrast.pValue())
		}
	}
	for _, f := range []family[int]{primary, others} {
		for i, adjusted := range f.adjusted() {
			all[i].Wording = all[i].contrast.wording(adjusted)
		}
	}
}
