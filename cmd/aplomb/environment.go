package main

import (
	"context"
	"time"

	"aplomb/cmd/internal/capture"
	"aplomb/cmd/internal/ports"
	"aplomb/device"
	"aplomb/device/link"
	"aplomb/device/recording"
	"aplomb/device/sim"
)

// environment is what a recording depends on other than the command line: the clock, the
// strips and the disk. Tests replace it.
type environment struct {
	now     func() time.Time
	ports   func() ([]link.PortInfo, error)                                               // lists the serial ports
	find    func(context.Context, ports.Search) (ports.Found, error)                      // finds the ports of the strips
	listen  func(context.Context, link.Options, *device.Metadata) (capture.Source, error) // opens the ports of the strips
	exposed func(*recording.Writer) time.Duration                                         // how long frames were not synced to the disk
	line    func(link string) (*sim.Line, error)                                          // a serial line to simulate a strip on
	pace    float64                                                                       // speed of a rehearsal at a terminal, relative to real time
}

// realEnvironment returns the clock, the strips and the disk of this computer.
func realEnvironment() environment {
	return environment{now: time.Now, ports: link.Ports, find: ports.Find, listen: capture.OpenLink, exposed: (*recording.Writer).LongestUnsynced, line: sim.OpenLine, pace: 1}
}
