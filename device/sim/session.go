package sim

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"time"

	"aplomb/device"
	"aplomb/device/wire"
)

// Setup is the input for a Session.
type Setup struct {
	Seed     uint64
	Start    time.Time // the host's clock at the first frame
	RateHz   float64   // frames a second of each strip
	Mounting string    // name of the mounting of the strips; another name gives other seats and another recording
	Dancer   Dancer
	Feet     [2]*Foot // by device.Foot; nil for a foot without a strip
	Faults   Faults   // of both strips
	Scatter  Scatter
	// LeadInS is the time for which the strips are unloaded before the first pad press or
	// rise, s; 0 stands for DefaultLeadInS.
	LeadInS float64
	// Press is the pad press of each foot in turn before the first rise, and SecondPress
	// that after the last. The zero PadPress means none. A press lasts Maps/RateHz s and
	// is sampled at the rate of the strips.
	Press, SecondPress PadPress
	// ThresholdKPa is the pressure above which area counts as contact in Truth.
	ThresholdKPa float64
}

// Foot is one foot with its strip and shoe.
type Foot struct {
	Strip   *device.Strip // its Mount is the intended seat
	Shoe    *device.Shoe  // as measured with the ruler
	Physics Physics
	Stand   Stand
	Broken  []Broken // cells of its strip
}

