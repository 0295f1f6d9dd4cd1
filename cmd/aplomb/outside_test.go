//go:build unix

package main

import (
	"bytes"
	"context"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device"
	"aplomb/device/link"
	"aplomb/device/recording"
	"aplomb/device/sim"
)

// studio is a world in which dancers rise on simulated strips, in lock step with
// whoever records them: what is printed and written does not depend on how fast
// the machine is. The clock stands still but while a recording lasts.
type studio struct {
	clock sim.Clock
	setup sim.Setup // of the next recording; the clock, strips and shoes are put in
}

func (s *studio) outside() outside { return outside{now: s.clock.Now, listen: s.listen} }

// listen is in place of ports, whatever they are called.
func (s *studio) listen(ctx context.Context, opt link.Options, m *recording.Meta) (source, error) {
	world := s.setup
	world.Start, world.Mounting = s.clock.Now(), s.clock.Now().Format(time.RFC3339)
	var lines [2]*sim.Line
	for _, f := range device.Feet {
		side := m.Sides[f]
		if side == nil {
			world.Feet[f] = nil
			continue
		}
		foot := *world.Feet[f]
		foot.Strip, foot.Shoe = side.Strip, side.Shoe
		opt.Strips[f] = side.Strip
		world.Feet[f] = &foot
		line, err := sim.OpenLine("")
		if err != nil {
			return nil, err
		}
		lines[f], opt.Ports[f] = line, line.Path()
	}
	session, err := sim.NewSession(world)
	if err != nil {
		return nil, err
	}
	step := sim.NewLockStep(&s.clock)
	opt.Clock = &s.clock
	l, err := link.Open(ctx, opt)
	if err != nil {
		return nil, err
	}
	ctx, stop := context.WithCancel(ctx)
	p := &performance{Link: l, ctx: ctx, stop: stop, lines: lines, step: step, served: make(chan error, 1)}
	go func() {
		p.served <- sim.Serve(ctx, session, lines, step.Pace)
		l.Close() // nobody rises any more
	}()
	return p, nil
}

// performance is one recording's frames.
type performance struct {
	*link.Link
	ctx    context.Context
	stop   func()
	lines  [2]*sim.Line
	step   *sim.LockStep
	taken  bool // a frame has been
	served chan error
}

func (p *performance) Next(f *device.Frame) error {
	if p.taken && p.ctx.Err() == nil {
		p.step.Taken()
	}
	err := p.Link.Next(f)
	p.taken = err == nil
	return err
}

func (p *performance) Close() error {
	p.stop()
	err := p.Link.Close()
	<-p.served
	for _, line := range p.lines {
		if line != nil {
			line.Close()
		}
	}
	return err
}

// In the same world the same is recorded, byte for byte, and said.
func TestRecordDependsOnNothingButItsWorld(t *testing.T) {
	t.Parallel()
	var said [2]string
	var files [2]map[string]string
	for i := range said {
		dir := t.TempDir()
		s := &studio{setup: sim.Setup{Seed: 3, RateHz: 100, Dancer: sim.Dancer{MassKG: 52, LeftShare: 0.48, Rises: 2}, Faults: sim.DefaultFaults()}}
		for f := range s.setup.Feet {
			s.setup.Feet[f] = &sim.Foot{}
		}
		s.clock.Set(time.Date(2026, 3, 14, 10, 0, 0, 0, time.UTC))
		var stdout, stderr bytes.Buffer
		require.Equal(t, exitDone, s.outside().run(t.Context(), []string{
			"record", "--strip", "testdata/profiles/left.toml", "--strip", "testdata/profiles/right.toml", "--shoe", "testdata/profiles/A.toml",
			"--left", "/dev/ttyUSB0", "--right", "/dev/ttyUSB1", "--dancer", "D7", "--out", filepath.Join(dir, "a.mcap"),
		}, &stdout, &stderr), &stderr)
		said[i] = string(bytes.ReplaceAll(append(stdout.Bytes(), stderr.Bytes()...), []byte(dir), nil))
		files[i] = contents(t, dir)
	}
	assert.Contains(t, said[0], "relevé 2, right: hold ")
	assert.Contains(t, said[0], "all on the disk within ")
	assert.Equal(t, said[0], said[1])
	assert.True(t, files[0]["a.mcap"] == files[1]["a.mcap"], "the recordings differ")
}
