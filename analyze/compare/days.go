package compare

import (
	"fmt"
	"math"
	"slices"

	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/device"
)

// visitsOf returns the name of the visit of each result: that of its metadata or, for
// recordings without one, a name shared by those without a pause of visitPause between
// them.
func visitsOf(results []*measure.Result) []string {
	order := make([]int, len(results))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return results[a].Meta.Started.Compare(results[b].Meta.Started) })
	names := make([]string, len(results))
	pauses := 0
	for k, i := range order {
		if k > 0 && results[i].Meta.Started.Sub(results[order[k-1]].Meta.Started) > visitPause {
			pauses++
		}
		if names[i] = results[i].Meta.Visit; names[i] == "" {
			names[i] = fmt.Sprintf("unnamed %d", pauses)
		}
	}
	return names
}

// poolDays estimates the day effects where the relevés are of several visits: the
// standard deviation of a measure of one shoe and foot between visits, beyond relevés,
// seats and mounting effect. They are estimated like mounting effects, with visits in
// place of mountings, from the recordings compared. What is assumed about mountings is
// assumed about days as well, which is our own assumption too.
func (c *Comparison) poolDays(pools []*pool, results []*measure.Result) {
	visits := map[string]bool{}
	for _, p := range pools {
		for _, v := range p.visit {
			visits[v] = true
		}
	}
	if len(visits) < 2 {
		return
	}
	c.Visits, c.Days = len(visits), map[measure.Measure]mounting.Effect{}
	for _, m := range measure.All() {
		var rows []mounting.Row
		for _, p := range pools {
			if m == measure.LoadShare && p.foot == device.Right {
				continue // one number for both feet
			}
			rows = append(rows, p.dayRows(m)...)
		}
		for i := range rows {
			rows[i].Dancer = c.Dancer
		}
		c.Days[m] = mounting.New(rows).Effect(c.Dancer, m)
	}
	for _, p := range pools {
		p.days = c.Days
	}
	c.warn(measure.SeveralVisits, measure.Values{N: c.Visits, Days: daysBetween(results), MM: c.Days[measure.Over].SD})
}

// daysBetween returns the number of days from the first recording to the last, rounded.
func daysBetween(results []*measure.Result) int {
	first, last := results[0].Meta.Started, results[0].Meta.Started
	for _, r := range results {
		if at := r.Meta.Started; at.Before(first) {
			first = at
		} else if at.After(last) {
			last = at
		}
	}
	return int(math.Round(last.Sub(first).Hours() / 24))
}

// dayRows returns the values of a measure by visit. Their uncertainty is the contribution
// of the visit's mountings to its mean.
func (p *pool) dayRows(m measure.Measure) (rows []mounting.Row) {
	s, ok := p.sample(m)
	if !ok {
		return nil
	}
	mountings := map[string]map[int]bool{}
	for i, v := range p.visit {
		if mountings[v] == nil {
			mountings[v] = map[int]bool{}
		}
		mountings[v][p.mounting[i]] = true
	}
	for i := range p.releves {
		r := &p.releves[i]
		v, ok := r.Value(m)
		if !ok {
			continue
		}
		seat, _ := mounting.Seat(r.Hold, m)
		n := float64(len(mountings[p.visit[i]]))
		rows = append(rows, mounting.Row{
			Group: fmt.Sprintf("%s, %s, %v", p.label, p.foot, p.conditions), Mounting: p.visit[i], Measure: m, Value: v,
			SeatU: math.Sqrt((seat*seat + s.effect.Variance) / n),
		})
	}
	return rows
}

// effectiveVisits returns the effective number of visits, 1/Σ(nᵥ/n)² with nᵥ of n relevés
// in visit v, and the visit's name if there is only one.
func effectiveVisits(visits []string) (effective float64, only string) {
	count := map[string]int{}
	for _, v := range visits {
		count[v]++
	}
	squares, n := 0.0, float64(len(visits))
	for _, k := range count {
		squares += float64(k*k) / (n * n)
	}
	if len(count) == 1 {
		only = visits[0]
	}
	return 1 / squares, only
}
