// Package demo records a simulated fitting of a dancer and two shoes.
package demo

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"aplomb/cmd/internal/capture"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/intake"
	"aplomb/device"
	"aplomb/device/link"
	"aplomb/device/platform"
	"aplomb/device/sim"
)

// The scenario is invented, and rehearsals use it too. The properties of A and B follow
// common practice in the trade (no published source): a low profile and a
// tapered box leave only a small patch at the back of the platform to stand on.
const (
	// With 45 × 30 mm the strips reach 3 mm beyond the larger platform on all sides,
	// three times what their seat scatters by.
	strip = `strip = "%s"
foot = "%s"
rows = 6
cols = 9
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
	ShoeA = `shoe = "A"
platform_mm = [35.0, 21.0]
outline_exponent = 2.5
box = "tapered"
crown_mm = 22.0
shank = "soft"
shank_length = "full"
padding = "none"
hours_worn = 0
`
	ShoeB = `shoe = "B"
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

// Strip returns the profile of the strip under a foot.
func Strip(f device.Foot) string {
	return fmt.Sprintf(strip, [2]string{"L-01", "R-01"}[f], f)
}

// stands holds the centre of pressure, by shoe and foot: [medial, over], mm. The left
// foot is the weaker one.
var stands = map[string][2]platform.Point{
	"A": {{-1.4, -6.6}, {-0.5, -6.2}},
	"B": {{-0.7, -0.9}, {0.2, -0.2}},
}

// software is the software named in the demo's recordings. It is constant, so that their
// bytes are too.
const software = "aplomb 0.1.0-dev, strips and dancer simulated"

// OpenLine opens a pseudo-terminal that stands for a serial line.
type OpenLine func(link string) (*sim.Line, error)

// Record records the fitting into a folder and returns the recordings in the
// order in which they were made: mirrored, so that tiring does not favour a shoe.
// In each both platforms are first pressed on a pad, which the recording marks. Then
// the dancer rises so many times, and in the first once more, aborted.
// The strips send through lines; where none can be opened they hand their frames
// over in this process, and the bytes recorded are the same. Progress goes to w.
func Record(ctx context.Context, w io.Writer, dir string, seed uint64, rises int, line OpenLine) (paths []string, err error) {
	profiles := map[string]string{
		"left.toml":  Strip(device.Left),
		"right.toml": Strip(device.Right),
		"A.toml":     ShoeA,
		"B.toml":     ShoeB,
	}
	for name, profile := range profiles {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(profile), 0o666); err != nil {
			return nil, err
		}
	}
	progress := console.NewProgress(w)
	defer progress.Clear()
	told := false // the lack of lines has been reported
	start := time.Date(2026, 3, 7, 10, 0, 0, 0, time.UTC)
	for i, name := range []string{"a1", "b1", "b2", "a2"} {
		shoe := map[byte]string{'a': "A", 'b': "B"}[name[0]]
		s := intake.Setup{
			Strips: []string{filepath.Join(dir, "left.toml"), filepath.Join(dir, "right.toml")},
			Shoe:   filepath.Join(dir, shoe+".toml"),
			Dancer: "D7", Support: "barre", Rise: "roll-up", Position: "parallel", Floor: "vinyl on wood",
		}
		m, err := s.Metadata(ctx, start.Add(time.Duration(i)*8*time.Minute), [2]bool{true, true})
		if err != nil {
			return nil, err
		}
		m.Software = software
		dancer := sim.Dancer{MassKG: 52, LeftShare: 0.45, Rises: rises, SwaySD: 0.5, LoadSD: 0.02}
		if i == 0 {
			dancer.Rises, dancer.Aborted = rises+1, []int{4}
		}
		session, err := newSession(&m, dancer, stands[shoe], seed)
		if err != nil {
			return nil, err
		}
		r := &capture.Recorder{Meta: m, Path: filepath.Join(dir, name+".mcap")}
		presses, now := session.PressEvents(), int64(0)
		r.Recorded = func(n *capture.Tally, f *device.Frame) {
			now = f.ArrivalNS
			progress.Show("demo, recording %s: %s", r.Path, n)
		}
		r.Marks = func() (over []device.Event) {
			for len(presses) > 0 && presses[0].TimeNS <= now {
				over, presses = append(over, presses[0]), presses[1:]
			}
			return over
		}
		direct, err := record(ctx, session, r, line)
		if err != nil {
			return nil, err
		}
		if direct && !told {
			progress.Clear()
			fmt.Fprintln(w, "no pseudo-terminal can be opened here: the simulated strips hand their frames over directly; the recordings are the same")
			told = true
		}
		paths = append(paths, r.Path)
	}
	return paths, nil
}

