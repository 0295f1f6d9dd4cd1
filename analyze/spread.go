package analyze

import (
	"math"
	"math/rand/v2"

	"aplomb/analyze/field"
)

// spread is the standard uncertainty of each measure, by its name, from what is
// the same for every frame of a recording: how the strip was seated, and how
// the gains of its cells differ.
type spread struct {
	seat, gain map[string]float64
	at         field.Map // the mean of all holds
}

// spreadAt finds the spread for a dancer whose mean map is p (kPa), with its
// noise. It is found once a recording, at the mean of all holds, since a dancer
// stands much alike from one relevé to the next.
func (g *foot) spreadAt(p, noise []float64) spread {
	s := spread{at: g.grid.Reconstruct(p, noise)}
	load, _ := g.light(p)
	m := &Measures{}
	g.place(m, s.at, s.at.CoP, load)
	variant := func(grid *field.Grid, p []float64) *Measures {
		v := &Measures{}
		full := grid.Again(s.at, p, noise)
		load, _ := g.light(p)
		g.place(v, full, full.CoP, load)
		return v
	}
	s.seat, s.gain = g.seatSpread(m, p, variant), g.gainSpread(m, p, variant)
	return s
}

// spreadOver finds the spread at the mean map of all holds.
func (g *foot) spreadOver(holds []*hold) spread {
	mean, noise := make([]float64, g.strip.Cells()), make([]float64, g.strip.Cells())
	n := 0.0
	for _, h := range holds {
		if h != nil {
			n++
			for k, p := range h.pressure {
				mean[k] += p
				noise[k] += h.noise[k]
			}
		}
	}
	if n == 0 {
		return spread{}
	}
	for k := range mean {
		mean[k] /= n
		noise[k] /= n
	}
	return g.spreadAt(mean, noise)
}

// variant measures the same hold as another strip would have read it.
type variant func(grid *field.Grid, p []float64) *Measures

// seatSpread says how far each measure moves when the strip had been fixed one
// standard deviation of mounting off: along each axis the larger of both ways,
// then the root of the sum of squares of both axes.
func (g *foot) seatSpread(m *Measures, p []float64, read variant) map[string]float64 {
	spread := map[string]float64{}
	if g.seated[0] == nil {
		return spread
	}
	for axis := 0; axis < len(g.seated); axis += 2 {
		there, back := read(g.seated[axis], p), read(g.seated[axis+1], p)
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
func (g *foot) gainSpread(m *Measures, p []float64, read variant) map[string]float64 {
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
		v := read(g.grid, imagined)
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
