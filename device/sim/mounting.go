package sim

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"

	"aplomb/device"
	"aplomb/device/platform"
)

// MountingSetup is all that a Mounting is made from.
type MountingSetup struct {
	// Seed draws what stays from one mounting to the next: the true outline and
	// its pleats, the gains of the strip's cells, and how the dancer stands. An even
	// seed stands 3 to 7 mm behind the centre, an odd one 0 to 2 mm off it.
	Seed uint64
	// Number draws what belongs to one mounting: the seat, the pad press, the
	// holds and the noise.
	Number  int
	Strip   *device.Strip // its Mount says where the strip is meant to lie, and how well
	Shoe    *device.Shoe  // as the ruler has it
	Physics Physics
	Sensor  Sensor
	Press   PadPress // the zero PadPress stands for DefaultPadPress
	Holds   int
	// ThresholdKPa is the pressure above which area counts as contact.
	ThresholdKPa float64
	// GridMM is the step of the Surface; 0 stands for DefaultGridMM.
	GridMM float64
}

// Sensor says how far strip, ruler and mounting are from what they are meant to be.
type Sensor struct {
	RulerSDMM     float64 // of the ruler's width and depth, each
	RotationSDDeg float64 // of the seat's rotation; its place has the strip's SeatSDMM
	GainSD        float64 // of the cells' gains about 1
	NoiseKPa      float64 // of a cell in one map
	StepKPa       float64 // maps are rounded to multiples of it; 0 rounds nothing
}

// DefaultSensor is what the scenarios are measured with.
func DefaultSensor() Sensor {
	return Sensor{RulerSDMM: 0.8, RotationSDDeg: 1, GainSD: 0.03, NoiseKPa: 0.5}
}

// PadPress says how a fitter's hand rocks the platform on the pad. Load and reach
// swing slowly between their bounds and out of step with the round.
type PadPress struct {
	Maps   int
	RateHz float64
	LoadN  [2]float64 // least and most
	Reach  [2]float64 // of the centre of pressure, as parts of the way to the outline
	Turns  float64    // how often round; below 1 a part of the outline stays unloaded
	// SlipMM is how far the strip moves, in a direction drawn at random, halfway
	// through. InPress is the seat before; Seat is drawn about the one after.
	SlipMM float64
	// BareHand presses the strip against the platform with the fingers instead of a
	// pad: patches of pressure with the given load, which no platform shapes.
	BareHand bool
}

// DefaultPadPress is 3 s of rocking once round.
func DefaultPadPress() PadPress {
	return PadPress{Maps: 30, RateHz: 10, LoadN: [2]float64{60, 150}, Reach: [2]float64{0.60, 0.95}, Turns: 1}
}

// Mounting is one fixing of a strip to a platform: the maps that it gives and the
// truth behind them. Points are in platform axes: [medial, over] from the
// centroid of the true outline, which is also that of the ruler's outline, mm.
type Mounting struct {
	Press []PressMap
	Holds []HoldMap

	Surface *Surface  // the true underside; its Outline is the true outline
	Bearing Bearing   // the part of it that can carry load
	Seat    Seat      // true, during the holds
	InPress Seat      // true, during the pad press
	Gains   []float64 // of each cell in the order of the scan
}

// PressMap is one map of a pad press with what is true of it.
type PressMap struct {
	TimeS float64        // since the press began
	KPa   []float64      // mean pressure on each cell in the order of the scan
	LoadN float64        // true
	CoP   platform.Point // true, mm
}

// HoldMap is the mean map of one hold with what is true of it.
type HoldMap struct {
	KPa   []float64      // mean pressure on each cell in the order of the scan
	LoadN float64        // true
	CoP   platform.Point // true, mm
	// ContactShare is the area of the platform with more than the threshold,
	// divided by the bearing area. StripContactShare is the same with the
	// area of the strip's plane, after the pressure has spread.
	ContactShare, StripContactShare float64
}

// Bearing is the part of a platform that can carry load: where at least one pad
// press out of seventeen puts more than the threshold on it. These presses are of
// BearingLoadN, one with the centre of pressure at the origin and 16 all round at
// BearingReach of the way to the outline.
type Bearing struct {
	AreaMM2              float64
	HalfWidth, HalfDepth float64        // half the extent along each axis through the origin, mm
	Centre               platform.Point // middle of those two extents, mm
}

