package analyze

import (
	"math"
	"math/rand/v2"

	"aplomb/analyze/field"
	"aplomb/analyze/trace"
)

// spread is the standard uncertainty of each measure, by its name, from what is
// the same for every frame of a recording: how the strip was seated, and how
// the gains of its cells differ.
type spread struct{ seat, gain map[string]float64 }

// spreadAt finds the spread for a dancer whose mean map is p (kPa), with its
// noise. It is found once a recording, at the mean of all holds, since a dancer
// stands much alike from one relevé to the next.
func (g *foot) spreadAt(p, noise []float64) spread {
	load, _ := g.light(p)
	m := g.placedBy(g.grid, p, noise, load)
	return spread{seat: g.seatSpread(m, p, noise, load), gain: g.gainSpread(m, p, noise, load)}
}

// spreadOver finds the spread at the mean map of all holds.
func (g *foot) spreadOver(l *trace.Log, holds []*holdMap) spread {
	var sum, noise []float64
	n := 0.0
	for _, h := range holds {
		if h == nil {
			continue
		}
		p, sd := g.pressure(l, h)
		if n++; n == 1 {
			sum, noise = p, sd
			continue
		}
		for k := range sum {
			sum[k] += p[k]
		}
	}
	if n == 0 {
		return spread{}
	}
	for k := range sum {
		sum[k] /= n
	}
	return g.spreadAt(sum, noise)
}

// placedBy measures where the load of a map is, as read by grid.
func (g *foot) placedBy(grid *field.Grid, p, noise []float64, load float64) *Measures {
	m := &Measures{}
	full := grid.Reconstruct(p, noise)
	g.place(m, full, full.CoP, load)
	return m
}

// seatSpread says how far each measure moves when the strip had been fixed one
// standard deviation of mounting off: along each axis the larger of both ways,
// then the root of the sum of squares of both axes.
func (g *foot) seatSpread(m *Measures, p, noise []float64, load float64) map[string]float64 {
	spread := map[string]float64{}
	if g.seated[0] == nil {
		return spread
	}
	for axis := 0; axis < len(g.seated); axis += 2 {
		there := g.placedBy(g.seated[axis], p, noise, load)
		back := g.placedBy(g.seated[axis+1], p, noise, load)
		for _, name := range placed {
			moved := max(math.Abs(difference(name, there, m)), math.Abs(difference(name, back, m)))
			spread[name] = math.Hypot(spread[name], moved)
		}
	}
	return spread
}

// gainDraws is how many imagined sets of cell gains gainSpread averages over:
// its result is then good to a sixth of itself.
const gainDraws = 16

// gainSpread is the root mean square change of each measure over imagined sets
// of gains, the same ones every time.
func (g *foot) gainSpread(m *Measures, p, noise []float64, load float64) map[string]float64 {
	spread := map[string]float64{}
	sd := g.strip.Calibration.GainSD
	if sd == 0 {
		return spread
	}
	draw := rand.New(rand.NewPCG(1, 1))
	imagined := make([]float64, len(p))
	for range gainDraws {
		for k := range imagined {
			imagined[k] = p[k] * (1 + sd*draw.NormFloat64())
		}
		load, _ := g.light(imagined)
		v := g.placedBy(g.grid, imagined, noise, load)
		for _, name := range placed {
			spread[name] = math.Hypot(spread[name], difference(name, v, m)/math.Sqrt(gainDraws))
		}
	}
	return spread
}

// placed names the measures that place fills in.
var placed = []string{
	"over_mm", "medial_mm", "over_norm", "medial_norm", "contact_share", "kern_ratio", "edge_mm",
	"load_n", "back_third", "middle_third", "front_third", "peak_kpa",
}

func difference(name string, a, b *Measures) float64 {
	measure, _ := MeasureNamed(name)
	x, _ := measure.Of(a)
	y, _ := measure.Of(b)
	return x - y
}
