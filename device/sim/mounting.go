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

// MountingSetup is the input for a Mounting.
type MountingSetup struct {
	// Seed determines what is constant over mountings: the true outline and its pleats,
	// the gains of the strip's cells, and how the dancer stands. With an even seed she
	// stands 3 to 7 mm behind the centre, with an odd one 0 to 2 mm from it in any
	// direction.
	Seed uint64
	// Number determines what varies between mountings: the seat, the pad press, the holds
	// and the noise.
	Number  int
	Strip   *device.Strip // its Mount is the intended seat and its standard deviation
	Shoe    *device.Shoe  // as measured with the ruler
	Physics Physics
	Sensor  Sensor
	Press   PadPress // the zero PadPress stands for DefaultPadPress
	Holds   int
	// ThresholdKPa is the pressure above which area counts as contact.
	ThresholdKPa float64
	// GridMM is the step of the Surface; 0 stands for DefaultGridMM.
	GridMM float64
}

// Sensor holds the standard deviations of strip, ruler and mounting from their nominal
// values.
type Sensor struct {
	RulerSDMM     float64 // of the ruler's width and depth, each
	RotationSDDeg float64 // of the seat's rotation; its place has the strip's SeatSDMM
	GainSD        float64 // of the cells' gains about 1
	NoiseKPa      float64 // of a cell in one map
	StepKPa       float64 // maps are rounded to multiples of it; 0 rounds nothing
}

// DefaultSensor returns the Sensor of the scenarios.
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

// NewMounting draws a mounting. The error names an impossible value of the setup, or the
// press or hold whose load no pose carries.
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
	after := m.InPress
	if slip := s.Press.SlipMM; slip != 0 {
		after = after.slipped(slip, stream(s.Seed, "slip", strconv.Itoa(s.Number)))
	}
	p := s.Physics
	m.Seat = after.moved(p, rng)
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
	switch {
	case s.Strip == nil || s.Shoe == nil:
		return errors.New("give it a strip and a shoe")
	case s.Holds < 0:
		return fmt.Errorf("%d holds: 0 or more", s.Holds)
	case !(s.ThresholdKPa >= 0):
		return fmt.Errorf("a threshold of %v kPa: 0 or more", s.ThresholdKPa)
	}
	return s.Press.check()
}

// shape draws the true underside of the shoe.
func (s *MountingSetup) shape() Shape {
	return drawShape(s.Seed, s.Shoe, s.Physics, s.Sensor.RulerSDMM, s.GridMM)
}

// drawShape draws the true underside of a shoe. Its outline is the ruler's with
// errors of width and depth added, whose standard deviation is that of the ruler, mm.
func drawShape(seed uint64, shoe *device.Shoe, p Physics, rulerSDMM, gridMM float64) Shape {
	rng := stream(seed, "shoe", shoe.Code)
	size := shoe.Size()
	wide, deep := rulerSDMM*rng.NormFloat64(), rulerSDMM*rng.NormFloat64()
	return Shape{
		Outline: Stretch(shoe.Outline(), 1+wide/size[0], 1+deep/size[1]), GridMM: gridMM,
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

// seat draws the seat of the strip in one mounting.
func (s *MountingSetup) seat(rng *rand.Rand) Seat {
	m := s.Strip.Mount
	return Seat{
		m.OffsetMM[0] + m.SeatSDMM*rng.NormFloat64(),
		m.OffsetMM[1] + m.SeatSDMM*rng.NormFloat64(),
		m.RotationDeg + s.Sensor.RotationSDDeg*rng.NormFloat64(),
	}
}

// slipped returns a seat moved by a distance, mm, in a direction drawn at random.
func (s Seat) slipped(mm float64, rng *rand.Rand) Seat {
	sin, cos := math.Sincos(2 * math.Pi * rng.Float64())
	return Seat{s.MedialMM + mm*cos, s.OverMM + mm*sin, s.RotationDeg}
}

// moved draws a seat after a movement of the strip according to the physics.
func (s Seat) moved(p Physics, rng *rand.Rand) Seat {
	return Seat{
		s.MedialMM + p.MoveSDMM*rng.NormFloat64(),
		s.OverMM + p.MoveSDMM*rng.NormFloat64(),
		s.RotationDeg + p.MoveSDDeg*rng.NormFloat64(),
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
