package main

import (
	"context"
	"time"

	"aplomb/device"
	"aplomb/device/link"
	"aplomb/device/recording"
	"aplomb/device/sim"
)

// outside is what commands have of the world that a recording depends on.
type outside struct {
	now     func() time.Time
	listen  func(context.Context, link.Options, *device.Metadata) (source, error) // to the strips of a recording
	exposed func(*recording.Writer) time.Duration                                 // how slow the disk was
	line    func(link string) (*sim.Line, error)                                  // a serial line to simulate a strip on
}

func theWorld() outside {
	return outside{now: time.Now, listen: listen, exposed: (*recording.Writer).LongestUnsynced, line: sim.OpenLine}
}

// source is where a recording's frames come from: a link, or a simulated session.
type source interface {
	device.Source
	Stats() [2]link.Stats
	Events() []device.Event
	Warnings() []link.Notice
	Close() error
}

// listen opens the ports of the strips that m names.
func listen(ctx context.Context, opt link.Options, m *device.Metadata) (source, error) {
	for f, side := range m.Sides {
		if side != nil {
			opt.Strips[f] = side.Strip
		}
	}
	l, err := link.Open(ctx, opt)
	if err != nil {
		return nil, err // and no link that is nil
	}
	return l, nil
}
