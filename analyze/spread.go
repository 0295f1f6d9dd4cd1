package analyze

import (
	"math"
	"math/rand/v2"

	"aplomb/analyze/field"
	"aplomb/device/platform"
)

// spread is the standard uncertainty of each measure, by its name, from what is
// the same for every frame of a recording: how the strip was seated, and how
// the gains of its cells differ.
type spread struct {
	seat, gain, fill map[string]float64 // fill: for want of cells that are lost
	at               field.Map          // the mean of all holds
}

// spreadAt finds the spread for a dancer whose mean map is p (kPa), with its
// noise. It is found once a recording, at the mean of all holds, since a dancer
// stands much alike from one relevé to the next.
func (g *foot) spreadAt(p, noise []float64) spread {
	s := spread{at: g.grid.Reconstruct(p, noise)}
	m := &Measures{}
	g.place(m, s.at, s.at.CoP, s.at.LoadN)
	s.fill = g.fillSpread(s.at, m, p, noise)
	s.seat, s.gain = g.seatSpread(s.at, m, p, noise), g.gainSpread(s.at, m, p, noise)
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

// seatSpread says how far each measure moves when the strip had been fixed one
// standard deviation of mounting off: along each axis the larger of both ways,
// then the root of the sum of squares of both axes. The centre of pressure
// moves by just that much, whatever the edge of the grid makes of it; contact
// and thirds are what the same readings say elsewhere under the outline.
func (g *foot) seatSpread(at field.Map, m *Measures, p, noise []float64) map[string]float64 {
	spread := map[string]float64{}
	for _, axis := range g.seats {
		moved := map[string]float64{}
		for _, seat := range axis {
			v := Measures{}
			g.place(&v, seat.grid.Again(at, p, noise), platform.Point{at.CoP[0] + seat.off[0], at.CoP[1] + seat.off[1]}, m.LoadN)
			for _, name := range placed {
				moved[name] = max(moved[name], math.Abs(difference(name, &v, m)))
			}
		}
		for _, name := range placed {
			spread[name] = math.Hypot(spread[name], moved[name])
		}
	}
	return spread
}

// gainDraws is how many imagined sets of cell gains gainSpread averages over:
// its result is then good to a sixth of itself.
const gainDraws = 16

// gainSpread is the root mean square change of each measure over imagined sets
// of gains, the same ones every time.
func (g *foot) gainSpread(at field.Map, m *Measures, p, noise []float64) map[string]float64 {
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
		v, full := Measures{}, g.grid.Again(at, imagined, noise)
		g.place(&v, full, full.CoP, full.LoadN)
		for _, name := range placed {
			spread[name] = math.Hypot(spread[name], difference(name, &v, m)/math.Sqrt(gainDraws))
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