// press returns the pad press of each platform: two rounds in 6 s, far enough from the
// edge that no cell saturates.
func press() sim.PadPress {
	p := sim.Scenario{}.PadPress(6)
	p.Reach = [2]float64{0.5, 0.85}
	return p
}

// newSession returns the session of one of the recordings.
func newSession(m *device.Metadata, dancer sim.Dancer, stands [2]platform.Point, seed uint64) (*sim.Session, error) {
	setup := sim.Setup{
		Seed: seed, Start: m.Started, RateHz: 200, Mounting: m.Started.Format(time.RFC3339),
		Dancer: dancer, Faults: sim.DefaultFaults(), Press: press(),
	}
	for _, f := range device.Feet {
		setup.Feet[f] = &sim.Foot{
			Strip: m.Sides[f].Strip, Shoe: m.Sides[f].Shoe,
			Stand: sim.Stand{CoPMM: stands[f], ScatterSD: 0.5},
		}
	}
	return sim.NewSession(setup)
}

// record records a simulated session through serial lines. Where they cannot be opened it
// records directly from the session, and prints that.
func record(ctx context.Context, session *sim.Session, r *capture.Recorder, line OpenLine) (direct bool, err error) {
	lines, err := openLines(line)
	if err == nil {
		return false, recordThrough(ctx, lines, session, r)
	}
	r.Open = func(ctx context.Context, _ func(device.Foot, link.Notice)) (capture.Source, error) {
		return capture.NewSimulated(ctx, session, &r.Meta), nil
	}
	_, err = r.Run(ctx)
	return true, cmp.Or(err, ctx.Err())
}

// openLines opens a line for each foot.
func openLines(line OpenLine) (lines [2]*sim.Line, err error) {
	for f := range lines {
		if lines[f], err = line(""); err != nil {
			if f > 0 {
				lines[0].Close()
			}
			return lines, err
		}
	}
	return lines, nil
}

// recordThrough records a simulated session through lines, which it closes, in lock step:
// each frame is sent when the one before has been taken, and the clock is set to its
// simulated arrival. The bytes recorded therefore do not depend on the speed of the
// machine.
func recordThrough(ctx context.Context, lines [2]*sim.Line, session *sim.Session, r *capture.Recorder) error {
	clock := &sim.Clock{}
	step := sim.NewLockStep(clock)
	opt := link.Options{Clock: clock}
	for f := range lines {
		defer lines[f].Close()
		opt.Ports[f] = lines[f].Path()
	}
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	served := make(chan error, 1)
	r.Open = func(ctx context.Context, _ func(device.Foot, link.Notice)) (capture.Source, error) {
		source, err := capture.OpenLink(ctx, opt, &r.Meta)
		if err != nil {
			return nil, err
		}
		go func() {
			served <- sim.Serve(ctx, session, lines, step.Pace)
			stop() // also ends the recording
		}()
		return source, nil
	}
	recorded := r.Recorded
	r.Recorded = func(n *capture.Tally, f *device.Frame) {
		step.Taken()
		recorded(n, f)
	}
	if _, err := r.Run(ctx); err != nil {
		return err
	}
	return <-served
}
