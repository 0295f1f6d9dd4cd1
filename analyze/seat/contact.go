package seat

import (
	"math"
	"math/rand/v2"
	"slices"

	"aplomb/analyze/internal/parallel"
	"aplomb/device/platform"
)

// ContactKPa is the pressure above which a part of the platform counts as contact.
//
// It is 2 to 4 % of the mean pressure under a dancer (180 to 350 N on 7 cm² are 260 to
// 500 kPa) and 20 times the noise of a cell's reading in one map (0.5 kPa). It lies above
// the 4 kPa or so that a taut tail adds to a row of cells on which the platform does not
// stand. Under a flat platform that begins to lift off, pressure rises by more than 20 kPa
// per mm, so that the line of the threshold lies within half a millimetre of the line of
// no pressure. On simulated maps the error of the share is the same for thresholds from 10
// to 50 kPa.
const ContactKPa = 10.0

// Contact is the part of the platform that carries more than ContactKPa in one map. It
// follows from the fitted model, so that it is that of the platform's own pressure,
// before a cover spreads it, and includes what lies beyond the strip. Shares are of the
// bearing outline's area, from 0 to 1.
type Contact struct {
	AreaMM2 float64
	Share   float64
	U       float64 // standard uncertainty of Share
	Lo, Hi  float64 // ends of the 95 % interval of Share, which is asymmetric and stays within 0 to 1
	// Thirds are the shares of the load in the back, the middle and the front third of
	// the bearing outline's depth. They follow from the same pressure as the CoP.
	Thirds [3]float64
	// PerMM is the change of Share as the platform tilts in its bed under the same load and
	// the CoP moves along medial and over, 1/mm.
	PerMM platform.Point
	// Edge is the line along which the platform lifts off, in straight pieces, [medial, over]
	// in mm. It is empty where the whole platform carries more than ContactKPa but for its
	// rounded edge, which is not part of the line.
	Edge [][2]platform.Point
}

// Standard deviations of the model's error of contact, in addition to the uncertainty
// that follows from the fit. They were chosen in the same way as those of the seat; see
// modelErrors.
const (
	liftMM        = 0.1   // of the position of the line along which the platform lifts off
	liftPerMisfit = 0.07  // and for each unit above 1 of the holds' misfit
	edgeMM        = 0.06  // of the position at which contact ends on a rounded edge
	edgePerMisfit = 0.015 // and for each unit above 1 of the holds' misfit
)

// bearingSD returns the relative standard deviation of the bearing area due to the
// model's error. That error does not change the contact area: the maps show where the
// platform bears load, but not how far an unloaded rim reaches.
func (s *Seat) bearingSD(e *modelErrors, half platform.Point) float64 {
	of := func(parameter int) float64 { return math.Sqrt(e.ofOutline(parameter, s.misfit())) }
	return math.Hypot(of(width)/half[0], of(depth)/half[1])
}

// misfit returns √(χ² ÷ degrees of freedom) of the evidence, at least 1.
func (s *Seat) misfit() float64 { return math.Sqrt(max(1, s.Chi2/s.DOF)) }

// contactDraws is the number of Monte Carlo draws for the interval of a contact share. The
// standard error of the ends of an interval is then a tenth of its half-width.
const contactDraws = 200

// contacts sets the contact of maps of holds; e are the model's errors of the evidence.
// The fit's scene must have been computed.
//
// The uncertainty is that of the shared parameters, with the model's error of the
// outline, of the map's plane, and of the line at which contact ends. It is propagated by
// the Monte Carlo method of JCGM 101:2008, 7; the interval is the probabilistically
// symmetric one of its 7.7.
func (f *found) contacts(s *Seat, e *modelErrors, held []heldMap, draws int) {
	bearingSD := s.bearingSD(e, f.problem.shape.half)
	f.respond(held)
	surface, coarse := newTiles(f.problem.shape, fineTiles), newTiles(f.problem.shape, coarseTiles)
	surface.lay(&f.v)
	coarse.lay(&f.v)
	parallel.Parts(len(held), func(from, to int) {
		for i := from; i < to; i++ {
			h := &held[i]
			h.share = surface.share(&f.v, h.plane, 0, 0)
			h.edge = surface.edge(&f.v, h.plane)
			h.coarser = coarse.share(&f.v, h.plane, 0, 0) - h.share
			h.perMM = surface.perMM(&f.v, h.plane)
			h.draws = make([]float64, 0, draws)
		}
	})
	rng := rand.New(rand.NewPCG(1, 1))
	spread := f.spread()
	lift := liftMM + liftPerMisfit*(f.scale-1)
	edge := edgeMM + edgePerMisfit*(f.scale-1)
	planes := make([]plane, len(held))
	for range draws {
		v := f.draw(spread, rng)
		coarse.lay(&v)
		bearing := 1 + bearingSD*rng.NormFloat64()
		dl, de := lift*rng.NormFloat64(), edge*rng.NormFloat64()
		for i := range held {
			planes[i] = held[i].draw(&f.v, &v, rng)
		}
		parallel.Parts(len(held), func(from, to int) {
			for i := from; i < to; i++ {
				h := &held[i]
				h.draws = append(h.draws, (coarse.share(&v, planes[i], dl, de)-h.coarser)/bearing)
			}
		})
	}
	for i := range held {
		h := &held[i]
		c := &s.CoPs[h.index]
		beyond := beyondSD * c.BeyondN / (c.LoadN + c.BeyondN)
		for k, share := range h.draws {
			h.draws[k] = min(1, max(0, share+beyond*rng.NormFloat64()))
		}
		s.Contacts[h.index] = h.contact(s.BearingMM2)
	}
}

