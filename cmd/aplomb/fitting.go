package main

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"aplomb/device"
	"aplomb/device/link"
	"aplomb/device/platform"
	"aplomb/device/sim"
	"aplomb/device/wire"
)

// The scenario is our own: nobody danced it. What A and B are like follows
// common practice in the trade (no published source): a low profile and a
// tapered box leave only a small patch at the back of the platform to stand on.
const (
	demoStrip = `strip = "%s"
foot = "%s"
rows = 5
cols = 8
pitch_mm = [5.0, 5.0]
cell_mm = [5.0, 5.0]
adc_bits = 12
saturates_at = 4095
first_cell = "back-lateral"
scan = "rows"

[mount]
offset_mm = [0.0, 0.0]
rotation_deg = 0.0
seat_sd_mm = 1.0

[calibration]
kpa_per_count = 0.75
`
	demoShoeA = `shoe = "A"
platform_mm = [35.0, 21.0]
outline_exponent = 2.5
box = "tapered"
crown_mm = 22.0
shank = "soft"
shank_length = "full"
padding = "none"
hours_worn = 0
`
	demoShoeB = `shoe = "B"
platform_mm = [39.0, 24.0]
outline_exponent = 4.0
box = "square"
crown_mm = 27.0
shank = "hard"
shank_length = "full"
padding = "none"
hours_worn = 0
`
)

// demoStands is where the dancer stands, by shoe and foot: [medial, over], mm.
// The left foot is the weaker one.
var demoStands = map[string][2]platform.Point{
	"A": {{-1.4, -6.6}, {-0.5, -6.2}},
	"B": {{-0.7, -0.9}, {0.2, -0.2}},
}

// demoSoftware is what the demo's recordings name as their software. It stays as
// it is, so that their bytes do.
const demoSoftware = "aplomb 0.1.0-dev, strips and dancer simulated"

// recordFitting records the fitting and returns the recordings in the order in
// which they were made: mirrored, so that tiring does not favour a shoe. The
// dancer rises so many times in each, and in the first once more, in vain. The
// strips send through pseudo-terminals; where none can be opened they hand their
// frames over in this process, and the bytes recorded are the same.
func (o outside) recordFitting(ctx context.Context, stderr io.Writer, dir string, seed uint64, rises int) (paths []string, err error) {
	profiles := map[string]string{
		"left.toml":  fmt.Sprintf(demoStrip, "L-01", "left"),
		"right.toml": fmt.Sprintf(demoStrip, "R-01", "right"),
		"A.toml":     demoShoeA,
		"B.toml":     demoShoeB,
	}
	for name, text := range profiles {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o666); err != nil {
			return nil, err
		}
	}
	progress := newProgress(stderr)
	defer progress.clear()
	told := false // that there are no lines
	start := time.Date(2026, 3, 7, 10, 0, 0, 0, time.UTC)
	for i, name := range []string{"a1", "b1", "b2", "a2"} {
		shoe := map[byte]string{'a': "A", 'b': "B"}[name[0]]
		s := setup{
			strips: []string{filepath.Join(dir, "left.toml"), filepath.Join(dir, "right.toml")},
			shoe:   filepath.Join(dir, shoe+".toml"),
			dancer: "D7", support: "barre", rise: "roll-up", position: "parallel", floor: "vinyl on wood",
		}
		m, err := s.meta(ctx, start.Add(time.Duration(i)*8*time.Minute), [2]bool{true, true})
		if err != nil {
			return nil, err
		}
		m.Software = demoSoftware
		dancer := sim.Dancer{MassKG: 52, LeftShare: 0.45, Rises: rises, SwaySD: 0.5, LoadSD: 0.02}
		if i == 0 {
			dancer.Rises, dancer.Aborted = rises+1, []int{4}
		}
		out := filepath.Join(dir, name+".mcap")
		watch := func(n *tally) { progress.show("demo, recording %s: %s", out, n) }
		session, err := newDemoSession(&m, dancer, demoStands[shoe], seed)
		if err != nil {
			return nil, err
		}
		direct, err := o.recordSession(ctx, session, m, out, watch)
		if err != nil {
			return nil, err
		}
		if direct && !told {
			progress.clear()
			fmt.Fprintln(stderr, "no pseudo-terminal can be opened here: the simulated strips hand their frames over directly; the recordings are the same")
			told = true
		}
		paths = append(paths, out)
	}
	return paths, nil
}

