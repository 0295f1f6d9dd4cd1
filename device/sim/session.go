package sim

import (
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"time"

	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/device/wire"
)

// Setup is everything that a Session is made from.
type Setup struct {
	Seed     uint64
	Start    time.Time // the host's clock at the first frame
	RateHz   float64   // frames a second of each strip
	Mounting string    // name of the mounting of the strips; another name gives other seats
	Dancer   Dancer
	Feet     [2]*Foot // by device.Foot; nil for a foot without a strip
	Faults   Faults   // of both strips
}

// Foot is one foot with its strip and shoe.
type Foot struct {
	Strip    *device.Strip // its Mount is the intended seat
	Shoe     *device.Shoe
	DomeMM   float64 // height of the platform's edge above its centre, mm; 0 is flat
	BedKPaMM float64 // stiffness of the floor with what lies on it, kPa/mm; 0 stands for DefaultBedKPaMM
	Stand    Stand
	Broken   []Broken // cells of its strip
}

// DefaultBedKPaMM is the stiffness of about 2 mm of dance floor over a hard one, kPa/mm. It
// is our assumption.
const DefaultBedKPaMM = 1500

// Session simulates one recording of a dancer on one or two strips. It is a device.Source;
// frames come in order of arrival.
type Session struct {
	start time.Time
	rate  float64
	dance *dance
	feet  [2]*footState
	last  int64 // arrival of the last frame, ns
}

// footState is one foot of a Session at the present time.
type footState struct {
	foot    device.Foot
	strip   *device.Strip // as in its profile
	seat    platform.Point
	sole    *Sole
	areas   *ActiveAreas
	conv    *converter
	motion  footMotion
	pose    Pose
	kPa     []float64
	loss    float64
	line    *rand.Rand // random numbers for delays and losses on the way to the host
	clock0  uint64     // the strip's clock at its first frame, µs
	period  float64    // true time between two frames, s
	phase   float64    // true time of its first frame, s
	seq     int64      // of the next frame
	next    float64    // true time of the next frame, s
	arrives int64      // arrival of the next frame, ns since the session's start
	truth   []Truth
	sum     holdSum
}

// NewSession returns a Session. An error says what in the Setup is impossible.
func NewSession(s Setup) (*Session, error) {
	if err := s.check(); err != nil {
		return nil, fmt.Errorf("simulated session: %w", err)
	}
	shoes := []string{"dancer", s.Mounting, "", ""}
	for k, f := range s.Feet {
		if f != nil {
			shoes[2+k] = f.Shoe.Code
		}
	}
	session := &Session{start: s.Start, rate: s.RateHz, dance: &dance{dancer: s.Dancer, rng: stream(s.Seed, shoes...)}}
	phase := 0.0
	for k, f := range s.Feet {
		if f == nil {
			continue
		}
		session.dance.stands[k] = f.Stand
		session.feet[k] = newFootState(s, device.Foot(k), phase, session.dance)
		// The frames of the second strip lie between two frames of the first.
		phase = uniform(stream(s.Seed, append(shoes, "phase")...), 0.1, 0.9) / s.RateHz
	}
	return session, nil
}

func (s *Setup) check() error {
	d := s.Dancer
	switch {
	case s.Feet[0] == nil && s.Feet[1] == nil:
		return errors.New("no foot stands on a strip")
	case !(s.RateHz >= 1 && s.RateHz <= 5000):
		return fmt.Errorf("%v frames a second: 1 to 5000", s.RateHz)
	case !(d.MassKG > 0 && d.MassKG < 1000):
		return fmt.Errorf("a dancer of %v kg", d.MassKG)
	case !(d.LeftShare >= 0 && d.LeftShare <= 1):
		return fmt.Errorf("left foot bears %v of the load: 0 to 1", d.LeftShare)
	case d.Rises < 0:
		return fmt.Errorf("%d rises", d.Rises)
	case !(s.Faults.Tie >= 0):
		return fmt.Errorf("idle lines tied by a resistance of %v", s.Faults.Tie)
	case !(s.Faults.Loss >= 0 && s.Faults.Loss < 1):
		return fmt.Errorf("frames lost with probability %v: 0 to below 1", s.Faults.Loss)
	}
	for k, f := range s.Feet {
		foot := device.Foot(k)
		switch {
		case f == nil:
		case f.Strip == nil || f.Shoe == nil:
			return fmt.Errorf("%s foot: give it a strip and a shoe", foot)
		case f.Strip.Foot != foot:
			return fmt.Errorf("strip %s is for the %s foot, not the %s", f.Strip.Name, f.Strip.Foot, foot)
		case !(f.DomeMM >= 0 && f.BedKPaMM >= 0):
			return fmt.Errorf("%s foot: dome of %v mm on a bed of %v kPa/mm", foot, f.DomeMM, f.BedKPaMM)
		case newSafeRegion(f.Shoe.Outline()).clamp(f.Stand.CoPMM) != f.Stand.CoPMM:
			return fmt.Errorf("%s foot: cannot stand at [%.1f, %.1f] mm, so near the edge of the platform of shoe %s or beyond it",
				foot, f.Stand.CoPMM[0], f.Stand.CoPMM[1], f.Shoe.Code)
		}
		if f == nil {
			continue
		}
		for _, b := range f.Broken {
			if err := b.check(f.Strip); err != nil {
				return fmt.Errorf("%s foot: %w", foot, err)
			}
		}
	}
	return nil
}

