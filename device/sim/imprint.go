package sim

import (
	"math"

	"aplomb/device/platform"
)

// Imprint is a Surface in equilibrium on a Bed.
type Imprint struct {
	Pose  Pose
	LoadN float64
	CoP   platform.Point // mm
	// kPa is the mean pressure on each of the surface's points.
	kPa     []float64
	surface *Surface
	bed     Bed
}

// Press puts a load in N on the surface with its centre of pressure at cop
// (platform axes, mm) and returns the imprint. It starts from a pose near the
// one wanted, such as that of the map before, or from the zero Pose. The error
// wraps ErrReach where no pose bears the load.
func (s *Surface) Press(bed Bed, loadN float64, cop platform.Point, from Pose) (*Imprint, error) {
	im := &Imprint{kPa: make([]float64, len(s.points))}
	return im, s.pressInto(im, bed, loadN, cop, from)
}

// pressInto is Press into an imprint that exists, of this surface.
func (s *Surface) pressInto(im *Imprint, bed Bed, loadN float64, cop platform.Point, from Pose) error {
	if !(loadN > 0) || math.IsInf(loadN, 0) || !(s.hull.EdgeDistance(cop) > 0) {
		return errReach(loadN, cop)
	}
	mN := 1000 * loadN
	want := [3]float64{mN, mN * cop[0] / s.size, mN * cop[1] / s.size}
	x, ok := scaled{}, false
	if from != (Pose{}) {
		x, ok = s.equilibrium(bed, scaled{from.DepthMM, from.TiltMedial * s.size, from.TiltOver * s.size}, want)
	}
	if !ok {
		x, ok = s.equilibrium(bed, s.level(bed, mN), want)
	}
	if !ok {
		return errReach(loadN, cop)
	}
	im.surface, im.bed, im.Pose = s, bed, Pose{x[0], x[1] / s.size, x[2] / s.size}
	im.fill()
	return nil
}

// level returns a pose without tilt in which the bed touches all of a flat platform.
func (s *Surface) level(bed Bed, mN float64) scaled {
	return scaled{bed.depth(mN/s.area) + s.shape.DomeMM/2}
}

// equilibrium moves the surface from x until the bed gives the wanted load and
// moments within 1 part in 10⁹, mN. The energy of bed and load is convex;
// Newton's method with step halving finds its minimum.
func (s *Surface) equilibrium(bed Bed, x scaled, want [3]float64) (scaled, bool) {
	energy, force, stiffness := s.react(bed, x)
	for range maxSteps {
		off := [3]float64{want[0] - force[0], want[1] - force[1], want[2] - force[2]}
		if dot(off, off) <= 1e-18*dot(want, want) {
			return x, true
		}
		dx, ok := solve3(stiffness, off)
		if !ok {
			return x, false
		}
		now, fall := energy-dot(want, x), dot(dx, off)
		rounding := 1e-12 * (math.Abs(want[0]*x[0]) + math.Abs(want[1]*x[1]) + math.Abs(want[2]*x[2]))
		t := 1.0
		next := x.plus(dx, t)
		e, f, k := s.react(bed, next)
		for k[0][0] == 0 || !(e-dot(want, next) <= now-1e-4*t*fall+rounding) {
			if t /= 2; t < 1e-12 {
				return x, false
			}
			next = x.plus(dx, t)
			e, f, k = s.react(bed, next)
		}
		x, energy, force, stiffness = next, e, f, k
		if t == 1 && dot(dx, dx) <= 1e-28*dot(x, x) {
			return x, true // no digits are left to gain
		}
	}
	return x, false
}

// react returns what the bed answers to a scaled pose: its energy in µJ, load
// and moments ÷ size in mN, and how these grow with the pose.
func (s *Surface) react(bed Bed, x scaled) (energy float64, force [3]float64, stiffness [3][3]float64) {
	l := 1 / s.size
	d, tm, to := x[0], x[1]*l, x[2]*l
	var f0, fm, fo, k0, km, ko, kmm, kmo, koo float64
	for i := range s.points {
		q := &s.points[i]
		u := d + tm*q.m + to*q.o - q.gap
		if u <= 0 {
			continue
		}
		p, k, e := bed.pressure(u)
		a := q.area + bed.EdgeMM*q.edge
		p, k = p*a, k*a
		energy += e * a
		f0, fm, fo = f0+p, fm+p*q.m, fo+p*q.o
		k0, km, ko = k0+k, km+k*q.m, ko+k*q.o
		kmm, kmo, koo = kmm+k*q.m*q.m, kmo+k*q.m*q.o, koo+k*q.o*q.o
	}
	force = [3]float64{f0, fm * l, fo * l}
	stiffness = [3][3]float64{
		{k0, km * l, ko * l},
		{km * l, kmm * l * l, kmo * l * l},
		{ko * l, kmo * l * l, koo * l * l},
	}
	return energy, force, stiffness
}

