package field

import (
	"math"

	"aplomb/device/platform"
)

// Reconstruction is the result of reconstructing one map of readings.
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
	Family          string         // model of the pressure, one of the constants below; empty below LoadFloorN

	// Lost cells (see Grid.WithoutCells) at least partly inside the outline: Filled
	// are those whose load was found from the other cells. For those in Unfilled it
	// could not be found and counts as 0: centre of pressure and contact area are
	// then unreliable.
	Filled, Unfilled []int

	model            fittedModel // the model of the pressure
	nearestShareDiff float64     // for CellByCell: |contact share of the nearest model − ContactShare|
}

// Families of models.
const (
	LinearBed  = "linear bed"   // max(0, plane): a flat platform on an elastic bed without tension
	PowerBed   = "power bed"    // the same to a power from 0.5 to 2
	DomedBed   = "domed bed"    // max(0, quadratic surface): a domed platform on an elastic bed
	UniformCut = "uniform cut"  // uniform on one side of a line
	SlopedCut  = "sloped cut"   // a plane on one side of a line
	CellByCell = "cell by cell" // none of these: each cell from its neighbours
)

// Reconstruct finds a pressure within the cells whose mean in each cell is the
// cell's reading p, kPa, and that is nowhere negative, and integrates it. noise
// is the standard deviation of each reading at zero load, kPa, nil where it is
// not known. Both are in scan order.
//
// Five models of the pressure compete (see LinearBed and the following
// constants). The one with the best information score gives the pressure within
// each cell; where none fits within the uncertainty of the cells' gains, each
// cell is shaped by its neighbours alone. Readings below 0 are noise about zero
// and are kept, so that noise averages out. Load on cells outside the outline
// acts at their centres, as in Weights.
func (g *Grid) Reconstruct(p []float64, noise []float64) Reconstruction {
	return g.reconstruct(p, noise, Reconstruction{})
}

// ReconstructFrom is Reconstruct for a map similar to that of an earlier
// reconstruction, on the same platform or one with a slightly different seat. It
// fits the earlier model from its parameters and keeps it where it fits about as
// well; otherwise the models compete again. It is several times as fast as
// Reconstruct.
func (g *Grid) ReconstructFrom(previous Reconstruction, p, noise []float64) Reconstruction {
	return g.reconstruct(p, noise, previous)
}

func (g *Grid) reconstruct(p, noise []float64, previous Reconstruction) Reconstruction {
	p = g.fillFromNeighbours(p)
	m := g.sumCells(p)
	if m.LoadN < LoadFloorN {
		return m
	}
	patches, fitted := g.fitPressure(p, noise, previous.model)
	if g.lost != nil && fitted.family != CellByCell {
		g.fillFromModel(p, g.expectedErrors(p, noise).peak, patches)
		m = g.sumCells(p)
	}
	m.CoPOK, m.Family, m.model = true, fitted.family, fitted
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

// sumCells returns the results that do not depend on the pressure within the
// cells: load, peak, and the load outside the outline.
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

// integratePatches integrates the patches, each scaled to its cell's reading, and
// sets the remaining results of m.
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
		if carries < 1e-6*c.part.moments.Area { // no pressure is modelled here: the reading is spread evenly
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
