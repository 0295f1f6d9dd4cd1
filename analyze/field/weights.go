package field

import "aplomb/device/platform"

// Weight is the contribution of 1 kPa on one cell to load and first moments.
type Weight struct {
	LoadN     float64 // load, N
	MedialNMM float64 // first moment of the load along medial, N·mm
	OverNMM   float64 // first moment along over, N·mm
}

// Weights returns, for each cell, the contribution of 1 kPa to load and first
// moments. For readings p the load is Σ p·LoadN, and the centre of pressure is Σ
// p·MedialNMM and Σ p·OverNMM divided by the load.
//
// The load of a cell acts at the centroid of its part inside the outline, moved
// by the gradient of pressure there: a linear field with gradient g over a part
// with second moments J has the first moment J·g about its centroid. The gradient
// comes from the cell and its neighbours (see gradientStencil), a linear
// combination of readings, so it is included in their weights. The result is
// exact for a field that is linear over the whole outline. At an edge of contact
// about half of the error remains, which Reconstruct removes.
//
// The weight of a lost cell is added to that of its neighbours: see WithoutCells.
//
// Load on a cell outside the outline is taken to act at the cell's centre,
// because it is measured load even if the profile's outline is wrong.
func (g *Grid) Weights() []Weight {
	load := g.cellArea / 1000 // kPa·mm² → N
	ws := make([]Weight, len(g.cells))
	for k := range g.cells {
		c := g.cells[k].centroid
		ws[k].LoadN = load
		ws[k].MedialNMM += load * c[0]
		ws[k].OverNMM += load * c[1]
		b := g.cells[k].part.moments
		for _, s := range g.gradients[k] {
			ws[s.cell].MedialNMM += (b.MM*s.per[0] + b.MO*s.per[1]) / 1000
			ws[s.cell].OverNMM += (b.MO*s.per[0] + b.OO*s.per[1]) / 1000
		}
	}
	for k, fill := range g.fillTerms {
		for _, s := range fill {
			ws[s.cell].LoadN += s.factor * ws[k].LoadN
			ws[s.cell].MedialNMM += s.factor * ws[k].MedialNMM
			ws[s.cell].OverNMM += s.factor * ws[k].OverNMM
		}
	}
	for _, k := range g.Lost() {
		ws[k] = Weight{}
	}
	return ws
}

// gradientTerm is one term of the gradient of pressure at a cell: kPa/mm along
// medial and over per kPa read on cell.
type gradientTerm struct {
	cell int
	per  platform.Point
}

// gradientStencil returns the gradient at cell k as a linear combination of
// readings: that of the plane fitted to the mean pressures p/w of the cell and
// its neighbours at the centroids of their parts. The weights are w², because the
// noise of p/w is proportional to 1/w; cells that are hardly inside then count
// for little.
func (g *Grid) gradientStencil(k int) []gradientTerm {
	cells := append([]int{k}, g.cells[k].neighbours...)
	if g.lost != nil && g.lost[k] {
		cells = cells[1:]
	}
	var sum, m, o float64
	for _, j := range cells {
		c := &g.cells[j]
		sum += c.w * c.w
		m += c.w * c.w * c.centroid[0]
		o += c.w * c.w * c.centroid[1]
	}
	m, o = m/sum, o/sum
	// A small regularisation keeps the gradient across a row defined where all cells
	// are in one row; it changes that of a normal 3 × 3 block by 0.02 %.
	mm := 1e-3 * g.strip.PitchMM[0] * g.strip.PitchMM[0]
	oo := 1e-3 * g.strip.PitchMM[1] * g.strip.PitchMM[1]
	mo := 0.0
	for _, j := range cells {
		c := &g.cells[j]
		dm, do := c.centroid[0]-m, c.centroid[1]-o
		mm += c.w * c.w * dm * dm
		oo += c.w * c.w * do * do
		mo += c.w * c.w * dm * do
	}
	det := mm*oo - mo*mo
	stencil := make([]gradientTerm, len(cells))
	for i, j := range cells {
		c := &g.cells[j]
		dm, do := c.centroid[0]-m, c.centroid[1]-o
		// w² is the weight, 1/w converts the reading to a mean pressure.
		stencil[i] = gradientTerm{j, platform.Point{
			c.w * (oo*dm - mo*do) / det,
			c.w * (mm*do - mo*dm) / det,
		}}
	}
	return stencil
}

// gradient returns the gradient of pressure at cell k for the readings p, kPa/mm.
func (g *Grid) gradient(k int, p []float64) platform.Point {
	var grad platform.Point
	for _, s := range g.gradients[k] {
		grad[0] += s.per[0] * p[s.cell]
		grad[1] += s.per[1] * p[s.cell]
	}
	return grad
}
