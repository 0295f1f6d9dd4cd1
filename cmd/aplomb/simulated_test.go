//go:build unix

package main

import (
	"context"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"aplomb/cmd/internal/capture"
	"aplomb/cmd/internal/ports"
	"aplomb/device"
	"aplomb/device/link"
	"aplomb/device/platform"
	"aplomb/device/recording"
	"aplomb/device/sim"
)

// simulation is an environment in which dancers rise on simulated strips. Frames are
// ready when they are asked for, so that what is printed and written does not
// depend on how fast the machine is. The clock runs only while a recording lasts.
// (The demo records through serial lines.)
type simulation struct {
	clock sim.Clock
	setup sim.Setup // of the next recording, but for clock, strips and shoes
}

func (s *simulation) environment() environment {
	onDisk := func(*recording.Writer) time.Duration { return 500 * time.Millisecond }
	return environment{now: s.clock.Now, ports: link.Ports, find: s.find, listen: s.listen, exposed: onDisk, line: sim.OpenLine}
}

// find finds every strip on a USB port, the left one first.
func (s *simulation) find(_ context.Context, o ports.Search) (f ports.Found, err error) {
	f.Baud = link.DefaultBaud
	for _, strip := range o.Strips {
		f.Strips[strip.Foot], f.Ports[strip.Foot] = strip, [2]string{"/dev/ttyUSB0", "/dev/ttyUSB1"}[strip.Foot]
		f.Places = append(f.Places, ports.Place{Strip: strip.Name, Port: f.Ports[strip.Foot], Baud: f.Baud})
	}
	return f, nil
}

// listen opens a simulated session in place of ports.
func (s *simulation) listen(ctx context.Context, _ link.Options, m *device.Metadata) (capture.Source, error) {
	world := s.setup
	world.Start, world.Mounting = s.clock.Now(), s.clock.Now().Format(time.RFC3339)
	for f, side := range m.Sides {
		if side == nil {
			world.Feet[f] = nil
			continue
		}
		foot := *world.Feet[f]
		foot.Strip, foot.Shoe = side.Strip, side.Shoe
		world.Feet[f] = &foot
	}
	session, err := sim.NewSession(world)
	if err != nil {
		return nil, err
	}
	return &timed{capture.NewSimulated(ctx, session, m), &s.clock}, nil
}

// timed is the source of one recording, whose frames set the clock of the simulation.
type timed struct {
	*capture.Simulated
	clock *sim.Clock
}

func (p *timed) Next(f *device.Frame) error {
	if err := p.Simulated.Next(f); err != nil {
		return err
	}
	p.clock.Set(time.Unix(0, f.ArrivalNS))
	return nil
}

// simulatedTime names the environment variable with which the program records
// simulated strips, beginning at that time.
const simulatedTime = "APLOMB_TEST_TIME"

// testPorts names the environment variable with the serial ports that the machine has in
// a test, with blanks between them.
const testPorts = "APLOMB_TEST_PORTS"

// rehearsalPace names the environment variable that says how many times faster than in life
// a rehearsal at a terminal runs.
const rehearsalPace = "APLOMB_TEST_PACE"

// environmentOfTest returns the machine's environment, or a simulation if a variable is
// set.
func environmentOfTest() environment {
	at := os.Getenv(simulatedTime)
	if at == "" {
		o := realEnvironment()
		o.ports = func() (list []link.PortInfo, err error) {
			for _, name := range strings.Fields(os.Getenv(testPorts)) {
				list = append(list, link.PortInfo{Name: name})
			}
			return list, nil
		}
		if pace, err := strconv.ParseFloat(os.Getenv(rehearsalPace), 64); err == nil {
			o.pace = pace
		}
		return o
	}
	now, err := time.Parse(time.RFC3339, at)
	if err != nil {
		panic(err)
	}
	s := &simulation{setup: scene(now, os.Args)}
	s.clock.Set(now)
	return s.environment()
}

// The scenes are invented. D7 tries three shoes: the shank of
// A made harder (B) changes little, the box made wider and squarer (C) much. D12
// comes back four times in the same shoe, the left side catching up.
var (
	shoesOfD7 = map[string][2]platform.Point{
		"A": {{-1.4, -6.6}, {-0.5, -6.2}},
		"B": {{-1.2, -6.0}, {-0.4, -5.7}},
		"C": {{-0.7, -0.9}, {0.2, -0.3}},
	}
	visitsOfD12 = map[string]struct{ over, share float64 }{ // of the left foot
		"2026-02-02": {-5.0, 0.38},
		"2026-02-16": {-4.2, 0.41},
		"2026-03-02": {-2.4, 0.45},
		"2026-03-16": {-1.2, 0.48},
	}
)

// scene returns the simulated events of a recording that begins now with the given flags.
func scene(now time.Time, typed []string) sim.Setup {
	after := func(flag string) string {
		if i := slices.Index(typed, flag); i >= 0 && i+1 < len(typed) {
			return typed[i+1]
		}
		return ""
	}
	world := sim.Setup{
		Seed: uint64(now.Unix()), RateHz: 100, Faults: sim.DefaultFaults(),
		Dancer: sim.Dancer{MassKG: 52, LeftShare: 0.45, Rises: 5, SwaySD: 0.5, LoadSD: 0.02},
		Press:  sim.Scenario{}.PadPress(6),
	}
	stands := shoesOfD7[after("--shoe")]
	if day, ok := visitsOfD12[now.Format(time.DateOnly)]; ok && after("--dancer") == "D12" {
		stands = [2]platform.Point{{-1.0, day.over}, {0.1, -0.8}}
		world.Dancer.LeftShare = day.share
	}
	if after("--dancer") == "D5" { // rises at once
		world.Press = sim.PadPress{}
	}
	if after("--dancer") == "D9" { // presses the platforms on a pad once more at the end
		world.SecondPress = world.Press
		stands = shoesOfD7["C"]
	}
	for f := range world.Feet {
		world.Feet[f] = &sim.Foot{Stand: sim.Stand{CoPMM: stands[f], ScatterSD: 0.5}}
	}
	return world
}
