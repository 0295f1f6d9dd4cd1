// Package rehearsal simulates the strips, the shoes and the dancer of a fitting, for
// learning and testing. Its numbers say nothing about real shoes.
package rehearsal

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/capture"
	"aplomb/cmd/internal/demo"
	"aplomb/device"
	"aplomb/device/link"
	"aplomb/device/platform"
	"aplomb/device/sim"
)

// Dancer is the code of the simulated dancer.
const Dancer = "R1"

// Shoes are the codes of the simulated shoes.
var Shoes = []string{"A", "B"}

// shoes are those of the demo, and one more.
var shoes = []string{demo.ShoeA, demo.ShoeB, `shoe = "C"
platform_mm = [37.0, 23.0]
outline_exponent = 3.0
box = "square"
crown_mm = 25.0
shank = "medium"
`}

// stands holds the centre of pressure of each foot, by shoe: [medial, over], mm. In A it
// is behind the kern, in B within it, in C towards the little toe.
var stands = map[string][2]platform.Point{
	"A": {{-1.0, -6.4}, {-0.4, -6.0}},
	"B": {{-0.5, -0.8}, {0.2, -0.3}},
	"C": {{-6.5, -1.5}, {-6.0, -1.0}},
}

// Furnish adds dancer, strips and shoes to a logbook that has none of them yet. It
// refuses a logbook of other dancers.
func Furnish(l *logbook.Logbook) error {
	dancers, err := l.Dancers()
	if err != nil {
		return err
	}
	for _, d := range dancers {
		if d.Code == Dancer {
			return nil
		}
	}
	if len(dancers) > 0 {
		return fmt.Errorf("logbook %s is of real dancers: a rehearsal needs one of its own, in another folder", l.Dir())
	}
	if err := l.AddDancer(logbook.Dancer{Code: Dancer}); err != nil {
		return err
	}
	for _, f := range device.Feet {
		s, err := device.ParseStrip("strip of the "+f.String()+" foot", []byte(demo.Strip(f)))
		if err != nil {
			return err
		}
		if err := l.AddStrip(*s); err != nil {
			return err
		}
	}
	for i, profile := range shoes {
		s, err := device.ParseShoe(fmt.Sprint("shoe ", i+1), []byte(profile))
		if err != nil {
			return err
		}
		if err := l.AddShoe(logbook.Shoe{Shoe: *s}); err != nil {
			return err
		}
	}
	return nil
}

// Stage simulates a sequence of recordings.
type Stage struct {
	Seed  uint64
	Pace  float64 // speed relative to real time; 0 for as fast as possible
	Cable bool    // the cable of the left strip comes out during a rise of the second recording

	made int // recordings so far
	now  *player
}

// rate is the number of frames a second of each strip.
const rate = 100

// Open simulates the next recording, which m describes: after a pad press of each
// platform, where press is set, the dancer makes a number of rises. With a pace she waits
// after the press until GoOn is called, and stands still afterwards until ctx is done;
// otherwise the recording ends. notify is called when the cable comes out.
func (s *Stage) Open(ctx context.Context, m *device.Metadata, press bool, rises int, notify func(device.Foot, link.Notice)) (capture.Source, error) {
	s.made++
	setup := sim.Setup{
		Seed: s.Seed, Start: m.Started, RateHz: rate, Mounting: fmt.Sprint("mounting ", s.made), LeadInS: 4,
		Dancer: sim.Dancer{MassKG: 52, LeftShare: 0.47, Rises: rises, SwaySD: 0.5, LoadSD: 0.02}, Faults: sim.DefaultFaults(),
	}
	if press {
		setup.Press = sim.Scenario{}.PadPress(6)
		setup.Press.Reach = [2]float64{0.5, 0.85}
	}
	for f, side := range m.Sides {
		if side != nil {
			setup.Feet[f] = &sim.Foot{Strip: side.Strip, Shoe: side.Shoe, Stand: sim.Stand{CoPMM: stands[side.Shoe.Code][f], ScatterSD: 0.5}}
		}
	}
	session, err := sim.NewSession(setup)
	if err != nil {
		return nil, err
	}
	s.now = &player{Simulated: capture.NewSimulated(ctx, session, m), ctx: ctx, pace: s.Pace, notify: notify, waits: s.Pace > 0}
	at := 4.0 // s since the first frame, when the platforms have been pressed
	if presses := session.Presses(); len(presses) > 0 {
		at = presses[len(presses)-1].EndS
		s.now.rest = afterStart(m.Started, at+restS)
	}
	if s.Cable && s.made == 2 {
		s.now.out = afterStart(m.Started, at+cableAfterS)
		s.now.back = s.now.out + int64(cableS*1e9)
	}
	return s.now, nil
}

// GoOn makes a dancer who waits after the press rise, because the shoes are on. It is
// called by the goroutine that reads the frames.
func (s *Stage) GoOn() {
	if s.now != nil {
		s.now.waits = false
	}
}

const (
	restS       = 2   // from the end of the last press until the dancer waits, s
	cableAfterS = 8   // from there until the cable comes out, in the middle of the second rise, s
	cableS      = 2.5 // how long the cable is out, s
)

// afterStart returns a time of arrival, ns.
func afterStart(start time.Time, s float64) int64 {
	return start.Add(time.Duration(s * 1e9)).UnixNano()
}