// Presses by which Bearing is defined.
const (
	BearingLoadN = 100.0
	BearingReach = 0.8
)

// Holds of a Mounting.
const (
	holdLeastN     = 180
	holdMostN      = 350
	recordingSDMM  = 0.3 // of the mean centre of pressure of a recording, each axis
	releveSDMM     = 0.5 // of a hold's about its recording's, each axis
	recordingSD    = 0.03
	releveSD       = 0.04
	farthestOfHold = 0.9 // of the way to the outline
)

// NewMounting draws a mounting. An error says what in the setup cannot be, or
// which press or hold no pose bears.
func NewMounting(s MountingSetup) (*Mounting, error) {
	if s.Press == (PadPress{}) {
		s.Press = DefaultPadPress()
	}
	if err := s.check(); err != nil {
		return nil, fmt.Errorf("simulated mounting: %w", err)
	}
	surface, err := NewSurface(s.shape())
	if err != nil {
		return nil, fmt.Errorf("simulated mounting: %w", err)
	}
	m := &Mounting{Surface: surface, Gains: s.gains()}
	rng := stream(s.Seed, "mounting", strconv.Itoa(s.Number))
	m.InPress = s.seat(rng)
	p := s.Physics
	after := m.InPress
	if slip := s.Press.SlipMM; slip != 0 {
		sin, cos := math.Sincos(2 * math.Pi * stream(s.Seed, "slip", strconv.Itoa(s.Number)).Float64())
		after.MedialMM += slip * cos
		after.OverMM += slip * sin
	}
	m.Seat = Seat{
		after.MedialMM + p.MoveSDMM*rng.NormFloat64(),
		after.OverMM + p.MoveSDMM*rng.NormFloat64(),
		after.RotationDeg + p.MoveSDDeg*rng.NormFloat64(),
	}
	if m.Bearing, err = surface.Bearing(p.pad(), s.ThresholdKPa); err != nil {
		return nil, fmt.Errorf("simulated mounting: bearing area: %w", err)
	}
	if err := m.press(s, after, stream(s.Seed, "press", strconv.Itoa(s.Number))); err != nil {
		return nil, fmt.Errorf("simulated mounting: pad press: %w", err)
	}
	if err := m.hold(s, stream(s.Seed, "holds", strconv.Itoa(s.Number))); err != nil {
		return nil, fmt.Errorf("simulated mounting: %w", err)
	}
	return m, nil
}

func (s *MountingSetup) check() error {
	p := s.Press
	switch {
	case s.Strip == nil || s.Shoe == nil:
		return errors.New("give it a strip and a shoe")
	case s.Holds < 0 || p.Maps < 0:
		return fmt.Errorf("%d holds and %d maps of a pad press: 0 or more", s.Holds, p.Maps)
	case !(s.ThresholdKPa >= 0):
		return fmt.Errorf("a threshold of %v kPa: 0 or more", s.ThresholdKPa)
	case p.Maps > 0 && !(p.RateHz > 0 && p.LoadN[0] > 0 && p.LoadN[1] >= p.LoadN[0]):
		return fmt.Errorf("a pad press of %v N at %v maps a second: above 0", p.LoadN, p.RateHz)
	case p.Maps > 0 && !(p.Reach[0] >= 0 && p.Reach[1] >= p.Reach[0] && p.Reach[1] < 1):
		return fmt.Errorf("a pad press that reaches %v of the way to the outline: 0 to below 1", p.Reach)
	}
	return nil
}

// shape draws the true underside: the ruler's outline with its width and depth
// wrong, and the pleats.
func (s *MountingSetup) shape() Shape {
	outline := s.Shoe.Outline()
	rng := stream(s.Seed, "shoe", s.Shoe.Code)
	size := s.Shoe.Size()
	wide, deep := s.Sensor.RulerSDMM*rng.NormFloat64(), s.Sensor.RulerSDMM*rng.NormFloat64()
	p := s.Physics
	return Shape{
		Outline: Stretch(outline, 1+wide/size[0], 1+deep/size[1]), GridMM: s.GridMM,
		DomeMM: p.DomeMM, RoundFrontMM: p.RoundFrontMM, RoundBackMM: p.RoundBackMM,
		PleatsMM: p.PleatsMM, PleatSeed: rng.Uint64(),
	}
}

