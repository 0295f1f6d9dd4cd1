package track

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
	"aplomb/device"
)

// Wear is the slope of a measure against the hours that a shoe was worn, from one value
// per visit. It is exploratory: the day and the dancer change together with the shoe.
type Wear struct {
	Visits  int     `json:"visits"`
	PerHour float64 `json:"per_hour"` // slope, unit of the measure an hour
	Uncertainty
}

// wearOf returns the least-squares slope of the points, nil with fewer than three visits
// and where all have the same hours. Its uncertainty is the larger of two: that from the
// residuals, with visits − 2 degrees of freedom, which includes differences between days;
// and that from the uncertainties of the visits, where all have one (JCGM 100:2008,
// 5.1.2).
func wearOf(points []Point) *Wear {
	var hours, values []float64
	for _, p := range points {
		hours, values = append(hours, p.Hours), append(values, p.Mean)
	}
	fit := stats.CommonSlope([]stats.Group{{X: hours, Y: values}}, 0, math.Inf(1))
	if len(points) < 3 || math.IsNaN(fit.U) {
		return nil
	}
	w := &Wear{Visits: len(points), PerHour: fit.Slope, Uncertainty: Uncertainty{U: fit.U, DOF: measure.DOF(fit.DOF)}}
	centre, squares := stat.Mean(hours, nil), 0.0
	for _, x := range hours {
		squares += (x - centre) * (x - centre)
	}
	var own []stats.Component
	for i, p := range points {
		if p.OfMean != nil {
			own = append(own, stats.Component{U: math.Abs(hours[i]-centre) / squares * p.OfMean.U, DOF: float64(p.OfMean.DOF)})
		}
	}
	if u := stats.Combined(own...); len(own) == len(points) && u > w.U {
		w.U, w.DOF = u, measure.DOF(stats.EffectiveDOF(own...))
	}
	i := stats.Interval95(w.PerHour, w.U, float64(w.DOF))
	w.CI95 = [2]float64{i.Lo, i.Hi}
	return w
}

// Text returns the slope, its interval and what it is from.
func (w *Wear) Text(m measure.Measure) string {
	if w == nil {
		return "Fewer than three visits, or all with the same hours: aplomb shoe edit CODE --hours HOURS, said before a visit, keeps how long the shoe was worn by then."
	}
	return fmt.Sprintf("An hour worn goes with %s (95 %% interval %s to %s), from %d visits. Exploratory: days and the dancer change too.",
		slopeText(m, w.PerHour), slopeText(m, w.CI95[0]), slopeText(m, w.CI95[1]), w.Visits)
}

// MakeOf returns the properties by which shoes are distinguished: outline and shank. A
// shoe may change in all others and is still the same shoe.
func MakeOf(s *device.Shoe) string {
	return device.TOML(&device.Shoe{
		PlatformMM: s.PlatformMM, OutlineExponent: s.OutlineExponent, OutlineMM: s.OutlineMM, Shank: s.Shank, ShankLength: s.ShankLength,
	})
}

// labelShoes replaces the code of every shoe by a label: the code, with #1, #2 where
// different shoes of one dancer have the same code. Rows are in order of time.
func labelShoes(rows []Row) {
	type key struct{ dancer, code string }
	makes := map[key][]string{}
	for _, r := range rows {
		if k := (key{r.Dancer, r.Shoe}); !slices.Contains(makes[k], r.Make) {
			makes[k] = append(makes[k], r.Make)
		}
	}
	for i := range rows {
		r := &rows[i]
		r.code = r.Shoe
		if all := makes[key{r.Dancer, r.code}]; len(all) > 1 {
			r.Shoe = fmt.Sprintf("%s#%d", r.code, slices.Index(all, r.Make)+1)
		}
	}
}