// fill sets pressures, load and centre of pressure from the pose.
func (im *Imprint) fill() {
	clear(im.kPa)
	var f, m, o float64
	for i := range im.surface.points {
		q := &im.surface.points[i]
		u := im.Pose.DepthMM + im.Pose.TiltMedial*q.m + im.Pose.TiltOver*q.o - q.gap
		if u <= 0 {
			continue
		}
		p, _, _ := im.bed.pressure(u)
		p *= 1 + im.bed.EdgeMM*q.edge/q.area
		im.kPa[i] = p
		f, m, o = f+p*q.area, m+p*q.area*q.m, o+p*q.area*q.o
	}
	im.LoadN, im.CoP = f/1000, platform.Point{m / f, o / f}
}

// AreaMM2 returns the area of the platform whose pressure is above a threshold
// in kPa, mm². Squares of the grid that the limit crosses count in part.
func (im *Imprint) AreaMM2(thresholdKPa float64) float64 {
	return im.surface.areaAbove(func(q *point) (depth, slopeM, slopeO float64) {
		p := &im.Pose
		return p.DepthMM + p.TiltMedial*q.m + p.TiltOver*q.o - q.gap, p.TiltMedial - q.slopeM, p.TiltOver - q.slopeO
	}, im.bed.depth(thresholdKPa))
}

// areaAbove adds up the area where a function of the place exceeds a limit.
func (s *Surface) areaAbove(f func(*point) (value, slopeM, slopeO float64), limit float64) float64 {
	sum := 0.0
	for i := range s.points {
		q := &s.points[i]
		v, sm, so := f(q)
		sum += q.area * above(v-limit, sm, so, s.step)
	}
	return sum
}

// above returns the fraction of a square of side h in which a linear function
// is positive that has the given value at the centre and the given slopes. It
// is exact for a slope along an axis.
func above(value, slopeM, slopeO, h float64) float64 {
	w := h * (math.Abs(slopeM) + math.Abs(slopeO))
	switch {
	case value >= w/2 && value > 0:
		return 1
	case value <= -w/2:
		return 0
	}
	return 0.5 + value/w
}

// StripAreaMM2 returns the area of the platform under which the strip carries
// more than a threshold in kPa, mm², when a layer between platform and strip
// spreads the pressure by a Gaussian with the standard deviation spreadMM.
// Pressure that spreads beyond the outline does not count.
func (im *Imprint) StripAreaMM2(spreadMM, thresholdKPa float64) float64 {
	if spreadMM == 0 {
		return im.AreaMM2(thresholdKPa)
	}
	s := im.surface
	margin := int(math.Ceil(spreadReach*spreadMM/s.step)) + 1
	cols, rows := s.cols+2*margin, s.rows+2*margin
	index := func(c int32) int { return (int(c)/s.cols+margin)*cols + int(c)%s.cols + margin }
	field := make([]float64, cols*rows)
	for i, c := range s.square {
		field[index(c)] = im.kPa[i] * s.points[i].area / (s.step * s.step)
	}
	field = blur(field, cols, rows, spreadMM/s.step)
	sum := 0.0
	for i, c := range s.square {
		at := index(c)
		m, o := (field[at+1]-field[at-1])/2, (field[at+cols]-field[at-cols])/2
		sum += s.points[i].area * above(field[at]-thresholdKPa, m, o, 1)
	}
	return sum
}

// spreadReach is the distance over which a Gaussian is computed, in standard deviations.
const spreadReach = 4

// blur returns a field, stored row by row, convolved with a Gaussian of the
// given standard deviation in squares whose sum is 1. What spreads beyond the
// border is lost.
func blur(field []float64, cols, rows int, sd float64) []float64 {
	half := int(math.Ceil(spreadReach * sd))
	kernel := make([]float64, half+1) // of the distance; it is symmetric
	sum := 0.0
	for i := range kernel {
		kernel[i] = math.Exp(-float64(i*i) / (2 * sd * sd))
		if sum += kernel[i]; i > 0 {
			sum += kernel[i]
		}
	}
	for i := range kernel {
		kernel[i] /= sum
	}
	// First along the columns, whole rows at a time, then along each row.
	down := make([]float64, len(field))
	for j := range rows {
		to := down[j*cols : (j+1)*cols]
		for k := max(-half, -j); k <= min(half, rows-1-j); k++ {
			addScaled(to, kernel[max(k, -k)], field[(j+k)*cols:(j+k+1)*cols])
		}
	}
	out := make([]float64, len(field))
	for j := range rows {
		from, to := down[j*cols:(j+1)*cols], out[j*cols:(j+1)*cols]
		for k := -half; k <= half; k++ {
			addScaled(to[max(0, -k):cols-max(0, k)], kernel[max(k, -k)], from[max(0, k):cols-max(0, -k)])
		}
	}
	return out
}

// addScaled adds w·from to to.
func addScaled(to []float64, w float64, from []float64) {
	for i, v := range from {
		to[i] += w * v
	}
}