// heldMap is the map of one hold, with the quantities from which Monte Carlo draws of its
// plane and contact are made.
type heldMap struct {
	index int // of the map in the input
	plane plane
	kPa   []float64 // readings of the model
	// follow is the derivative of the best plane with respect to the modelled reading of
	// each cell.
	follow []plane
	// own is the lower triangle L of the plane's covariance L·Lᵀ from noise and gains.
	own      factor
	response [shared]plane // change of the plane with each shared parameter
	thirds   [3]float64
	share    float64
	perMM    platform.Point // see Contact.PerMM
	edge     [][2]platform.Point
	coarser  float64   // share on coarse tiles less share on fine ones
	draws    []float64 // of share
}

// held prepares a map for Monte Carlo draws. The fit's scene must have been computed.
func (f *found) held(index int, r *reading, at plane) heldMap {
	p := f.problem
	cells := len(r.p)
	h := heldMap{index: index, plane: at, kPa: make([]float64, cells), follow: make([]plane, cells)}
	slope := make([]plane, cells)
	p.read(at, h.kPa, slope)
	var m [3][3]float64
	for k := range slope {
		is := (1 + f.gains[k]) / (r.s[k] * f.scale)
		for a := range 3 {
			h.follow[k][a] = -slope[k][a] * is * is
			for b := range a + 1 {
				m[a][b] += slope[k][a] * slope[k][b] * is * is
			}
		}
	}
	l, ok := factor3(&m)
	if !ok {
		clear(h.follow)
		return h
	}
	// Covariance of the plane: the inverse of m from noise, plus the contribution of each
	// gain.
	var c [3][3]float64
	for a := range 3 {
		var e [3]float64
		e[a] = 1
		e = l.back(l.forward(e))
		for b := range a + 1 {
			c[a][b] = e[b]
		}
	}
	for k := range h.follow {
		h.follow[k] = l.back(l.forward(h.follow[k]))
		for a := range 3 {
			for b := range a + 1 {
				g := p.gain * h.kPa[k]
				c[a][b] += g * g * h.follow[k][a] * h.follow[k][b]
			}
		}
	}
	h.own, _ = factor3(&c)
	return h
}

// respond computes how the plane of each map changes with the shared parameters.
func (f *found) respond(held []heldMap) {
	p := f.problem
	for i := range shared {
		if !concerns(i, Hold) {
			continue
		}
		v, d := f.v, wide[i]
		if v[i]+d > most[i] {
			d = -d
		}
		v[i] += d
		layer, ground := p.shift(&v, i)
		parallel.Parts(len(held), func(from, to int) {
			grid, kPa := f.withOwnRoom().problem.grid, make([]float64, len(f.gains))
			for j := from; j < to; j++ {
				h := &held[j]
				grid.read(layer, ground, h.plane, kPa, nil)
				for k := range kPa {
					for a := range 3 {
						h.response[i][a] += h.follow[k][a] * (kPa[k] - h.kPa[k]) / d
					}
				}
			}
		})
	}
}

// spread returns the lower triangle L of the covariance L·Lᵀ of the shared parameters.
func (f *found) spread() *[shared][shared]float64 {
	a := make([]float64, 0, shared*shared)
	for i := range shared {
		for j := range shared {
			v := f.cov[i][j]
			if i == j {
				v += 1e-18 // a parameter that the maps do not depend on may have zero variance
			}
			a = append(a, v)
		}
	}
	var l [shared][shared]float64
	if cholesky(a, shared) {
		for i := range shared {
			copy(l[i][:i+1], a[i*shared:i*shared+i+1])
		}
	}
	return &l
}

// draw returns one Monte Carlo draw of the shared parameters.
func (f *found) draw(spread *[shared][shared]float64, rng *rand.Rand) vector {
	var z [shared]float64
	for i := range z {
		z[i] = rng.NormFloat64()
	}
	v := f.v
	for i := range v {
		for j := range i + 1 {
			v[i] += spread[i][j] * z[j]
		}
	}
	for i := range v {
		v[i] = min(most[i], max(lowest[i], v[i]))
	}
	return v
}

// draw returns one Monte Carlo draw of the plane for shared parameters v; at are the
// fitted ones.
func (h *heldMap) draw(at, v *vector, rng *rand.Rand) plane {
	p := h.plane
	var z [3]float64
	for a := range z {
		z[a] = rng.NormFloat64()
		for b := range a + 1 {
			p[a] += h.own[a][b] * z[b]
		}
	}
	for i := range v {
		for a := range p {
			p[a] += h.response[i][a] * (v[i] - at[i])
		}
	}
	return p
}

// contact returns the contact with the uncertainty computed from the draws. It sorts
// them.
func (h *heldMap) contact(bearingMM2 float64) Contact {
	c := Contact{AreaMM2: h.share * bearingMM2, Share: h.share, Thirds: h.thirds, PerMM: h.perMM, Edge: h.edge}
	for _, s := range h.draws {
		c.U += (s - c.Share) * (s - c.Share)
	}
	c.U = math.Sqrt(c.U / float64(len(h.draws)))
	slices.Sort(h.draws)
	c.Lo, c.Hi = min(c.Share, quantile(h.draws, 0.025)), max(c.Share, quantile(h.draws, 0.975))
	return c
}

// quantile returns the p-quantile of sorted draws, with linear interpolation between two
// of them.
func quantile(sorted []float64, p float64) float64 {
	at := p*float64(len(sorted)) - 0.5
	i := min(len(sorted)-2, max(0, int(math.Floor(at))))
	return sorted[i] + (at-float64(i))*(sorted[i+1]-sorted[i])
}
