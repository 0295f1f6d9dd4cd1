package seat

import (
	"math"
	"math/rand/v2"
	"slices"

	"aplomb/device/platform"
)

// ContactKPa is the pressure above which a part of the platform counts as contact.
//
// It is 2 to 4 % of the mean pressure under a dancer (180 to 350 N on 7 cm² are 260 to
// 500 kPa) and 20 times the noise of a cell's reading in one map (0.5 kPa). It lies above
// the 4 kPa or so with which a taut tail presses a row of cells against a platform that
// does not stand on them. On a tilted platform pressure rises by 30 kPa or more per mm, so
// the line at which it passes the threshold lies within a third of a millimetre of the
// line at which the platform lifts off.
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
}

// Model's errors of the contact, beside what follows from the fit. Chosen like those of
// the seat; see modelErrors.
const (
	lineMM        = 0.1 // of the place of the line at which the pressure passes the threshold
	linePerMisfit = 1.0 // and as a pressure, in standard deviations of a reading × misfit
)

// outlineError is the model's error of the growth of half-width and half-depth, mm: base +
// perMisfit × (misfit - 1), as in modelErrors.
type outlineError struct{ base, perMisfit [2]float64 }

var (
	pressOutline = outlineError{[2]float64{0.05, 0.05}, [2]float64{0.1, 0.1}}
	holdsOutline = outlineError{[2]float64{0.2, 0.4}, [2]float64{0.02, 0.03}}
)

// sd returns the standard deviations for a misfit.
func (e outlineError) sd(misfit float64) (sd [2]float64) {
	for i := range sd {
		sd[i] = e.base[i] + e.perMisfit[i]*max(0, misfit-1)
	}
	return sd
}

// outlineError returns the standard deviations of the model's error of the bearing outline
// that the fit f of holds has.
func (s *Seat) outlineError(f *found) [2]float64 {
	if s.Evidence == FromPress {
		return pressOutline.sd(s.misfit())
	}
	return holdsOutline.sd(s.misfit())
}

// misfit is √(χ² ÷ degrees of freedom) of the evidence, at least 1.
func (s *Seat) misfit() float64 { return math.Sqrt(max(1, s.Chi2/s.DOF)) }

// contactDraws is the number of Monte Carlo draws for the interval of a contact share. The
// standard error of the ends of an interval is then a tenth of its half-width.
const contactDraws = 200