// newDemoSession returns the session of one of the demo's recordings.
func newDemoSession(m *device.Metadata, dancer sim.Dancer, stands [2]platform.Point, seed uint64) (*sim.Session, error) {
	world := sim.Setup{
		Seed: seed, Start: m.Started, RateHz: 200, Mounting: m.Started.Format(time.RFC3339),
		Dancer: dancer, Faults: sim.DefaultFaults(),
	}
	for _, f := range device.Feet {
		world.Feet[f] = &sim.Foot{
			Strip: m.Sides[f].Strip, Shoe: m.Sides[f].Shoe,
			Stand: sim.Stand{CoPMM: stands[f], ScatterSD: 0.5},
		}
	}
	return sim.NewSession(world)
}

// recordSession records a simulated session through serial lines. Where they
// cannot be opened it records directly from the session, and says so.
func (o outside) recordSession(ctx context.Context, session *sim.Session, m device.Metadata, out string, watch func(*tally)) (direct bool, err error) {
	lines, err := o.lines()
	if err != nil {
		_, err = capture(newInProcess(ctx, session, &m), m, out, watch)
		return true, cmp.Or(err, ctx.Err())
	}
	return false, recordThrough(ctx, lines, session, m, out, watch)
}

// lines opens a line for each foot.
func (o outside) lines() (lines [2]*sim.Line, err error) {
	for f := range lines {
		if lines[f], err = o.line(""); err != nil {
			if f > 0 {
				lines[0].Close()
			}
			return lines, err
		}
	}
	return lines, nil
}

// recordThrough records a simulated session through lines, which it closes, in
// lock step: each frame is sent when the one before has been taken, and the
// clock is set to when it would have arrived. So the bytes recorded do not
// depend on how fast the machine is.
func recordThrough(ctx context.Context, lines [2]*sim.Line, session *sim.Session, m device.Metadata, out string, watch func(*tally)) error {
	clock := &sim.Clock{}
	step := sim.NewLockStep(clock)
	opt := link.Options{Clock: clock}
	for f := range lines {
		defer lines[f].Close()
		opt.Ports[f] = lines[f].Path()
	}
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	src, err := listen(ctx, opt, &m)
	if err != nil {
		return err
	}
	defer src.Close()
	served := make(chan error, 1)
	go func() {
		served <- sim.Serve(ctx, session, lines, step.Pace)
		stop() // and with it the recording
	}()
	_, err = capture(src, m, out, func(n *tally) {
		step.Taken()
		watch(n)
	})
	if err != nil {
		return err
	}
	return <-served
}

// inProcess is a simulated session as the source of a recording, without a
// serial line in between. No frame is lost. When ctx is done it ends.
type inProcess struct {
	*sim.Session
	ctx   context.Context
	stats [2]link.Stats
}

func newInProcess(ctx context.Context, session *sim.Session, m *device.Metadata) *inProcess {
	p := &inProcess{Session: session, ctx: ctx}
	for f, side := range m.Sides {
		if side != nil {
			p.stats[f] = link.Stats{HasSeq: true, Clock: "strip", Hello: true, Line: wire.Stats{Format: wire.Binary}}
		}
	}
	return p
}

func (p *inProcess) Next(f *device.Frame) error {
	if p.ctx.Err() != nil {
		return io.EOF
	}
	if err := p.Session.Next(f); err != nil {
		return err
	}
	p.stats[f.Foot].Frames++
	return nil
}

func (p *inProcess) Stats() [2]link.Stats    { return p.stats }
func (p *inProcess) Events() []device.Event  { return nil }
func (p *inProcess) Warnings() []link.Notice { return nil }
func (p *inProcess) Close() error            { return nil }
