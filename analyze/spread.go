package analyze

import (
	"math"
	"math/rand/v2"
	"slices"

	"aplomb/analyze/field"
	"aplomb/device/platform"
)

// spread is what each source that is the same for every frame of a recording
// does to each measure, by the measure's name: how the strip was seated, how
// the gains of its cells differ, and the noise of a hold's mean map.
type spread struct {
	at          field.Map          // the mean of all holds
	seat, fill  map[string]float64 // standard uncertainty; fill is for want of cells that are lost
	gain, noise map[string]Draws
	lean        platform.Point // how contact share answers as the load moves along medial and over, 1/mm
}

// Draws are the changes of a measure under imagined errors, one a draw. The
// draws of one source are the same for all measures and recordings of a strip,
// so what two recordings share can be told.
type Draws []float64

// drawn is how many errors are imagined: what comes of them is good to a sixth
// of itself, as a standard deviation with so many degrees of freedom is.
const drawn = 16

// U is the standard uncertainty that the draws show: their root mean square.
func (d Draws) U() float64 {
	u := 0.0
	for _, v := range d {
		u = math.Hypot(u, v)
	}
	return u / math.Sqrt(float64(max(1, len(d))))
}

// DOF is how well U is known: as well as from so many observations about a known mean.
func (d Draws) DOF() float64 {
	if len(d) == 0 {
		return math.Inf(1)
	}
	return float64(len(d))
}

// spreadAt finds the spread for a dancer whose mean map is p (kPa), with its
// noise. It is found once a recording, at the mean of all holds, since a dancer
// stands much alike from one relevé to the next.
func (g *foot) spreadAt(p, noise []float64) spread {
	s := spread{at: g.grid.Reconstruct(p, noise)}
	m := g.placed(s.at)
	s.seat = g.seatSpread(s.at, m, p, noise)
	s.fill = g.fillSpread(s.at, m, p, noise)
	gain := make([]float64, len(p))
	for k := range gain {
		gain[k] = g.strip.Calibration.GainSD * p[k]
	}
	s.gain = g.draw(1, gain, s.at, m, p, noise)
	s.noise = g.draw(2, noise, s.at, m, p, noise)
	s.lean = g.leaning(s.at, p, noise)
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

// placed measures a reconstructed map.
func (g *foot) placed(full field.Map) *Measures {
	m := &Measures{}
	g.place(m, full, full.CoP, full.LoadN)
	return m
}

// seatSpread says how far each measure moves when the strip had been fixed one
// standard deviation of mounting off: along each axis the larger of both ways,
// then the root of the sum of squares of both axes. The centre of pressure
// moves by just that much, whatever the edge of the grid makes of it; contact
// and thirds are what the same readings say elsewhere under the outline.
func (g *foot) seatSpread(at field.Map, m *Measures, p, noise []float64) map[string]float64 {
	spread := map[string]float64{}
	sd := g.strip.Mount.SeatSDMM
	if sd == 0 {
		return spread
	}
	// Along medial either way, then along over.
	offs := []platform.Point{{sd, 0}, {-sd, 0}, {0, sd}, {0, -sd}}
	seated := make([]Measures, len(offs))
	inParallel(len(offs), func(i int) {
		to := platform.Point{at.CoP[0] + offs[i][0], at.CoP[1] + offs[i][1]}
		g.place(&seated[i], g.grid.Shifted(offs[i]).Again(at, p, noise), to, m.LoadN)
	})
	for _, name := range placed {
		for i := range 2 {
			one, other := difference(name, &seated[2*i], m), difference(name, &seated[2*i+1], m)
			spread[name] = math.Hypot(spread[name], max(math.Abs(one), math.Abs(other)))
		}
	}
	return spread
}

// draw measures the map again with imagined normal errors of standard deviation
// sd (kPa) in each cell, the same ones for the same source every time. Nothing
// comes of a source without errors.
func (g *foot) draw(source uint64, sd []float64, at field.Map, m *Measures, p, noise []float64) map[string]Draws {
	draws := map[string]Draws{}
	if slices.Max(sd) == 0 {
		return draws
	}
	rng := rand.New(rand.NewPCG(source, 1))
	imagined := make([]float64, len(p))
	for range drawn {
		for k := range imagined {
			imagined[k] = p[k] + sd[k]*rng.NormFloat64()
		}
		v := g.placed(g.grid.Again(at, imagined, noise))
		for _, name := range placed {
			draws[name] = append(draws[name], difference(name, v, m))
		}
	}
	return draws
}

// gridSpread says what the reconstruction leaves of each measure, by what
// explained the map (field.Map.Remains). Thirds and peak are not in it: what
// is left of them was not measured.
func (g *foot) gridSpread(full field.Map) map[string]float64 {
	cop, share := full.Remains()
	m := Measures{}
	g.place(&m, full, full.CoP, full.LoadN)
	spread := map[string]float64{"contact_share": share}
	for axis := range 2 {
		moved := full.CoP
		moved[axis] += cop
		v := Measures{}
		g.place(&v, full, moved, full.LoadN)
		for _, name := range []string{"over_mm", "medial_mm", "over_norm", "medial_norm", "kern_ratio", "edge_mm"} {
			spread[name] = math.Hypot(spread[name], difference(name, &v, &m))
		}
	}
	return spread
}

// leanMM is how far leaning moves the load either way to see what contact does:
// so little that what is of second order in field.Grid.Lean does not show.
const leanMM = 0.1

// leaning says how far contact share moves, 1/mm, as the centre of pressure does
// along either axis, the platform leaning in its bed.
func (g *foot) leaning(at field.Map, p, noise []float64) (perMM platform.Point) {
	for axis := range perMM {
		var d platform.Point
		d[axis] = leanMM
		a := g.grid.Again(at, g.grid.Lean(at, p, noise, platform.Point{-d[0], -d[1]}), noise)
		b := g.grid.Again(at, g.grid.Lean(at, p, noise, d), noise)
		if moved := b.CoP[axis] - a.CoP[axis]; moved > 0 {
			perMM[axis] = math.Abs(b.ContactShare-a.ContactShare) / moved
		}
	}
	return perMM
}

// driftMatters is the share of the readings that must have moved for the edge of
// contact to be sought again: below it, only load and its place move.
const driftMatters = 0.01

// zeroChange says by how much, with its sign, each measure would be another had
// the zero found after the hold been in force; nil where none is known.
func (g *foot) zeroChange(full field.Map, h *hold) map[string]float64 {
	if h.drift == nil {
		return nil
	}
	less, moved, all := make([]float64, len(h.pressure)), 0.0, 0.0
	for k, p := range h.pressure {
		less[k] = p - h.drift[k]
		moved += math.Abs(h.drift[k])
		all += p
	}
	before, after := g.placed(full), &Measures{}
	if moved > driftMatters*all {
		after = g.placed(g.grid.Again(full, less, h.noise))
	} else {
		loadN, at := g.light(h.pressure)
		lessN, to := g.light(less)
		g.place(after, full, platform.Point{full.CoP[0] + to[0] - at[0], full.CoP[1] + to[1] - at[1]}, full.LoadN+lessN-loadN)
	}
	change := map[string]float64{}
	for _, name := range placed {
		change[name] = difference(name, after, before)
	}
	return change
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
