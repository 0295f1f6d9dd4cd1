package field

import "aplomb/device/platform"

// Weight is what 1 kPa on one cell adds to the whole.
type Weight struct {
	LoadN     float64 // load, N
	MedialNMM float64 // first moment of the load along medial, N·mm
	OverNMM   float64 // and along over
}

// Weights returns, for each cell, what 1 kPa on it adds to load and first
// moments. Over a frame p the load is Σ p·LoadN and the centre of pressure
// Σ p·MedialNMM and Σ p·OverNMM divided by the load.
//
// The load of a cell acts at the centroid of its part inside the outline,
// moved by the slope of pressure there: a linear field with gradient g over a
// part with second moments J has the first moment J·g about its centroid. The
// slope comes from the cell and its neighbours (see slopeStencil), which makes
// it a fixed sum over readings, so it is folded into their weights. For a field
// that is linear over the whole outline this is exact; at an edge of contact it
// is half of the story, and Reconstruct tells the rest.
//
// The weight of a lost cell is that of its neighbours: see Without.
//
// Load on a cell that lies outside the outline is taken to act at the cell's
// centre: it is really there, whatever the profile says about the outline.
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

// slope is one term of the gradient of pressure at a cell: per kPa read on
// cell, that much kPa/mm along medial and over.
type gradientTerm struct {
	cell int
	per  platform.Point
}

// slopeStencil returns the gradient at cell k as a sum over readings: that of
// the plane fitted to the mean pressure p/w of the cell and its neighbours at
// the centroids of their parts. The weights are w², because the noise of p/w
// grows as 1/w: a sliver of a cell then counts for little instead of spoiling
// the plane.
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
	// A little stiffness against a slope across the row where all cells stand in
	// one: of a normal 3 × 3 block it takes 0.02 %.
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
		// w² for the weight, 1/w from reading to mean pressure.
		stencil[i] = gradientTerm{j, platform.Point{
			c.w * (oo*dm - mo*do) / det,
			c.w * (mm*do - mo*dm) / det,
		}}
	}
	return stencil
}

// gradient returns the slope of pressure at cell k under the readings p, kPa/mm.
func (g *Grid) gradient(k int, p []float64) platform.Point {
	var grad platform.Point
	for _, s := range g.gradients[k] {
		grad[0] += s.per[0] * p[s.cell]
		grad[1] += s.per[1] * p[s.cell]
	}
	return grad
}
