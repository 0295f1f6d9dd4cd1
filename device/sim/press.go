package sim

import (
	"fmt"
	"math"
	"math/rand/v2"

	"aplomb/device/platform"
)

// PadPress describes how a fitter's hand rocks the platform on the pad. Load and reach
// oscillate slowly between their bounds, with other periods than the rotation.
type PadPress struct {
	Maps   int
	RateHz float64
	LoadN  [2]float64 // least and most
	Reach  [2]float64 // of the centre of pressure, as parts of the way to the outline
	Turns  float64    // number of rounds; below 1 part of the outline stays unloaded
	// SlipMM is the distance that the strip moves, in a random direction, in the middle
	// of the press. InPress is the seat before; Seat is drawn about the one after.
	SlipMM float64
	// BareHand replaces the pad by fingers that press the strip against the platform:
	// patches of pressure with the given load, independent of the platform's shape.
	BareHand bool
}

// DefaultPadPress is 3 s of rocking once round.
func DefaultPadPress() PadPress {
	return PadPress{Maps: 30, RateHz: 10, LoadN: [2]float64{60, 150}, Reach: [2]float64{0.60, 0.95}, Turns: 1}
}

func (p PadPress) check() error {
	switch {
	case p.Maps < 0:
		return fmt.Errorf("%d maps of a pad press: 0 or more", p.Maps)
	case p.Maps > 0 && !(p.RateHz > 0 && p.LoadN[0] > 0 && p.LoadN[1] >= p.LoadN[0]):
		return fmt.Errorf("a pad press of %v N at %v maps a second: above 0", p.LoadN, p.RateHz)
	case p.Maps > 0 && !(p.Reach[0] >= 0 && p.Reach[1] >= p.Reach[0] && p.Reach[1] < 1):
		return fmt.Errorf("a pad press that reaches %v of the way to the outline: 0 to below 1", p.Reach)
	}
	return nil
}

// rocking is the course of one pad press. Angles are in radians.
type rocking struct {
	plan                  PadPress
	start, sense          float64 // direction of the centre of pressure at first, and how far it turns
	loadPhase, reachPhase float64
	loadTurns, reachTurns float64
}

func newRocking(plan PadPress, rng *rand.Rand) rocking {
	r := rocking{plan: plan, start: 2 * math.Pi * rng.Float64(), sense: 2 * math.Pi * plan.Turns}
	if rng.IntN(2) == 0 {
		r.sense = -r.sense
	}
	r.loadPhase, r.reachPhase = 2*math.Pi*rng.Float64(), 2*math.Pi*rng.Float64()
	r.loadTurns, r.reachTurns = uniform(rng, 1, 3), uniform(rng, 1, 4)
	return r
}

// at returns load and centre of pressure, mm, when a part of the press from 0 to 1 is over.
func (r *rocking) at(part float64, outline platform.Polygon) (loadN float64, cop platform.Point) {
	sin, cos := math.Sincos(r.start + r.sense*part)
	loadN = swing(r.plan.LoadN, r.loadPhase+2*math.Pi*r.loadTurns*part)
	l := outline.Reach(platform.Point{cos, sin}) * swing(r.plan.Reach, r.reachPhase+2*math.Pi*r.reachTurns*part)
	return loadN, platform.Point{l * cos, l * sin}
}

// press rocks the platform on the pad. In the second half the strip is at the seat after.
func (m *Mounting) press(s MountingSetup, after Seat, rng *rand.Rand) error {
	plan, pad := s.Press, s.Physics.pad()
	cells := NewCells(m.Surface, s.Strip, m.InPress, s.Physics.SpreadMM, s.Physics.Overhang)
	hand := newRocking(plan, rng)
	pose := Pose{}
	for i := range plan.Maps {
		if i == (plan.Maps+1)/2 && after != m.InPress {
			cells = NewCells(m.Surface, s.Strip, after, s.Physics.SpreadMM, s.Physics.Overhang)
		}
		load, at := hand.at(float64(i)/float64(plan.Maps), m.Surface.Outline())
		var im *Imprint
		if plan.BareHand {
			im = m.Surface.fingers(load, at)
		} else {
			var err error
			if im, err = m.Surface.Press(pad, load, at, pose); err != nil {
				return err
			}
			pose = im.Pose
		}
		m.Press = append(m.Press, PressMap{
			TimeS: float64(i) / plan.RateHz, KPa: m.read(s, cells, im, rng), LoadN: im.LoadN, CoP: im.CoP,
		})
	}
	return nil
}

// fingers returns the pressure of three fingertips about a point: Gaussian patches
// with a standard deviation of 4 mm, 12 mm apart, cut off at the outline and scaled
// to the load. The numbers are our assumption.
func (s *Surface) fingers(loadN float64, at platform.Point) *Imprint {
	const sd, apart = 4.0, 12.0 // mm
	im := &Imprint{kPa: make([]float64, len(s.points)), surface: s}
	var f, m, o float64
	for i := range s.points {
		q := &s.points[i]
		for k := -1; k <= 1; k++ {
			dm, do := q.m-at[0]-float64(k)*apart, q.o-at[1]
			im.kPa[i] += math.Exp(-(dm*dm + do*do) / (2 * sd * sd))
		}
		p := im.kPa[i] * q.area
		f, m, o = f+p, m+p*q.m, o+p*q.o
	}
	for i := range im.kPa {
		im.kPa[i] *= 1000 * loadN / f
	}
	im.LoadN, im.CoP = loadN, platform.Point{m / f, o / f}
	return im
}

// swing returns a value that oscillates between the bounds as the phase grows.
func swing(bounds [2]float64, phase float64) float64 {
	return bounds[0] + (bounds[1]-bounds[0])*(1+math.Sin(phase))/2
}
