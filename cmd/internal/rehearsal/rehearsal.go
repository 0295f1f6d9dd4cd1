// Package rehearsal simulates the strips, the shoes and the dancer of a fitting, so that it
// can be learnt and tested without any of them. Its numbers say nothing about real shoes.
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

// stands is where the load of each foot sits, by shoe: [medial, over], mm. In A it sits
// behind the kern, in B within it, in C towards the little toe.
var stands = map[string][2]platform.Point{
	"A": {{-1.0, -6.4}, {-0.4, -6.0}},
	"B": {{-0.5, -0.8}, {0.2, -0.3}},
	"C": {{-6.5, -1.5}, {-6.0, -1.0}},
}

// Furnish puts dancer, strips and shoes into a logbook that has none of them yet. It
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

// Stage simulates one recording after the other.
type Stage struct {
	Seed  uint64
	Pace  float64 // how many times faster than in life; 0 for as fast as it is recorded
	Cable bool    // in the second recording the cable of the left strip comes out during a rise

	made int // recordings so far
}

// rate is the number of frames a second of each strip.
const rate = 100

// Open simulates the next recording, that m describes: after a pad press of each platform,
// where press is set, the dancer rises so often. At a pace the dancer stands still afterwards until
// ctx is done; otherwise the recording ends. notify is told when the cable comes out.
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
	out := &player{Simulated: capture.NewSimulated(ctx, session, m), ctx: ctx, pace: s.Pace, notify: notify}
	if s.Cable && s.made == 2 {
		out.pull(session, m.Started)
	}
	return out, nil
}

// player is a simulated session at its own pace, and with a cable that can come out.
type player struct {
	*capture.Simulated
	ctx    context.Context
	pace   float64
	notify func(device.Foot, link.Notice)

	first     int64             // arrival of the first frame, ns
	began     time.Time         // when it was handed over
	still     [2][]device.Frame // the last frames of each foot, while nobody stands on the strips
	repeated  int               // frames of still that were handed over again
	out, back int64             // arrivals between which the left cable is out, ns; 0 for never
	away      bool
	events    []device.Event
}

// cableS is how long the cable is out, s.
const cableS = 2.5

// pull has the cable out from the middle of the second rise.
func (p *player) pull(session *sim.Session, start time.Time) {
	at := 4.0
	if presses := session.Presses(); len(presses) > 0 {
		at = presses[len(presses)-1].EndS + 8
	}
	p.out = start.Add(time.Duration(at * 1e9)).UnixNano()
	p.back = p.out + int64(cableS*1e9)
}

// Next implements device.Source.
func (p *player) Next(f *device.Frame) error {
	for {
		err := p.Simulated.Next(f)
		if errors.Is(err, io.EOF) && p.pace > 0 && p.ctx.Err() == nil {
			err = p.standStill(f)
		}
		if err != nil {
			return err
		}
		if !p.lost(f) {
			break
		}
	}
	if p.pace == 0 {
		return nil
	}
	if p.repeated == 0 {
		p.keep(f)
	}
	return p.wait(f)
}

// wait waits until a frame is due. Where the computer was held up, what follows is sent
// at the pace, not faster.
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
	kept := p.still[f.Foot]
	if len(kept) == stillFrames {
		kept = kept[1:]
	}
	one := *f
	one.Counts = slices.Clone(f.Counts)
	p.still[f.Foot] = append(kept, one)
}

// standStill repeats the last frames of each foot, later.
func (p *player) standStill(f *device.Frame) error {
	foot, n := p.repeated%2, p.repeated/2
	if len(p.still[foot]) < stillFrames {
		return io.EOF
	}
	again := 1 + n/stillFrames
	*f = p.still[foot][n%stillFrames]
	f.Seq += int64(again * stillFrames)
	f.TimeUS += uint64(again * stillFrames * 1_000_000 / rate)
	f.ArrivalNS += int64(again * stillFrames * 1_000_000_000 / rate)
	p.repeated++
	return nil
}

// Stats implements capture.Source.
func (p *player) Stats() [2]link.Stats {
	all := p.Simulated.Stats()
	all[device.Left].Frames += uint64(p.repeated+1) / 2
	all[device.Right].Frames += uint64(p.repeated) / 2
	return all
}

// lost reports whether a frame does not come because the cable is out. With the first that
// comes again there is an event of the gap.
func (p *player) lost(f *device.Frame) bool {
	if p.out == 0 || f.Foot != device.Left || f.ArrivalNS < p.out {
		return false
	}
	if f.ArrivalNS < p.back {
		if !p.away {
			p.away = true
			p.notify(device.Left, link.Notice{Code: link.PortGone, Port: "of the left strip", Foot: device.Left, Cause: "the cable is out"})
		}
		return true
	}
	if p.away {
		p.away = false
		p.events = append(p.events, device.Event{TimeNS: f.ArrivalNS, Foot: device.Left, Kind: device.Gap, Cause: link.CableOut, LengthS: cableS})
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