// Stretch returns an outline with its width and its depth multiplied.
func Stretch(p platform.Polygon, wide, deep float64) platform.Polygon {
	q := make(platform.Polygon, len(p))
	for i, a := range p {
		q[i] = platform.Point{wide * a[0], deep * a[1]}
	}
	return q
}

// gains draws the gains of the strip's cells, which stay with the strip.
func (s *MountingSetup) gains() []float64 {
	rng := stream(s.Seed, "gains", s.Strip.Name)
	g := make([]float64, s.Strip.Cells())
	for k := range g {
		g[k] = 1 + s.Sensor.GainSD*rng.NormFloat64()
	}
	return g
}

// seat draws where the strip lies in one mounting.
func (s *MountingSetup) seat(rng *rand.Rand) Seat {
	m := s.Strip.Mount
	return Seat{
		m.OffsetMM[0] + m.SeatSDMM*rng.NormFloat64(),
		m.OffsetMM[1] + m.SeatSDMM*rng.NormFloat64(),
		m.RotationDeg + s.Sensor.RotationSDDeg*rng.NormFloat64(),
	}
}

// press rocks the platform round on the pad. From halfway on the strip lies at after.
func (m *Mounting) press(s MountingSetup, after Seat, rng *rand.Rand) error {
	plan, pad := s.Press, s.Physics.pad()
	cells := NewCells(m.Surface, s.Strip, m.InPress, s.Physics.SpreadMM, s.Physics.Overhang)
	start, sense := 2*math.Pi*rng.Float64(), 2*math.Pi*plan.Turns
	if rng.IntN(2) == 0 {
		sense = -sense
	}
	loadPhase, reachPhase := 2*math.Pi*rng.Float64(), 2*math.Pi*rng.Float64()
	loadTurns, reachTurns := between(rng, 1, 3), between(rng, 1, 4)
	pose := Pose{}
	for i := range plan.Maps {
		if i == (plan.Maps+1)/2 && after != m.InPress {
			cells = NewCells(m.Surface, s.Strip, after, s.Physics.SpreadMM, s.Physics.Overhang)
		}
		t := float64(i) / float64(plan.Maps)
		sin, cos := math.Sincos(start + sense*t)
		load := swing(plan.LoadN, loadPhase+2*math.Pi*loadTurns*t)
		r := m.Surface.Outline().Reach(platform.Point{cos, sin}) * swing(plan.Reach, reachPhase+2*math.Pi*reachTurns*t)
		at := platform.Point{r * cos, r * sin}
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

// fingers returns the pressure of three fingertips about a point, as patches
// with a standard deviation of 4 mm. The part of them beyond the outline is
// lost, and the rest has the load. The numbers are our assumption.
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

// swing goes to and fro between the bounds.
func swing(bounds [2]float64, phase float64) float64 {
	return bounds[0] + (bounds[1]-bounds[0])*(1+math.Sin(phase))/2
}

// hold lets the dancer stand on the strip.
func (m *Mounting) hold(s MountingSetup, rng *rand.Rand) error {
	cells := NewCells(m.Surface, s.Strip, m.Seat, s.Physics.SpreadMM, Overhang{})
	floor := s.Physics.floor()
	load, cop := s.stance()
	load *= 1 + recordingSD*rng.NormFloat64()
	cop[0] += recordingSDMM * rng.NormFloat64()
	cop[1] += recordingSDMM * rng.NormFloat64()
	pose := Pose{}
	for i := range s.Holds {
		n := min(holdMostN, max(holdLeastN, load*(1+releveSD*rng.NormFloat64())))
		at := platform.Point{cop[0] + releveSDMM*rng.NormFloat64(), cop[1] + releveSDMM*rng.NormFloat64()}
		if r, most := math.Hypot(at[0], at[1]), farthestOfHold*m.Surface.Outline().Reach(at); r > most {
			at[0], at[1] = at[0]*most/r, at[1]*most/r
		}
		im, err := m.Surface.Press(floor, n, at, pose)
		if err != nil {
			return fmt.Errorf("hold %d: %w", i+1, err)
		}
		pose = im.Pose
		m.Holds = append(m.Holds, HoldMap{
			KPa: m.read(s, cells, im, rng), LoadN: im.LoadN, CoP: im.CoP,
			ContactShare:      im.AreaMM2(s.ThresholdKPa) / m.Bearing.AreaMM2,
			StripContactShare: im.StripAreaMM2(s.Physics.SpreadMM, s.ThresholdKPa) / m.Bearing.AreaMM2,
		})
	}
	return nil
}

// stance draws the dancer's usual load and place.
func (s *MountingSetup) stance() (loadN float64, cop platform.Point) {
	rng := stream(s.Seed, "stance")
	loadN = between(rng, 195, 335)
	if s.Seed%2 == 0 {
		return loadN, platform.Point{rng.NormFloat64(), -between(rng, 3, 7)}
	}
	sin, cos := math.Sincos(2 * math.Pi * rng.Float64())
	r := between(rng, 0, 2)
	return loadN, platform.Point{r * cos, r * sin}
}

// read takes one map as the strip gives it: with its gains, the pull of the
// tail, and noise.
func (m *Mounting) read(s MountingSetup, cells *Cells, im *Imprint, rng *rand.Rand) []float64 {
	kPa := make([]float64, s.Strip.Cells())
	cells.Read(im, kPa)
	for k := range kPa {
		if row, _ := s.Strip.RowCol(k); row == 0 {
			kPa[k] += s.Physics.TailKPa
		}
		kPa[k] = m.Gains[k]*kPa[k] + s.Sensor.NoiseKPa*rng.NormFloat64()
		if q := s.Sensor.StepKPa; q > 0 {
			kPa[k] = q * math.Round(kPa[k]/q)
		}
	}
	return kPa
}

// Bearing returns the part of the platform that pad presses can load with more
// than a threshold in kPa. The error wraps ErrReach.
func (s *Surface) Bearing(pad Bed, thresholdKPa float64) (Bearing, error) {
	const round = 16
	poses := make([]Pose, 0, round+1)
	pose := Pose{}
	for i := -1; i < round; i++ {
		at := platform.Point{}
		if i >= 0 {
			sin, cos := math.Sincos(2 * math.Pi * float64(i) / round)
			r := BearingReach * s.shape.Outline.Reach(platform.Point{cos, sin})
			at = platform.Point{r * cos, r * sin}
		}
		im, err := s.Press(pad, BearingLoadN, at, pose)
		if err != nil {
			return Bearing{}, err
		}
		pose = im.Pose
		poses = append(poses, pose)
	}
	// The deepest of the poses at each point.
	deepest := func(m, o float64) (depth float64, p Pose) {
		depth = math.Inf(-1)
		for _, q := range poses {
			if d := q.DepthMM + q.TiltMedial*m + q.TiltOver*o; d > depth {
				depth, p = d, q
			}
		}
		return depth, p
	}
	limit := pad.depth(thresholdKPa)
	b := Bearing{AreaMM2: s.areaAbove(func(q *point) (float64, float64, float64) {
		d, p := deepest(q.m, q.o)
		return d - q.gap, p.TiltMedial - q.slopeM, p.TiltOver - q.slopeO
	}, limit)}
	extent := func(out platform.Point) float64 {
		const fine = 0.01 // mm
		r := s.shape.Outline.Reach(out)
		for ; r > 0; r -= fine {
			q := platform.Point{r * out[0], r * out[1]}
			if d, _ := deepest(q[0], q[1]); d-s.Gap(q) > limit {
				break
			}
		}
		return r
	}
	left, right := extent(platform.Point{-1, 0}), extent(platform.Point{1, 0})
	back, front := extent(platform.Point{0, -1}), extent(platform.Point{0, 1})
	b.HalfWidth, b.HalfDepth = (left+right)/2, (back+front)/2
	b.Centre = platform.Point{(right - left) / 2, (front - back) / 2}
	return b, nil
}