// Scatter holds the standard deviations of what differs between shoes, mountings and
// recordings beyond the seat's place, which has the strip's SeatSDMM, and beyond the
// relevés of one recording. The zero Scatter varies nothing.
type Scatter struct {
	RulerSDMM       float64 // of the ruler's width and depth of a shoe, each
	RotationSDDeg   float64 // of a seat's rotation in a mounting
	RecordingSDMM   float64 // of a recording's mean centre of pressure about Stand, along each axis
	RecordingLoadSD float64 // of a recording's mean load, as a fraction of it
	RecordingSwaySD float64 // of the logarithm of a recording's sway
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
	seat    Seat          // true, during the rises
	under   underside
	tail    []int   // the cells that a taut tail of the strip loads
	tailKPa float64 // pressure on them while the platform bears load, kPa
	conv    *converter
	motion  footMotion
	presses []handPress // in the order of time
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
	d := &dance{dancer: s.Dancer, rng: stream(s.Seed, shoes...), begin: cmp.Or(s.LeadInS, DefaultLeadInS)}
	session := &Session{start: s.Start, rate: s.RateHz, dance: d}
	phase := 0.0
	for k, f := range s.Feet {
		if f == nil {
			continue
		}
		var err error
		if session.feet[k], err = newFootState(s, device.Foot(k), phase, d); err != nil {
			return nil, fmt.Errorf("simulated session: %s foot: %w", device.Foot(k), err)
		}
		// The frames of the second strip lie between two frames of the first.
		phase = uniform(stream(s.Seed, append(shoes, "phase")...), 0.1, 0.9) / s.RateHz
	}
	session.addPresses(&s)
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
	case !(s.LeadInS >= 0 && s.ThresholdKPa >= 0):
		return fmt.Errorf("%v s before the first load and a threshold of %v kPa: 0 or more", s.LeadInS, s.ThresholdKPa)
	case s.SecondPress.Maps > 0 && d.Rises == 0:
		return errors.New("a pad press after the last rise: say how many rises there are")
	case !(s.Faults.Tie >= 0):
		return fmt.Errorf("idle lines tied by a resistance of %v", s.Faults.Tie)
	case !(s.Faults.Loss >= 0 && s.Faults.Loss < 1):
		return fmt.Errorf("frames lost with probability %v: 0 to below 1", s.Faults.Loss)
	}
	for _, sd := range []float64{s.Scatter.RulerSDMM, s.Scatter.RotationSDDeg, s.Scatter.RecordingSDMM, s.Scatter.RecordingLoadSD, s.Scatter.RecordingSwaySD} {
		if !(sd >= 0 && sd <= 100) {
			return fmt.Errorf("a scatter of %v: 0 to 100", sd)
		}
	}
	for _, p := range []PadPress{s.Press, s.SecondPress} {
		if err := p.check(); err != nil {
			return err
		}
	}
	for k, f := range s.Feet {
		foot := device.Foot(k)
		switch {
		case f == nil:
		case f.Strip == nil || f.Shoe == nil:
			return fmt.Errorf("%s foot: give it a strip and a shoe", foot)
		case f.Strip.Foot != foot:
			return fmt.Errorf("strip %s is for the %s foot, not the %s", f.Strip.Name, f.Strip.Foot, foot)
		case !(f.Physics.DomeMM >= 0 && f.Physics.Floor.KPaMM >= 0 && f.Physics.Pad.KPaMM >= 0):
			return fmt.Errorf("%s foot: dome of %v mm on a floor of %v and a pad of %v kPa/mm", foot, f.Physics.DomeMM, f.Physics.Floor.KPaMM, f.Physics.Pad.KPaMM)
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
func newFootState(s Setup, foot device.Foot, phase float64, d *dance) (*footState, error) {
	f := s.Feet[foot]
	under, err := newUnderside(&s, f)
	if err != nil {
		return nil, err
	}

	// The cells of a strip depend on the strip alone, its seat on the mounting.
	own := stream(s.Seed, "strip", f.Strip.Name)
	now := stream(s.Seed, "now", f.Strip.Name, f.Shoe.Code, s.Mounting)
	sway := d.stand(&s, foot)
	a := &footState{
		foot: foot, strip: f.Strip, under: under,
		kPa: make([]float64, f.Strip.Cells()), loss: s.Faults.Loss, phase: phase, next: phase,
		period: 1 / s.RateHz / (1 + 1e-6*s.Faults.Clock*own.NormFloat64()),
		clock0: uint64(uniform(now, 1e6, 100e6)),
		motion: footMotion{
			dance: d, foot: foot, region: newSafeRegion(under.outline()),
			medial: newPinkNoise(now, sway), over: newPinkNoise(now, sway), load: newPinkNoise(now, s.Dancer.LoadSD),
		},
	}
	if a.tailKPa = f.Physics.TailKPa; a.tailKPa != 0 {
		for k := range a.kPa {
			if row, _ := f.Strip.RowCol(k); row == 0 {
				a.tail = append(a.tail, k)
			}
		}
	}
	a.conv = newConverter(f.Strip, s.Faults, f.Broken, own, rand.New(rand.NewPCG(now.Uint64(), 0)))
	a.line = rand.New(rand.NewPCG(now.Uint64(), 1))
	a.arrives = a.arrival()
	return a, nil
}

// stand draws the mean centre of pressure and the load of a foot in this recording, and
// returns the standard deviation of its sway, mm.
func (d *dance) stand(s *Setup, foot device.Foot) (swaySD float64) {
	f := s.Feet[foot]
	g := stream(s.Seed, "recording", f.Strip.Name, f.Shoe.Code, s.Mounting)
	d.stands[foot] = f.Stand
	for axis := range d.stands[foot].CoPMM {
		d.stands[foot].CoPMM[axis] += s.Scatter.RecordingSDMM * g.NormFloat64()
	}
	d.loadFactor[foot] = max(0, 1+s.Scatter.RecordingLoadSD*g.NormFloat64())
	return s.Dancer.SwaySD * math.Exp(s.Scatter.RecordingSwaySD*g.NormFloat64())
}

// drawSeat draws the seat of a foot's strip in a mounting.
func (s *Setup) drawSeat(foot device.Foot) Seat {
	f := s.Feet[foot]
	g := stream(s.Seed, "seat", f.Strip.Name, f.Shoe.Code, s.Mounting)
	m := f.Strip.Mount
	return Seat{
		m.OffsetMM[0] + m.SeatSDMM*g.NormFloat64(),
		m.OffsetMM[1] + m.SeatSDMM*g.NormFloat64(),
		m.RotationDeg + s.Scatter.RotationSDDeg*g.NormFloat64(),
	}
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
	ground, seat := onFloor, a.seat
	if p := a.press(t); p != nil {
		load, cop, ground, seat = p.at(t, a.under.outline())
	}
	if load < minTouchN {
		clear(a.kPa)
	} else {
		a.under.lay(seat, ground)
		if err := a.under.press(ground, load, cop); err != nil {
			return 0, false, fmt.Errorf("simulated %s foot at %.3f s: %w", a.foot, t, err)
		}
		a.under.read(a.kPa)
		for _, k := range a.tail {
			a.kPa[k] += a.tailKPa
		}
		if rise != nil {
			a.addToHold(t, &rise.feet[a.foot])
		}
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

// Seat returns the true seat of a foot's strip during the rises, which is not part of a
// recording. During a pad press it may differ; see Presses.
func (s *Session) Seat(foot device.Foot) Seat { return s.feet[foot].seat }