// newFootState returns the state of a foot before its first frame, phase s after the start.
func newFootState(s Setup, foot device.Foot, phase float64, d *dance) *footState {
	f := s.Feet[foot]
	outline := f.Shoe.Outline()
	bed := f.BedKPaMM
	if bed == 0 {
		bed = DefaultBedKPaMM
	}
	sole := NewSole(outline, f.DomeMM, bed)

	// The cells of a strip depend on the strip alone, its seat on the mounting.
	own := stream(s.Seed, "strip", f.Strip.Name)
	seat := s.seat(foot)
	seated := *f.Strip
	seated.Mount.OffsetMM[0] += seat[0]
	seated.Mount.OffsetMM[1] += seat[1]

	now := stream(s.Seed, "now", f.Strip.Name, f.Shoe.Code, s.Mounting)
	sway := s.Dancer.SwaySD
	a := &footState{
		foot: foot, strip: f.Strip, seat: seat, sole: sole, areas: NewActiveAreas(&seated, sole),
		kPa: make([]float64, f.Strip.Cells()), loss: s.Faults.Loss, phase: phase, next: phase,
		period: 1 / s.RateHz / (1 + 1e-6*s.Faults.Clock*own.NormFloat64()),
		clock0: uint64(uniform(now, 1e6, 100e6)),
		motion: footMotion{
			dance: d, foot: foot, region: newSafeRegion(outline),
			medial: newPinkNoise(now, sway), over: newPinkNoise(now, sway), load: newPinkNoise(now, s.Dancer.LoadSD),
		},
	}
	a.conv = newConverter(f.Strip, s.Faults, f.Broken, own, rand.New(rand.NewPCG(now.Uint64(), 0)))
	a.line = rand.New(rand.NewPCG(now.Uint64(), 1))
	a.arrives = a.arrival()
	return a
}

// seat returns the random offset of a foot's strip from its intended seat, mm.
func (s *Setup) seat(foot device.Foot) platform.Point {
	f := s.Feet[foot]
	g := stream(s.Seed, "seat", f.Strip.Name, f.Shoe.Code, s.Mounting)
	return platform.Point{f.Strip.Mount.SeatSDMM * g.NormFloat64(), f.Strip.Mount.SeatSDMM * g.NormFloat64()}
}

// Next sets f to the next frame. It allocates memory only when a rise begins. It returns
// io.EOF once the dancer has come down from the last rise.
func (s *Session) Next(f *device.Frame) error {
	for {
		a := s.feet[device.Left]
		if b := s.feet[device.Right]; a == nil || b != nil && b.arrives < a.arrives {
			a = b
		}
		if _, more := s.dance.rise(a.motion.now); !more && a.next >= s.dance.end() {
			return io.EOF
		}
		arrives, lost, err := a.read(f, s.rate)
		if err != nil {
			return err
		}
		if lost {
			continue
		}
		s.last = max(s.last, arrives)
		f.ArrivalNS = s.start.UnixNano() + s.last
		return nil
	}
}

// read fills f with the next frame and moves on to the one after it.
func (a *footState) read(f *device.Frame, rate float64) (arrives int64, lost bool, err error) {
	t := a.next
	load, cop, rise := a.motion.at(t)
	a.finishRises()
	if load < minTouchN {
		clear(a.kPa)
	} else {
		if a.pose, err = a.sole.Solve(load, cop, a.pose); err != nil {
			return 0, false, fmt.Errorf("simulated %s foot at %.3f s: %w", a.foot, t, err)
		}
		a.areas.Read(a.pose, a.kPa)
		a.addToHold(t, &rise.feet[a.foot])
	}
	if cap(f.Counts) < len(a.kPa) {
		f.Counts = make([]uint16, len(a.kPa))
	}
	f.Counts = f.Counts[:len(a.kPa)]
	a.conv.read(a.kPa, t, f.Counts)
	f.Foot = a.foot
	f.Seq = a.seq
	f.TimeUS = a.clock0 + uint64(math.Round(1e6*float64(a.seq)/rate))
	arrives = a.arrives

	a.seq++
	a.next = a.phase + float64(a.seq)*a.period
	a.arrives = a.arrival()
	return arrives, a.loss > 0 && a.line.Float64() < a.loss, nil
}

// minTouchN is the load below which the platform counts as off the floor, N.
const minTouchN = 1.0

// arrival returns a random arrival of the next frame, ns since the session's start: a frame
// takes time on the line, and the host reads at intervals.
func (a *footState) arrival() int64 {
	return int64(1e9*a.next) + int64(uniform(a.line, 1.2e6, 2.0e6))
}

// Hello returns the Hello of the strip of a foot, false where there is none.
func (s *Session) Hello(foot device.Foot) (wire.Hello, bool) {
	if s.feet[foot] == nil {
		return wire.Hello{}, false
	}
	return wire.HelloOf(s.feet[foot].strip, s.rate), true
}

// Seat returns the true offset of a foot's strip from the seat in its profile, mm, which a
// recording does not show.
func (s *Session) Seat(foot device.Foot) platform.Point { return s.feet[foot].seat }
