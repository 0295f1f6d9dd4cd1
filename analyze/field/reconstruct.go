package field

import (
	"math"

	"aplomb/device/platform"
)

// Map is what one map of pressure says about the platform.
type Reconstruction struct {
	LoadN           float64        // load on all cells, N
	CoP             platform.Point // centre of pressure, mm; only where CoPOK
	CoPOK           bool           // false below LoadFloorN
	ContactMM2      float64        // area that carries pressure, mm²
	ContactShare    float64        // ContactMM2 ÷ area of the outline
	Back            float64        // share of load in the back third of the outline's over-extent
	Middle          float64        // in the middle third
	Front           float64        // in the front third
	PeakKPa         float64        // largest reading of a cell at least a fifth of which is inside
	PeakAt          platform.Point // the centroid of that cell's part inside, mm
	OffOutlineShare float64        // share of load on cells wholly outside the outline
	Family          string         // what explains the pressure, one of the constants below; empty below LoadFloorN

	// Cells that are not to be believed (see Grid.Without) and lie at least partly
	// inside: those whose load was found from the others, and those for which it
	// could not be and is taken as 0. With any of these, place and contact are not
	// to be trusted.
	Filled, Unfilled []int

	model            fittedModel // the fitted model
	nearestShareDiff float64     // of CellByCell: how far off the contact share of the nearest model is
}

// What can explain a map of pressure.
const (
	LinearBed  = "linear bed"   // max(0, plane): a flat platform on an elastic bed without tension
	PowerBed   = "power bed"    // the same to a power from 0.5 to 2
	DomedBed   = "domed bed"    // max(0, quadratic surface): a domed platform on an elastic bed
	UniformCut = "uniform cut"  // uniform on one side of a line
	SlopedCut  = "sloped cut"   // a plane on one side of a line
	CellByCell = "cell by cell" // none of these: each cell by its neighbours
)

// Reconstruct finds the pressure within the cells from their readings p, kPa,
// such that each cell's mean is its reading and pressure is nowhere negative,
// and measures that. noise is the standard deviation of each reading at zero
// load, kPa; nil stands for none known. Both are in scan order.
//
// Five models of the field compete (see LinearBed and the next). The one that
// explains the readings best for its number of parameters gives the shape of
// pressure within each cell; where none explains them within what the gains of
// the cells leave open, each cell is shaped by its neighbours alone. Readings
// below 0 are noise about zero and are kept as they are, so that noise averages
// out. Load on cells outside the outline acts at their centres, as in Weights.
func (g *Grid) Reconstruct(p []float64, noise []float64) Reconstruction {
	return g.reconstruct(p, noise, Reconstruction{})
}

// Again is Reconstruct for a map much like one that was reconstructed before,
// on this platform or one moved a little. The model that explained that one is
// fitted from where its parameters were, and kept if it explains this map about
// as well; only otherwise do the models compete anew. It is several times as fast.
func (g *Grid) ReconstructFrom(like Reconstruction, p, noise []float64) Reconstruction {
	return g.reconstruct(p, noise, like)
}

func (g *Grid) reconstruct(p, noise []float64, like Reconstruction) Reconstruction {
	p = g.fillFromNeighbours(p)
	m := g.sumCells(p)
	if m.LoadN < LoadFloorN {
		return m
	}
	patches, explanation := g.fitPressure(p, noise, like.model)
	if g.lost != nil && explanation.family != CellByCell {
		g.fillFromModel(p, g.expectedErrors(p, noise).peak, patches)
		m = g.sumCells(p)
	}
	m.CoPOK, m.Family, m.model = true, explanation.family, explanation
	for _, k := range g.Lost() {
		switch {
		case g.cells[k].w == 0:
		case m.Family != CellByCell || g.fillTerms[k] != nil:
			m.Filled = append(m.Filled, k)
		default:
			m.Unfilled = append(m.Unfilled, k)
		}
	}
	g.integratePatches(&m, p, patches)
	if nearest := m.model.nearest; nearest != nil {
		m.nearestShareDiff = math.Abs(g.contactArea(nearest.patches)/g.Area - m.ContactShare)
	}
	return m
}

// plain takes what needs no shape within the cells.
func (g *Grid) sumCells(p []float64) Reconstruction {
	var m Reconstruction
	off := 0.0
	for k := range g.cells {
		c := &g.cells[k]
		m.LoadN += p[k] * g.cellArea / 1000
		if c.w == 0 {
			off += p[k] * g.cellArea / 1000
		}
		if c.w >= minInside && p[k] > m.PeakKPa && (g.lost == nil || !g.lost[k]) {
			m.PeakKPa, m.PeakAt = p[k], c.centroid
		}
	}
	if m.LoadN > 0 {
		m.OffOutlineShare = min(1, max(0, off/m.LoadN))
	}
	return m
}

// measure adds up what the patches say, each scaled to its cell's reading.
func (g *Grid) integratePatches(m *Reconstruction, p []float64, patches [][]patch) {
	var mom platform.Point
	var thirds [3]float64
	for k := range g.cells {
		c := &g.cells[k]
		load := p[k] * g.cellArea / 1000 / m.LoadN
		if c.w == 0 {
			mom[0] += load * c.centroid[0]
			mom[1] += load * c.centroid[1]
			thirds[g.third(c.centroid[1])] += load
			continue
		}
		var within float64 // load up to the factor
		var lever platform.Point
		var bands [3]float64
		add := func(q patch) {
			s := q.load()
			within += s.value
			lever[0] += s.moment[0]
			lever[1] += s.moment[1]
			for i, t := range q.thirds(g.lines) {
				bands[i] += t
			}
		}
		carries := 0.0
		for _, q := range patches[k] {
			carries += q.contact()
			add(q)
		}
		m.ContactMM2 += carries
		if carries < 1e-6*c.part.moments.Area { // nothing was expected here: spread what there is
			within, lever, bands = 0, platform.Point{}, [3]float64{}
			add(patch{part: c.part, f: plane{c: 1}, exponent: 1})
		}
		mom[0] += load * lever[0] / within
		mom[1] += load * lever[1] / within
		for i := range thirds {
			thirds[i] += load * bands[i] / within
		}
	}
	m.CoP = mom
	m.ContactShare = m.ContactMM2 / g.Area
	m.Back, m.Middle, m.Front = thirds[0], thirds[1], thirds[2]
}
