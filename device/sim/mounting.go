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
	// its pleats, the gains of the strip's cells, and how the dancer stands. With an
	// even seed she stands 3 to 7 mm behind the centre, with an odd one 0 to 2 mm
	// from it in any direction.
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
	// ContactShare is the area of the platform that carries more than the threshold,
	// divided by the bearing area. StripContactShare is the same for the pressure on
	// the strip, after it has spread; what spreads beyond the outline does not count.
	ContactShare, StripContactShare float64
}

// Holds of a Mounting. The relative standard deviations of the load are our assumption.
const (
	holdLeastN       = 180
	holdMostN        = 350
	recordingSDMM    = 0.3  // of a recording's mean centre of pressure, each axis
	holdSDMM         = 0.5  // of a hold's about its recording's, each axis
	recordingLoadSD  = 0.03 // of a recording's mean load, relative
	holdLoadSD       = 0.04 // of a hold's about its recording's, relative
	farthestHoldPart = 0.9  // of the way to the outline
)

// NewMounting draws a mounting. An error says what in the setup is impossible, or
// for which press or hold no pose carries the load.
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

// shape draws the true underside. Its outline is the ruler's with the ruler's
// errors of width and depth added.
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

// hold draws the holds of one recording. A centre of pressure that would lie
// nearer to the outline than farthestHoldPart allows is moved towards the origin.
func (m *Mounting) hold(s MountingSetup, rng *rand.Rand) error {
	cells := NewCells(m.Surface, s.Strip, m.Seat, s.Physics.SpreadMM, Overhang{})
	floor := s.Physics.floor()
	load, cop := s.stance()
	load *= 1 + recordingLoadSD*rng.NormFloat64()
	cop[0] += recordingSDMM * rng.NormFloat64()
	cop[1] += recordingSDMM * rng.NormFloat64()
	pose := Pose{}
	for i := range s.Holds {
		n := min(holdMostN, max(holdLeastN, load*(1+holdLoadSD*rng.NormFloat64())))
		at := platform.Point{cop[0] + holdSDMM*rng.NormFloat64(), cop[1] + holdSDMM*rng.NormFloat64()}
		if r, most := math.Hypot(at[0], at[1]), farthestHoldPart*m.Surface.Outline().Reach(at); r > most {
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

// stance draws the load and the centre of pressure that the dancer's recordings vary about.
func (s *MountingSetup) stance() (loadN float64, cop platform.Point) {
	rng := stream(s.Seed, "stance")
	loadN = uniform(rng, 195, 335)
	if s.Seed%2 == 0 {
		return loadN, platform.Point{rng.NormFloat64(), -uniform(rng, 3, 7)}
	}
	sin, cos := math.Sincos(2 * math.Pi * rng.Float64())
	r := uniform(rng, 0, 2)
	return loadN, platform.Point{r * cos, r * sin}
}

// read returns one map as the strip measures it, with the load by its tail, its
// gains and its noise.
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