// contacts sets the contact of maps of holds. The scene of the fit must be laid.
//
// The uncertainty is that of the shared parameters, with the model's error of the outline,
// that of the map's plane, and the model's error of the line at which contact ends. It is
// propagated by the Monte Carlo method of JCGM 101:2008, 7; the interval is the
// probabilistically symmetric one of its 7.7.
func (f *found) contacts(s *Seat, held []heldMap) {
	outline := s.outlineError(f)
	f.respond(held)
	surface := tiles{shape: f.problem.shape}
	surface.lay(&f.v)
	for i := range held {
		h := &held[i]
		h.share = surface.share(&f.v, h.plane)
		h.draws = make([]float64, 0, contactDraws)
	}
	rng := rand.New(rand.NewPCG(1, 1))
	spread := f.spread()
	for range contactDraws {
		v := f.draw(spread, outline, rng)
		surface.lay(&v)
		for i := range held {
			h := &held[i]
			h.draws = append(h.draws, surface.share(&v, h.draw(&f.v, &v, rng)))
		}
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

// heldMap is the map of a hold with what its plane depends on.
type heldMap struct {
	index int // of the map in the input
	plane plane
	// line is the standard deviation of the model's error, as a pressure, kPa.
	line float64
	kPa  []float64 // readings of the model
	// The plane that fits best changes by gain·(change of the model's readings).
	gain []plane
	// own is the factor of the plane's covariance from noise and gains.
	own      factor
	response [shared]plane // change of the plane with each shared parameter
	share    float64
	draws    []float64 // of share
}

// held prepares a map; the scene must be laid.
func (f *found) held(index int, r *reading, at plane) heldMap {
	p := f.problem
	cells := len(r.p)
	h := heldMap{index: index, plane: at, kPa: make([]float64, cells), gain: make([]plane, cells)}
	slope := make([]plane, cells)
	p.read(at, h.kPa, slope)
	var m [3][3]float64
	sum, n := 0.0, 0.0
	for k := range slope {
		is := (1 + f.gains[k]) / (r.s[k] * f.scale)
		for a := range 3 {
			h.gain[k][a] = -slope[k][a] * is * is
			for b := range a + 1 {
				m[a][b] += slope[k][a] * slope[k][b] * is * is
			}
		}
		if slope[k][0] > 0 && !math.IsInf(r.s[k], 1) {
			sum += r.s[k] * r.s[k]
			n++
		}
	}
	l, ok := factor3(&m)
	if !ok {
		clear(h.gain)
		return h
	}
	// The covariance of the plane: from noise the inverse of m, and from each gain.
	var c [3][3]float64
	for a := range 3 {
		var e [3]float64
		e[a] = 1
		e = l.back(l.forward(e))
		for b := range a + 1 {
			c[a][b] = e[b]
		}
	}
	for k := range h.gain {
		h.gain[k] = l.back(l.forward(h.gain[k]))
		for a := range 3 {
			for b := range a + 1 {
				g := p.gain * h.kPa[k]
				c[a][b] += g * g * h.gain[k][a] * h.gain[k][b]
			}
		}
	}
	h.own, _ = factor3(&c)
	h.line = math.Hypot(lineMM*math.Hypot(at[1], at[2]), linePerMisfit*(f.scale-1)*math.Sqrt(sum/max(1, n)))
	return h
}

// respond works out how the plane of each map changes with the shared parameters.
func (f *found) respond(held []heldMap) {
	p := f.problem
	to := make([]float64, len(f.gains))
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
		for j := range held {
			h := &held[j]
			p.grid.read(layer, ground, h.plane, to, nil)
			for k := range to {
				for a := range 3 {
					h.response[i][a] += h.gain[k][a] * (to[k] - h.kPa[k]) / d
				}
			}
		}
	}
}

// spread returns the lower triangle L of the covariance L·Lᵀ of the shared parameters.
func (f *found) spread() *[shared][shared]float64 {
	a := make([]float64, 0, shared*shared)
	for i := range shared {
		for j := range shared {
			v := f.cov[i][j]
			if i == j {
				v += 1e-18 // one that the maps do not concern may have none
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

// draw returns shared parameters as they could be.
func (f *found) draw(spread *[shared][shared]float64, outline [2]float64, rng *rand.Rand) vector {
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
	v[width] += outline[0] * rng.NormFloat64()
	v[depth] += outline[1] * rng.NormFloat64()
	for i := range v {
		v[i] = min(most[i], max(lowest[i], v[i]))
	}
	return v
}

// draw returns the plane as it could be where the shared parameters are v instead of at.
func (h *heldMap) draw(at, v *vector, rng *rand.Rand) plane {
	p := h.plane
	p[0] += h.line * rng.NormFloat64()
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

// contact sums up the draws, which it sorts.
func (h *heldMap) contact(bearingMM2 float64) Contact {
	c := Contact{AreaMM2: h.share * bearingMM2, Share: h.share}
	for _, s := range h.draws {
		c.U += (s - c.Share) * (s - c.Share)
	}
	c.U = math.Sqrt(c.U / float64(len(h.draws)))
	slices.Sort(h.draws)
	c.Lo, c.Hi = min(c.Share, quantile(h.draws, 0.025)), max(c.Share, quantile(h.draws, 0.975))
	return c
}

// quantile returns a quantile of sorted draws, linear between two of them.
func quantile(sorted []float64, p float64) float64 {
	at := p*float64(len(sorted)) - 0.5
	i := min(len(sorted)-2, max(0, int(math.Floor(at))))
	return sorted[i] + (at-float64(i))*(sorted[i+1]-sorted[i])
}

// tiles are the surface of a platform in squares with a side of tileMM.
type tiles struct {
	shape *shape
	list  []tile
	area  float64 // of the bearing outline, in tiles
}

// tileNodes is the distance of two tiles in nodes of the table of distances.
const tileNodes = 2

const tileMM = tileNodes * nodeMM

// tile is the surface in one square about its centre.
type tile struct {
	at     platform.Point // mm
	dome   float64        // recess by the dome, mm
	slope  platform.Point // of it along medial and over
	cover  float64        // area inside the bearing outline ÷ area of the square
	inside float64        // distance to the bearing outline, mm
	normal platform.Point // of the outline, outward
	radius float64        // of the rounded edge, mm
	edge   bool           // whether outline or rounding reach into the square
}

// lay works out the surface of a platform.
func (t *tiles) lay(v *vector) {
	r, s := v.relief(), t.shape
	a, b := 1/(s.half[0]*s.half[0]), 1/(s.half[1]*s.half[1])
	t.list, t.area = t.list[:0], 0
	for j := 0; j < s.rows; j += tileNodes {
		y := s.lo[1] + nodeMM*float64(j)
		for i := 0; i < s.cols; i += tileNodes {
			e := &s.nodes[j*s.cols+i]
			inside := e.inside + e.perWidth*r.growWidth + e.perDepth*r.growDepth
			if inside <= -tileMM {
				continue
			}
			x := s.lo[0] + nodeMM*float64(i)
			q := tile{
				at: platform.Point{x, y}, dome: r.domeMedial*x*x*a + r.domeOver*y*y*b,
				slope: platform.Point{2 * r.domeMedial * x * a, 2 * r.domeOver * y * b}, cover: 1,
			}
			q.radius = r.backRadius + (r.frontRadius-r.backRadius)*facing(e.front)
			if inside < q.radius+tileMM {
				q.edge, q.inside = true, inside
				q.normal[1] = 2*e.front - 1
				q.normal[0] = math.Copysign(math.Sqrt(max(0, 1-q.normal[1]*q.normal[1])), x)
				q.cover = above(inside, q.normal)
			}
			if q.cover > 0 {
				t.list = append(t.list, q)
				t.area += q.cover
			}
		}
	}
}

// share returns the part of the bearing area on which the platform, laid before at v, carries
// more than ContactKPa on the floor, p being the plane of the map.
func (t *tiles) share(v *vector, p plane) float64 {
	sin, cos := math.Sincos(v[turn])
	stiffness := math.Exp(v[holdBed])
	du, dv := p[1]*cos-p[2]*sin, p[1]*sin+p[2]*cos // slope of the plane along medial and over
	base := p[0] - du*v[medial] - dv*v[over] - ContactKPa
	sum := 0.0
	for i := range t.list {
		q := &t.list[i]
		f := base + du*q.at[0] + dv*q.at[1] - stiffness*q.dome
		part := above(f, platform.Point{du - stiffness*q.slope[0], dv - stiffness*q.slope[1]})
		if part > 0 && q.edge {
			// Contact ends where the rounded edge recedes by f ÷ stiffness; see round.
			if rise := q.radius - max(0, f)/stiffness; rise > 0 {
				part *= above(q.inside-q.radius+math.Sqrt(q.radius*q.radius-rise*rise), q.normal)
			} else {
				part *= q.cover
			}
		}
		sum += part
	}
	return sum / t.area
}

// above returns the part of a tile in which a linear function is positive that has a value
// at the tile's centre and a slope per mm. It is exact for a slope along an axis.
func above(value float64, slope platform.Point) float64 {
	w := tileMM * (math.Abs(slope[0]) + math.Abs(slope[1]))
	switch {
	case value >= w/2:
		return 1
	case value <= -w/2:
		return 0
	}
	return 0.5 + value/w
}
