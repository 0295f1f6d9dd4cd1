package sim

import (
	"aplomb/device"
	"aplomb/device/platform"
)

// ground is what a platform is pressed on.
type ground int

const (
	onFloor ground = iota
	onPad
	byHand // pressed by bare fingers, on nothing
)

// underside is a platform with a strip under it, during a Session.
type underside interface {
	outline() platform.Polygon // the true one
	// lay moves the strip to a seat, for presses on a ground. It returns quickly where
	// nothing changes.
	lay(seat Seat, on ground)
	// press puts a load in N on the platform with its centre of pressure at cop, mm.
	press(on ground, loadN float64, cop platform.Point) error
	read(kPa []float64) // by the press of now
	contact() Contact   // by the press of now, with the share of the bearing area
}

// newUnderside returns the underside of a foot. A rigid platform with sharp edges on beds of
// constant stiffness is computed exactly, any other on a grid.
func newUnderside(s *Setup, f *Foot) (underside, error) {
	shape := drawShape(s.Seed, f.Shoe, f.Physics, s.Scatter.RulerSDMM, sessionGridMM)
	if f.Physics.plain() && !s.Press.BareHand && !s.SecondPress.BareHand {
		return newSoleUnderside(s, f, shape), nil
	}
	return newGridUnderside(s, f, shape)
}

// plain reports whether a Sole can represent the physics.
func (p *Physics) plain() bool {
	return p.RoundFrontMM == 0 && p.RoundBackMM == 0 && p.PleatsMM == 0 && p.SpreadMM == 0 &&
		p.Overhang.Share == 0 && p.Pad.plain() && p.Floor.plain()
}

func (b Bed) plain() bool { return b.ThicknessMM == 0 && b.EdgeMM == 0 }

// soleUnderside is an underside whose mechanics are those of a Sole.
type soleUnderside struct {
	strip     *device.Strip
	soles     [2]*Sole // on the floor and on the pad
	poses     [2]Pose
	threshold float64 // kPa
	now       ground
	seat      Seat
	areas     *ActiveAreas // nil before the first lay
}

func newSoleUnderside(s *Setup, f *Foot, shape Shape) *soleUnderside {
	p := &f.Physics
	return &soleUnderside{
		strip: f.Strip, threshold: s.ThresholdKPa,
		soles: [2]*Sole{
			NewSole(shape.Outline, p.DomeMM, p.floor().KPaMM),
			NewSole(shape.Outline, p.DomeMM, p.pad().KPaMM),
		},
	}
}

func (u *soleUnderside) outline() platform.Polygon { return u.soles[onFloor].outline }

func (u *soleUnderside) lay(seat Seat, on ground) {
	if u.areas != nil && u.seat == seat && u.now == on {
		return
	}
	seated := *u.strip
	seated.Mount.OffsetMM = [2]float64{seat.MedialMM, seat.OverMM}
	seated.Mount.RotationDeg = seat.RotationDeg
	u.areas, u.seat, u.now = NewActiveAreas(&seated, u.soles[on]), seat, on
}

func (u *soleUnderside) press(on ground, loadN float64, cop platform.Point) (err error) {
	u.poses[on], err = u.soles[on].Solve(loadN, cop, u.poses[on])
	return err
}

func (u *soleUnderside) read(kPa []float64) { u.areas.Read(u.poses[u.now], kPa) }

func (u *soleUnderside) contact() Contact {
	sole, pose := u.soles[u.now], u.poses[u.now]
	c := sole.Contact(pose)
	if u.threshold > 0 {
		// The area that is deeper than the threshold is the contact area with a bed that
		// is lower by that depth.
		pose.DepthMM -= u.threshold / sole.stiffness
		above := sole.Contact(pose)
		c.AreaMM2, c.Share = above.AreaMM2, above.Share
	}
	return c
}

// sessionGridMM is the step of the grid of a Session, mm. It is coarser than
// DefaultGridMM, because every loaded frame is computed separately: TestSessionGrid shows
// the loss of accuracy.
const sessionGridMM = 0.5

// gridUnderside is an underside whose mechanics are those of a Surface.
type gridUnderside struct {
	strip     *device.Strip
	surface   *Surface
	physics   Physics
	threshold float64 // kPa
	bearing   float64 // area, mm²
	poses     [2]Pose // on the floor and on the pad, of the last press there
	imprint   *Imprint
	seat      Seat
	now       ground
	cells     *Cells // nil before the first lay
}

func newGridUnderside(s *Setup, f *Foot, shape Shape) (*gridUnderside, error) {
	surface, err := NewSurface(shape)
	if err != nil {
		return nil, err
	}
	bearing, err := surface.Bearing(f.Physics.pad(), s.ThresholdKPa)
	if err != nil {
		return nil, err
	}
	return &gridUnderside{
		strip: f.Strip, surface: surface, physics: f.Physics, threshold: s.ThresholdKPa, bearing: bearing.AreaMM2,
		imprint: &Imprint{surface: surface, kPa: make([]float64, len(surface.points))},
	}, nil
}

func (u *gridUnderside) outline() platform.Polygon { return u.surface.Outline() }

func (u *gridUnderside) lay(seat Seat, on ground) {
	if u.cells != nil && u.seat == seat && u.now == on {
		return
	}
	overhang := u.physics.Overhang
	if on == onFloor {
		overhang = Overhang{}
	}
	u.cells, u.seat, u.now = NewCells(u.surface, u.strip, seat, u.physics.SpreadMM, overhang), seat, on
}

func (u *gridUnderside) press(on ground, loadN float64, cop platform.Point) error {
	bed := u.physics.floor()
	switch on {
	case byHand:
		u.imprint = u.surface.fingers(loadN, cop)
		return nil
	case onPad:
		bed = u.physics.pad()
	}
	err := u.surface.pressInto(u.imprint, bed, loadN, cop, u.poses[on])
	u.poses[on] = u.imprint.Pose
	return err
}

func (u *gridUnderside) read(kPa []float64) { u.cells.Read(u.imprint, kPa) }

func (u *gridUnderside) contact() Contact {
	area := u.imprint.AreaMM2(u.threshold)
	return Contact{LoadN: u.imprint.LoadN, CoP: u.imprint.CoP, AreaMM2: area, Share: min(1, area/u.bearing)}
}