// player plays a simulated session at its own pace, waits for the user, and simulates a
// cable that comes out. While it waits it inserts frames without load between those of
// the session.
type player struct {
	*capture.Simulated
	ctx    context.Context
	pace   float64
	notify func(device.Foot, link.Notice)

	rest     int64             // arrival of the first frame before which the dancer waits, ns; 0 for none
	waits    bool              // the dancer waits at rest
	first    int64             // arrival of the first frame, ns
	began    time.Time         // real time at which it was given
	still    [2][]device.Frame // the last frames of each foot in the session
	put      [2]int            // inserted frames of each foot
	handed   [2]device.Frame   // the last frame given of each foot, without counts
	ahead    *device.Frame     // next frame of the session, before which the dancer waits
	out      int64             // arrivals between which the left cable is out, ns; 0 for never
	back     int64
	away     bool
	events   []device.Event
	finished bool // the session has no more frames
}

// Next implements device.Source.
func (p *player) Next(f *device.Frame) error {
	if err := p.next(f); err != nil {
		return err
	}
	if p.pace == 0 {
		return nil
	}
	return p.wait(f)
}

// next gives the next frame of the session or, while the dancer waits, an inserted one.
func (p *player) next(f *device.Frame) error {
	for {
		if p.ahead == nil && !p.finished {
			var one device.Frame
			err := p.Simulated.Next(&one)
			if errors.Is(err, io.EOF) && p.pace > 0 && p.ctx.Err() == nil {
				p.finished = true
			} else if err != nil {
				return err
			} else {
				one.Counts = slices.Clone(one.Counts)
				p.ahead = &one
			}
		}
		if p.finished || p.rest > 0 && p.ahead.ArrivalNS >= p.rest && (p.waits || p.put[device.Left] != p.put[device.Right]) {
			return p.putIn(f)
		}
		one := *p.ahead
		p.ahead = nil
		p.keep(&one)
		if p.lost(&one) {
			continue
		}
		n := p.put[one.Foot]
		one.Seq += int64(n)
		one.TimeUS += uint64(n * 1_000_000 / rate)
		one.ArrivalNS += int64(n * 1_000_000_000 / rate)
		p.handOver(f, one)
		return nil
	}
}

// handOver sets f to the frame one.
func (p *player) handOver(f *device.Frame, one device.Frame) {
	counts := append(f.Counts[:0], one.Counts...)
	*f = one
	f.Counts = counts
	p.handed[one.Foot] = one
	p.handed[one.Foot].Counts = nil
}

// wait waits until a frame is due. After a delay of the computer the following frames are
// sent at the normal pace, not faster.
func (p *player) wait(f *device.Frame) error {
	if p.first == 0 {
		p.first, p.began = f.ArrivalNS, time.Now()
	}
	ahead := time.Until(p.began.Add(time.Duration(float64(f.ArrivalNS-p.first) / p.pace)))
	if ahead < -50*time.Millisecond {
		p.began = p.began.Add(-ahead)
	}
	select {
	case <-time.After(ahead):
		return nil
	case <-p.ctx.Done():
		return io.EOF
	}
}

// stillFrames is the number of frames of each foot that are repeated.
const stillFrames = rate / 2

// keep keeps the last frames of each foot.
func (p *player) keep(f *device.Frame) {
	if p.pace == 0 {
		return
	}
	kept := p.still[f.Foot]
	if len(kept) == stillFrames {
		kept = kept[1:]
	}
	p.still[f.Foot] = append(kept, *f)
}

// putIn repeats the last frames of each foot in turn, later than those given before.
func (p *player) putIn(f *device.Frame) error {
	foot := device.Left
	if p.put[device.Right] < p.put[device.Left] {
		foot = device.Right
	}
	if len(p.still[foot]) < stillFrames {
		return io.EOF
	}
	one := p.handed[foot]
	one.Counts = p.still[foot][p.put[foot]%stillFrames].Counts
	one.Seq++
	one.TimeUS += 1_000_000 / rate
	one.ArrivalNS += 1_000_000_000 / rate
	p.put[foot]++
	p.handOver(f, one)
	return nil
}

// Stats implements capture.Source.
func (p *player) Stats() [2]link.Stats {
	all := p.Simulated.Stats()
	for f := range all {
		all[f].Frames += uint64(p.put[f])
	}
	return all
}

// lost reports whether a frame of the session is lost because the cable is out. The first
// frame after that comes with an event of the gap.
func (p *player) lost(f *device.Frame) bool {
	if p.out == 0 || f.Foot != device.Left || f.ArrivalNS < p.out {
		return false
	}
	if f.ArrivalNS < p.back {
		if !p.away {
			p.away = true
			p.notify(device.Left, link.Notice{Code: link.PortGone, Port: "the left strip", Foot: device.Left, Cause: "the cable is out"})
		}
		return true
	}
	if p.away {
		p.away = false
		at := f.ArrivalNS + int64(p.put[device.Left]*1_000_000_000/rate)
		p.events = append(p.events, device.Event{TimeNS: at, Foot: device.Left, Kind: device.Gap, Cause: link.CableOut, LengthS: cableS})
		p.notify(device.Left, link.Notice{})
	}
	return false
}

// Events implements capture.Source.
func (p *player) Events() []device.Event {
	events := p.events
	p.events = nil
	return events
}
